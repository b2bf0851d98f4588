"""Chosen layouts moved off the edges of the piece, where nothing worth keeping is lost by it.

A part that lies at the margin leaves a sliver beside the cutter's path, and all screws at the other end. All
parts of a piece move together, along X and then along Y: to the middle of their room where nothing worth keeping
is lost by it, else by just so much that the frame of waste stays whole, where that loses next to nothing.
"""

from __future__ import annotations

import math
from dataclasses import replace

import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from nestyield.geometry.boolean import components
from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.geometry.shape import pieces_to_shapely
from nestyield.placement.leftovers import usable_shapes
from nestyield.placement.play import play_of
from nestyield.planning.candidates import Candidate, candidate_of
from nestyield.planning.keep_clear import KeepClear
from nestyield.planning.lay_parts import Laid, LayoutContext
from nestyield.planning.layouts import setups_by_merit
from nestyield.planning.work.frame import LEAST_FRAME_MM

#: A layout does not move when less than this share of the leftovers worth keeping, by value, would be left.
LEAST_LEFT = 0.985
#: Shifts keep so far inside the room, and shorter ones are not worth a move, millimeters.
_INSIDE_MM, _LEAST_MM = 0.003, 0.05
#: The frame is so much wider than what is a caution, millimeters.
_MORE_MM = 0.05


def stood_off(bench: LayoutContext, candidate: Candidate) -> Candidate:
    """Return a layout on one piece with its parts off the edges, or as it is.

    Parameters
    ----------
    bench : LayoutContext
        Of the piece.
    candidate : Candidate
        On it, not sawn first.
    """
    settings = bench.shop.settings
    frame = settings.cutter_diameter_mm + LEAST_FRAME_MM + _MORE_MM - settings.blank_margin_mm
    for axis in (0, 1):
        ends = _along(_room(bench, candidate.laid), axis) if candidate.laid else (0.0, 0.0)
        middle = (ends[0] + ends[1]) / 2
        little = math.copysign(min(abs(middle), max(0.0, frame)), middle)
        for by in (middle, little):
            moved = _moved(bench, candidate, axis, by) if abs(by) >= _LEAST_MM else None
            if moved is not None:
                candidate = moved
                break
    return candidate


def _moved(bench: LayoutContext, candidate: Candidate, axis: int, by_mm: float) -> Candidate | None:
    """Return a layout with all its parts shifted along one axis, or None when something is lost by it."""
    x, y = (round(by_mm * UM_PER_MM) if k == axis else 0 for k in (0, 1))
    moved = tuple((want, replace(at, x_um=at.x_um + x, y_um=at.y_um + y)) for want, at in candidate.laid)
    found = candidate_of(bench, candidate.rows[0], candidate.made, moved)
    if found.back < LEAST_LEFT * candidate.back or found.used_up > candidate.used_up / LEAST_LEFT:
        return None
    if in_large_pieces(bench, moved) < LEAST_LEFT**2 * in_large_pieces(bench, candidate.laid):
        return None  # two strips are worth less than the one that they were
    if beds_needed(bench, moved) > beds_needed(bench, candidate.laid):
        return None
    return None if _unkept(bench, moved) > _unkept(bench, candidate.laid) else found


def in_large_pieces(bench: LayoutContext, laid: Laid) -> float:
    """Return the sum of the squares of the leftovers worth keeping: the same wood in one piece counts more."""
    placements = [(bench.part(want), at) for want, at in laid]
    shapes = usable_shapes(bench.blank, placements, bench.shop.settings)
    return sum(shape.area_mm2**2 for shape in shapes)


def _room(bench: LayoutContext, laid: Laid) -> BaseGeometry:
    """Return the shifts by which all parts of a layout can slide together, millimeters."""
    room: BaseGeometry | None = None
    for want, at in laid:
        part = bench.part(want)
        keeping = KeepClear(part, bench.blank, bench.shop.settings, at).keeping(at)
        shifts = play_of(part, bench.blank, bench.shop.settings, at, (), keeping).shifts
        mine = shapely.affinity.translate(_in_mm(shifts), -at.x_um / UM_PER_MM, -at.y_um / UM_PER_MM)
        room = mine if room is None else room.intersection(mine)
    assert room is not None
    return next(
        (g for g in shapely.get_parts(room) if g.distance(shapely.Point(0.0, 0.0)) <= _INSIDE_MM),
        shapely.Polygon(),
    )


def _in_mm(region: Region) -> BaseGeometry:
    parts = components(region)
    return pieces_to_shapely(parts) if parts else shapely.Polygon()


def _along(room: BaseGeometry, axis: int) -> tuple[float, float]:
    """Return from where to where shifts along one axis alone stay in a room, millimeters."""
    inner = room.buffer(-_INSIDE_MM)
    far = 1e5
    line = shapely.LineString([(-far, 0.0), (far, 0.0)] if axis == 0 else [(0.0, -far), (0.0, far)])
    # the place itself may lie on the room's edge
    for strip in shapely.get_parts(line.intersection(room.buffer(_INSIDE_MM))):
        x0, y0, x1, y1 = strip.bounds
        low, high = (x0, x1) if axis == 0 else (y0, y1)
        if low <= 0.0 <= high and high - low > 4 * _INSIDE_MM and not inner.is_empty:
            return low + 2 * _INSIDE_MM, high - 2 * _INSIDE_MM
    return 0.0, 0.0


def beds_needed(bench: LayoutContext, laid: Laid) -> tuple[int, int]:
    """Return sections and rank of the bed that is chosen for a layout; the least is the best."""
    if not bench.shop.beds:
        return 0, 0
    tried = bench.setups(laid)
    best = next(iter(setups_by_merit(tried)), None)
    if best is None:
        return 1000, 0
    names = list(dict.fromkeys(s.bed for s in tried))
    return len(tried[best].sections), names.index(tried[best].bed)


def _unkept(bench: LayoutContext, laid: Laid) -> list[tuple[float, ...]]:
    return [KeepClear(bench.part(w), bench.blank, bench.shop.settings, at).before for w, at in laid]
