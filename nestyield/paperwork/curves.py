"""Outlines of lines and arcs under mirroring, turning, scaling and shifting; arcs stay arcs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nestyield.model import Member, Outline, Placement, Point, Shape
from nestyield.model.arc import Arc, cos_sin

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Mirror in X, turn, scale, shift: in this order, as ``Placement`` documents it.

    Parameters
    ----------
    angle_deg : float
        Counter-clockwise turn about the origin.
    mirrored : bool
        Whether x becomes -x first.
    scale : float
        Above zero; 1 for millimeters to millimeters.
    dx, dy : float
        Shift after everything else.
    """

    angle_deg: float = 0.0
    mirrored: bool = False
    scale: float = 1.0
    dx: float = 0.0
    dy: float = 0.0

    def point(self, p: Point) -> Point:
        """Return the moved point."""
        c, s = cos_sin(self.angle_deg)
        x = -p[0] if self.mirrored else p[0]
        y = p[1]
        k = self.scale
        return (k * (c * x - s * y) + self.dx, k * (s * x + c * y) + self.dy)

    def points(self, points: Iterable[Point]) -> tuple[Point, ...]:
        """Return the moved points."""
        return tuple(self.point(p) for p in points)

    def outline(self, outline: Outline) -> Outline:
        """Return the moved outline; a mirror turns every bulge over."""
        sign = -1.0 if self.mirrored else 1.0
        return Outline(
            points_mm=self.points(outline.points_mm),
            bulges=tuple(sign * b for b in outline.bulges),
        )

    def shape(self, shape: Shape) -> Shape:
        """Return the moved shape."""
        return Shape(outer=self.outline(shape.outer), holes=tuple(self.outline(h) for h in shape.holes))

    def then(self, after: Move) -> Move:
        """Return the move that does this one first and ``after`` second."""
        dx, dy = after.point((self.dx, self.dy))
        turn = -self.angle_deg if after.mirrored else self.angle_deg
        return Move(
            angle_deg=after.angle_deg + turn,
            mirrored=self.mirrored != after.mirrored,
            scale=self.scale * after.scale,
            dx=dx,
            dy=dy,
        )


def move_of(placed: Placement | Member) -> Move:
    """Return the move from a part's drawing (or a piece) to the blank, millimeters."""
    return Move(
        angle_deg=placed.angle_deg,
        mirrored=placed.mirrored,
        dx=placed.x_um / 1000.0,
        dy=placed.y_um / 1000.0,
    )


def reflection(a: tuple[float, float], b: tuple[float, float]) -> Move:
    """Return the mirror about the line through two points."""
    angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    turn = Move(angle_deg=2.0 * angle + 180.0, mirrored=True)
    x, y = turn.point(a)
    return Move(angle_deg=turn.angle_deg, mirrored=True, dx=a[0] - x, dy=a[1] - y)


def segments(outline: Outline) -> list[tuple[Point, Point, float]]:
    """Return (start, end, bulge) of every segment."""
    pts = outline.points_mm
    return [(p, pts[(i + 1) % len(pts)], b) for i, (p, b) in enumerate(zip(pts, outline.bulges))]


def bounds(outlines: Iterable[Outline]) -> Box:
    """Return (x0, y0, x1, y1) around outlines, arcs included exactly."""
    xs: list[float] = []
    ys: list[float] = []
    for outline in outlines:
        for p, q, b in segments(outline):
            xs += (p[0], q[0])
            ys += (p[1], q[1])
            if b == 0.0 or p == q:
                continue
            for x, y in Arc.of(p, q, b).tips():
                xs.append(x)
                ys.append(y)
    return min(xs), min(ys), max(xs), max(ys)


def join_boxes(boxes: Sequence[Box]) -> Box:
    """Return the box around boxes."""
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def chords(outline: Outline, error: float = 0.05) -> list[Point]:
    """Return straight points along an outline, for pictures only; ``error`` in its own unit."""
    out: list[Point] = []
    for p, q, b in segments(outline):
        out.append(p)
        if b == 0.0 or p == q:
            continue
        arc = Arc.of(p, q, b)
        r = arc.radius
        step = 2.0 * math.acos(max(0.0, 1.0 - min(error, r) / r)) if r > 0 else math.pi
        out += arc.inner(max(1, min(720, math.ceil(abs(arc.sweep) / max(step, 0.01)))))
    return out


#: Arcs whose circles differ by less are one circle, millimeters.
_ROUND_MM = 1e-4


def circle_of(outline: Outline) -> tuple[float, float, float] | None:
    """Return (x, y, radius) when an outline is a circle, however many arcs it is drawn with, else None."""
    found: list[tuple[float, float, float]] = []
    turned = 0.0
    points = outline.points_mm
    for (ax, ay), (bx, by), bulge in zip(points, (*points[1:], points[0]), outline.bulges):
        if bulge == 0.0 or (ax, ay) == (bx, by):
            return None
        arc = Arc.of((ax, ay), (bx, by), bulge)
        found.append((arc.x, arc.y, arc.radius))
        turned += arc.sweep
    first = found[0]
    if abs(abs(turned) - 2.0 * math.pi) > 1e-6:
        return None
    if any(abs(a - b) > _ROUND_MM for other in found for a, b in zip(other, first)):
        return None
    return first


def outlines_of(shape: Shape) -> tuple[Outline, ...]:
    """Return the outer edge and the holes of a shape."""
    return (shape.outer, *shape.holes)
