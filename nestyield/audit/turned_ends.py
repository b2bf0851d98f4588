"""Whether a part that is turned to the end of its told play is wider than all the room that there is for it.

Only what surely is too wide is told: each stretch of wood between the margins and the neighbors is measured
across in many directions, and a part that is wider in one of them has no place in it, wherever it slides.
A part that passes may still have no place.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, points_of, polygon
from nestyield.audit.places import margin_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement

#: Widths are taken this many degrees apart.
STEP_DEG = 1.0
#: A part may be this much wider than the room: rounding and chords, millimeters.
WIDTH_TOL_MM = 0.03
#: Neighbors this much farther off than the gap are let be, millimeters.
NEIGHBORS_MM = 60.0

_ANGLES = np.radians(np.arange(0.0, 180.0, STEP_DEG))
_ACROSS = np.stack([np.cos(_ANGLES), np.sin(_ANGLES)])


def rooms_around(bench: CheckedBlank, laid: CheckedPlacement) -> list[np.ndarray]:
    """Return the widths in each direction of the stretches of wood in which one part may lie, millimeters."""
    outer = polygon(points_of(bench.layout.blank.shape.outer))
    room = outer.buffer(-(margin_of(bench) - TOL_MM), quad_segs=32)
    if laid.openings.is_empty:  # else others may lie in its openings
        gap = bench.sheet.plan.shop.settings.gap_mm
        near = bench.tree.query(laid.outline, predicate="dwithin", distance=gap + NEIGHBORS_MM)
        others = [bench.laid[int(k)] for k in near if bench.laid[int(k)].index != laid.index]
        taken = [o.outline.buffer(gap - TOL_MM, quad_segs=8).difference(o.openings) for o in others]
        room = room.difference(shapely.union_all(taken))
    return [_widths(part) for part in shapely.get_parts(room)]


def has_room(laid: CheckedPlacement, angle_deg: float, rooms: list[np.ndarray]) -> bool:
    """Tell whether one of the stretches is as wide as the turned part in all directions."""
    turned = replace(laid.placement, angle_deg=angle_deg)
    widths = _widths(CheckedPlacement(laid.index, laid.part, turned).outline)
    return any(bool(np.all(widths <= room + WIDTH_TOL_MM)) for room in rooms)


def _widths(region: BaseGeometry) -> np.ndarray:
    points = shapely.get_coordinates(region.convex_hull)
    return np.asarray(np.ptp(points @ _ACROSS, axis=0))
