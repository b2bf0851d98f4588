"""One circular arc given by its bulge (the polyline convention of the DXF reference); exact turns."""

from __future__ import annotations

import math
from typing import NamedTuple

Point = tuple[float, float]

_QUARTERS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))
_HALF_PI = math.pi / 2.0


def cos_sin(angle_deg: float) -> tuple[float, float]:
    """Return cosine and sine of an angle in degrees, exact at multiples of 90."""
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        return _QUARTERS[int(quarter) % 4]
    a = math.radians(angle_deg)
    return math.cos(a), math.sin(a)


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
