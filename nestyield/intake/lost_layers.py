"""Layers that do not hold what the shop file says: lost when the drawing was saved, points, single lines."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.problems import Problems, shown
from nestyield.words import listed, plural

#: On a layer with more lines one does not look whether they are loose.
MOST_LOOSE = 50


def are_lost(drawing: Drawing, wanted: Sequence[str], problems: Problems) -> bool:
    """Add one error when a drawing has none of several layers that the shop file names.

    Parameters
    ----------
    drawing : Drawing
    wanted : sequence of str
        Layers of the shop file that are read, as written there.
    problems : Problems
    """
    if len(wanted) < 2 or any(name.casefold() in drawing.layers for name in wanted):
        return False
    there = [layer.name for layer in drawing.layers.values() if layer.items]
    names = listed(wanted)
    if not there:
        message = "the drawing has no lines or curves; save it again"
    elif len(there) == 1:
        message = (
            f"everything is on layer {shown(there[0])}; put outline and zones on layers of their own: {names}"
        )
    else:
        has = ", ".join(there[:8]) + (" ..." if len(there) > 8 else "")
        message = f"the drawing has none of the layers {names}; it has {has}: write those under layers"
    if not any((f.code, f.file) == ("D005", drawing.file) for f in problems.findings):
        problems.error("D005", message, drawing.file)
    return True


def holds_loose_lines(layer: Layer, chaining_mm: float) -> bool:
    """Tell whether a layer has nothing but straight lines that do not meet, as center lines.

    Parameters
    ----------
    layer : Layer
    chaining_mm : float
        Ends nearer than this meet.
    """
    curves = [item.curve for item in layer.items]
    if not 0 < len(curves) <= MOST_LOOSE or any(
        c.closed or len(c.points_mm) != 2 or any(c.bulges) for c in curves
    ):
        return False
    ends = [p for c in curves for p in c.points_mm]
    return all(math.dist(p, q) > chaining_mm for k, p in enumerate(ends) for q in ends[:k])


def nothing_closed(layer: Layer, role: str) -> str:
    """Return what is wrong with a layer without any closed outline.

    Parameters
    ----------
    layer : Layer
    role : str
        Of the layer.
    """
    kinds = Counter(r.where.partition(", ")[2].split(" ")[0] for r in layer.remarks if r.code == "D017")
    if points := kinds.get("POINT", 0):
        has = f"layer {layer.name} has {points} {plural(points, 'point')} and no "
        if role == "hole":
            return f"{has}circles; draw each hole as a circle of its diameter"
        return f"{has}closed outline; draw the outline of the {role}"
    only = f", only {listed(kinds)}" if kinds else ""
    return f"layer {layer.name} has the role {role} and no closed outline{only}; draw one"
