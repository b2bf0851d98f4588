"""Largest rectangle in a region, sides along a given direction."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import UM_PER_MM, IntPoly
from nestyield.model.pose import Pose

#: A rectangle along the axes: least x, least y, most x, most y.
Box = tuple[float, float, float, float]

# The sides of the best rectangle are set again so often, on so many lines to either side.
_PASSES = 4
_LINES = 6


def _inside_rows(
    rings: list[NDArray[np.float64]], xs: NDArray[np.float64], ys: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether each open cell between grid lines xs, ys lies wholly inside the rings."""
    nx, ny = len(xs) - 1, len(ys) - 1
    cut = np.zeros((nx, ny), dtype=bool)
    xm, ym = (xs[1:] + xs[:-1]) / 2, (ys[1:] + ys[:-1]) / 2
    crossings = np.zeros((nx, ny), dtype=np.int64)
    x_lines, y_lines, y_middles = xs.tolist(), ys.tolist(), ym.tolist()
    for ring in rings:
        corners = ring.tolist()
        for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]]):
            _mark_cut(cut, x_lines, y_lines, x0, y0, x1, y1)
            lo, hi = min(y0, y1), max(y0, y1)
            rows = slice(bisect_left(y_middles, lo), bisect_left(y_middles, hi))
            if rows.start < rows.stop:
                at = x0 + (ym[rows] - y0) * (x1 - x0) / (y1 - y0)
                crossings[:, rows] += (xm[:, None] > at[None, :]).astype(np.int64) * (1 if y1 > y0 else -1)
    out: NDArray[np.bool_] = (crossings != 0) & ~cut
    return out


def _mark_cut(
    cut: NDArray[np.bool_],
    xs: list[float],
    ys: list[float],
    x0: float,
    y0: float,
    x1: float,
    y1: float,
) -> None:
    """Mark cells whose open interior the segment passes through."""
    if x0 > x1:
        x0, y0, x1, y1 = x1, y1, x0, y0
    first = max(bisect_right(xs, x0) - 1, 0)
    last = min(bisect_left(xs, x1), len(xs) - 1)
    for k in range(first, last):
        a, b = max(xs[k], x0), min(xs[k + 1], x1)
        if x1 == x0:
            ya, yb = y0, y1
            if a <= xs[k] or a >= xs[k + 1]:
                continue
        else:
            ya, yb = y0 + (a - x0) * (y1 - y0) / (x1 - x0), y0 + (b - x0) * (y1 - y0) / (x1 - x0)
        lo, hi = min(ya, yb), max(ya, yb)
        eps = 1e-6
        j0 = max(bisect_right(ys, lo + eps) - 1, 0)
        j1 = min(bisect_left(ys, hi - eps), len(ys) - 1)
        on_line = lo == hi and not ys[j0] + eps < lo < ys[min(j0 + 1, len(ys) - 1)] - eps
        cut[k, j0 : j1 if on_line else max(j1, j0 + 1)] = True


def _largest_in_cells(
    inside: NDArray[np.bool_], xs: NDArray[np.float64], ys: NDArray[np.float64], least: tuple[float, float]
) -> tuple[float, float, float, float]:
    """Largest rectangle of whole cells, at least ``least`` in size if any is: (x0, y0, x1, y1)."""
    best, where, fits, first = 0.0, (0.0, 0.0, 0.0, 0.0), False, -1
    nx, ny = inside.shape
    rows = np.arange(ny)
    below = np.maximum.accumulate(np.where(inside, -1, rows), axis=1) + 1
    tallest = np.where(inside, ys[1:] - ys[below], 0.0).max(axis=1, initial=0.0)
    # What begins in a column is no taller than its cells and no longer than open columns reach.
    ends = np.minimum.accumulate(np.where(inside.any(axis=1), nx, np.arange(nx))[::-1])[::-1]
    longest = xs[ends] - xs[:nx]
    may_fit = (longest >= least[0]) & (tallest >= least[1])
    most = tallest * longest
    for i in np.lexsort((-most, ~may_fit)).tolist():
        if fits and not may_fit[i]:
            break
        if most[i] <= 0.0 or ((not may_fit[i] or fits) and (most[i], -i) < (best, -first)):
            continue
        # Row k: cells open in every column from i to i + k.
        end = int(ends[i]) - i
        open_ = np.logical_and.accumulate(inside[i : i + end], axis=0)
        below = np.maximum.accumulate(np.where(open_, -1, rows), axis=1) + 1
        heights = np.where(open_, ys[1:] - ys[below], 0.0)
        top = heights.argmax(axis=1)
        height = heights[np.arange(end), top]
        length = xs[i + 1 : i + end + 1] - xs[i]
        area = height * length
        good = (length >= least[0]) & (height >= least[1]) & (height > 0)
        k = int(np.argmax(np.where(good, area, 0.0) if good.any() else area))
        if (bool(good[k]), float(area[k]), -i) > (fits, best, -first):
            best, fits, first = float(area[k]), bool(good[k]), i
            where = (float(xs[i]), float(ys[below[k, top[k]]]), float(xs[i + k + 1]), float(ys[top[k] + 1]))
    return where


def largest_rectangle(
    region: Sequence[IntPoly], angle_deg: float, min_length_mm: float = 0.0, min_width_mm: float = 0.0
) -> tuple[float, float, float, float]:
    """Return the largest rectangle with its length along ``angle_deg``; never larger than true.

    Rectangles are looked for on a grid through the vertices and evenly between; the sides of the best one
    are then set again on finer and finer lines. What is returned lies in the region. In a region with up to
    80 different coordinates along either axis whose edges run along the axes it is the largest; otherwise it
    came within 1 % of the largest found by brute force (``tests/geometry/test_rectangles.py``).

    Parameters
    ----------
    region : Region
    angle_deg : float
        Direction of the rectangle's length, usually the grain.
    min_length_mm, min_width_mm : float
        A rectangle at least this long and wide is preferred over a larger one that is not.

    Returns
    -------
    (x, y, length, width) : tuple of float
        First corner in coordinates turned by minus ``angle_deg`` about the origin, and the size along and
        across, millimeters. All zero for the empty region.
    """
    rings = [Pose(angle_deg=-angle_deg).array(r) for r in region if len(r) >= 3]
    if not rings:
        return (0.0, 0.0, 0.0, 0.0)
    points = np.concatenate(rings)
    lo, hi = points.min(axis=0), points.max(axis=0)
    xs = _lines(points[:, 0], lo[0], hi[0])
    ys = _lines(points[:, 1], lo[1], hi[1])
    least = (min_length_mm * UM_PER_MM, min_width_mm * UM_PER_MM)
    x0, y0, x1, y1 = _largest_in_cells(_inside_rows(rings, xs, ys), xs, ys, least)
    h, v = float(np.diff(xs).max(initial=0.0)), float(np.diff(ys).max(initial=0.0))
    for _ in range(_PASSES if x1 > x0 and y1 > y0 else 0):
        xs, ys = _around(x0, x1, h, lo[0], hi[0]), _around(y0, y1, v, lo[1], hi[1])
        x0, y0, x1, y1 = _largest_in_cells(_inside_rows(rings, xs, ys), xs, ys, least)
        h, v = h / _LINES, v / _LINES
    k = UM_PER_MM
    return (x0 / k, y0 / k, (x1 - x0) / k, (y1 - y0) / k)


def _around(a: float, b: float, by: float, lo: float, hi: float) -> NDArray[np.float64]:
    """Grid lines at and around both sides of a rectangle, and none between."""
    offsets = by * np.arange(-_LINES, _LINES + 1) / _LINES
    marks = np.concatenate([a + offsets, b + offsets])
    return np.unique(marks[(marks >= lo) & (marks <= hi)])


def _lines(values: NDArray[np.float64], lo: float, hi: float, most: int = 160) -> NDArray[np.float64]:
    """Grid lines through vertices, thinned, and evenly between."""
    marks = np.unique(np.round(values, 3))
    if len(marks) > most // 2:
        marks = marks[np.linspace(0, len(marks) - 1, most // 2).astype(int)]
    return np.unique(np.concatenate([marks, np.linspace(lo, hi, most // 2)]))


def grow_box(rings: Sequence[NDArray[np.float64]], box: Box) -> Box:
    """Move the sides of a box in a region outwards, one after the other, until each touches an edge.

    Parameters
    ----------
    rings : sequence of (n, 2) float
        The region: outer rings and holes, in the unit of the box.
    box : Box
        Lies in the region.

    Returns
    -------
    Box
        The larger of what two orders of the sides give: left, right, below, above, and the other way about.
    """
    ends = [np.concatenate([ring[1:], ring[:1]]) for ring in rings]
    edges = np.concatenate([np.hstack([ring, end]) for ring, end in zip(rings, ends)])
    best = box
    for order in ((0, 2, 1, 3), (1, 3, 0, 2)):
        sides = list(box)
        for side in order:
            sides[side] = _reach(edges, sides, side)
        if (sides[2] - sides[0]) * (sides[3] - sides[1]) > (best[2] - best[0]) * (best[3] - best[1]):
            best = (sides[0], sides[1], sides[2], sides[3])
    return best


def _reach(edges: NDArray[np.float64], sides: Sequence[float], side: int) -> float:
    """Return how far a side of a box can go: to the first edge that runs between its neighbors.

    Parameters
    ----------
    edges : (n, 4) float
        From x, y to x, y.
    sides : sequence of float
        As ``Box``.
    side : int
        Index into it.
    """
    along, across = side % 2, 1 - side % 2
    sign = -1.0 if side < 2 else 1.0
    low, high = sides[across], sides[across + 2]
    p, q = edges[:, (across, along)], edges[:, (across + 2, along + 2)]
    least, most = np.minimum(p[:, 0], q[:, 0]), np.maximum(p[:, 0], q[:, 0])
    between = (least < high) & (most > low)
    p, q = p[between], q[between]
    rise = q[:, 0] - p[:, 0]
    slope = np.divide(q[:, 1] - p[:, 1], rise, out=np.zeros_like(rise), where=rise != 0.0)
    # where each edge enters and leaves the band between the neighbors
    first = p[:, 1] + slope * (np.clip(p[:, 0], low, high) - p[:, 0])
    last = q[:, 1] + slope * (np.clip(q[:, 0], low, high) - q[:, 0])
    near = np.minimum(sign * first, sign * last)
    here = sign * sides[side]
    # an edge on the side itself stops it; what lies behind it lies behind the whole box
    beyond = near[np.maximum(sign * first, sign * last) >= here - 1e-6]
    return sign * max(here, float(beyond.min())) if len(beyond) else sides[side]
