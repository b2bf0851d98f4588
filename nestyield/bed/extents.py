"""How far outlines reach in a direction, arcs included exactly."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.model import Outline, Part, Placement, Shape
from nestyield.model.arc import Arc
from nestyield.model.arcs import Box, Extents, box_of, join_boxes, segments
from nestyield.model.pose import Pose

#: A limit may be passed by this much: turned vertices are rounded to whole micrometers.
LIMIT_TOL_MM = 0.002


#: Parts of which it is remembered what of them can reach farthest.
_MOST_PARTS = 64
_far: OrderedDict[int, tuple[Part, tuple[Extents, ...]]] = OrderedDict()


def _reaching(part: Part) -> tuple[Extents, ...]:
    """Return the outline of a part, then the cuts in it that could take the cutter farther.

    A cut that lies within the hull of the outline reaches no farther than that in any direction: the cutter's
    center stays a radius inside such a cut and a radius outside the outline.
    """
    if id(part) not in _far:  # the part is kept too, so that its id stays its own
        hull = shapely.convex_hull(_points(part.outline, outside=False))
        cuts = [z.shape.outer for z in part.zones if z.does.cuts and z.shape is not None]
        beyond = [cut for cut in cuts if not hull.covers(_points(cut, outside=True))]
        _far[id(part)] = part, tuple(Extents(o) for o in (part.outline, *beyond))
        if len(_far) > _MOST_PARTS:
            _far.popitem(last=False)
    _far.move_to_end(id(part))
    return _far[id(part)][1]


def _points(outline: Outline, *, outside: bool) -> BaseGeometry:
    """Return points whose hull covers an outline, or points on it."""
    points = list(outline.points_mm)
    for p, q, bulge in segments(outline):
        if bulge:
            arc = Arc.of(p, q, bulge)
            points += arc.around(1 + int(abs(arc.sweep))) if outside else arc.inner(8)
    return shapely.MultiPoint(points)


class TurnedBoxes:
    """Boxes around parts and blanks as they are turned, each worked out once for many shifts of it."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, int, float, bool], tuple[object, tuple[Box, ...]]] = {}

    def blank(self, shape: Shape, turned_deg: float) -> Box:
        """Return the box around a blank that is turned about its origin, millimeters."""
        key = ("blank", id(shape), turned_deg, False)
        if key not in self._known:  # the owner is kept with its boxes, so that its id stays its own
            self._known[key] = shape, (box_of(shape.outer, Pose(angle_deg=turned_deg)),)
        return self._known[key][1][0]

    def part(self, part: Part, pose: Pose) -> list[Box]:
        """Return the boxes around a part's outline and then the cuts that could reach farther, laid so, mm."""
        key = ("part", id(part), pose.angle_deg, pose.mirrored)
        if key not in self._known:
            turn = Pose(angle_deg=pose.angle_deg, mirrored=pose.mirrored)
            self._known[key] = part, tuple(e.box(turn) for e in _reaching(part))
        return [
            Box(b.x0 + pose.x_mm, b.y0 + pose.y_mm, b.x1 + pose.x_mm, b.y1 + pose.y_mm)
            for b in self._known[key][1]
        ]


def blank_box(shape: Shape, turned_deg: float) -> Box:
    """Return the box around a blank that is turned about its origin, millimeters."""
    return TurnedBoxes().blank(shape, turned_deg)


def cutter_box(part: Part, pose: Pose, radius_mm: float, boxes: TurnedBoxes | None = None) -> Box:
    """Return the box around the path of the cutter's center for one part, millimeters.

    The path follows the outline grown by the radius, and openings, pockets and contours
    shrunk by it (those matter only where they are drawn beyond the outline).
    """
    outline, *inside = (boxes or TurnedBoxes()).part(part, pose)
    inner = [b.grown(-radius_mm) for b in inside]
    return join_boxes([outline.grown(radius_mm), *(b for b in inner if b.x0 <= b.x1 and b.y0 <= b.y1)])


def cutter_box_all(
    placements: Sequence[tuple[Part, Placement]],
    turned_deg: float,
    radius_mm: float,
    boxes: TurnedBoxes | None = None,
) -> Box | None:
    """Return the box around the cutter's center path of all placed parts, blank turned, millimeters."""
    turn = Pose(angle_deg=turned_deg)
    each = [cutter_box(part, Pose.of(p).then(turn), radius_mm, boxes) for part, p in placements]
    return join_boxes(each) if each else None
