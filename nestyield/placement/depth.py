"""Which depth of a finished part a defect reaches, and which wood of the part stays there.

Depth is measured from the part's front face, 0 to the part's thickness. Planing takes
``top_off_mm`` off the blank's top face and the rest of the difference in thickness off its bottom.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from nestyield.geometry.boolean import difference, intersection, union
from nestyield.geometry.grid import IntPoly, Region
from nestyield.model import DEFECTS, Blank, Defect, Part, Verdict
from nestyield.placement.parts import CONTOUR_STEPS, PartShape, Rounding, contour_depth_mm, part_shape
from nestyield.placement.remember import remember

#: From and to, depth in the finished part measured from its front face, millimeters.
Span = tuple[float, float]

# Depths closer than this are the same, millimeters.
_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessSplit:
    """How the part's thickness lies in the blank's.

    Parameters
    ----------
    front_up : bool
        The part's front face lies at the blank's top face.
    top_off_mm : float
        Planed off the blank's top face; the rest comes off the bottom.
    """

    front_up: bool
    top_off_mm: float


def spare_thickness_mm(part: Part, blank_thickness_mm: float) -> float:
    """Return what is planed off both faces together, millimeters, never negative."""
    return max(0.0, blank_thickness_mm - part.thickness_mm)


def defect_span(defect: Defect, blank_thickness_mm: float, part: Part, split: ThicknessSplit) -> Span | None:
    """Return the depths of the finished part that a defect reaches.

    Parameters
    ----------
    defect : Defect
    blank_thickness_mm : float
    part : Part
    split : ThicknessSplit

    Returns
    -------
    (float, float) or None
        From and to, measured from the front face; None when planing removes the defect wholly.
    """
    t = part.thickness_mm
    total = max(blank_thickness_mm, t)
    top, bottom = defect.span_mm(total)
    lo, hi = max(0.0, top - split.top_off_mm), min(t, bottom - split.top_off_mm)
    if defect.face != "bottom" and bottom >= total - _SAME_MM:
        hi = t
    if hi - lo <= _SAME_MM:
        return None
    return (lo, hi) if split.front_up else (t - hi, t - lo)


def removed(shape: PartShape, span: Span) -> Region:
    """Return where the part's zones take away the whole of a span of depths.

    Parameters
    ----------
    shape : PartShape
    span : (float, float)

    Returns
    -------
    Region
        Drawing coordinates. Pockets from both faces that meet count as an opening.
    """
    lo, hi = span
    t = shape.thickness_mm
    front = [(z, d) for z, face, d in shape.removals if face == "front"]
    back = [(z, d) for z, face, d in shape.removals if face == "back"]
    out = [z for z, face, _ in shape.removals if face == "through"]
    out += [z for z, d in front if d >= hi - _SAME_MM]
    out += [z for z, d in back if t - d <= lo + _SAME_MM]
    for z, d in front:
        for w, e in back:
            if lo + _SAME_MM < d < hi and d + e >= t - _SAME_MM:
                out.append(intersection(z, w))
    return union(*out) if out else []


def layers(shape: PartShape, span: Span) -> list[Span]:
    """Return a span of depths cut where zones end: within each layer the same wood is taken away."""
    t = shape.thickness_mm
    ends = {d if face == "front" else t - d for _, face, d in shape.removals if face != "through"}
    inner = sorted(e for e in ends if span[0] + _SAME_MM < e < span[1] - _SAME_MM)
    edges = [span[0], *inner, span[1]]
    return list(pairwise(edges))


def where(shape: PartShape, part: Part, kind: str, verdict: Verdict) -> Region:
    """Return where in the outline a kind of defect meets a verdict.

    A zone that names the kind decides inside itself; where such zones overlap the strictest holds.
    Elsewhere the part decides; a kind that nobody names is refused. Metal is always refused.

    Returns
    -------
    Region
        Drawing coordinates, inside the outline.
    """
    outline: Region = [shape.outline]
    if DEFECTS[kind].metal:
        return outline if verdict == "refused" else []
    rank: dict[Verdict, int] = {"refused": 2, "filled": 1, "allowed": 0}
    named = [(shape.zone_regions[z.name], z.tolerates[kind]) for z in part.zones if kind in z.tolerates]
    named = [(region, v) for region, v in named if region]
    mine = [region for region, v in named if v == verdict]
    stricter = [region for region, v in named if rank[v] > rank[verdict]]
    here: list[Sequence[IntPoly]] = list(mine)
    if part.tolerates.get(kind, "refused") == verdict:
        others = [region for region, _ in named]
        here.append(difference(outline, union(*others)) if others else outline)
    if not here:
        return []
    region = intersection(union(*here), outline)
    return difference(region, union(*stricter)) if stricter else region


def staying(shape: PartShape, part: Part, kind: str, span: Span, verdict: Verdict) -> Region:
    """Return the wood that stays and would hold a defect of that kind and span, under that verdict."""
    held = where(shape, part, kind, verdict)
    if not held:
        return []
    gone = removed(shape, span)
    return difference(held, gone) if gone else held


@remember(500)
def wood_that_stays(
    part: Part, chord_error_mm: float, rounding: Rounding, kind: str, span: Span, verdict: Verdict
) -> Region:
    """Return ``staying`` of a part flattened to a chord error; the last answers are kept."""
    return staying(part_shape(part, chord_error_mm, rounding), part, kind, span, verdict)


def thickness_splits(
    part: Part, blank: Blank, planing_mm: float, front_up: bool
) -> tuple[ThicknessSplit, ...]:
    """Return the choices of planing that can matter, the even one first.

    At least ``planing_mm`` comes off each face of wood with grain, as far as the thickness allows. Taking
    more off the top only ever helps against defects of the top and harms against those of the bottom, and
    something changes only where a top defect is just removed or just covered by a zone; so the least
    amount and those amounts stand for all.

    Parameters
    ----------
    part : Part
    blank : Blank
    planing_mm : float
    front_up : bool
    """
    spare = spare_thickness_mm(part, blank.thickness_mm)
    least = min(planing_mm if blank.grain_deg is not None else 0.0, spare / 2)
    most = spare - least
    amounts = {least}
    for defect in blank.defects:
        if defect.face != "top" or defect.depth_mm is None:
            continue
        depths = [0.0, part.thickness_mm]
        for zone in part.zones:
            if zone.depth_mm is not None and zone.shape is not None:
                steps = CONTOUR_STEPS if zone.does.slopes else ()
                depths += [zone.depth_mm, *(contour_depth_mm(zone.depth_mm, u) for u in steps)]
        depths += [part.thickness_mm - d for d in depths]
        amounts |= {a for d in depths if least < (a := defect.depth_mm - d) <= most}
    rest = sorted(amounts)
    even = spare / 2
    return tuple(
        ThicknessSplit(front_up=front_up, top_off_mm=a) for a in (even, *(a for a in rest if a != even))
    )
