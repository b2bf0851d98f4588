"""How far a whole setup, with its pins and screws, may stand off its place on the bed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from nestyield.bed.fit import load_of
from nestyield.bed.flip import flipped
from nestyield.bed.pose import clearance_at
from nestyield.bed.sweep import outline_polygon
from nestyield.bed.waste import Pairs
from nestyield.model import Axis, Bed, Blank, HoldDown, PieceFace, Pin, Point, Settings, Setup
from nestyield.model.pose import Pose


def may_shift_mm(
    blank: Blank,
    pairs: Pairs,
    bed: Bed,
    chosen: Setup,
    settings: Settings,
    faces: Sequence[PieceFace],
    axis: tuple[Point, Point] | None,
    held: Sequence[Pin | HoldDown],
) -> float:
    """Return how far blank, pins and screws together may be off their place, in any direction.

    Pins and screws stay over the table and clear of keep-outs; holes that the machine drills stay within its
    travel. Every position counts: top up, and turned over about the flip axis.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    bed : Bed
    chosen : Setup
        How the blank lies with its top up, in one go.
    settings : Settings
    faces : sequence of {"top", "bottom"}
    axis : (point, point) or None
        Flip axis, blank coordinates.
    held : sequence of Pin or HoldDown

    Returns
    -------
    float
        Millimeters, rounded down to a thousandth.
    """
    turn = Pose(angle_deg=chosen.turned_deg, x_mm=chosen.x_mm, y_mm=chosen.y_mm)
    least = math.inf
    for face in faces:
        board, moved = blank, list(pairs)
        points = [(item.x_mm, item.y_mm) for item in held]
        if face == "bottom" and axis is not None:
            (ax, ay), (bx, _) = axis
            way: Axis = "x" if abs(ax - bx) > 1e-6 else "y"
            board, moved = flipped(blank, pairs, way, ay if way == "x" else ax)
            points = [(x, 2.0 * ay - y) if way == "x" else (2.0 * ax - x, y) for x, y in points]
        load = load_of(board, moved, chosen.turned_deg, settings)
        least = min(least, clearance_at(bed, load, chosen.x_mm, chosen.y_mm))
        for item, point in zip(held, points):
            least = min(least, _room(bed, item, turn.point(point)))
    return max(0.0, math.floor(least * 1000.0) / 1000.0)


def _room(bed: Bed, item: Pin | HoldDown, at: Point) -> float:
    """How far a pin or screw may be off: over the table, clear of keep-outs, within reach of the drill."""
    radius = item.diameter_mm / 2.0
    spans = [(at[0], *bed.table_x_mm, radius), (at[1], *bed.table_y_mm, radius)]
    if isinstance(item, Pin) and not item.by_hand:
        spans += [(at[0], 0.0, bed.travel_x_mm, 0.0), (at[1], 0.0, bed.travel_y_mm, 0.0)]
    rooms = [min(v - low, high - v) - inset for v, low, high, inset in spans]
    spot = shapely.Point(at)
    rooms += [float(shapely.distance(outline_polygon(k.outline), spot)) - radius for k in bed.keep_outs]
    return min(rooms)
