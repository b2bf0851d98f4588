"""How far outlines reach in a direction, arcs included exactly."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model import Part, Placement, Shape
from nestyield.model.arcs import Box, box_of, join_boxes
from nestyield.model.pose import Pose

#: A limit may be passed by this much: turned vertices are rounded to whole micrometres.
LIMIT_TOL_MM = 0.002


def blank_box(shape: Shape, turned_deg: float) -> Box:
    """Return the box around a blank that is turned about its origin, millimetres."""
    return box_of(shape.outer, Pose(angle_deg=turned_deg))


def cutter_box(part: Part, pose: Pose, radius_mm: float) -> Box:
    """Return the box around the path of the cutter's centre for one part, millimetres.

    The path follows the outline grown by the radius, and openings, pockets and contours
    shrunk by it (those matter only where they are drawn beyond the outline).
    """
    box = box_of(part.outline, pose).grown(radius_mm)
    for zone in part.zones:
        if zone.does.cuts and zone.shape is not None:
            inner = box_of(zone.shape.outer, pose).grown(-radius_mm)
            if inner.x0 <= inner.x1 and inner.y0 <= inner.y1:
                box = join_boxes([box, inner])
    return box


def cutter_box_all(
    placements: Sequence[tuple[Part, Placement]], turned_deg: float, radius_mm: float
) -> Box | None:
    """Return the box around the cutter's centre path of all placed parts, blank turned, millimetres."""
    turn = Pose(angle_deg=turned_deg)
    boxes = [cutter_box(part, Pose.of(p).then(turn), radius_mm) for part, p in placements]
    return join_boxes(boxes) if boxes else None
