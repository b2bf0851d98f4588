"""How much room a placement has: where it may be shifted to, and how far it may be turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyclipper

from nestyield.geometry.boolean import coarse, components
from nestyield.geometry.grid import FINE, Region, bounds
from nestyield.model import Blank, Part, Placement, Settings
from nestyield.placement.candidates import grain_off_deg
from nestyield.placement.depth import Facing, spare_thickness_mm
from nestyield.placement.problem import Problem, Scene, TakenPart
from nestyield.placement.region import allowed_fine

# Turns are tried in steps of this, then the last step is halved.
_STEP_DEG = 0.5
_MOST_STEPS = 40
_HALVINGS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiggle:
    """The room around a placement.

    Parameters
    ----------
    shifts : Region
        Connected region of shifts (as ``x_um``, ``y_um``) that the part can slide through at its angle;
        empty when there is no play.
    along_mm, across_mm : float
        Size of that region's box along X and along Y of the blank.
    from_deg, to_deg : float
        Angles between which the part has a place, shifted as it needs, within the grain tolerance; looked
        at in steps of half a degree.
    """

    shifts: Region
    along_mm: float
    across_mm: float
    from_deg: float
    to_deg: float


def problem_of(
    part: Part, blank: Blank, settings: Settings, placement: Placement, taken: Sequence[TakenPart] = ()
) -> Problem:
    """Return the problem that a placement answers."""
    even = spare_thickness_mm(part, blank.thickness_mm) / 2
    top_off = even if placement.top_off_mm is None else placement.top_off_mm
    facing = Facing(front_up=placement.front_up, top_off_mm=top_off)
    return Scene(part, blank, settings, taken).problem(facing)


def wiggle(
    part: Part, blank: Blank, settings: Settings, placement: Placement, taken: Sequence[TakenPart] = ()
) -> Wiggle:
    """Work out the room around a placement.

    Parameters
    ----------
    part, blank, settings : as placed
    placement : Placement
    taken : sequence of (Part, Placement)
        The other parts on the blank.
    """
    problem = problem_of(part, blank, settings, placement, taken)
    shifts: Region = []
    at = (placement.x_um * FINE, placement.y_um * FINE)
    near: list[tuple[float, Region]] = []
    for outer, holes in components(allowed_fine(problem, placement.angle_deg, placement.mirrored)):
        if pyclipper.PointInPolygon(at, outer.tolist()) != 0:
            shifts = coarse([outer, *holes])
            break
        # the shift is rounded to the grid and may lie just outside
        gap = float(np.abs(outer - np.array(at)).max(axis=1).min())
        near.append((gap, coarse([outer, *holes])))
    else:
        close = [r for gap, r in sorted(near, key=lambda n: n[0]) if gap <= 2 * FINE]
        shifts = close[0] if close else []
    x0, y0, x1, y1 = bounds(shifts) if shifts else (0, 0, 0, 0)
    reach = _turns(problem, part, blank, placement)
    return Wiggle(
        shifts=shifts,
        along_mm=(x1 - x0) / 1000.0,
        across_mm=(y1 - y0) / 1000.0,
        from_deg=placement.angle_deg - reach[0],
        to_deg=placement.angle_deg + reach[1],
    )


def _turns(problem: Problem, part: Part, blank: Blank, placement: Placement) -> tuple[float, float]:
    """How far the part may turn clockwise and counter-clockwise, shifted as it needs."""

    def holds(angle_deg: float) -> bool:
        off = grain_off_deg(part, blank.grain_deg, angle_deg, placement.mirrored)
        if off > part.grain_tolerance_deg + 1e-9:
            return False
        return bool(allowed_fine(problem, angle_deg, placement.mirrored))

    out = []
    for sign in (-1.0, 1.0):
        good = 0.0
        step = _STEP_DEG
        for _ in range(_MOST_STEPS):
            if not holds(placement.angle_deg + sign * (good + step)):
                break
            good += step
        for _ in range(_HALVINGS):
            step /= 2
            if holds(placement.angle_deg + sign * (good + step)):
                good += step
        out.append(good)
    return out[0], out[1]
