"""One entity of a drawing as lines and arcs, and how runs of points become one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from nestyield.geometry.biarc import fit_arcs
from nestyield.geometry.chain import WELD_MM
from nestyield.geometry.spline import ellipse_curve
from nestyield.intake.affine import Affine
from nestyield.model import Point
from nestyield.model.arc import Arc


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


def arc(
    affine: Affine, center: Point, radius: float, start_deg: float, span_deg: float
) -> tuple[list[Point], list[float]]:
    """Return points and bulges of an arc that a map has moved, stretched or mirrored.

    Parameters
    ----------
    affine : Affine
        From the arc's coordinates to millimeters.
    center : (x, y)
    radius : float
    start_deg, span_deg : float
        Where it begins, and how far it runs counter-clockwise (negative for clockwise), up to a full turn.

    Returns
    -------
    (list of (x, y), list of float)
        One point more than bulges. Exact when circles stay circles; else arcs within the fit error.
    """
    if affine.is_similar:
        pieces = max(1, math.ceil(abs(span_deg) / 90.0 - 1e-9))
        points = []
        for i in range(pieces + 1):
            angle = math.radians(start_deg + span_deg * i / pieces)
            points.append(
                affine.point(center[0] + radius * math.cos(angle), center[1] + radius * math.sin(angle))
            )
        bulge = math.copysign(1.0, affine.determinant) * math.tan(math.radians(span_deg / pieces) / 4.0)
        return points, [bulge] * pieces
    curve, pieces = ellipse_curve(
        affine.point(*center),
        affine.vector(radius, 0.0),
        affine.vector(0.0, math.copysign(radius, span_deg)),
        math.copysign(1.0, span_deg) * math.radians(start_deg),
        math.copysign(1.0, span_deg) * math.radians(start_deg) + math.radians(abs(span_deg)),
    )
    fitted, bulges = fit_arcs(curve, pieces)
    return [(x, y) for x, y in fitted.tolist()], bulges.tolist()


def polyline(
    affine: Affine, points: list[Point], bulges: list[float], closed: bool, z: float
) -> Curve | None:
    """Make a curve of a polyline with bulges that a map has moved, stretched or mirrored.

    Parameters
    ----------
    affine : Affine
        From the polyline's coordinates to millimeters.
    points : list of (x, y)
        The first need not be repeated when closed.
    bulges : list of float
        One a vertex.
    closed : bool
    z : float
        Height, millimeters.

    Returns
    -------
    Curve or None
        Without vertices that repeat and arcs wider than half a circle; None when it has no length.
    """
    n = len(points)
    if n < 2:
        return None
    mapped = [affine.point(x, y) for x, y in points]
    mirror = math.copysign(1.0, affine.determinant)
    similar = affine.is_similar
    out_p: list[Point] = [mapped[0]]
    out_b: list[float] = []
    for i in range(n if closed else n - 1):
        j = (i + 1) % n
        bulge = bulges[i]
        if math.dist(out_p[-1], mapped[j]) <= WELD_MM * 0.01 and abs(bulge) < 1e3:
            continue
        if similar or abs(bulge) <= 1e-12:
            run_ = _split_arc(out_p[-1], mapped[j], mirror * bulge)
        else:
            arc_points, arc_bulges = arc(affine, *_arc_of(points[i], points[j], bulge))
            run_ = list(zip([*arc_points[1:-1], mapped[j]], arc_bulges))
        for point, part in run_:
            out_p.append(point)
            out_b.append(part)
    if not out_b:
        return None
    if closed:
        return closed_curve(out_p[:-1], out_b, z)
    return open_curve(out_p, out_b, z)


def _arc_of(a: Point, b: Point, bulge: float) -> tuple[Point, float, float, float]:
    """Center, radius, start and span in degrees of a bulge segment."""
    if not math.isfinite(bulge):
        raise EntityError("D025", "the polyline has a bulge that is not a finite number; draw it again")
    x, y, radius, start, sweep = Arc.of(a, b, bulge)
    return (x, y), radius, math.degrees(start), math.degrees(sweep)


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
