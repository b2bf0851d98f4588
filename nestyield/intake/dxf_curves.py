"""Turns single DXF entities into runs of lines and arcs in millimetres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity

from nestyield.geometry.biarc import fit_arcs
from nestyield.geometry.chain import WELD_MM
from nestyield.geometry.spline import bspline_curve, ellipse_curve
from nestyield.model import ModelError, Point

#: An entity counts as lying in the drawing's plane when its normal leaves Z by less than this.
PLANE_TOL = 1e-6
#: Coordinates beyond this (10 km) are damage.
FARTHEST_MM = 1e7


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


def read_curve(entity: DXFEntity, scale_mm: float) -> Curve | None:
    """Read one entity.

    Parameters
    ----------
    entity : ezdxf entity
        LINE, ARC, CIRCLE, ELLIPSE, LWPOLYLINE, POLYLINE or SPLINE.
    scale_mm : float
        Size of the drawing unit in millimetres.

    Returns
    -------
    Curve or None
        None when the entity has no length.

    Raises
    ------
    EntityError
        When it is incomplete or lies in another plane.
    """
    reader = _READERS[entity.dxftype()]
    try:
        curve = reader(entity, scale_mm)
    except EntityError:
        raise
    except (
        ModelError,
        ValueError,
        TypeError,
        ArithmeticError,
        AttributeError,
        IndexError,
        KeyError,
    ) as error:
        why = " ".join(str(error).split())[:120] or type(error).__name__
        raise EntityError(
            "D025", f"the entity is incomplete or contradictory ({why}); draw it again"
        ) from None
    if curve is None:
        return None
    if not all(math.isfinite(v) for p in curve.points_mm for v in p) or not math.isfinite(curve.z_mm):
        raise EntityError("D025", "the entity has a coordinate that is not a finite number; draw it again")
    if any(abs(v) > FARTHEST_MM for p in curve.points_mm for v in p):
        raise EntityError("D025", "the entity lies more than 10 km from the origin; check the drawing's unit")
    return curve


def readable(kind: str) -> bool:
    """Tell whether ``read_curve`` takes entities of this type."""
    return kind in _READERS


def _line(entity: Any, scale: float) -> Curve | None:
    start, end = entity.dxf.start, entity.dxf.end
    z = _level([start.z, end.z], scale)
    return _open([(start.x * scale, start.y * scale), (end.x * scale, end.y * scale)], [0.0], z)


def _arc(entity: Any, scale: float) -> Curve | None:
    sign = _facing(entity)
    center, radius = entity.dxf.center, _radius(entity) * scale
    start = float(entity.dxf.start_angle)
    span = (float(entity.dxf.end_angle) - start) % 360.0
    z = sign * center.z * scale
    if span < 1e-9 or span > 360.0 - 1e-9:
        return _circle_at(sign * center.x * scale, center.y * scale, radius, z)
    pieces = math.ceil(span / 90.0 - 1e-9)
    points = []
    for i in range(pieces + 1):
        angle = math.radians(start + span * i / pieces)
        points.append(
            (
                sign * (center.x * scale + radius * math.cos(angle)),
                center.y * scale + radius * math.sin(angle),
            )
        )
    bulge = sign * math.tan(math.radians(span / pieces) / 4.0)
    return _open(points, [bulge] * pieces, z)


def _circle(entity: Any, scale: float) -> Curve | None:
    sign = _facing(entity)
    center = entity.dxf.center
    return _circle_at(
        sign * center.x * scale, center.y * scale, _radius(entity) * scale, sign * center.z * scale
    )


def _circle_at(x: float, y: float, radius: float, z: float) -> Curve:
    return Curve(points_mm=((x - radius, y), (x + radius, y)), bulges=(1.0, 1.0), closed=True, z_mm=z)


def _ellipse(entity: Any, scale: float) -> Curve | None:
    tool = entity.construction_tool()
    for axis in (tool.major_axis, tool.minor_axis):
        if abs(axis.z) > PLANE_TOL * max(tool.major_axis.magnitude, 1e-300):
            raise EntityError("D015", "the ellipse lies in another plane; draw it flat, seen from the top")
    if not tool.major_axis.magnitude > 0 or not tool.minor_axis.magnitude > 0:
        raise EntityError("D025", "the ellipse has an axis of length 0; draw it again")
    start = float(tool.start_param)
    span = (float(tool.end_param) - start) % math.tau
    full = span < 1e-9 or span > math.tau - 1e-9
    curve, pieces = ellipse_curve(
        (tool.center.x * scale, tool.center.y * scale),
        (tool.major_axis.x * scale, tool.major_axis.y * scale),
        (tool.minor_axis.x * scale, tool.minor_axis.y * scale),
        start,
        start + (math.tau if full else span),
    )
    points, bulges = fit_arcs(curve, pieces)
    z = tool.center.z * scale
    return _closed(points[:-1].tolist(), bulges.tolist(), z) if full else _run(points, bulges, z)


def _lwpolyline(entity: Any, scale: float) -> Curve | None:
    sign = _facing(entity)
    rows = entity.get_points("xyb")
    return _polyline(
        [(sign * float(x) * scale, float(y) * scale) for x, y, _ in rows],
        [sign * float(b) for _, _, b in rows],
        bool(entity.closed),
        sign * float(entity.dxf.elevation) * scale,
    )


def _old_polyline(entity: Any, scale: float) -> Curve | None:
    if entity.is_2d_polyline:
        sign = _facing(entity)
        vertices = [v for v in entity.vertices if not v.dxf.flags & 16]  # 16: frame of a spline fit
        z = _level([v.dxf.location.z for v in vertices], scale)
        if not z and entity.dxf.hasattr("elevation"):
            z = entity.dxf.elevation.z * scale
        points = [(sign * v.dxf.location.x * scale, v.dxf.location.y * scale) for v in vertices]
        return _polyline(points, [sign * float(v.dxf.bulge) for v in vertices], entity.is_closed, sign * z)
    if entity.is_3d_polyline:
        vertices = [v for v in entity.vertices if not v.dxf.flags & 16]
        z = _level([v.dxf.location.z for v in vertices], scale)
        points = [(v.dxf.location.x * scale, v.dxf.location.y * scale) for v in vertices]
        return _polyline(points, [0.0] * len(points), entity.is_closed, z)
    raise EntityError(
        "D017", "a mesh is no outline; draw the outline as lines and arcs, or move the mesh away"
    )


def _spline(entity: Any, scale: float) -> Curve | None:
    note = ""
    if not len(entity.control_points) and len(entity.fit_points) < 2:
        raise EntityError("D025", "the spline has neither control points nor two fit points; draw it again")
    if not len(entity.control_points):
        note = (
            "D022 the spline has fit points only, through which programs draw different curves; it was "
            "read as a "
            "cubic through them. Write it with control points to be sure"
        )
    tool = entity.construction_tool()
    control = np.array([(p.x, p.y, p.z) for p in tool.control_points], dtype=np.float64) * scale
    z = _level(control[:, 2].tolist(), 1.0)
    weights = tool.weights()
    curve, pieces = bspline_curve(
        control[:, :2],
        np.array(tool.knots(), dtype=np.float64),
        int(tool.order) - 1,
        np.array(weights, dtype=np.float64) if len(weights) else None,
    )
    points, bulges = fit_arcs(curve, pieces)
    result = _run(points, bulges, z, note)
    if result is not None and entity.closed and math.dist(points[0], points[-1]) <= WELD_MM:
        result = _closed(points[:-1].tolist(), bulges.tolist(), z, note)
    return result


_READERS = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _old_polyline,
    "SPLINE": _spline,
}


def _facing(entity: Any) -> int:
    """Return 1 for an entity seen from the front, -1 for one drawn from behind (mirrored)."""
    normal = entity.dxf.get("extrusion", None)
    if normal is None:
        return 1
    size = math.sqrt(normal.x**2 + normal.y**2 + normal.z**2)
    if not size > 0 or math.hypot(normal.x, normal.y) > PLANE_TOL * size:
        raise EntityError(
            "D015",
            f"the entity lies in another plane (normal {normal.x:.3g}, {normal.y:.3g}, {normal.z:.3g}); "
            "draw it flat, seen from the top",
        )
    return 1 if normal.z > 0 else -1


def _level(heights: list[float], scale: float) -> float:
    """Return the one height of an entity in millimetres."""
    if not heights:
        return 0.0
    if (max(heights) - min(heights)) * scale > WELD_MM:
        raise EntityError(
            "D015",
            f"the entity rises from z {min(heights):.6g} to {max(heights):.6g}; draw it flat, at one height",
        )
    return heights[0] * scale


def _radius(entity: Any) -> float:
    radius = float(entity.dxf.radius)
    if not radius > 0:
        raise EntityError("D025", f"expected a radius above 0, got {radius:g}; draw it again")
    return radius


def _polyline(points: list[Point], bulges: list[float], closed: bool, z: float) -> Curve | None:
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
        return _closed(out_p[:-1], out_b, z)
    return _open(out_p, out_b, z)


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


def _run(points: Any, bulges: Any, z: float, note: str = "") -> Curve | None:
    return _open([tuple(p) for p in points.tolist()], bulges.tolist(), z, note)


def _open(points: list[Any], bulges: list[float], z: float, note: str = "") -> Curve | None:
    if all(math.dist(points[0], p) <= WELD_MM for p in points):
        return None
    return Curve(
        points_mm=tuple((p[0], p[1]) for p in points), bulges=tuple(bulges), closed=False, z_mm=z, note=note
    )


def _closed(points: list[Any], bulges: list[float], z: float, note: str = "") -> Curve | None:
    if all(math.dist(points[0], p) <= WELD_MM for p in points):
        return None
    return Curve(
        points_mm=tuple((p[0], p[1]) for p in points), bulges=tuple(bulges), closed=True, z_mm=z, note=note
    )
