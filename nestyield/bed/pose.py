"""Where on a bed a blank can lie, in one turn: the exact set of places, and the one chosen.

The chosen place is the one with most clearance: the middle of the widest circle inside the set of
places that do, so that the blank may be laid off by the most without harm. It is rounded to whole
millimeters (sixteenths of an inch in shops that work in inches) where that still does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import translate

from nestyield.bed.extents import LIMIT_TOL_MM
from nestyield.bed.keep_outs import (
    BedLoad,
    bodies_for,
    forbidden_positions,
    ground_of,
    hits,
    in_the_way,
    reachable,
    widest,
)
from nestyield.bed.steps import grid_mm, um
from nestyield.model import Axis, Bed, KeepOut, Units
from nestyield.model.arcs import Box
from nestyield.model.axis import OpenEnd
from nestyield.model.facts import (
    BedRefusal,
    ClosedEndOverhang,
    DepthShort,
    KeepOutsTogether,
    TableShort,
    TravelShort,
)

#: A place is surely one when a load may be off it by so much, more than rounding takes, millimeters.
_SURE_MM = 0.1
#: Where such a place is looked for: the middle, the corners, the middles of the sides; in half sides.
_LATTICE = ((1, 1), (0, 0), (2, 0), (0, 2), (2, 2), (1, 0), (0, 1), (2, 1), (1, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class BedPose:
    """The answer for one turn.

    Parameters
    ----------
    fits : bool
    x_mm, y_mm : float
        Where the blank's origin comes to lie; when it does not fit, where it comes nearest.
    clearance_mm : float
        How far it may be off in any direction.
    refusals : tuple of BedRefusal
        Empty just when it fits.
    """

    fits: bool
    x_mm: float
    y_mm: float
    clearance_mm: float = 0.0
    refusals: tuple[BedRefusal, ...] = ()


def window(bed: Bed, load: BedLoad) -> tuple[Box, Box]:
    """Return the places that the travel allows, and those that the table allows, as boxes.

    A box with its low side above its high side is empty.
    """
    cut, wood = load.cut, load.blank
    travel = Box(-cut.x0, -cut.y0, bed.travel_x_mm - cut.x1, bed.travel_y_mm - cut.y1)
    if wood is None:
        return travel, Box(-math.inf, -math.inf, math.inf, math.inf)
    table = Box(
        -math.inf if "x-" in bed.open_ends else bed.table_x_mm[0] - wood.x0,
        -math.inf if "y-" in bed.open_ends else bed.table_y_mm[0] - wood.y0,
        math.inf if "x+" in bed.open_ends else bed.table_x_mm[1] - wood.x1,
        math.inf if "y+" in bed.open_ends else bed.table_y_mm[1] - wood.y1,
    )
    return travel, table


def lie(bed: Bed, load: BedLoad, units: Units = "mm") -> BedPose:
    """Find the place with most clearance for a load in one turn, or every refusal.

    Parameters
    ----------
    bed : Bed
    load : BedLoad
    units : {"mm", "in"}
        The place is rounded to whole steps of what the shop measures in.
    """
    travel, table = window(bed, load)
    refusals: list[BedRefusal] = []
    axes: tuple[Axis, Axis] = ("x", "y")
    for axis in axes:
        refusals += _axis_refusals(bed, load, travel, table, axis)
    refusals += _depth_refusals(bed, load)
    both = _both(travel, table)
    middle = (_middle(both.x0, both.x1), _middle(both.y0, both.y1))
    if refusals:
        return BedPose(fits=False, x_mm=middle[0], y_mm=middle[1], refusals=tuple(refusals))
    both = Box(*ordered(both.x0, both.x1, both.y0, both.y1))
    blocking = [k for k in bed.keep_outs if reachable(k, load, both)]
    if not blocking:
        return _rounded(both, middle, [], load, grid_mm(units))
    return _around_keep_outs(both, middle, blocking, load, grid_mm(units))


def takes(bed: Bed, load: BedLoad) -> bool:
    """Tell whether a load lies on a bed in one turn, as `lie` does: quicker, because no best place is looked for.

    Places on a lattice are looked at first; one that is clear of all keep-outs by more than rounding takes tells.
    """
    travel, table = window(bed, load)
    if _depth_refusals(bed, load) or any(_axis_refusals(bed, load, travel, table, a) for a in ("x", "y")):
        return False
    both = _both(travel, table)
    places = Box(*ordered(both.x0, both.x1, both.y0, both.y1))
    blocking = [k for k in bed.keep_outs if reachable(k, load, places)]
    if not blocking:
        return True
    if min(places.width, places.height) > 2.0 * _SURE_MM and not math.isinf(places.width + places.height):
        inside = places.grown(-_SURE_MM)
        for i, j in _LATTICE:
            spot = (inside.x0 + 0.5 * i * inside.width, inside.y0 + 0.5 * j * inside.height)
            if _clearance(places, blocking, load, spot) >= 0.5 * _SURE_MM:
                return True
    middle = (_middle(both.x0, both.x1), _middle(both.y0, both.y1))
    return _around_keep_outs(places, middle, blocking, load, 1.0).fits


def _both(travel: Box, table: Box) -> Box:
    return Box(
        max(travel.x0, table.x0),
        max(travel.y0, table.y0),
        min(travel.x1, table.x1),
        min(travel.y1, table.y1),
    )


def clearance_at(bed: Bed, load: BedLoad, x_mm: float, y_mm: float) -> float:
    """Return how far a load may be off a given place in any direction, millimeters; at least 0."""
    travel, table = window(bed, load)
    places = _both(travel, table)
    return max(0.0, _clearance(places, list(bed.keep_outs), load, (x_mm, y_mm)))


def lies_at(bed: Bed, load: BedLoad, x_mm: float, y_mm: float) -> bool:
    """Tell whether a load lies well at a given place: travel, table and keep-outs, not Z."""
    travel, table = window(bed, load)
    for places in (travel, table):
        off = max(places.x0 - x_mm, x_mm - places.x1, places.y0 - y_mm, y_mm - places.y1)
        if off > LIMIT_TOL_MM:
            return False
    return not any(hits(k, load, x_mm, y_mm) for k in bed.keep_outs)


def _around_keep_outs(
    places: Box, middle: tuple[float, float], blocking: list[KeepOut], load: BedLoad, grid: float
) -> BedPose:
    most = 0.5 * min(places.width, places.height)
    if _clearance(places, blocking, load, middle) >= most - 1e-9:
        return _rounded(places, middle, blocking, load, grid)
    ground = shapely.box(*places.grown(LIMIT_TOL_MM))
    shadows = {k.name: forbidden_positions(k, load, places) for k in blocking}
    free = ground.difference(shapely.union_all(list(shadows.values())))
    if free.is_empty:
        return BedPose(fits=False, x_mm=middle[0], y_mm=middle[1], refusals=(in_the_way(ground, shadows),))
    return _rounded(places, widest(free), blocking, load, grid)


def _clearance(places: Box, blocking: list[KeepOut], load: BedLoad, at: tuple[float, float]) -> float:
    """How far the load may be off at a place; negative where it does not do."""
    nearest = min(at[0] - places.x0, places.x1 - at[0], at[1] - places.y0, places.y1 - at[1])
    for keep_out in blocking:
        if hits(keep_out, load, *at):
            return -math.inf
        ground = translate(ground_of(keep_out.outline), -at[0], -at[1])
        bodies = bodies_for(keep_out, load)
        nearest = min(nearest, float(np.min(shapely.distance(bodies, ground), initial=math.inf)))
    return nearest


def _rounded(
    places: Box, spot: tuple[float, float], blocking: list[KeepOut], load: BedLoad, grid: float
) -> BedPose:
    """Round a place to whole steps, a tenth (1/64 inch) or micrometers, whichever first keeps clearance.

    ``grid`` is the step: a millimeter, or 1/16 inch.
    """
    best = _clearance(places, blocking, load, spot)
    steps = (grid, grid / 10.0 if grid == 1.0 else grid / 4.0, 0.001)
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1), (0, 2), (2, 0), (1, 2), (2, 1), (2, 2)):
        x, y = (round(round(v / steps[k]) * steps[k], 4) + 0.0 for v, k in zip(spot, (i, j)))
        clear = _clearance(places, blocking, load, (x, y))
        least = 0.8 * best if max(i, j) < 2 else -LIMIT_TOL_MM / 2
        if clear >= least:
            clear = max(0.0, math.floor(clear * 1000.0) / 1000.0)
            return BedPose(fits=True, x_mm=x, y_mm=y, clearance_mm=clear)
    fits = not any(hits(k, load, *spot) for k in blocking)
    together = KeepOutsTogether(names=tuple(k.name for k in blocking))
    return BedPose(fits=fits, x_mm=spot[0], y_mm=spot[1], refusals=() if fits else (together,))


def _middle(low: float, high: float) -> float:
    if math.isinf(low) and math.isinf(high):
        return 0.0
    if math.isinf(low):
        return high
    if math.isinf(high):
        return low
    return 0.5 * (low + high)


def ordered(x0: float, x1: float, y0: float, y1: float) -> tuple[float, float, float, float]:
    """Corners of a box whose sides may have crossed within the tolerance."""
    if x0 > x1:
        x0 = x1 = 0.5 * (x0 + x1)
    if y0 > y1:
        y0 = y1 = 0.5 * (y0 + y1)
    return x0, y0, x1, y1


def _depth_refusals(bed: Bed, load: BedLoad) -> list[BedRefusal]:
    if bed.travel_z_mm is None or load.deep_mm is None or load.deep_mm <= bed.travel_z_mm + LIMIT_TOL_MM:
        return []
    needs, travel = um(load.deep_mm), um(bed.travel_z_mm)
    return [DepthShort(needs_um=needs, travel_um=travel, short_um=needs - travel)]


def _axis_refusals(bed: Bed, load: BedLoad, travel: Box, table: Box, axis: Axis) -> list[BedRefusal]:
    i = 0 if axis == "x" else 1
    low, high = travel[i], travel[i + 2]
    refusals: list[BedRefusal] = []
    if low > high + LIMIT_TOL_MM:
        needs = um((load.cut.width, load.cut.height)[i])
        limit = um((bed.travel_x_mm, bed.travel_y_mm)[i])
        refusals.append(TravelShort(axis=axis, needs_um=needs, travel_um=limit, short_um=needs - limit))
    if load.blank is None:
        return refusals
    t_low, t_high = table[i], table[i + 2]
    if t_low > t_high + LIMIT_TOL_MM:
        size = um((load.blank.width, load.blank.height)[i])
        edge = (bed.table_x_mm, bed.table_y_mm)[i]
        length = um(edge[1] - edge[0])
        refusals.append(TableShort(axis=axis, blank_um=size, table_um=length, over_um=size - length))
    elif not refusals and max(low, t_low) > min(high, t_high) + LIMIT_TOL_MM:
        ends: tuple[OpenEnd, OpenEnd] = ("x-", "x+") if axis == "x" else ("y-", "y+")
        at_low = t_low > high
        over = t_low - high if at_low else low - t_high
        refusals.append(ClosedEndOverhang(axis=axis, end=ends[0 if at_low else 1], over_um=um(over)))
    return refusals
