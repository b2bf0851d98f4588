"""What is drawn must lie where the program can compute: near the origin of its coordinates."""

from __future__ import annotations

from nestyield.model import Shape
from nestyield.model.arcs import box_of

#: Farthest that anything may lie from the origin along X or Y, millimeters: regions hold no more.
FARTHEST_MM = 10_000.0


def too_far_mm(shape: Shape) -> float | None:
    """Return how far a shape reaches from the origin, millimeters; None when that is near enough."""
    box = box_of(shape.outer)
    far = max(abs(v) for v in (box.x0, box.y0, box.x1, box.y1))
    return None if far <= FARTHEST_MM else far
