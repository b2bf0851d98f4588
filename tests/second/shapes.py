"""Outlines with arcs as shapely polygons, and the placement rule of the schema."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

#: Farthest that a chord may lie from its arc, mm.
CHORD = 0.0005
#: Slack of every distance that is compared, mm: the grid is 0.001 mm, and arcs are chords here.
TOL = 0.006


def arc_points(a: Sequence[float], b: Sequence[float], bulge: float) -> list[tuple[float, float]]:
    """Return the points of a segment after its first one, the last included."""
    if abs(bulge) < 1e-12:
        return [(b[0], b[1])]
    dx, dy = b[0] - a[0], b[1] - a[1]
    chord = math.hypot(dx, dy)
    if chord == 0.0:
        return [(b[0], b[1])]
    sweep = 4.0 * math.atan(bulge)
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    # centre: from the chord's middle, to its left for a bulge below one that runs counter-clockwise
    off = chord * (1.0 - bulge * bulge) / (4.0 * bulge)
    cx, cy = (a[0] + b[0]) / 2 - dy / chord * off, (a[1] + b[1]) / 2 + dx / chord * off
    start = math.atan2(a[1] - cy, a[0] - cx)
    step = 2.0 * math.acos(max(-1.0, 1.0 - CHORD / radius)) if radius > CHORD else math.pi / 2
    n = max(2, math.ceil(abs(sweep) / max(step, 1e-4)))
    turn = start + sweep * np.arange(1, n + 1) / n
    points = [(cx + radius * math.cos(t), cy + radius * math.sin(t)) for t in turn]
    points[-1] = (b[0], b[1])
    return points


def ring(outline: Mapping[str, Any]) -> list[tuple[float, float]]:
    """Return an ``Outline`` of the plan as points, arcs as chords."""
    points, bulges = outline["points_mm"], outline["bulges"]
    found: list[tuple[float, float]] = [tuple(points[0])]
    for k, bulge in enumerate(bulges):
        found += arc_points(points[k], points[(k + 1) % len(points)], bulge)
    return found


def clean(shape: BaseGeometry) -> BaseGeometry:
    """Return a valid polygon."""
    return shape if shape.is_valid else shape.buffer(0)


def region(shape: Mapping[str, Any] | None) -> BaseGeometry:
    """Return a ``Shape`` of the plan as a polygon."""
    if shape is None:
        return Polygon()
    outer = clean(Polygon(ring(shape["outer"])))
    holes = [clean(Polygon(ring(h))) for h in shape.get("holes", [])]
    return clean(outer.difference(unary_union(holes))) if holes else outer


def of_outline(outline: Mapping[str, Any]) -> BaseGeometry:
    """Return an ``Outline`` as a polygon."""
    return clean(Polygon(ring(outline)))


def turn(angle_deg: float) -> tuple[float, float]:
    """Return cosine and sine, exact for quarter turns."""
    exact = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    if (angle_deg % 360.0) in exact:
        return exact[angle_deg % 360.0]
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))


def lay(shape: BaseGeometry, angle_deg: float, mirrored: bool, x: float, y: float) -> BaseGeometry:
    """Mirror in X if ``mirrored``, turn about the origin, then shift (mm)."""
    c, s = turn(angle_deg)
    sign = -1.0 if mirrored else 1.0
    return affinity.affine_transform(shape, [c * sign, -s, s * sign, c, x, y])


def placed(shape: BaseGeometry, at: Mapping[str, Any]) -> BaseGeometry:
    """Lay a shape as a ``Placement`` or ``Member`` says."""
    x, y = at.get("x_um", 0) / 1000.0, at.get("y_um", 0) / 1000.0
    return lay(shape, at.get("angle_deg", 0.0), bool(at.get("mirrored", False)), x, y)


def back(shape: BaseGeometry, at: Mapping[str, Any]) -> BaseGeometry:
    """Undo ``placed``."""
    c, s = turn(at.get("angle_deg", 0.0))
    x, y = at.get("x_um", 0) / 1000.0, at.get("y_um", 0) / 1000.0
    sign = -1.0 if at.get("mirrored", False) else 1.0
    moved = affinity.translate(shape, -x, -y)
    return affinity.affine_transform(moved, [c * sign, s * sign, -s, c, 0, 0])


def line_of(points: Sequence[Sequence[float]]) -> LineString:
    """Return a line through points."""
    return LineString([tuple(p) for p in points])


def grain_apart(a_deg: float, b_deg: float) -> float:
    """Return the angle between two grain directions, 0 to 90 degrees."""
    apart = abs(a_deg - b_deg) % 180.0
    return min(apart, 180.0 - apart)


def grain_as_laid(grain_deg: float, at: Mapping[str, Any]) -> float:
    """Return a direction of a drawing or piece once it is laid, degrees."""
    mirrored = bool(at.get("mirrored", False))
    return (180.0 - grain_deg if mirrored else grain_deg) + at.get("angle_deg", 0.0)


def size_along(shape: BaseGeometry, grain_deg: float) -> tuple[float, float]:
    """Return the extent of a shape along and across a direction."""
    c, s = turn(-grain_deg)
    x0, y0, x1, y1 = affinity.affine_transform(shape, [c, -s, s, c, 0, 0]).bounds
    return x1 - x0, y1 - y0


def rectangle(told: Sequence[float], grain_deg: float) -> BaseGeometry:
    """Return a told rectangle (corner, length, width in coordinates turned by minus ``grain_deg``), turned back."""
    x, y, length, width = told
    c, s = turn(grain_deg)
    box = Polygon([(x, y), (x + length, y), (x + length, y + width), (x, y + width)])
    return affinity.affine_transform(box, [c, -s, s, c, 0, 0])


def of_entity(entity: Any, per: float) -> BaseGeometry:
    """Return a closed polyline or circle of a drawing as a polygon, ``per`` mm a unit."""
    if entity.dxftype() == "CIRCLE":
        x, y, r = entity.dxf.center.x * per, entity.dxf.center.y * per, entity.dxf.radius * per
        return of_outline({"points_mm": [(x - r, y), (x + r, y)], "bulges": [1.0, 1.0]})
    corners = list(entity.get_points("xyb"))
    return of_outline(
        {"points_mm": [(x * per, y * per) for x, y, _ in corners], "bulges": [b for _, _, b in corners]}
    )
