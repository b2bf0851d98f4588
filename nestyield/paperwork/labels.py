"""Where short labels stand so that none covers another."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from shapely import STRtree, box, intersection, length
from shapely.geometry import LineString
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from nestyield.model import Point
from nestyield.paperwork import fonts
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.look import STYLES
from nestyield.paperwork.words import clean

#: Lines are looked up in pieces of so many points.
_PIECE = 8

#: What a label costs a millimeter that it stands nearer to another mark than to its own.
STRAY = 0.5
#: What it costs a square millimeter over a cut that it does not name, and a millimeter of leader over labels.
OVER_CUT, LEADER_OVER = 1.0, 1.0

Rect = tuple[float, float, float, float]


@dataclass(slots=True, kw_only=True)
class Labels:
    """Labels of one picture.

    Parameters
    ----------
    canvas : Canvas
    window : (x0, y0, x1, y1)
        Labels stay inside it.
    """

    canvas: Canvas
    window: Rect
    taken: list[Rect] = field(default_factory=list)
    ink: STRtree | None = None
    spots: list[Point] = field(default_factory=list)
    cuts: list[BaseGeometry] = field(default_factory=list)

    def block(self, rect: Rect) -> None:
        """Keep labels out of a rectangle."""
        self.taken.append(rect)

    def mark(self, spot: Point) -> None:
        """Have labels of other marks rather stand nearer to their own than to this one."""
        self.spots.append(spot)

    def cut(self, region: BaseGeometry) -> None:
        """Have labels of what lies outside of a pocket or opening rather not stand over it."""
        self.cuts.append(region)

    def _over_cuts(self, at: Point, rect: Rect) -> float:
        """Return how much of a label covers cuts in which its mark does not lie."""
        area, mark = box(*rect), ShapelyPoint(at)
        return sum(
            float(cut.intersection(area).area)
            for cut in self.cuts
            if cut.intersects(area) and not cut.intersects(mark)
        )

    def _leader_over(self, at: Point, edge: Point) -> float:
        """Return how much of a leader runs over labels and marks, but for its own mark."""
        line = LineString([at, edge])
        return sum(
            float(line.intersection(box(*r)).length)
            for r in self.taken
            if not (r[0] <= at[0] <= r[2] and r[1] <= at[1] <= r[3])
        )

    def _strays(self, at: Point, middle: Point) -> float:
        """Return by how much a label stands nearer to a mark that is not its own."""
        own = math.dist(at, middle)
        others = (math.dist(spot, middle) for spot in self.spots if math.dist(spot, at) > 0.1)
        return max(0.0, own - min(others, default=own))

    def keep_off(self, lines: Iterable[Sequence[Point]]) -> None:
        """Have labels rather not stand across lines."""
        pieces = [
            LineString(line[k : k + _PIECE + 1])
            for line in lines
            for k in range(0, len(line) - 1, _PIECE)
            if len(line[k : k + _PIECE + 1]) > 1
        ]
        self.ink = STRtree(pieces)

    def _crossed(self, rect: Rect) -> float:
        """Return how much line lies under a rectangle."""
        if self.ink is None:
            return 0.0
        area = box(*rect)
        near = self.ink.query(area)
        return float(length(intersection(self.ink.geometries.take(near), area)).sum()) if len(near) else 0.0

    def _cost(self, rect: Rect) -> float:
        x0, y0, x1, y1 = rect
        wx0, wy0, wx1, wy1 = self.window
        out = max(0.0, wx0 - x0) + max(0.0, x1 - wx1) + max(0.0, wy0 - y0) + max(0.0, y1 - wy1)
        over = sum(
            max(0.0, min(x1, b[2]) - max(x0, b[0])) * max(0.0, min(y1, b[3]) - max(y0, b[1]))
            for b in self.taken
        )
        return 100.0 * out + 10.0 * over + 3.0 * self._crossed(rect)

    def put(
        self, at: Point, text: str, size: float, style: str, *, reach: float = 0.0, beyond: float = 0.0
    ) -> None:
        """Write a label centered at a point, or near it with a leader when that place is taken.

        Nothing is written for a point outside the window.

        Parameters
        ----------
        at : (x, y)
            Middle of what is labeled.
        reach : float
            Half the extent of what is labeled; above 0 the label first tries to stand beside it.
        beyond : float
            Half the extent of what is labeled where the label tries to stand inside it first.
        """
        line = clean(text)
        x0, y0, x1, y1 = self.window
        if not line or not (x0 <= at[0] <= x1 and y0 <= at[1] <= y1):
            return
        w = fonts.width(line, size, STYLES[style].bold) + 0.6
        h = size * 0.95
        places: list[tuple[float, float, bool]] = []
        if reach == 0.0:
            places.append((at[0], at[1], False))
        rings = [reach + 0.8 + ring for ring in (0.0, 3.0, 7.0, 12.0, 18.0, 26.0)]
        if beyond > 0.0:
            rings += [beyond + 0.8 + ring for ring in (1.0, 5.0, 10.0, 16.0)]
        for ring, d in enumerate(rings):
            for k in range(8):
                a = math.radians(45.0 * k)
                places.append(
                    (
                        at[0]
                        + math.cos(a) * d
                        + math.copysign(w / 2, math.cos(a)) * (abs(math.cos(a)) > 0.1),
                        at[1]
                        + math.sin(a) * d
                        + math.copysign(h / 2, math.sin(a)) * (abs(math.sin(a)) > 0.1),
                        ring > 0 or reach == 0.0,
                    )
                )
        best: tuple[float, float, float, bool] | None = None
        for n, (far_x, far_y, leader) in enumerate(places):
            x, y = _within(far_x, w / 2, x0, x1), _within(far_y, h / 2, y0, y1)
            rect = (x - w / 2, y - h / 2, x + w / 2, y + h / 2)
            cost = self._cost(rect) + 0.001 * n + OVER_CUT * self._over_cuts(at, rect)
            cost += STRAY * self._strays(at, (x, y)) if reach > 0.0 else 0.0
            cost += LEADER_OVER * self._leader_over(at, _nearest(rect, at)) if leader else 0.0
            if best is None or cost < best[0]:
                best = (cost, x, y, leader)
            if cost < 0.2:
                break
        assert best is not None
        _, x, y, leader = best
        rect = (x - w / 2, y - h / 2, x + w / 2, y + h / 2)
        self.taken.append(rect)
        if leader:
            edge = _nearest(rect, at)
            if math.hypot(edge[0] - at[0], edge[1] - at[1]) > 1.0:
                self.canvas.line(at, edge, "leader")
        self.canvas.text((x, y - size * 0.36), line, size, style, "middle")


def _within(middle: float, half: float, low: float, high: float) -> float:
    """Return the middle of what is so long, moved into a range that it goes into."""
    return min(max(middle, low + half), high - half) if high - low >= 2 * half else middle


def _nearest(rect: Rect, at: Point) -> Point:
    """Return the point of a rectangle that is nearest to another."""
    return min(max(at[0], rect[0]), rect[2]), min(max(at[1], rect[1]), rect[3])
