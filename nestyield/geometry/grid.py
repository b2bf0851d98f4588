"""The integer grid: whole micrometers, and the tolerances that go with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Vertices of one ring, shape (n, 2), whole micrometers, first not repeated at the end.
IntPoly = NDArray[np.int64]
#: Rings with disjoint interiors: outer rings counter-clockwise, holes clockwise.
Region = list[IntPoly]

UM_PER_MM = 1000
#: A placement may exceed an edge by this much, because turned vertices are rounded, micrometers.
CONTACT_TOL_UM = 2
#: Intersections of edges are computed on a grid this many times finer than the micrometer.
SUBGRID = 16
#: Farthest that a coordinate may lie from the origin, micrometers (10 meters).
REACH_UM = 10_000_000
#: Up to so many vertices, plain lists are quicker than arrays.
FEW = 50
#: Farthest that the chords or tangents of a rounded corner may lie from its arc, micrometers.
ARC_TOL_UM = 5.0


def to_grid(points_mm: ArrayLike) -> IntPoly:
    """Round points in millimeters to the grid.

    Parameters
    ----------
    points_mm : array_like, shape (n, 2)

    Returns
    -------
    IntPoly

    Raises
    ------
    ValueError
        When a coordinate lies farther than 10 m from the origin.
    """
    points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2) * UM_PER_MM
    farthest = float(np.abs(points).max()) if points.size else 0.0
    if not farthest <= REACH_UM:
        raise ValueError(f"expected coordinates within 10 m of the origin, got {farthest / UM_PER_MM} mm")
    return np.rint(points).astype(np.int64)


def to_mm(poly: IntPoly) -> NDArray[np.float64]:
    """Return the vertices of a ring in millimeters, shape (n, 2)."""
    return np.asarray(poly, dtype=np.float64) / UM_PER_MM


def ring_area_um2(poly: IntPoly) -> float:
    """Return the signed area of a ring in square micrometers, positive when counter-clockwise.

    Exact up to the last rounding of a float: coordinates are taken relative to the first vertex.
    """
    if len(poly) < 3:
        return 0.0
    p = np.asarray(poly, dtype=np.int64)
    x, y = np.ascontiguousarray((p - p[0]).T)
    cross = x[:-1] * y[1:] - x[1:] * y[:-1]  # the edge that closes the ring adds nothing
    # whole numbers below 2^63 as long as the ring has at most 10,000 vertices within reach of the origin
    return 0.5 * float(cross.sum() if len(p) <= 10_000 else sum(cross.tolist()))


def area_um2(region: Iterable[IntPoly]) -> float:
    """Return the area of a region in square micrometers; 0 for the empty region."""
    return float(sum(ring_area_um2(r) for r in region))


def bounds(region: Sequence[IntPoly]) -> tuple[int, int, int, int]:
    """Return (x least, y least, x most, y most) of a region in micrometers.

    Raises
    ------
    ValueError
        For a region without vertices.
    """
    rings = [r for r in region if len(r)]
    if not rings:
        raise ValueError("expected a region with at least one vertex, got the empty region")
    points = rings[0] if len(rings) == 1 else np.concatenate(rings)
    x, y = points[:, 0], points[:, 1]
    if len(points) <= FEW:
        xs, ys = x.tolist(), y.tolist()
        return min(xs), min(ys), max(xs), max(ys)
    return int(x.min()), int(y.min()), int(x.max()), int(y.max())


def tidy(poly: IntPoly) -> IntPoly:
    """Drop repeated vertices, spikes, and vertices on a straight line; keeps the direction.

    Returns
    -------
    IntPoly
        Empty, shape (0, 2), when nothing with area is left.
    """
    p = np.asarray(poly, dtype=np.int64).reshape(-1, 2)
    while len(p) >= 3:
        before = p - np.concatenate([p[-1:], p[:-1]])
        after = np.concatenate([before[1:], before[:1]])
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        keep = (cross != 0) & (np.abs(before).sum(axis=1) > 0)
        flat = np.nonzero(~keep)[0]
        if not len(flat):
            return p
        # Of neighboring flat vertices drop every other one, then look again.
        drop: list[int] = []
        for k in flat.tolist():
            if not drop or k != drop[-1] + 1:
                drop.append(k)
        if len(drop) > 1 and drop[0] == 0 and drop[-1] == len(p) - 1:
            drop.pop()
        p = np.delete(p, drop, axis=0)
    return np.empty((0, 2), dtype=np.int64)
