"""Splines and dowels hidden in a seam: where nothing that is cut later opens them.

A spline lies in a slot along the seam, as deep into either edge; dowels stand square to the seam. Both keep
a clearance (12 mm, common practice, no source) from the outline, and from every pocket, contour, opening and
hole that comes as near in the depth of the wood; a contour counts with its whole depth all over. Beside the
slot at least its own thickness stays towards both finished faces (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import get_parts
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from nestyield.glueup.boards import FAR_MM, Frame
from nestyield.glueup.under import LaidPart
from nestyield.model import GlueUpRules, JointReinforcement, Outline, Reinforcement, Seam
from nestyield.model.facts import (
    CrossedJoint,
    EndGrainJoint,
    JointNote,
    LoneDowel,
    NoHiddenPlace,
    PartTooThin,
    ReinforcementConflict,
)

#: A shorter spline is not worth its slot, millimeters.
LEAST_SPLINE_MM = 40.0
#: Places are rounded inwards to this, millimeters.
STEP_MM = 0.5
#: Chords of a quarter circle of a buffer: 12 mm are then too small by less than a micrometer.
_QUARTER = 64


def asked(rules: GlueUpRules, joint: JointNote) -> Reinforcement | None:
    """Return what a seam of that kind of joint gets."""
    needed = rules.reinforce == "needed" and isinstance(joint, CrossedJoint | EndGrainJoint)
    if rules.reinforce == "spline" or needed:
        return "spline"
    return "dowel" if rules.reinforce == "dowel" else None


def size(rules: GlueUpRules, kind: Reinforcement) -> tuple[float, float]:
    """Return thickness (or diameter) and depth into either edge, millimeters."""
    if kind == "spline":
        return rules.spline_thickness_mm, rules.spline_depth_mm
    return rules.dowel_diameter_mm, rules.dowel_depth_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Keyed:
    """Splines or dowels of one seam.

    Parameters
    ----------
    keys : tuple of JointReinforcement
    conflicts : tuple of ReinforcementConflict
        What keeps them out of where they were asked for.
    """

    keys: tuple[JointReinforcement, ...] = ()
    conflicts: tuple[ReinforcementConflict, ...] = ()


def levels(laid: LaidPart, thick_mm: float, clearance_mm: float) -> list[float]:
    """Return middles of a slot, below the face of the part that lies up, that are worth trying, middle first.

    Parameters
    ----------
    laid : LaidPart
    thick_mm : float
        Of the slot.
    clearance_mm : float
    """
    low, high = 1.5 * thick_mm, laid.part.thickness_mm - 1.5 * thick_mm
    if low > high + 1e-9:
        return []
    away = clearance_mm + thick_mm / 2
    middle = laid.part.thickness_mm / 2
    found = {middle, low, high}
    for taken in laid.taken:
        found |= {taken.span[0] - away, taken.span[1] + away}
    return sorted((z for z in found if low - 1e-9 <= z <= high + 1e-9), key=lambda z: (abs(z - middle), z))


def _near(
    laid: LaidPart, level: float, thick_mm: float, clearance_mm: float
) -> list[tuple[str, BaseGeometry]]:
    """Return what a slot at that level must keep away from: zones, by name."""
    reach = thick_mm / 2 + clearance_mm - 1e-9
    return [(t.name, t.ground) for t in laid.taken if t.span[0] < level + reach and t.span[1] > level - reach]


def _free(
    frame: Frame,
    laid: LaidPart,
    zones: Sequence[tuple[str, BaseGeometry]],
    depth_mm: float,
    clearance_mm: float,
) -> list[tuple[float, float]]:
    """Return the stretches of a seam where a slot of that depth keeps its clearance, from its origin."""
    # What lies within clearance of the strip of the slot blocks the seam where it stands.
    blocked = [laid.outline.boundary, *(g for _, g in zones)]
    strip = LineString([frame.point(-FAR_MM), frame.point(FAR_MM)]).buffer(depth_mm, cap_style="flat")
    gone: list[tuple[float, float]] = []
    for each in blocked:
        for part in get_parts(each.buffer(clearance_mm, quad_segs=_QUARTER).intersection(strip)):
            s = [frame.where((x, y))[0] for x, y in part.exterior.coords] if hasattr(part, "exterior") else []
            if s:
                gone.append((min(s), max(s)))
    line = LineString([frame.point(-FAR_MM), frame.point(FAR_MM)]).intersection(laid.outline)
    free = []
    for part in get_parts(line):
        if part.geom_type == "LineString":
            ends = sorted(frame.where((x, y))[0] for x, y in part.coords)
            free.append((ends[0], ends[-1]))
    for low, high in gone:
        free = [c for a, b in free for c in ((a, min(b, low)), (max(a, high), b)) if c[1] > c[0]]
    return sorted((_up(a), _down(b)) for a, b in free if _down(b) > _up(a))


def _up(s: float) -> float:
    return math.ceil(s / STEP_MM - 1e-4) * STEP_MM


def _down(s: float) -> float:
    return math.floor(s / STEP_MM + 1e-4) * STEP_MM


def seam_keys(
    seam: Seam,
    mark_s_mm: float,
    kind: Reinforcement,
    parts: Sequence[LaidPart],
    rules: GlueUpRules,
    top_off_mm: float,
) -> Keyed:
    """Return the splines or dowels of one seam, at the level that gives most of it, then nearest the middle.

    Parameters
    ----------
    seam : Seam
    mark_s_mm : float
        Place of the seam's mark, from the seam's first point to the right.
    kind : {"spline", "dowel"}
    parts : sequence of LaidPart
    rules : GlueUpRules
    top_off_mm : float
        Planed off the blank's upper face after gluing.
    """
    frame = Frame.of(seam)
    thick, depth = size(rules, kind)
    keys: list[JointReinforcement] = []
    conflicts: list[ReinforcementConflict] = []
    for laid in parts:
        under = LineString(seam.line_mm).intersection(laid.outline).length
        if under < LEAST_SPLINE_MM:
            continue
        best: tuple[float, float, list[tuple[float, float]]] | None = None
        for level in levels(laid, thick, rules.reinforce_clearance_mm):
            zones = _near(laid, level, thick, rules.reinforce_clearance_mm)
            free = _places(_free(frame, laid, zones, depth, rules.reinforce_clearance_mm), kind, thick)
            got = sum(b - a for a, b in free)
            if free and (best is None or got > best[0] + 1e-6):
                best = (got, level, free)
        if best is None:
            conflicts.append(_conflict(seam.name, laid, frame, kind, rules))
            continue
        _, level, free = best
        spots = free if kind == "spline" else _spots(free, rules.dowel_spacing_mm)
        if kind == "dowel" and len(spots) == 1:
            conflicts.append(LoneDowel(seam=seam.name, part=laid.part.name))
        for a, b in spots:
            keys.append(
                JointReinforcement(
                    name=f"{kind} {len(keys) + 1}",
                    seam=seam.name,
                    kind=kind,
                    line_mm=(_round(frame.point(a)), _round(frame.point(b))),
                    along_mm=(round(a - mark_s_mm, 4), round(b - mark_s_mm, 4)),
                    depth_mm=depth,
                    thick_mm=thick,
                    below_top_mm=round(top_off_mm + level, 4),
                    outline=_seen(frame, a, b, depth, thick / 2 if kind == "dowel" else 0.0),
                )
            )
    return Keyed(keys=tuple(keys), conflicts=tuple(conflicts))


def _seen(frame: Frame, a: float, b: float, depth_mm: float, half_mm: float) -> Outline:
    """Return slot or holes seen from above."""
    corners = (
        (a - half_mm, -depth_mm),
        (b + half_mm, -depth_mm),
        (b + half_mm, depth_mm),
        (a - half_mm, depth_mm),
    )
    return Outline.polygon([_round(frame.point(s, t)) for s, t in corners])


def _places(
    free: list[tuple[float, float]], kind: Reinforcement, thick_mm: float
) -> list[tuple[float, float]]:
    """Return the stretches that hold a spline, or the middle of a dowel."""
    if kind == "spline":
        return [(a, b) for a, b in free if b - a >= LEAST_SPLINE_MM]
    half = thick_mm / 2
    return [(a + half, b - half) for a, b in free if b - a >= thick_mm]


def _spots(free: Sequence[tuple[float, float]], spacing_mm: float) -> list[tuple[float, float]]:
    """Return dowels: at both ends of each stretch and evenly between; one in a short stretch."""
    out = []
    for a, b in free:
        count = 1 + math.ceil((b - a) / spacing_mm - 1e-9) if b - a >= spacing_mm / 2 else 1
        for k in range(count):
            s = (a + b) / 2 if count == 1 else a + (b - a) * k / (count - 1)
            out.append((s, s))
    return out


def _conflict(
    seam: str, laid: LaidPart, frame: Frame, kind: Reinforcement, rules: GlueUpRules
) -> ReinforcementConflict:
    """Return what stands in the way at every level."""
    thick, depth = size(rules, kind)
    tried = levels(laid, thick, rules.reinforce_clearance_mm)
    if not tried:
        return PartTooThin(
            seam=seam,
            part=laid.part.name,
            kind=kind,
            thick_um=_um(thick),
            thickness_um=_um(laid.part.thickness_mm),
        )
    near = {name for level in tried for name, _ in _near(laid, level, thick, rules.reinforce_clearance_mm)}
    line = LineString([frame.point(-FAR_MM), frame.point(FAR_MM)])
    on = [
        t.name
        for t in laid.taken
        if t.name in near and line.distance(t.ground) < depth + rules.reinforce_clearance_mm
    ]
    return NoHiddenPlace(
        seam=seam,
        part=laid.part.name,
        kind=kind,
        zones=tuple(dict.fromkeys(on)),
        clearance_um=_um(rules.reinforce_clearance_mm),
    )


def _um(length_mm: float) -> int:
    return round(length_mm * 1000.0)


def _round(p: tuple[float, float]) -> tuple[float, float]:
    return (round(p[0], 4) + 0.0, round(p[1], 4) + 0.0)
