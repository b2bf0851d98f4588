"""Turns single DXF entities into runs of lines and arcs in millimeters."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity

from nestyield.geometry.biarc import fit_arcs
from nestyield.geometry.chain import WELD_MM
from nestyield.geometry.spline import bspline_curve, ellipse_curve
from nestyield.intake.affine import Affine
from nestyield.intake.curve import Curve, EntityError, arc, closed_curve, open_curve, polyline, run
from nestyield.model import ModelError

#: An entity counts as lying in the drawing's plane when its normal leaves Z by less than this.
PLANE_TOL = 1e-6
#: Coordinates beyond this (10 km) are damage.
FARTHEST_MM = 1e7


def read_curve(entity: DXFEntity, affine: Affine) -> Curve | None:
    """Read one entity.

    Parameters
    ----------
    entity : ezdxf entity
        LINE, ARC, CIRCLE, ELLIPSE, LWPOLYLINE, POLYLINE or SPLINE.
    affine : Affine
        From the entity's place in the drawing (or block) to millimeters.

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
        curve = reader(entity, affine)
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


def _near(values: Iterable[float]) -> None:
    """Refuse what is too far off before arcs are fitted to it: out there points are too coarse to follow."""
    if not all(abs(v) <= FARTHEST_MM for v in values):
        raise EntityError("D025", "the entity lies more than 10 km from the origin; check the drawing's unit")


def readable(kind: str) -> bool:
    """Tell whether ``read_curve`` takes entities of this type."""
    return kind in _READERS


def _line(entity: Any, affine: Affine) -> Curve | None:
    start, end = entity.dxf.start, entity.dxf.end
    z = _level([start.z, end.z], affine)
    return open_curve([affine.point(start.x, start.y), affine.point(end.x, end.y)], [0.0], z)


def _arc(entity: Any, affine: Affine) -> Curve | None:
    start = float(entity.dxf.start_angle)
    span = (float(entity.dxf.end_angle) - start) % 360.0
    if span < 1e-9 or span > 360.0 - 1e-9:
        return _circle(entity, affine)
    affine = affine @ _facing(entity.dxf.get("extrusion", None))
    center = entity.dxf.center
    points, bulges = arc(affine, (center.x, center.y), _radius(entity), start, span)
    return open_curve(points, bulges, affine.height(center.z))


def _circle(entity: Any, affine: Affine) -> Curve | None:
    affine = affine @ _facing(entity.dxf.get("extrusion", None))
    center, radius = entity.dxf.center, _radius(entity)
    z = affine.height(center.z)
    if affine.is_similar:
        (x, y), r = affine.point(center.x, center.y), radius * math.sqrt(abs(affine.determinant))
        return Curve(points_mm=((x - r, y), (x + r, y)), bulges=(1.0, 1.0), closed=True, z_mm=z)
    points, bulges = arc(affine, (center.x, center.y), radius, 0.0, 360.0)
    return closed_curve(points[:-1], bulges, z)


def _ellipse(entity: Any, affine: Affine) -> Curve | None:
    tool = entity.construction_tool()
    major, minor, center = tool.major_axis, tool.minor_axis, tool.center
    if not major.magnitude > 0 or not minor.magnitude > 0:
        raise EntityError("D025", "the ellipse has an axis of length 0; draw it again")
    if max(abs(major.z), abs(minor.z)) > PLANE_TOL * major.magnitude:
        raise EntityError("D015", "the ellipse lies in another plane; draw it flat, seen from the top")
    start = float(tool.start_param)
    span = (float(tool.end_param) - start) % math.tau
    full = span < 1e-9 or span > math.tau - 1e-9
    middle, long, short = (
        affine.point(center.x, center.y),
        affine.vector(major.x, major.y),
        affine.vector(minor.x, minor.y),
    )
    _near((*middle, *long, *short))
    curve, pieces = ellipse_curve(
        middle,
        long,
        short,
        start,
        start + (math.tau if full else span),
    )
    points, bulges = fit_arcs(curve, pieces)
    z = affine.height(center.z)
    return closed_curve(points[:-1].tolist(), bulges.tolist(), z) if full else run(points, bulges, z)


def _lwpolyline(entity: Any, affine: Affine) -> Curve | None:
    affine = affine @ _facing(entity.dxf.get("extrusion", None))
    rows = entity.get_points("xyb")
    return polyline(
        affine,
        [(float(x), float(y)) for x, y, _ in rows],
        [float(b) for _, _, b in rows],
        bool(entity.closed),
        affine.height(float(entity.dxf.elevation)),
    )


def _old_polyline(entity: Any, affine: Affine) -> Curve | None:
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        raise EntityError(
            "D017", "a mesh is no outline; draw the outline as lines and arcs, or move the mesh away"
        )
    vertices = [v for v in entity.vertices if not v.dxf.flags & 16]  # 16: frame of a spline fit
    points = [(float(v.dxf.location.x), float(v.dxf.location.y)) for v in vertices]
    heights = [float(v.dxf.location.z) for v in vertices]
    if entity.is_3d_polyline:
        return polyline(affine, points, [0.0] * len(points), entity.is_closed, _level(heights, affine))
    affine = affine @ _facing(entity.dxf.get("extrusion", None))
    if not any(heights) and entity.dxf.hasattr("elevation"):
        heights = [float(entity.dxf.elevation.z)]
    bulges = [float(v.dxf.bulge) for v in vertices]
    return polyline(affine, points, bulges, entity.is_closed, _level(heights, affine))


def _spline(entity: Any, affine: Affine) -> Curve | None:
    note = ""
    if not len(entity.control_points) and len(entity.fit_points) < 2:
        raise EntityError("D025", "the spline has neither control points nor two fit points; draw it again")
    if not len(entity.control_points):
        note = (
            "D022 the spline has fit points only, through which programs draw different curves; it was read "
            "as a cubic through them. Write it with control points to be sure"
        )
    tool = entity.construction_tool()
    z = _level([float(p.z) for p in tool.control_points], affine)
    weights = tool.weights()
    control = np.array([affine.point(p.x, p.y) for p in tool.control_points], dtype=np.float64)
    _near(control.ravel().tolist())
    curve, pieces = bspline_curve(
        control,
        np.array(tool.knots(), dtype=np.float64),
        int(tool.order) - 1,
        np.array(weights, dtype=np.float64) if len(weights) else None,
    )
    points, bulges = fit_arcs(curve, pieces)
    if entity.closed and math.dist(points[0], points[-1]) <= WELD_MM:
        return closed_curve(points[:-1].tolist(), bulges.tolist(), z, note)
    return run(points, bulges, z, note)


_READERS = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _old_polyline,
    "SPLINE": _spline,
}


def _facing(normal: Any) -> Affine:
    """Return the map from an entity's own coordinates: as they are, or mirrored when drawn from behind."""
    if normal is None:
        return Affine()
    size = math.sqrt(normal.x**2 + normal.y**2 + normal.z**2)
    if not size > 0 or math.hypot(normal.x, normal.y) > PLANE_TOL * size:
        raise EntityError(
            "D015",
            f"it lies in another plane (normal {normal.x:.3g}, {normal.y:.3g}, {normal.z:.3g}); "
            "draw it flat, seen from the top",
        )
    return Affine() if normal.z > 0 else Affine.behind()


def placed(insert: Any, base: Any, row: int, column: int) -> Affine:
    """Return the map from a block's content to the coordinates that it is inserted in.

    Parameters
    ----------
    insert : ezdxf INSERT
    base : (x, y, z)
        Base point of the block.
    row, column : int
        Of an array of inserts, from 0.

    Raises
    ------
    EntityError
        When the insert lies in another plane or has a scale of 0.
    """
    scales = [float(insert.dxf.get(k, 1.0)) for k in ("xscale", "yscale", "zscale")]
    if not all(math.isfinite(s) and s != 0.0 for s in scales[:2]):
        raise EntityError("D018", f"expected scales other than 0, got {scales[0]:g} and {scales[1]:g}")
    at = insert.dxf.insert
    return (
        _facing(insert.dxf.get("extrusion", None))
        @ Affine.shift(float(at.x), float(at.y), float(at.z))
        @ Affine.turn(float(insert.dxf.get("rotation", 0.0)))
        @ Affine.shift(
            column * float(insert.dxf.get("column_spacing", 0.0)),
            row * float(insert.dxf.get("row_spacing", 0.0)),
        )
        @ Affine.scale(*scales)
        @ Affine.shift(-float(base[0]), -float(base[1]), -float(base[2]))
    )


def _level(heights: list[float], affine: Affine) -> float:
    """Return the one height of an entity in millimeters."""
    if not heights:
        return affine.height(0.0)
    if (max(heights) - min(heights)) * abs(affine.zz) > WELD_MM:
        raise EntityError(
            "D015",
            f"the entity rises from z {min(heights):.6g} to {max(heights):.6g}; draw it flat, at one height",
        )
    return affine.height(heights[0])


def _radius(entity: Any) -> float:
    radius = float(entity.dxf.radius)
    if not radius > 0:
        raise EntityError("D025", f"expected a radius above 0, got {radius:g}; draw it again")
    return radius
