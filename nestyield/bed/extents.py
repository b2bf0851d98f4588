"""How far outlines reach in a direction, arcs included exactly."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestyield.model import Outline, Part, Placement, Point, Shape

#: A limit may be passed by this much: turned vertices are rounded to whole micrometres.
LIMIT_TOL_MM = 0.002

#: Zones where the cutter's centre stays inside the drawn region.
CUT_ROLES = ("cutout", "pocket", "contour", "hole")


class Box(NamedTuple):
    """An axis-parallel box, millimetres."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """Extent along X."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Extent along Y."""
        return self.y1 - self.y0

    def joined(self, other: Box) -> Box:
        """Smallest box around both."""
        return Box(
            min(self.x0, other.x0), min(self.y0, other.y0), max(self.x1, other.x1), max(self.y1, other.y1)
        )

    def grown(self, by_mm: float) -> Box:
        """The box with every side moved outwards (inwards when negative)."""
        return Box(self.x0 - by_mm, self.y0 - by_mm, self.x1 + by_mm, self.y1 + by_mm)


class Turn(NamedTuple):
    """Mirror in X if ``mirrored``, turn counter-clockwise by ``angle_deg``, shift by (x, y) mm."""

    angle_deg: float = 0.0
    mirrored: bool = False
    x_mm: float = 0.0
    y_mm: float = 0.0

    def apply(self, point: Point) -> Point:
        """Move a point of the drawing."""
        c, s = cos_sin(self.angle_deg)
        x = -point[0] if self.mirrored else point[0]
        return (c * x - s * point[1] + self.x_mm, s * x + c * point[1] + self.y_mm)

    def apply_all(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Move points of the drawing, shape (n, 2)."""
        c, s = cos_sin(self.angle_deg)
        x = -points[:, 0] if self.mirrored else points[:, 0]
        y = points[:, 1]
        return np.stack([c * x - s * y + self.x_mm, s * x + c * y + self.y_mm], axis=1)

    def matrix(self) -> list[float]:
        """The move as [a, b, d, e, x, y]: x' = a x + b y + x, y' = d x + e y + y."""
        c, s = cos_sin(self.angle_deg)
        m = -1.0 if self.mirrored else 1.0
        return [m * c, -s, m * s, c, self.x_mm, self.y_mm]

    def seen_from(self, direction: Point) -> Point:
        """Direction in the drawing that becomes ``direction`` after the move."""
        c, s = cos_sin(self.angle_deg)
        x, y = c * direction[0] + s * direction[1], -s * direction[0] + c * direction[1]
        return (-x if self.mirrored else x, y)

    def then_turned(self, turned_deg: float) -> Turn:
        """This move, followed by a turn about the origin."""
        c, s = cos_sin(turned_deg)
        return Turn(
            self.angle_deg + turned_deg,
            self.mirrored,
            c * self.x_mm - s * self.y_mm,
            s * self.x_mm + c * self.y_mm,
        )


def placed(placement: Placement) -> Turn:
    """Return the move of a placement, millimetres."""
    return Turn(placement.angle_deg, placement.mirrored, placement.x_um / 1000.0, placement.y_um / 1000.0)


def cos_sin(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine, exact at multiples of 90 degrees."""
    quarter = angle_deg / 90.0
    if quarter == round(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    angle = math.radians(angle_deg)
    return math.cos(angle), math.sin(angle)


class _Curve(NamedTuple):
    points: NDArray[np.float64]  # (n, 2)
    centres: NDArray[np.float64]  # (m, 2), of the arcs only
    radii: NDArray[np.float64]  # (m,)
    starts: NDArray[np.float64]  # (m, 2)
    chords: NDArray[np.float64]  # (m, 2)
    signs: NDArray[np.float64]  # (m,)


@lru_cache(maxsize=512)
def _curve(outline: Outline) -> _Curve:
    points = np.array(outline.points_mm, dtype=np.float64)
    bulges = np.array(outline.bulges, dtype=np.float64)
    chords = np.roll(points, -1, axis=0) - points
    arcs = (bulges != 0.0) & np.any(chords != 0.0, axis=1)
    p, b, c = points[arcs], bulges[arcs], chords[arcs]
    length = np.hypot(c[:, 0], c[:, 1])
    left = np.stack([-c[:, 1], c[:, 0]], axis=1)
    centres = p + 0.5 * c + ((1.0 - b * b) / (4.0 * b))[:, None] * left
    radii = length * (1.0 + b * b) / (4.0 * np.abs(b))
    return _Curve(points, centres, radii, p, c, np.sign(b))


def reach(outline: Outline, direction: Point) -> float:
    """Return how far an outline of lines and arcs reaches along a unit direction, millimetres.

    Exact: of an arc, the point with its normal along the direction counts where it lies on the arc.
    """
    curve = _curve(outline)
    u = np.array(direction, dtype=np.float64)
    best = float(np.max(curve.points @ u))
    if len(curve.radii):
        tips = curve.centres + curve.radii[:, None] * u
        rel = tips - curve.starts
        side = curve.chords[:, 0] * rel[:, 1] - curve.chords[:, 1] * rel[:, 0]
        on_arc = side * curve.signs < 0.0
        if np.any(on_arc):
            best = max(best, float(np.max(tips[on_arc] @ u)))
    return best


def box_of(outline: Outline, move: Turn = Turn()) -> Box:  # noqa: B008
    """Return the exact box around a moved outline, millimetres."""
    sides = []
    for direction in ((-1.0, 0.0), (0.0, -1.0), (1.0, 0.0), (0.0, 1.0)):
        shift = direction[0] * move.x_mm + direction[1] * move.y_mm
        sides.append(reach(outline, move.seen_from(direction)) + shift)
    return Box(-sides[0], -sides[1], sides[2], sides[3])


def blank_box(shape: Shape, turned_deg: float) -> Box:
    """Return the box around a blank that is turned about its origin, millimetres."""
    return box_of(shape.outer, Turn(turned_deg))


def cutter_box(part: Part, move: Turn, radius_mm: float) -> Box:
    """Return the box around the path of the cutter's centre for one part, millimetres.

    The path follows the outline grown by the radius, and openings, pockets and contours
    shrunk by it (those matter only where they are drawn beyond the outline).
    """
    box = box_of(part.outline, move).grown(radius_mm)
    for zone in part.zones:
        if zone.role in CUT_ROLES and zone.shape is not None:
            inner = box_of(zone.shape.outer, move).grown(-radius_mm)
            if inner.x0 <= inner.x1 and inner.y0 <= inner.y1:
                box = box.joined(inner)
    return box


def cutter_box_all(
    placements: Sequence[tuple[Part, Placement]], turned_deg: float, radius_mm: float
) -> Box | None:
    """Return the box around the cutter's centre path of all placed parts, blank turned, millimetres."""
    boxes: Iterable[Box] = (
        cutter_box(part, placed(p).then_turned(turned_deg), radius_mm) for part, p in placements
    )
    whole: Box | None = None
    for box in boxes:
        whole = box if whole is None else whole.joined(box)
    return whole
