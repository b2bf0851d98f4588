"""The room told around placements, tried at its farthest corners, and the edges told to watch."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from nestyield.audit.curves import TOL_MM, points_of, region
from nestyield.audit.depth import check_wood
from nestyield.audit.inspection import room_at_holes
from nestyield.audit.places import check_gap, check_holes, check_inside, check_way
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, CheckedSheet
from nestyield.audit.turned_ends import HOLE_TOL_MM, has_place, lying
from nestyield.audit.work import check_beside
from nestyield.model import Slack

#: A told size of the room may be off by this, millimeters.
SIZE_TOL_MM = 0.01
#: Clearances are kept in steps of a quarter; a hair less than a step counts as one.
STEP_TOL = 0.02
#: A told stretch may lie this far from the outline: chords of the drawing and rounding, millimeters.
LINE_TOL_MM = 0.06
#: Stretches are looked at in steps of this, millimeters.
LINE_STEP_MM = 1.0
#: Told lengths of stretches may be off by this part of them.
LENGTH_TOL = 0.01
#: Turns by more are not looked at, degrees.
MOST_DEG = 10.0
#: Directions in which the part is shifted as far as it goes: right, left, up, down and aslant.
_WAYS = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1), (1, -1), (-1, 1))

#: How far metal and holes stay from what is cut, by name, millimeters.
Kept = dict[str, float]


def check_rooms(bench: CheckedBlank) -> None:
    """Shift each part to the farthest corners of its told room and check it there."""
    rooms = bench.layout.rooms
    if rooms and [r.placement for r in rooms] != list(range(len(bench.layout.placements))):
        bench.say("A408", "the rooms told are not one for each placement, in order")
        return
    by_index = {laid.index: laid for laid in bench.laid}
    for room in rooms:
        laid = by_index.get(room.placement)
        if laid is not None:
            kept = _kept(bench, laid)
            _turned(bench, laid, room, kept)
            _shifted(bench, laid, room, kept)


def _turned(bench: CheckedBlank, laid: CheckedPlacement, room: Slack, kept: Kept) -> None:
    """The angles hold the part's own, lie within the grain tolerance and leave the part a place."""
    low, here, high = room.from_deg, laid.placement.angle_deg, room.to_deg
    if not low - 1e-9 <= here <= high + 1e-9:
        bench.say("A408", f"{laid.name} lies at {here:g} degrees, its room is from {low:g} to {high:g}")
    for end in (low, high):
        scratch = _scratch(bench)
        check_way(scratch, replace_placement(laid, angle_deg=end))
        for found in scratch.sheet.findings:
            bench.say("A408", f"turned to {end:g} degrees: {found.message}")
    if max(here - low, high - here) > MOST_DEG + 1e-6:
        bench.say("A408", f"{laid.name} is said to turn by more than the {MOST_DEG:g} degrees looked at")
    for end in sorted({low, high} - {here}):
        if not has_place(bench, laid, end, kept):
            bench.say("A408", f"turned to {end:g} degrees {laid.name} has no place, wherever it slides")


def _shifted(bench: CheckedBlank, laid: CheckedPlacement, room: Slack, kept: Kept) -> None:
    """Every farthest corner of the shifts is a place, and their box is as told."""
    if room.slide is None:
        if room.along_mm or room.across_mm:
            bench.say(
                "A408", f"{laid.name} has {room.along_mm:g} x {room.across_mm:g} mm of room, but no shifts"
            )
        return
    points = points_of(room.slide.outer)
    grain = math.radians(bench.layout.blank.grain_deg or 0.0)
    c, s = math.cos(grain), math.sin(grain)
    size = np.ptp(np.column_stack([points @ (c, s), points @ (-s, c)]), axis=0)
    if abs(size[0] - room.along_mm) > SIZE_TOL_MM or abs(size[1] - room.across_mm) > SIZE_TOL_MM:
        bench.say(
            "A408",
            f"{laid.name} has {room.along_mm:.3f} x {room.across_mm:.3f} mm of room by the plan, "
            f"{size[0]:.3f} x {size[1]:.3f} mm as measured",
        )
    if shapely.distance(shapely.Point(0.0, 0.0), region(room.slide)) > TOL_MM:
        bench.say("A408", f"the room of {laid.name} does not hold the place where it lies")
    settings = bench.sheet.plan.shop.settings
    gap, want = settings.gap_mm, settings.prefer.hole_clearance_mm
    for k in sorted({int(np.argmax(points @ way)) for way in _WAYS}):
        x, y = (round(float(v) * 1000.0) for v in points[k])
        at = laid.placement
        moved = replace_placement(laid, x_um=at.x_um + x, y_um=at.y_um + y)
        scratch = _scratch(bench)
        check_inside(scratch, moved)
        check_holes(scratch, moved)
        for i in sorted(bench.tree.query(moved.outline, predicate="dwithin", distance=gap).tolist()):
            if bench.laid[i].index != laid.index:
                check_gap(scratch, moved, bench.laid[i])
        check_wood(scratch, moved)
        there = lying(scratch, moved)
        check_beside(there)
        for name, room_mm in room_at_holes(there, laid.index).items():
            least = kept.get(name, want)
            if room_mm < least - HOLE_TOL_MM:
                scratch.say("A408", f"{name} is {room_mm:.3f} mm from what is cut; {least:.3f} mm are kept")
        for found in scratch.sheet.findings:
            if found.code != "A303":  # filler is left aside
                bench.say("A408", f"shifted by {x / 1000:.3f}, {y / 1000:.3f} mm: {found.message}")


def _kept(bench: CheckedBlank, laid: CheckedPlacement) -> Kept:
    """Return how far metal and holes stay from what is cut of a part, in the steps that it keeps here."""
    want = bench.sheet.plan.shop.settings.prefer.hole_clearance_mm
    return {name: _step_kept(room, want) for name, room in room_at_holes(bench, laid.index).items()}


def _step_kept(room_mm: float, want_mm: float) -> float:
    """Return the largest quarter of the clearance that some room is enough for, millimeters."""
    if want_mm <= 0.0:
        return min(room_mm, 0.0)
    return math.floor(4.0 * min(room_mm, want_mm) / want_mm + STEP_TOL) / 4.0 * want_mm


def _scratch(bench: CheckedBlank) -> CheckedBlank:
    """A bench of the same layout that writes its findings elsewhere."""
    return CheckedBlank(CheckedSheet(bench.sheet.plan), bench.layout)


def replace_placement(laid: CheckedPlacement, **changes: float) -> CheckedPlacement:
    """Return a placed part with its placement changed."""
    return CheckedPlacement(laid.index, laid.part, replace(laid.placement, **changes))  # type: ignore[arg-type]


def check_watch(bench: CheckedBlank) -> None:
    """Each stretch to watch lies on the outline of its part and is as long as it says."""
    by_index = {laid.index: laid for laid in bench.laid}
    for k, watch in enumerate(bench.layout.watch, start=1):
        laid = by_index.get(watch.placement)
        if laid is None or len(watch.line_mm) < 2:
            bench.say("A409", f"edge to watch {k} is of no placement or has no length")
            continue
        line = shapely.LineString(watch.line_mm)
        along = shapely.points(shapely.get_coordinates(shapely.segmentize(line, LINE_STEP_MM)))
        off = float(np.max(shapely.distance(along, laid.outline.boundary)))
        if off > LINE_TOL_MM:
            bench.say("A409", f"edge to watch {k} ({watch.kind}) does not lie on the outline of {laid.name}")
        if abs(line.length - watch.length_mm) > LENGTH_TOL * line.length + SIZE_TOL_MM:
            bench.say(
                "A409",
                f"edge to watch {k} of {laid.name} is {watch.length_mm:.3f} mm long by the plan, "
                f"{line.length:.3f} mm as measured",
            )
