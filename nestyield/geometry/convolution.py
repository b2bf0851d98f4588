"""The convolution of two polygons: closed paths whose winding number counts contacts.

Guibas, Ramshaw and Stolfi (FOCS 1983) define the convolution of two polygonal tracings; Wein (ESA 2006)
uses it for Minkowski sums. At every vertex of one polygon the tracing turns through an arc of directions;
every edge of the other whose direction lies in that arc is laid there, forwards at a left turn and
backwards at a right turn. The winding number of the result at a point p is the Euler characteristic of
A cut with p - B: for simply connected A and B, the number of pieces in which they meet.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import IntPoly

# Two directions between whole vectors shorter than 15 m differ by 0 or by more than 4e-15 radians;
# atan2 is good to 1e-15, so this bound tells the two cases apart.
_SAME_RAD = 2e-15


def _ranks(da: IntPoly, db: IntPoly) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Circular order of edge directions; of equal directions, A's come first."""
    both = np.concatenate([da, db])
    theta = np.arctan2(both[:, 1], both[:, 0])
    theta[theta <= -math.pi + _SAME_RAD] = math.pi
    order = np.argsort(theta, kind="stable")
    group = np.concatenate([[0], np.cumsum(np.diff(theta[order]) > _SAME_RAD)])
    rank = np.empty(len(theta), dtype=np.int64)
    rank[order] = group
    n = len(da)
    return 2 * rank[:n], 2 * rank[n:] + 1


def _laid(
    da: IntPoly, ra: NDArray[np.int64], rb: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Pairs (vertex of A, edge of B) where the edge lies in the vertex's turn, and whether it turns left."""
    din, rin = np.concatenate([da[-1:], da[:-1]]), np.concatenate([ra[-1:], ra[:-1]])
    cross = din[:, 0] * da[:, 1] - din[:, 1] * da[:, 0]
    along = din[:, 0] * da[:, 0] + din[:, 1] * da[:, 1]
    left = (cross > 0) | ((cross == 0) & (along < 0))
    turns = left | (cross < 0)
    lo, hi = np.where(left, rin, ra), np.where(left, ra, rin)
    order = np.argsort(rb, kind="stable")
    first = np.searchsorted(rb[order], lo, "right")
    count = np.searchsorted(rb[order], hi, "left") - first
    count = np.where(hi >= lo, count, count + len(rb))
    count[~turns] = 0
    i = np.repeat(np.arange(len(da)), count)
    offset = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    j = order[(np.repeat(first, count) + offset) % len(rb)]
    return i, j, left[i]


def convolution(a: IntPoly, b: IntPoly) -> list[IntPoly]:
    """Return the convolution of two rings as closed paths.

    Parameters
    ----------
    a, b : IntPoly
        Either direction; repeated neighbors are dropped first, as an edge without length has no direction.

    Returns
    -------
    list of IntPoly
        Closed paths, whole and exact. Their summed winding number is what counts.
    """
    a, b = _distinct(a), _distinct(b)
    n, m = len(a), len(b)
    if n < 3 or m < 3:
        return []
    da, db = np.concatenate([a[1:], a[:1]]) - a, np.concatenate([b[1:], b[:1]]) - b
    ra, rb = _ranks(da, db)
    i, j, forward = _laid(da, ra, rb)
    tail, head = i * m + j, i * m + (j + 1) % m
    j2, i2, forward2 = _laid(db, rb, ra)
    tail2, head2 = i2 * m + j2, ((i2 + 1) % n) * m + j2
    start = np.concatenate([np.where(forward, tail, head), np.where(forward2, tail2, head2)])
    end = np.concatenate([np.where(forward, head, tail), np.where(forward2, head2, tail2)])
    by_start, by_end = np.argsort(start, kind="stable"), np.argsort(end, kind="stable")
    follows = np.empty(len(start), dtype=np.int64)
    follows[by_end] = by_start
    points = a[start // m] + b[start % m]
    return [points[cycle] for cycle in _cycles(follows.tolist())]


def _distinct(ring: IntPoly) -> IntPoly:
    """Drop vertices equal to the one before."""
    same = (ring == np.concatenate([ring[-1:], ring[:-1]])).all(axis=1)
    return ring[~same] if same.any() else ring


def near(path: IntPoly, window: tuple[int, int, int, int]) -> IntPoly:
    """Shorten a closed path without changing its winding number anywhere in a window.

    Of a run of vertices that all lie beyond one side of the window only the first and the last are kept:
    the straight line between them stays beyond that side too.

    Parameters
    ----------
    path : IntPoly
    window : (x least, y least, x most, y most)

    Returns
    -------
    IntPoly
        Fewer than 3 vertices when the path does not come near the window.
    """
    for axis, bound, sign in ((0, window[0], -1), (0, window[2], 1), (1, window[1], -1), (1, window[3], 1)):
        beyond = path[:, axis] > bound if sign > 0 else path[:, axis] < bound
        if not beyond.any():
            continue
        around = np.empty(len(beyond) + 2, dtype=bool)
        around[0], around[1:-1], around[-1] = beyond[-1], beyond, beyond[0]
        path = path[~(beyond & around[:-2] & around[2:])]
        if len(path) < 3:
            return path[:0]
    return path


def _cycles(follows: list[int]) -> list[list[int]]:
    seen = bytearray(len(follows))
    cycles = []
    for k in range(len(follows)):
        if seen[k]:
            continue
        cycle = [k]
        add, at = cycle.append, follows[k]
        while at != k:
            seen[at] = 1
            add(at)
            at = follows[at]
        if len(cycle) >= 3:
            cycles.append(cycle)
    return cycles
