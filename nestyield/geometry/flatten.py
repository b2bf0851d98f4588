"""Outlines of lines and arcs to polygons on the grid, on the safe side."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from nestyield.geometry import boolean
from nestyield.geometry.grid import IntPoly, Region, tidy, to_grid
from nestyield.model import Outline, Shape
from nestyield.model.arc import Arc

Side = Literal["outside", "inside", "nearest"]


def opposite(side: Side) -> Side:
    """Return the side for what is taken away, given the side for what stays."""
    sides: dict[Side, Side] = {"outside": "inside", "inside": "outside", "nearest": "nearest"}
    return sides[side]


def reversed_outline(outline: Outline) -> Outline:
    """Return the same curve run in the other direction."""
    points = outline.points_mm[::-1]
    bulges = outline.bulges[::-1]
    return Outline(points_mm=points, bulges=tuple(-b for b in (*bulges[1:], bulges[0])))


def _arc_points(
    p: tuple[float, float], q: tuple[float, float], bulge: float, error_mm: float, tangents: bool
) -> list[tuple[float, float]]:
    """Points strictly between p and q: on the arc (chords), or where tangents meet."""
    arc = Arc.of(p, q, bulge)
    radius, theta = arc.radius, arc.sweep
    if radius <= 0.0:
        return []
    ratio = radius / (radius + error_mm) if tangents else 1.0 - error_mm / radius
    step = 2.0 * math.acos(max(-1.0, min(1.0, ratio)))
    step = min(max(step, 1e-6), math.pi / 2)
    count = max(1, math.ceil(abs(theta) / step - 1e-9))
    each = theta / count
    if tangents:
        far = radius / math.cos(each / 2)
        turns = (np.arange(count) + 0.5) * each + arc.start
    else:
        far = radius
        turns = np.arange(1, count) * each + arc.start
    return [arc.at(t, far) for t in turns.tolist()]


def flatten(outline: Outline, chord_error_mm: float, side: Side) -> IntPoly:
    """Turn an outline into a polygon that is never smaller (or never larger) than it.

    Outside: arcs that bulge outwards become tangents, arcs that bulge inwards become chords; inside: the
    opposite; nearest: chords everywhere, so that curves that are alike become polygons that are alike.
    Vertices are then rounded to the grid, which moves each by at most 0.71 micrometers.

    Parameters
    ----------
    outline : Outline
        Either direction.
    chord_error_mm : float
        Farthest that the polygon may lie from an arc, millimeters, above zero.
    side : {"outside", "inside", "nearest"}
        Where the polygon runs: outside for a part, inside for a piece.

    Returns
    -------
    IntPoly
        Counter-clockwise, repeated and collinear vertices dropped; empty when nothing with area is left.
    """
    if not chord_error_mm > 0:
        raise ValueError(f"expected chord_error_mm > 0, got {chord_error_mm}")
    return tidy(to_grid(points_along(outline, chord_error_mm, side)))


def points_along(
    outline: Outline, chord_error_mm: float, side: Side = "nearest"
) -> list[tuple[float, float]]:
    """Return the vertices of ``flatten`` before they are rounded, counter-clockwise, millimeters."""
    run = outline if outline.signed_area_mm2 >= 0 else reversed_outline(outline)
    points: list[tuple[float, float]] = []
    n = len(run.points_mm)
    for i, (p, bulge) in enumerate(zip(run.points_mm, run.bulges)):
        points.append(p)
        q = run.points_mm[(i + 1) % n]
        if bulge != 0.0 and p != q:
            tangents = side != "nearest" and (bulge > 0) == (side == "outside")
            points += _arc_points(p, q, bulge, chord_error_mm, tangents)
    return points


def flatten_shape(shape: Shape, chord_error_mm: float, side: Side) -> Region:
    """Turn a shape with holes into a region that is never smaller (outside) or never larger (inside).

    Parameters
    ----------
    shape : Shape
    chord_error_mm : float
        As in ``flatten``.
    side : {"outside", "inside", "nearest"}

    Returns
    -------
    Region
        Outer ring counter-clockwise, holes clockwise.
    """
    outer = flatten(shape.outer, chord_error_mm, side)
    other = opposite(side)
    holes = [flatten(h, chord_error_mm, other) for h in shape.holes]
    if not holes:
        return boolean.clean([outer])
    return boolean.difference(boolean.clean([outer]), boolean.union(*([h] for h in holes)))
