"""Turns single DXF entities into runs of lines and arcs in millimetres."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity

from nestyield.geometry.biarc import fit_arcs
from nestyield.geometry.chain import WELD_MM
from nestyield.geometry.spline import bspline_curve, ellipse_curve
from nestyield.intake.curve import Curve, EntityError, closed_curve, open_curve, polyline, run
from nestyield.model import ModelError

#: An entity counts as lying in the drawing's plane when its normal leaves Z by less than this.
PLANE_TOL = 1e-6
#: Coordinates beyond this (10 km) are damage.
FARTHEST_MM = 1e7


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
    return open_curve([(start.x * scale, start.y * scale), (end.x * scale, end.y * scale)], [0.0], z)


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
    return open_curve(points, [bulge] * pieces, z)


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
    return closed_curve(points[:-1].tolist(), bulges.tolist(), z) if full else run(points, bulges, z)


def _lwpolyline(entity: Any, scale: float) -> Curve | None:
    sign = _facing(entity)
    rows = entity.get_points("xyb")
    return polyline(
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
        return polyline(points, [sign * float(v.dxf.bulge) for v in vertices], entity.is_closed, sign * z)
    if entity.is_3d_polyline:
        vertices = [v for v in entity.vertices if not v.dxf.flags & 16]
        z = _level([v.dxf.location.z for v in vertices], scale)
        points = [(v.dxf.location.x * scale, v.dxf.location.y * scale) for v in vertices]
        return polyline(points, [0.0] * len(points), entity.is_closed, z)
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
    result = run(points, bulges, z, note)
    if result is not None and entity.closed and math.dist(points[0], points[-1]) <= WELD_MM:
        result = closed_curve(points[:-1].tolist(), bulges.tolist(), z, note)
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
