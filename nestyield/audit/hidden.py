"""Whether seams have the splines and dowels that they were to have: hidden places, and none where none is."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from nestyield.audit.reinforcements import line_of, span_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.model import GlueUp, GlueUpRules, Reinforcement, Seam
from nestyield.model.facts import (
    CrossedJoint,
    EndGrainJoint,
    JointNote,
    LoneDowel,
    NoHiddenPlace,
    PartTooThin,
)

#: A seam with less under a part, and a shorter spline, are not worth a slot, millimeters.
LEAST_MM = 40.0
#: Places are rounded inwards by up to half a millimeter at either end; clearances are right to a hair.
_ROUNDED_MM = 1.2
_HAIR_MM = 0.1
#: Places are looked for in steps of this, along the seam and through the thickness, millimeters.
_STEP_MM = 0.5


def asked_for(glueup: GlueUpRules, joint: JointNote) -> Reinforcement | None:
    """Return what a seam gets: as set, or a spline where end grain meets it or grain crosses."""
    wish = glueup.reinforce
    if wish == "dowel":
        return "dowel"
    weak = isinstance(joint, CrossedJoint | EndGrainJoint)
    return "spline" if wish == "spline" or (wish == "needed" and weak) else None


def check_hidden(bench: CheckedBlank, told: GlueUp, seams: dict[str, Seam]) -> None:
    """Check under each part that a seam has what it was to have, or a conflict that is true."""
    glueup = bench.sheet.plan.shop.settings.glueup
    claimed = []
    for seam in told.seams:
        kind = asked_for(glueup, seam.joint)
        for laid in bench.laid if seam.seam in seams else ():
            line = shapely.LineString(seams[seam.seam].line_mm)
            under = line.intersection(laid.outline).length
            here = [c for c in told.conflicts if (c.seam, c.part) == (seam.seam, laid.part.name)]
            claimed += here
            keys = [
                k
                for k in told.keys
                if k.seam == seam.seam and laid.outline.intersects(shapely.LineString(k.line_mm))
            ]
            where = f"{seam.seam} under {laid.name}"
            if kind is None or under < LEAST_MM - _HAIR_MM:
                if keys:
                    bench.say("A125", "splines or dowels where none are asked for", where)
                continue
            if under < LEAST_MM + _HAIR_MM:
                continue
            thick = glueup.spline_thickness_mm if kind == "spline" else glueup.dowel_diameter_mm
            deep = glueup.spline_depth_mm if kind == "spline" else glueup.dowel_depth_mm
            for key in keys:
                size = max(abs(key.thick_mm - thick), abs(key.depth_mm - deep))
                if key.kind != kind or size > _HAIR_MM:
                    bench.say("A125", f"{key.name} is no {kind} of {thick:g} mm, {deep:g} mm deep", where)
            if keys:
                lone = kind == "dowel" and len(keys) == 1
                said = any(isinstance(c, LoneDowel) for c in here)
                if lone != said:
                    bench.say("A125", f"{len(keys)} {kind}s, and a lone dowel is {said}", where)
                continue
            _none(bench, laid, kind, (thick, deep), seams[seam.seam], here, where)
    for conflict in told.conflicts:
        if conflict not in claimed:
            bench.say("A125", f"a conflict under {conflict.part} at {conflict.seam}, which are not there")


def _none(
    bench: CheckedBlank,
    laid: CheckedPlacement,
    kind: Reinforcement,
    size: tuple[float, float],
    seam: Seam,
    here: Sequence[PartTooThin | NoHiddenPlace | LoneDowel],
    where: str,
) -> None:
    """Check that a seam without splines or dowels has a conflict, and that this is so."""
    thick, _ = size
    part = laid.part
    clear = bench.sheet.plan.shop.settings.glueup.reinforce_clearance_mm
    wall = part.thickness_mm - 3 * thick
    if not any(isinstance(c, PartTooThin | NoHiddenPlace) for c in here):
        bench.say("A125", f"neither a {kind} nor what keeps it out", where)
    for c in here:
        if isinstance(c, PartTooThin):
            figures = abs(c.thick_um / 1000 - thick) + abs(c.thickness_um / 1000 - part.thickness_mm)
            if wall > _HAIR_MM or c.kind != kind or figures > _HAIR_MM:
                bench.say(
                    "A125", f"a part of {part.thickness_mm:g} mm is not too thin for {thick:g} mm", where
                )
        elif isinstance(c, NoHiddenPlace):
            known = {z.name for z in part.zones if span_of(z, laid) is not None}
            if c.kind != kind or abs(c.clearance_um / 1000 - clear) > _HAIR_MM or not set(c.zones) <= known:
                bench.say("A125", f"kind, clearance or zones of a conflict are wrong: {c}", where)
            if wall < -_HAIR_MM or has_place(laid, seam, kind, size, clear):
                bench.say("A125", f"there is a place for a {kind}, or the part is too thin", where)


def has_place(
    laid: CheckedPlacement, seam: Seam, kind: Reinforcement, size: tuple[float, float], clear: float
) -> bool:
    """Return whether a spline or dowel stays hidden somewhere, a hair to spare: tried step by step."""
    thick, deep = size
    start, along = line_of(seam)
    z = [(complex(x, y) - start) * along.conjugate() for x, y in shapely.get_coordinates(laid.outline)]
    long = LEAST_MM + _ROUNDED_MM if kind == "spline" else thick + _ROUNDED_MM
    ends = (min(p.real for p in z), max(p.real for p in z) - long)
    if ends[1] <= ends[0]:
        return False
    begins = np.arange(ends[0], ends[1], _STEP_MM)
    corners = np.stack(
        [
            start + along * (begins + complex(u, v))
            for u, v in ((0, -deep), (long, -deep), (long, deep), (0, deep))
        ],
        axis=1,
    )
    boxes = shapely.polygons(np.stack([corners.real, corners.imag], axis=2))
    shapely.prepare(laid.outline)
    free = shapely.covers(laid.outline, boxes)
    free &= shapely.distance(laid.outline.boundary, boxes) >= clear + _HAIR_MM
    boxes = boxes[free]
    spans = []
    for zone in laid.part.zones:
        span = span_of(zone, laid)
        if span is not None and zone.shape is not None:
            near = shapely.distance(laid.zone(zone.shape), boxes) < clear + _HAIR_MM
            spans.append((span, near))
    low, high = 1.5 * thick, laid.part.thickness_mm - 1.5 * thick
    count = max(2, math.ceil((high - low) / _STEP_MM))
    for level in np.linspace(low, high, count) if high >= low else ():
        left = np.ones(len(boxes), dtype=bool)
        for (top, bottom), near in spans:
            if max(top - level, level - bottom) - thick / 2 < clear + _HAIR_MM:
                left &= ~near
        if left.any():
            return True
    return False
