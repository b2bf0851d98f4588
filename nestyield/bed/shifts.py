"""Where a part may lie on a blank so that a bed takes it: all its shifts at one angle at once.

With the blank at ``p`` on the bed and the part shifted by ``v`` on the blank, the cutter is at ``p + v``. Let A be the
places for the part that travel and keep-outs leave, B those for the blank with what already lies on it. A shift does just
when some ``p`` of B has ``p + v`` in A: when A and B moved by ``v`` overlap, which is one Minkowski sum.
"""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from nestyield.bed.extents import LIMIT_TOL_MM, TurnedBoxes
from nestyield.bed.fit import TURNS, load_of
from nestyield.bed.keep_outs import BedLoad, forbidden_positions
from nestyield.bed.pose import ordered, window
from nestyield.bed.sweep import touch_region, wood
from nestyield.model import Axis, Bed, Blank, Part, Placement, Settings
from nestyield.model.arcs import Box

#: By which places are wider than true: rounding takes none, and what that adds is within the limits' tolerance, mm.
SPARE_MM = LIMIT_TOL_MM / 2.0


def shifts_taken(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    part: Part,
    at: Placement,
    bed: Bed,
    along: Axis,
    settings: Settings,
    boxes: TurnedBoxes | None = None,
) -> BaseGeometry:
    """Return the shifts of a part, at the angle and face of a placement, at which a bed may take the blank in one go.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
        What lies there already.
    part : Part
    at : Placement
        Its shift does not count.
    bed : Bed
    along : {"x", "y"}
        How the blank lies, or end for end.
    settings : Settings
    boxes : TurnedBoxes, optional

    Returns
    -------
    shapely geometry
        In blank coordinates, millimeters; its edges are true to about the tolerance of the limits.
        Whether the bed is deep enough is not asked.
    """
    boxes = boxes or TurnedBoxes()
    here = _unshifted(at)
    found = []
    for turned_deg in TURNS[along]:
        own = load_of(None, [(part, here)], turned_deg, settings, boxes)
        places = _free(bed, own, window(bed, own)[0])
        if places.is_empty:
            continue
        rest = _rest(blank, laid, turned_deg, settings, boxes)
        travel, table = window(bed, rest)
        span = Box(*places.bounds).grown(_reach_mm(own, rest))  # where the blank may be with the part on it
        both = _meet(table, span)
        if laid:
            both = _meet(both, travel)
        stands = _free(bed, rest, both)
        if not stands.is_empty:
            shifts = touch_region(places, stands)
            found.append(rotate(shifts, -turned_deg, origin=(0.0, 0.0)))
    return shapely.union_all(found)


def _unshifted(at: Placement) -> Placement:
    return Placement(
        part=at.part, order="", copy=1, angle_deg=at.angle_deg, mirrored=at.mirrored, x_um=0, y_um=0
    )


def _rest(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    turned_deg: float,
    settings: Settings,
    boxes: TurnedBoxes,
) -> BedLoad:
    """Return the blank with what already lies on it."""
    if laid:
        return load_of(blank, laid, turned_deg, settings, boxes)
    return BedLoad(
        cut=Box(0.0, 0.0, 0.0, 0.0),
        radius_mm=settings.cutter_diameter_mm / 2.0,
        blank=boxes.blank(blank.shape, turned_deg),
        swept=list,
        wood=lambda: wood(blank.shape, turned_deg),
    )


def _reach_mm(own: BedLoad, rest: BedLoad) -> float:
    """Return more than a part on a blank can be shifted, millimeters."""
    assert rest.blank is not None
    corners = (*rest.blank, *own.cut)
    return 2.0 * (max(map(abs, corners)) + 1.0)


def _meet(a: Box, b: Box) -> Box:
    return Box(max(a.x0, b.x0), max(a.y0, b.y0), min(a.x1, b.x1), min(a.y1, b.y1))


def _free(bed: Bed, load: BedLoad, places: Box) -> BaseGeometry:
    """Return the places of a box at which no keep-out is entered, a little wider."""
    if places.x0 > places.x1 + LIMIT_TOL_MM or places.y0 > places.y1 + LIMIT_TOL_MM:
        return shapely.Polygon()
    wide = Box(*ordered(places.x0, places.x1, places.y0, places.y1)).grown(SPARE_MM)
    shadows = [forbidden_positions(k, load, wide) for k in bed.keep_outs]
    return shapely.box(*wide).difference(shapely.union_all(shadows))
