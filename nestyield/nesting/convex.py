"""Polygons cut into convex pieces, each edge marked as an edge of the polygon or a cut through it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

#: Points of polygons nearer than this are one, millimetres.
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
    for polygon in getattr(geometry, "geoms", [geometry]):
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

    rings = [[name(p) for p in t] for t in triangles]
    where = np.array(points)
    merged = True
    while merged:
        merged = False
        edges = {(a, b): k for k, r in enumerate(rings) for a, b in zip(r, [*r[1:], r[0]])}
        for (a, b), k in edges.items():
            other = edges.get((b, a))
            if other is None or other == k:
                continue
            joined = _joined(rings[k], rings[other], a, b)
            if joined is not None and _convex(where[joined]):
                rings[k] = joined
                del rings[other]
                merged = True
                break
    cut = {(a, b) for r in rings for a, b in zip(r, [*r[1:], r[0]])}
    return [
        ConvexPiece(
            points=where[r],
            outer=np.array([(b, a) not in cut for a, b in zip(r, [*r[1:], r[0]])]),
        )
        for r in rings
    ]


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
