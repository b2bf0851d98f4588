"""How far outlines reach in a direction, arcs included exactly."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model import Outline, Part, Placement, Shape
from nestyield.model.arcs import Box, box_of, join_boxes
from nestyield.model.pose import Pose

#: A limit may be passed by this much: turned vertices are rounded to whole micrometers.
LIMIT_TOL_MM = 0.002


class TurnedBoxes:
    """Boxes around parts and blanks as they are turned, each worked out once for many shifts of it."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, int, float, bool], tuple[object, tuple[Box, ...]]] = {}

    def blank(self, shape: Shape, turned_deg: float) -> Box:
        """Return the box around a blank that is turned about its origin, millimeters."""
        return self._boxes("blank", shape, [shape.outer], Pose(angle_deg=turned_deg))[0]

    def part(self, part: Part, pose: Pose) -> list[Box]:
        """Return the boxes around a part's outline and then what is cut in it, laid so, millimeters."""
        zones = [z.shape.outer for z in part.zones if z.does.cuts and z.shape is not None]
        return [
            Box(b.x0 + pose.x_mm, b.y0 + pose.y_mm, b.x1 + pose.x_mm, b.y1 + pose.y_mm)
            for b in self._boxes("part", part, [part.outline, *zones], pose)
        ]

    def _boxes(self, kind: str, owner: object, outlines: Sequence[Outline], pose: Pose) -> tuple[Box, ...]:
        key = (kind, id(owner), pose.angle_deg, pose.mirrored)
        if key not in self._known:  # the owner is kept with its boxes, so that its id stays its own
            turn = Pose(angle_deg=pose.angle_deg, mirrored=pose.mirrored)
            self._known[key] = (owner, tuple(box_of(o, turn) for o in outlines))
        return self._known[key][1]


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
