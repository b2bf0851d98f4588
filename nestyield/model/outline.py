"""Closed outlines of lines and circular arcs, and regions made of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestyield.model.arc import Arc, Point
from nestyield.model.errors import ModelError
from nestyield.model.simple import crosses_itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """One closed curve of straight lines and circular arcs.

    Vertex ``i`` joins vertex ``i + 1`` (the last joins the first) by a segment with
    bulge ``bulges[i]``: the tangent of a quarter of the included angle, positive when
    the arc runs counter-clockwise, 0 for a line (the polyline convention of the open
    DXF reference). A full circle is two half arcs with bulge 1.

    Parameters
    ----------
    points_mm : tuple of (x, y)
        At least two vertices (two only when both segments are arcs), millimeters.
    bulges : tuple of float
        As many as vertices.

    Raises
    ------
    ModelError
        When a number is not finite, the counts do not fit, or the curve crosses itself.
    """

    points_mm: tuple[Point, ...]
    bulges: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.points_mm) != len(self.bulges):
            raise ModelError(
                f"expected one bulge a vertex, got {len(self.bulges)} for {len(self.points_mm)} vertices"
            )
        if len(self.points_mm) < 2:
            raise ModelError(f"expected at least 2 vertices in an outline, got {len(self.points_mm)}")
        if not all(math.isfinite(v) for p in self.points_mm for v in p):
            raise ModelError("expected finite coordinates in an outline")
        if not all(math.isfinite(b) for b in self.bulges):
            raise ModelError("expected finite bulges in an outline")
        if crosses_itself(self.points_mm, self.bulges):
            raise ModelError(
                f"expected an outline that does not cross itself, got one with {len(self.points_mm)} "
                f"vertices from {self.points_mm[0]}; trim it where it crosses"
            )

    @classmethod
    def moved(cls, points_mm: tuple[Point, ...], bulges: tuple[float, ...]) -> Outline:
        """Make an outline that is another one moved: what does not cross itself does not do so elsewhere."""
        if not all(math.isfinite(v) for p in points_mm for v in p):
            raise ModelError("expected finite coordinates in an outline")
        out = object.__new__(cls)
        object.__setattr__(out, "points_mm", points_mm)
        object.__setattr__(out, "bulges", bulges)
        return out

    @classmethod
    def polygon(cls, points_mm: tuple[Point, ...] | list[Point]) -> Outline:
        """Make an outline of straight lines.

        Parameters
        ----------
        points_mm : sequence of (x, y)
            Vertices, first not repeated at the end, millimeters.
        """
        points = tuple((float(x), float(y)) for x, y in points_mm)
        return cls(points_mm=points, bulges=(0.0,) * len(points))

    @classmethod
    def rectangle(cls, x0_mm: float, y0_mm: float, x1_mm: float, y1_mm: float) -> Outline:
        """Make an axis-parallel rectangle from two corners in millimeters."""
        return cls.polygon([(x0_mm, y0_mm), (x1_mm, y0_mm), (x1_mm, y1_mm), (x0_mm, y1_mm)])

    @classmethod
    def circle(cls, x_mm: float, y_mm: float, radius_mm: float) -> Outline:
        """Make a circle of two half arcs, counter-clockwise, millimeters."""
        return cls(points_mm=((x_mm - radius_mm, y_mm), (x_mm + radius_mm, y_mm)), bulges=(1.0, 1.0))

    @property
    def signed_area_mm2(self) -> float:
        """Exact area of lines and arcs, positive when counter-clockwise, square millimeters."""
        total = 0.0
        n = len(self.points_mm)
        for i in range(n):
            (x0, y0), (x1, y1) = self.points_mm[i], self.points_mm[(i + 1) % n]
            total += 0.5 * (x0 * y1 - x1 * y0)
            if self.bulges[i] != 0.0:
                total += Arc.of((x0, y0), (x1, y1), self.bulges[i]).segment_area
        return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A region: one outer outline less any number of holes inside it.

    Parameters
    ----------
    outer : Outline
        Outer edge, either direction.
    holes : tuple of Outline
        Holes, either direction, disjoint, inside the outer edge.
    """

    outer: Outline
    holes: tuple[Outline, ...] = ()

    @property
    def area_mm2(self) -> float:
        """Exact area, square millimeters."""
        return abs(self.outer.signed_area_mm2) - sum(abs(h.signed_area_mm2) for h in self.holes)
