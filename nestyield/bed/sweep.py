"""What the cutter's body sweeps and what the blank covers, as polygons in millimeters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import affine_transform, translate
from shapely.geometry.base import BaseGeometry

from nestyield.geometry.boolean import clean
from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.geometry.minkowski import no_fit_region
from nestyield.geometry.shape import to_shapely
from nestyield.model import Outline, Part, Placement, Shape
from nestyield.model.arc import Arc
from nestyield.model.pose import Pose

#: Farthest a chord may lie from its arc in swept regions; they are grown by as much.
SWEEP_ERROR_MM = 0.01


def circumscribed(outline: Outline, error_mm: float) -> NDArray[np.float64]:
    """Return the corners of chains drawn around the arcs of an outline, shape (n, 2), millimeters.

    Every chain touches its arc from outside its circle and lies at most ``error_mm`` away.
    """
    out: list[tuple[float, float]] = []
    n = len(outline.points_mm)
    for i, (x0, y0) in enumerate(outline.points_mm):
        x1, y1 = outline.points_mm[(i + 1) % n]
        b = outline.bulges[i]
        out.append((x0, y0))
        if b == 0.0 or (x0, y0) == (x1, y1):
            continue
        arc = Arc.of((x0, y0), (x1, y1), b)
        each = 2.0 * math.acos(1.0 / (1.0 + error_mm / arc.radius))
        out += arc.around(max(2, math.ceil(abs(arc.sweep) / each)))
    return np.array(out, dtype=np.float64)


def outline_polygon(outline: Outline, pose: Pose = Pose(), error_mm: float = SWEEP_ERROR_MM) -> BaseGeometry:  # noqa: B008
    """Return a moved outline as a valid polygon, millimeters."""
    points = circumscribed(outline, error_mm)
    polygon = shapely.polygons(pose.array(points))
    return polygon if polygon.is_valid else polygon.buffer(0.0)


def shape_polygon(shape: Shape, pose: Pose = Pose()) -> BaseGeometry:  # noqa: B008
    """Return a moved shape as a polygon with holes, millimeters."""
    polygon = outline_polygon(shape.outer, pose)
    for hole in shape.holes:
        polygon = polygon.difference(outline_polygon(hole, pose))
    return polygon


def wood(shape: Shape, turned_deg: float) -> list[BaseGeometry]:
    """Return what a turned blank covers, millimeters."""
    return list(shapely.get_parts(shape_polygon(shape, Pose(angle_deg=turned_deg))))


def grown(polygon: BaseGeometry, by_mm: float) -> BaseGeometry:
    """Grow a polygon with round corners, never less than the true circle anywhere."""
    segments = 16
    return polygon.buffer(by_mm / math.cos(math.pi / (4 * segments)), quad_segs=segments)


def swept(
    placements: Sequence[tuple[Part, Placement]], turned_deg: float, radius_mm: float
) -> list[BaseGeometry]:
    """Return the polygons that the cutter's body sweeps: around outlines, and through what is cut away.

    Around an outline the cutter's center keeps a radius away, so its body reaches a diameter out.
    Holes in the polygons are wood that no cutter touches.
    """
    bodies = []
    for part, placement in placements:
        move = Pose.of(placement).then(Pose(angle_deg=turned_deg))
        matrix = move.matrix()
        bodies.append(affine_transform(_band(part.outline, radius_mm), matrix))
        bodies += [
            affine_transform(_emptied(z.shape), matrix)
            for z in part.zones
            if z.does.cuts and z.shape is not None
        ]
    return [p for body in bodies for p in shapely.get_parts(body) if p.area > 0.0]


@lru_cache(maxsize=256)
def _band(outline: Outline, radius_mm: float) -> BaseGeometry:
    inner = outline_polygon(outline)
    return grown(inner, 2.0 * radius_mm + SWEEP_ERROR_MM).difference(inner.buffer(-SWEEP_ERROR_MM))


@lru_cache(maxsize=256)
def _emptied(shape: Shape) -> BaseGeometry:
    return shape_polygon(shape).buffer(SWEEP_ERROR_MM)


def touch_region(ground: BaseGeometry, body: BaseGeometry, less_mm: float = 0.0) -> BaseGeometry:
    """Return the shifts of ``body`` at which it and ``ground`` overlap, millimeters; smaller by ``less_mm`` all round.

    Both may be concave; ``body`` may have holes, where ``ground`` may stand free. Worked out once for all shifts of a
    body, so that asking about many places of a part costs little more than about one.
    """
    rings = rings_um(body)
    x, y = np.min([r.min(axis=0) for r in rings], axis=0)
    shifted = tuple((len(r), (r - (x, y)).tobytes()) for r in rings)
    standing = tuple((len(r), r.tobytes()) for r in rings_um(ground))
    return translate(_touched(standing, shifted, less_mm), -float(x) / UM_PER_MM, -float(y) / UM_PER_MM)


#: Rings of whole micrometers that can be told apart: corners, and the bytes of their coordinates.
_Bytes = tuple[tuple[int, bytes], ...]


@lru_cache(maxsize=256)
def _touched(ground: _Bytes, body: _Bytes, less_mm: float) -> BaseGeometry:
    def region(rings: _Bytes) -> Region:
        return clean([np.frombuffer(data, dtype=np.int64).reshape(n, 2) for n, data in rings])

    shadow = to_shapely(no_fit_region(region(ground), region(body)))
    return shadow.buffer(-less_mm, join_style="mitre") if less_mm else shadow


def rings_um(polygon: BaseGeometry) -> Region:
    """Return the rings of a polygon on the grid, not yet cleaned."""
    return [
        np.rint(np.asarray(ring.coords)[:-1] * UM_PER_MM).astype(np.int64)
        for part in shapely.get_parts(shapely.orient_polygons(polygon))
        for ring in (part.exterior, *part.interiors)
    ]
