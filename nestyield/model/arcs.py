"""Arithmetic of lines and circular arcs given by bulges (the polyline convention of the DXF reference)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from nestyield.model.arc import Arc, Point
from nestyield.model.outline import Outline
from nestyield.model.pose import Pose


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


class Extents:
    """How far one outline reaches, worked out once for many turns of it.

    Parameters
    ----------
    outline : Outline
    """

    def __init__(self, outline: Outline) -> None:
        p = np.array(outline.points_mm, dtype=np.float64)
        b = np.array(outline.bulges if any(outline.bulges) else (), dtype=np.float64)
        self._points, self._arcs = p, False
        if not len(b):
            return
        chord = np.roll(p, -1, axis=0) - p
        arcs = (b != 0.0) & np.any(chord != 0.0, axis=1)
        self._arcs = bool(arcs.any())
        start, b, chord = p[arcs], b[arcs], chord[arcs]
        left = np.column_stack([-chord[:, 1], chord[:, 0]])
        self._center = start + 0.5 * chord + ((1.0 - b * b) / (4.0 * b))[:, None] * left
        self._radius = (np.hypot(chord[:, 0], chord[:, 1]) * (1.0 + b * b) / (4.0 * np.abs(b)))[:, None]
        self._start, self._chord, self._sense = start, chord, np.sign(b)

    def box(self, pose: Pose = Pose()) -> Box:  # noqa: B008
        """Return the exact box around the moved outline."""
        back = pose.inverse()
        sides = []
        for ahead in ((-1.0, 0.0), (0.0, -1.0), (1.0, 0.0), (0.0, 1.0)):
            u = np.array(back.direction(ahead))
            reach = float(np.max(self._points @ u))
            if self._arcs:
                tip = self._center + self._radius * u
                off = tip - self._start
                # a tip lies on its arc when it is on the arc's side of the chord
                side = self._chord[:, 0] * off[:, 1] - self._chord[:, 1] * off[:, 0]
                on_arc = side * self._sense < 0.0
                if on_arc.any():
                    reach = max(reach, float(np.max(tip[on_arc] @ u)))
            sides.append(reach + ahead[0] * pose.x_mm + ahead[1] * pose.y_mm)
        return Box(-sides[0], -sides[1], sides[2], sides[3])


def box_of(outline: Outline, pose: Pose = Pose()) -> Box:  # noqa: B008
    """Return the exact box around a moved outline; the same as ``bounds`` of it, in fewer steps."""
    return Extents(outline).box(pose)


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
