"""Arithmetic of lines and circular arcs given by bulges (the polyline convention of the DXF reference)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from nestyield.model.outline import Outline, Point
from nestyield.model.pose import Pose, cos_sin

_HALF_PI = math.pi / 2.0


class Box(NamedTuple):
    """An axis-parallel box, in the unit of what it surrounds."""

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

    def grown(self, by: float) -> Box:
        """Return the box with every side moved outwards (inwards when negative)."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)


class Arc(NamedTuple):
    """A circular arc that starts at an angle and sweeps on, counter-clockwise when positive; radians."""

    x: float
    y: float
    radius: float
    start: float
    sweep: float

    @classmethod
    def of(cls, p: Point, q: Point, bulge: float) -> Arc:
        """Return the arc from ``p`` to ``q``; the bulge is not 0 and the points differ."""
        dx, dy = q[0] - p[0], q[1] - p[1]
        radius = math.hypot(dx, dy) * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
        # From the middle of the chord to the center, to the left when positive, in chords.
        away = (1.0 - bulge * bulge) / (4.0 * bulge)
        x, y = 0.5 * (p[0] + q[0]) - dy * away, 0.5 * (p[1] + q[1]) + dx * away
        return cls(x, y, radius, math.atan2(p[1] - y, p[0] - x), 4.0 * math.atan(bulge))

    @property
    def length(self) -> float:
        """Length along the arc."""
        return self.radius * abs(self.sweep)

    @property
    def segment_area(self) -> float:
        """Area between chord and arc, positive when it runs counter-clockwise."""
        return 0.5 * self.radius * self.radius * (self.sweep - math.sin(self.sweep))

    def at(self, angle: float, radius: float | None = None) -> Point:
        """Return the point in a direction from the center, on the arc's circle or another about it."""
        r = self.radius if radius is None else radius
        return (self.x + r * math.cos(angle), self.y + r * math.sin(angle))

    def step(self, error: float) -> float:
        """Return the largest turn of one chord that stays within ``error`` of the arc."""
        return 2.0 * math.acos(max(-1.0, 1.0 - error / self.radius)) if self.radius > 0.0 else math.pi

    def inner(self, count: int) -> list[Point]:
        """Return the points on the arc that cut it into ``count`` equal parts, ends left out."""
        return [self.at(self.start + self.sweep * k / count) for k in range(1, count)]

    def around(self, count: int) -> list[Point]:
        """Return where ``count`` equal tangents around the arc's outside meet the tangents at its ends."""
        each = self.sweep / count
        far = self.radius / math.cos(0.5 * each)
        return [self.at(self.start + each * (k + 0.5), far) for k in range(count)]

    def quarters(self) -> list[float]:
        """Return the angles at which the arc runs along X or Y, both ends included."""
        low, high = sorted((self.start, self.start + self.sweep))
        return [k * _HALF_PI for k in range(math.ceil(low / _HALF_PI), math.floor(high / _HALF_PI) + 1)]

    def tips(self) -> list[Point]:
        """Return the points of the arc that lie farthest along or against X or Y, its ends left out."""
        out = []
        for angle in self.quarters():
            c, s = cos_sin(90.0 * round(angle / _HALF_PI))
            out.append((self.x + self.radius * c, self.y + self.radius * s))
        return out


Segment = tuple[Point, Point, float]


def segments(outline: Outline) -> list[Segment]:
    """Return (start, end, bulge) of every segment; the bulge is 0 where start and end are one."""
    points = outline.points_mm
    ends = (*points[1:], points[0])
    return [(p, q, b if p != q else 0.0) for p, q, b in zip(points, ends, outline.bulges, strict=True)]


def reversed_outline(outline: Outline) -> Outline:
    """Return the same curve run in the other direction."""
    bulges = outline.bulges[::-1]
    return Outline(points_mm=outline.points_mm[::-1], bulges=tuple(-b for b in (*bulges[1:], bulges[0])))


def bounds(outlines: Iterable[Outline]) -> Box:
    """Return the box around outlines, arcs included exactly."""
    xs: list[float] = []
    ys: list[float] = []
    for outline in outlines:
        for p, q, b in segments(outline):
            for x, y in (p, *(Arc.of(p, q, b).tips() if b else ())):
                xs.append(x)
                ys.append(y)
    return Box(min(xs), min(ys), max(xs), max(ys))


def box_of(outline: Outline, pose: Pose = Pose()) -> Box:  # noqa: B008
    """Return the exact box around a moved outline; the same as ``bounds`` of it, in fewer steps."""
    p = np.array(outline.points_mm, dtype=np.float64)
    b = np.array(outline.bulges, dtype=np.float64)
    chord = np.roll(p, -1, axis=0) - p
    arcs = (b != 0.0) & np.any(chord != 0.0, axis=1)
    start, b, chord = p[arcs], b[arcs], chord[arcs]
    left = np.column_stack([-chord[:, 1], chord[:, 0]])
    center = start + 0.5 * chord + ((1.0 - b * b) / (4.0 * b))[:, None] * left
    radius = (np.hypot(chord[:, 0], chord[:, 1]) * (1.0 + b * b) / (4.0 * np.abs(b)))[:, None]
    back = pose.inverse()
    sides = []
    for ahead in ((-1.0, 0.0), (0.0, -1.0), (1.0, 0.0), (0.0, 1.0)):
        u = np.array(back.direction(ahead))
        reach = float(np.max(p @ u))
        if len(b):
            tip = center + radius * u
            off = tip - start
            # a tip lies on its arc when it is on the arc's side of the chord
            on_arc = (chord[:, 0] * off[:, 1] - chord[:, 1] * off[:, 0]) * np.sign(b) < 0.0
            if on_arc.any():
                reach = max(reach, float(np.max(tip[on_arc] @ u)))
        sides.append(reach + ahead[0] * pose.x_mm + ahead[1] * pose.y_mm)
    return Box(-sides[0], -sides[1], sides[2], sides[3])


def join_boxes(boxes: Sequence[Box]) -> Box:
    """Return the smallest box around boxes, of which there is at least one."""
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return Box(min(x0), min(y0), max(x1), max(y1))


def circle_of(outline: Outline) -> tuple[float, float, float] | None:
    """Return (x, y, radius) when an outline of two half arcs is a circle, else None."""
    if len(outline.points_mm) != 2 or any(abs(abs(b) - 1.0) > 1e-9 for b in outline.bulges):
        return None
    (x0, y0), (x1, y1) = outline.points_mm
    return (x0 + x1) / 2.0, (y0 + y1) / 2.0, math.hypot(x1 - x0, y1 - y0) / 2.0
