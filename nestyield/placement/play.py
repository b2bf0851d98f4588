"""How much room a placement has: where it may be shifted to, and how far it may be turned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pyclipper

from nestyield.geometry.boolean import SubgridPaths, components, to_grid
from nestyield.geometry.grid import SUBGRID, UM_PER_MM, Region, bounds
from nestyield.geometry.minkowski import Window
from nestyield.model import Blank, Part, Placement, Settings
from nestyield.model.pose import Pose
from nestyield.placement.candidates import grain_turn_deg
from nestyield.placement.depth import ThicknessSplit, spare_thickness_mm
from nestyield.placement.problem import FlattenedInputs, PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region, window_of

#: Turns are tried in steps of this, then the last step is halved so often, degrees.
STEP_DEG = 1.0
HALVINGS = 6
#: Turns beyond this are not looked for, degrees.
MOST_DEG = 10.0
# Two places closer than this are one, micrometers.
_SAME_UM = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """The room around a placement.

    Parameters
    ----------
    shifts : Region
        Connected region of shifts (as ``x_um``, ``y_um``) that the part can slide through at its angle;
        empty when there is no play.
    along_mm, across_mm : float
        Size of that region along and across the blank's grain (X and Y of a blank without grain).
    from_deg, to_deg : float
        Angles to which the part can be turned, sliding as it needs, within the grain tolerance; looked at in
        steps of a degree up to ten degrees, the last step to a sixty-fourth of a degree.
    """

    shifts: Region
    along_mm: float
    across_mm: float
    from_deg: float
    to_deg: float


def problem_of(
    part: Part, blank: Blank, settings: Settings, placement: Placement, taken: Sequence[TakenPart] = ()
) -> PlacementProblem:
    """Return the problem that a placement answers."""
    even = spare_thickness_mm(part, blank.thickness_mm) / 2
    top_off = even if placement.top_off_mm is None else placement.top_off_mm
    split = ThicknessSplit(front_up=placement.front_up, top_off_mm=top_off)
    return FlattenedInputs(part, blank, settings, taken).problem(split)


#: Takes away the shifts, at an angle, at which something else that counts is no longer kept.
Keeping = Callable[[SubgridPaths, float, bool], SubgridPaths]


def play_of(
    part: Part,
    blank: Blank,
    settings: Settings,
    placement: Placement,
    taken: Sequence[TakenPart] = (),
    keeping: Keeping | None = None,
) -> Play:
    """Work out the room around a placement.

    Parameters
    ----------
    part, blank, settings : as placed
    placement : Placement
    taken : sequence of (Part, Placement)
        The other parts on the blank.
    keeping : callable, optional
        What else is kept, beside margins, gaps and defects.
    """
    problem = problem_of(part, blank, settings, placement, taken)

    def region_at(angle_deg: float, window: Window | None = None) -> SubgridPaths:
        paths = feasible_region(problem, angle_deg, placement.mirrored, window)
        return keeping(paths, angle_deg, placement.mirrored) if keeping and paths else paths

    here = _around(region_at(placement.angle_deg), placement)
    shifts = to_grid(here)
    along, across = _size_mm(shifts, blank.grain_deg or 0.0)
    start = here or [np.array([[placement.x_um, placement.y_um]], dtype=np.int64) * SUBGRID]
    reach = [_turn(problem, part, blank, placement, start, sign, region_at) for sign in (-1.0, 1.0)]
    return Play(
        shifts=shifts,
        along_mm=along,
        across_mm=across,
        from_deg=placement.angle_deg - reach[0],
        to_deg=placement.angle_deg + reach[1],
    )


def _around(region: SubgridPaths, placement: Placement) -> SubgridPaths:
    """The connected piece of the allowed region that a placement lies in; nothing when there is no play."""
    at = (placement.x_um * SUBGRID, placement.y_um * SUBGRID)
    near: list[tuple[float, SubgridPaths]] = []
    for outer, holes in components(region):
        if pyclipper.PointInPolygon(at, outer.tolist()) != 0:
            return [outer, *holes]
        # the shift is rounded to the grid and may lie just outside
        gap = float(np.abs(outer - np.array(at)).max(axis=1).min())
        near.append((gap, [outer, *holes]))
    close = [paths for gap, paths in sorted(near, key=lambda n: n[0]) if gap <= _SAME_UM * SUBGRID]
    return close[0] if close else []


def _size_mm(shifts: Region, grain_deg: float) -> tuple[float, float]:
    """Size of a region along and across a direction."""
    if not shifts:
        return 0.0, 0.0
    size = np.ptp(Pose(angle_deg=-grain_deg).array(np.concatenate(shifts)), axis=0) / UM_PER_MM
    return float(size[0]), float(size[1])


def _turn(
    problem: PlacementProblem,
    part: Part,
    blank: Blank,
    placement: Placement,
    start: SubgridPaths,
    sign: float,
    region_at: Callable[[float, Window | None], SubgridPaths],
) -> float:
    """How far the part can be turned one way from a region of shifts, sliding as it needs.

    The part's middle moves in one step no farther than its farthest point turns, so that a place beyond a
    wall is not taken for one that the part can slide to.
    """
    x0, y0, x1, y1 = bounds([problem.shape.outline])
    middle = np.array([[(x0 + x1) / 2 * (-1 if placement.mirrored else 1), (y0 + y1) / 2]])
    far = float(np.hypot(x1 - x0, y1 - y0)) / 2

    def there(turn: float, before: float, box: Window) -> SubgridPaths:
        """The room after a turn, of which the room at the turn before had a box."""
        angle, last = (placement.angle_deg + sign * t for t in (turn, before))
        carried = Pose(angle_deg=last).array(middle)[0] - Pose(angle_deg=angle).array(middle)[0]
        pad = far * np.radians(turn - before) + _SAME_UM
        low = np.floor(np.array(box[:2]) + carried - pad).astype(int)
        high = np.ceil(np.array(box[2:]) + carried + pad).astype(int)
        window = (int(low[0]), int(low[1]), int(high[0]), int(high[1]))
        return region_at(angle, window)

    most = min(MOST_DEG, grain_turn_deg(part, blank.grain_deg, placement.angle_deg, placement.mirrored, sign))
    good, box = 0.0, window_of(start)
    while good < most:
        found = there(min(good + STEP_DEG, most), good, box)
        if not found:
            break
        good, box = min(good + STEP_DEG, most), window_of(found)
    step = min(STEP_DEG, most - good)
    for _ in range(HALVINGS if good < most else 0):
        step /= 2
        found = there(good + step, good, box)
        if found:
            good, box = good + step, window_of(found)
    return good
