"""One entity of a drawing as lines and arcs, and how runs of points become one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from nestyield.geometry.chain import WELD_MM
from nestyield.model import Point


class EntityError(Exception):
    """An entity cannot be read; carries the finding code and a message that says what to do."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One entity as lines and arcs.

    Parameters
    ----------
    points_mm : tuple of (x, y)
        Two or more; for a closed curve the first is not repeated (and two do when both are arcs).
    bulges : tuple of float
        One a segment: as many as points when closed, one less when open.
    closed : bool
    z_mm : float
        Height at which it was drawn.
    note : str
        A code and remark on how it was read, as ``D022 ...``; ``""`` for none.
    """

    points_mm: tuple[Point, ...]
    bulges: tuple[float, ...]
    closed: bool
    z_mm: float = 0.0
    note: str = ""


def polyline(points: list[Point], bulges: list[float], closed: bool, z: float) -> Curve | None:
    """Clean a polyline: no vertices that repeat, no arc wider than a half circle."""
    n = len(points)
    if n < 2:
        return None
    out_p: list[Point] = [points[0]]
    out_b: list[float] = []
    for i in range(n if closed else n - 1):
        a, b, bulge = out_p[-1], points[(i + 1) % n], bulges[i]
        if math.dist(a, b) <= WELD_MM * 0.01 and abs(bulge) < 1e3:
            continue
        for point, part in _split_arc(a, b, bulge):
            out_p.append(point)
            out_b.append(part)
    if not out_b:
        return None
    if closed:
        return closed_curve(out_p[:-1], out_b, z)
    return open_curve(out_p, out_b, z)


def _split_arc(a: Point, b: Point, bulge: float) -> list[tuple[Point, float]]:
    """Cut an arc wider than half a circle into equal arcs; returns (end point, bulge) of each."""
    if abs(bulge) <= 1.0:
        return [(b, bulge if abs(bulge) > 1e-12 else 0.0)]
    if not math.isfinite(bulge):
        raise EntityError("D025", "the polyline has a bulge that is not a finite number; draw it again")
    dx, dy = b[0] - a[0], b[1] - a[1]
    apex = (0.5 * (a[0] + b[0] + bulge * dy), 0.5 * (a[1] + b[1] - bulge * dx))
    half = math.tan(0.5 * math.atan(bulge))
    return [*_split_arc(a, apex, half), *_split_arc(apex, b, half)]


def run(points: Any, bulges: Any, z: float, note: str = "") -> Curve | None:
    """Make an open curve of fitted arcs, as ``open_curve``."""
    return open_curve([tuple(p) for p in points.tolist()], bulges.tolist(), z, note)


def open_curve(points: list[Any], bulges: list[float], z: float, note: str = "") -> Curve | None:
    """Make an open curve of points and bulges; None when it has no length."""
    if all(math.dist(points[0], p) <= WELD_MM for p in points):
        return None
    return Curve(
        points_mm=tuple((p[0], p[1]) for p in points), bulges=tuple(bulges), closed=False, z_mm=z, note=note
    )


def closed_curve(points: list[Any], bulges: list[float], z: float, note: str = "") -> Curve | None:
    """Make a closed curve of points (the first not repeated) and bulges; None when it has no length."""
    if all(math.dist(points[0], p) <= WELD_MM for p in points):
        return None
    return Curve(
        points_mm=tuple((p[0], p[1]) for p in points), bulges=tuple(bulges), closed=True, z_mm=z, note=note
    )
