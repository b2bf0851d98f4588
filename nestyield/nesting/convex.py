"""Polygons cut into convex pieces, each edge marked as an edge of the polygon or a cut through it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

#: Points of polygons nearer than this are one, millimeters.
SAME_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class ConvexPiece:
    """A convex polygon, counter-clockwise.

    Parameters
    ----------
    points : (n, 2) float
    outer : (n,) bool
        Whether the edge from each point to the next belongs to the polygon that was cut.
    """

    points: NDArray[np.float64]
    outer: NDArray[np.bool_]


def convex_pieces(geometry: Any) -> list[ConvexPiece]:
    """Cut polygons into convex pieces: triangles, joined while they stay convex.

    Parameters
    ----------
    geometry : shapely.Polygon or shapely.MultiPolygon

    Returns
    -------
    list of ConvexPiece
    """
    out: list[ConvexPiece] = []
    for polygon in shapely.get_parts(geometry):
        if polygon.geom_type == "Polygon" and not polygon.is_empty:
            out += _pieces(polygon)
    return out


def _pieces(polygon: Any) -> list[ConvexPiece]:
    triangles = [
        shapely.get_coordinates(shapely.orient_polygons(t))[:-1]
        for t in shapely.constrained_delaunay_triangles(polygon).geoms
    ]
    names: dict[tuple[int, int], int] = {}
    points: list[NDArray[np.float64]] = []

    def name(p: NDArray[np.float64]) -> int:
        key = (round(float(p[0]) / SAME_MM), round(float(p[1]) / SAME_MM))
        if key not in names:
            names[key] = len(points)
            points.append(p)
        return names[key]

    rings: dict[int, list[int]] = {k: [name(p) for p in t] for k, t in enumerate(triangles)}
    where = np.array(points)
    owner = {edge: k for k, r in rings.items() for edge in _edges(r)}
    for a, b in [edge for edge in owner if edge < edge[::-1] and edge[::-1] in owner]:
        k, other = owner[a, b], owner[b, a]
        joined = _joined(rings[k], rings[other], a, b) if k != other else None
        if joined is not None and _convex(where[joined]):
            rings[k] = joined
            for edge in _edges(rings.pop(other)):
                owner[edge] = k
    cut = {edge for r in rings.values() for edge in _edges(r)}
    return [
        ConvexPiece(points=where[r], outer=np.array([edge[::-1] not in cut for edge in _edges(r)]))
        for r in rings.values()
    ]


def _edges(ring: list[int]) -> list[tuple[int, int]]:
    return list(zip(ring, [*ring[1:], ring[0]]))


def _joined(one: list[int], two: list[int], a: int, b: int) -> list[int] | None:
    """Join two rings along the edge from ``a`` to ``b`` of the first."""
    i, j = one.index(b), two.index(a)
    ring = one[i:] + one[:i]  # b ... a
    rest = two[j:] + two[:j]  # a ... b
    out = ring + rest[1:-1]
    return out if len(set(out)) == len(out) else None


def _convex(ring: NDArray[np.float64]) -> bool:
    step = np.roll(ring, -1, axis=0) - ring
    after = np.roll(step, -1, axis=0)
    cross = step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0]
    size = np.hypot(step[:, 0], step[:, 1]) * np.hypot(after[:, 0], after[:, 1])
    return bool((cross >= -1e-9 * size).all())
