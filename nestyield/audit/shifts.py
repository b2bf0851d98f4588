"""Where a region can be shifted to, by running edges along edges.

A region shifted along a path enters or leaves another only where an edge of one crosses an edge of the
other. Two edges cross at just the shifts of a parallelogram; so the shifts at which a region crosses the
border of another are the union of the parallelograms of all pairs of their edges. Elsewhere the regions lie
clear of each other or one within the other, which a single point of each tells.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import scale, translate
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

#: Parallelograms smaller than this are lines, square millimeters.
_FLAT_MM2 = 1e-10
#: Shifts in a strip narrower than twice this count as none: rounding between neighboring parallelograms, mm.
SEAM_MM = 1e-5


def edges(region: BaseGeometry) -> Floats:
    """Return the edges of all rings of a region, shape (n, 2, 2)."""
    found = [np.empty((0, 2, 2))]
    for part in shapely.get_parts(region):
        if part.geom_type == "Polygon":
            for ring in (part.exterior, *part.interiors):
                xy = shapely.get_coordinates(ring)
                found.append(np.stack([xy[:-1], xy[1:]], axis=1))
    return np.concatenate(found)


def crossing(fixed: BaseGeometry, moving: BaseGeometry, window: BaseGeometry) -> list[BaseGeometry]:
    """Return polygons that together hold all shifts in a window at which the borders of two regions cross."""
    a, b = edges(fixed), edges(moving)
    x0, y0, x1, y1 = window.bounds
    a = _within(a, b, np.array([x0, y0]), np.array([x1, y1]))
    b = _within(b, a, np.array([-x1, -y1]), np.array([-x0, -y0]))
    if not len(a) or not len(b):
        return []
    low, high = a.min(axis=1)[:, None] - b.max(axis=1)[None], a.max(axis=1)[:, None] - b.min(axis=1)[None]
    near = (low[..., 0] <= x1) & (high[..., 0] >= x0) & (low[..., 1] <= y1) & (high[..., 1] >= y0)
    i, j = np.nonzero(near)
    u, v = (a[:, 1] - a[:, 0])[i], (b[:, 1] - b[:, 0])[j]
    slanted = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) > _FLAT_MM2
    i, j = i[slanted], j[slanted]
    p, q, r, s = a[i, 0], a[i, 1], b[j, 0], b[j, 1]
    corners = np.stack([p - r, q - r, q - s, p - s, p - r], axis=1)
    return list(shapely.polygons(corners))


def _within(some: Floats, others: Floats, low: Floats, high: Floats) -> Floats:
    """Return the edges that the box of others reaches by a shift between two corners, and a hair more."""
    if not len(others):
        return others
    least, most = others.min(axis=(0, 1)) + low - SEAM_MM, others.max(axis=(0, 1)) + high + SEAM_MM
    reached: Floats = some[((some.max(axis=1) >= least) & (some.min(axis=1) <= most)).all(axis=1)]
    return reached


def polygons(region: BaseGeometry) -> list[BaseGeometry]:
    """Return the polygons of a region."""
    return [p for p in shapely.get_parts(region) if p.geom_type == "Polygon" and not p.is_empty]


def minus(region: BaseGeometry) -> BaseGeometry:
    """Return a region turned by half a turn about the origin."""
    return scale(region, -1.0, -1.0, origin=(0.0, 0.0))


def shifts_left(
    home: BaseGeometry,
    moving: BaseGeometry,
    walls: list[tuple[BaseGeometry, BaseGeometry]],
    window: BaseGeometry | None = None,
) -> BaseGeometry:
    """Return the shifts at which a region lies in a home and clear of walls.

    Parameters
    ----------
    home : geometry
        Any number of pieces, without holes.
    moving : geometry
        Any number of pieces; each must lie in one piece of the home.
    walls : list of (ground, wood)
        Ground that does not move, and what moves with ``moving`` and must not overlap it.
    window : geometry, optional
        Only shifts in it are looked at.

    Returns
    -------
    geometry
        Strips narrower than ``2 SEAM_MM`` left out.
    """
    left = window
    for piece in polygons(moving):
        x, y = piece.exterior.coords[0]
        start = translate(home, -x, -y)
        left = start if left is None else left.intersection(start)
    if left is None or left.is_empty:
        return shapely.Polygon()
    left = _without(left, crossing(home, moving, left))
    for ground, wood in walls:
        if left.is_empty:
            break
        gone = crossing(ground, wood, left)
        points = [g.exterior.coords[0] for g in polygons(ground)]
        gone += [translate(minus(w), *p) for w in polygons(wood) for p in points]
        points = [w.exterior.coords[0] for w in polygons(wood)]
        gone += [translate(g, -x, -y) for g in polygons(ground) for x, y in points]
        left = _without(left, gone)
    return left.buffer(-SEAM_MM, join_style="mitre")


def _without(left: BaseGeometry, gone: list[BaseGeometry]) -> BaseGeometry:
    """What is left of some shifts without polygons, each cut to the box of what is left before."""
    if left.is_empty or not gone:
        return left
    near = shapely.clip_by_rect(gone, *left.bounds)
    near = near[~shapely.is_empty(near)]
    box = shapely.box(*left.bounds)
    if np.any(shapely.area(near) >= box.area * (1.0 - 1e-12)):
        return shapely.Polygon()
    return left.difference(shapely.union_all(near)) if len(near) else left
