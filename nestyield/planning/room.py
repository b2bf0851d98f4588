"""Whether any room is left on a blank for one more part: quick tests before the exact search."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from nestyield.geometry.boolean import difference
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import UM_PER_MM, Region, bounds
from nestyield.geometry.minkowski import inner_fit_subgrid
from nestyield.geometry.offset import shrink
from nestyield.geometry.shape import region_to_shape
from nestyield.geometry.sweep import rotation_intersection
from nestyield.model import Blank, Part, Placement, Settings
from nestyield.model.pose import Pose
from nestyield.placement.candidates import Orientation, orientations
from nestyield.placement.leftovers import after_cutter
from nestyield.placement.remember import remember
from nestyield.planning.extents import SLACK_MM, needs_of, shortfall

#: Gaps and margins are taken this much smaller when looking quickly for room, millimeters.
ROOM_SLACK_MM = 0.05
#: Ways with more tolerance than this are looked at in steps of it, degrees.
WIDEST_HALF_DEG = 12.0
#: Ways that would need more steps than this are not looked at.
MOST_STEPS = 2


def room_left(part: Part, blank: Blank, taken: Sequence[tuple[Part, Placement]], settings: Settings) -> bool:
    """Tell whether there may be room for one more part beside those that lie on a blank.

    Wood nearer to a part than the gap, or to the edge than the margin, is left out. The largest circle in
    the part must find a place in the rest; a stretch must be long and wide enough; and what the part covers
    at every allowed angle must find a place. Defects are not looked at.

    Parameters
    ----------
    part : Part
    blank : Blank
    taken : sequence of (Part, Placement)
    settings : Settings

    Returns
    -------
    bool
        False is certain; true is not a promise.
    """
    if settings.gap_mm < ROOM_SLACK_MM:  # parts that may touch: too little to be sure of
        return True
    wood = _free(blank, taken, settings)
    circle = needs_of(part, settings.chord_error_mm).circle
    if not shrink(wood, max(0.0, circle - ROOM_SLACK_MM) * UM_PER_MM, "outside"):
        return False
    bare = replace(settings, blank_margin_mm=0.0)
    if not any(
        shortfall(part, replace(blank, shape=shape), bare).worst_mm <= SLACK_MM
        for shape in region_to_shape(wood)
    ):
        return False
    return any(_may_lie(part, way, wood, settings) for way in orientations(part, blank.grain_deg))


def _free(blank: Blank, taken: Sequence[tuple[Part, Placement]], settings: Settings) -> Region:
    """Return the wood far enough from edges and parts: a little too much rather than too little."""
    margin = max(0.0, settings.blank_margin_mm - ROOM_SLACK_MM)
    beside = after_cutter(blank, taken, settings, settings.gap_mm - ROOM_SLACK_MM)
    if not margin:
        return beside
    stock = flatten_shape(blank.shape, settings.chord_error_mm, "inside")
    inner = shrink(stock, margin * UM_PER_MM, "outside")
    return difference(inner, difference(stock, beside))


def _may_lie(part: Part, way: Orientation, wood: Region, settings: Settings) -> bool:
    """Tell whether what the part covers at all angles of a way, or of each step of it, finds a place."""
    steps = max(1, math.ceil(way.tolerance_deg / WIDEST_HALF_DEG))
    if steps > MOST_STEPS:
        return True
    half = way.tolerance_deg / steps
    core = _core(part, half, settings.chord_error_mm)
    if not core:
        return True
    first = way.middle_deg - way.tolerance_deg
    return any(
        bool(
            inner_fit_subgrid(
                wood, Pose(angle_deg=first + half * (2 * k + 1), mirrored=way.mirrored).on_grid(core)
            )
        )
        for k in range(steps)
    )


@remember(256)
def _core(part: Part, half_deg: float, chord_error_mm: float) -> Region:
    """Return what a part covers while it turns so far either way about its middle."""
    outline = flatten(part.outline, chord_error_mm, "inside")
    x0, y0, x1, y1 = bounds([outline])
    return rotation_intersection([outline], half_deg, ((x0 + x1) / 2, (y0 + y1) / 2))
