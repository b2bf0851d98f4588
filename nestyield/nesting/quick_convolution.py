"""The convolution of two rings as one kernel: the twin of ``geometry.convolution``, with the same paths.

Everything is done in whole numbers; directions are put in order by cross products. Once the compiler is
loaded for a search anyway, regions are worked out with it; what searches for nothing does not load it.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.minkowski import Window, use
from nestyield.nesting.jit import kernel

_Whole = NDArray[np.int64]


@kernel
def _edges(ring: Any) -> Any:
    """Return the edges that leave the vertices of a ring."""
    n = len(ring)
    out = np.empty((n, 2), dtype=np.int64)
    for k in range(n):
        after = k + 1 if k + 1 < n else 0
        out[k, 0] = ring[after, 0] - ring[k, 0]
        out[k, 1] = ring[after, 1] - ring[k, 1]
    return out


@kernel
def _distinct(ring: Any) -> Any:
    """Drop vertices equal to the one before."""
    n, m = len(ring), 0
    out = np.empty((n, 2), dtype=np.int64)
    for k in range(n):
        if ring[k, 0] != ring[k - 1, 0] or ring[k, 1] != ring[k - 1, 1]:
            out[m] = ring[k]
            m += 1
    return out[:m]


@kernel
def _turn(x: int, y: int) -> int:
    """Return in which stretch from minus to plus 180 degrees a direction lies."""
    if y < 0:
        return 0
    if y > 0:
        return 2
    return 1 if x > 0 else 3


@kernel
def _after(one: Any, other: Any) -> bool:
    """Tell whether a direction comes after another one; equal ones do not."""
    a, b = _turn(one[0], one[1]), _turn(other[0], other[1])
    if a != b:
        return a > b
    return bool(one[0] * other[1] - one[1] * other[0] < 0)


@kernel
def _in_order(edges: Any) -> Any:
    """Return edges by rising direction, equal ones as they come."""
    n = len(edges)
    order, spare = np.arange(n), np.empty(n, dtype=np.int64)
    width = 1
    while width < n:
        for low in range(0, n, 2 * width):
            middle, high = min(low + width, n), min(low + 2 * width, n)
            i, j = low, middle
            for k in range(low, high):
                if i < middle and (j >= high or not _after(edges[order[i]], edges[order[j]])):
                    spare[k] = order[i]
                    i += 1
                else:
                    spare[k] = order[j]
                    j += 1
        order, spare = spare, order
        width *= 2
    return order


@kernel
def _beyond(ranks: Any, order: Any, rank: int) -> int:
    """Return how many of some edges in order have a rank up to this one."""
    low, high = 0, len(order)
    while low < high:
        middle = (low + high) // 2
        if ranks[order[middle]] <= rank:
            low = middle + 1
        else:
            high = middle
    return low


@kernel
def _laid(da: Any, ra: Any, rb: Any, order: Any, found: Any, count: int) -> int:
    """List vertices of A, edges of B in their turn, and whether it is to the left; without a list, count."""
    for i in range(len(da)):
        ix, iy, ox, oy = da[i - 1, 0], da[i - 1, 1], da[i, 0], da[i, 1]
        cross = ix * oy - iy * ox
        left = cross > 0 or (cross == 0 and ix * ox + iy * oy < 0)
        if not left and not cross < 0:
            continue
        low, high = (ra[i - 1], ra[i]) if left else (ra[i], ra[i - 1])
        first = _beyond(rb, order, low)
        many = _beyond(rb, order, high - 1) - first
        if high < low:
            many += len(rb)
        if len(found):
            for k in range(many):
                found[count + k, 0] = i
                found[count + k, 1] = order[(first + k) % len(rb)]
                found[count + k, 2] = left
        count += many
    return count


@kernel
def _sorted_by(keys: Any, n: int, m: int) -> Any:
    """Return the order of keys i * m + j with i below n and j below m, equal ones as they come."""
    count = len(keys)
    first, second = np.empty(count, dtype=np.int64), np.empty(count, dtype=np.int64)
    at = np.zeros(m + 1, dtype=np.int64)
    for k in range(count):
        at[keys[k] % m + 1] += 1
    for k in range(m):
        at[k + 1] += at[k]
    for k in range(count):
        j = keys[k] % m
        first[at[j]] = k
        at[j] += 1
    at = np.zeros(n + 1, dtype=np.int64)
    for k in range(count):
        at[keys[k] // m + 1] += 1
    for k in range(n):
        at[k + 1] += at[k]
    for k in range(count):
        i = keys[first[k]] // m
        second[at[i]] = first[k]
        at[i] += 1
    return second


@kernel
def _near(path: Any, count: int, window: Any) -> int:
    """Shorten a closed path in place as ``geometry.convolution.near`` does; return its length."""
    beyond = np.empty(count, dtype=np.bool_)
    for side in range(4):
        axis, bound = side // 2, window[(0, 2, 1, 3)[side]]
        some = False
        for k in range(count):
            beyond[k] = path[k, axis] > bound if side % 2 else path[k, axis] < bound
            some = some or beyond[k]
        if not some:
            continue
        kept, first, before = 0, beyond[0], beyond[count - 1]
        for k in range(count):
            here = beyond[k]
            after = beyond[k + 1] if k + 1 < count else first
            if not (here and before and after):
                path[kept] = path[k]
                kept += 1
            before = here
        count = kept
        if count < 3:
            return 0
    return count


@kernel
def _convolution(a: Any, b: Any, window: Any, times: int) -> Any:
    """Return the paths of the convolution end to end, and where each ends."""
    a, b = _distinct(a), _distinct(b)
    n, m = len(a), len(b)
    if n < 3 or m < 3:
        return np.empty((0, 2), dtype=np.int64), np.empty(0, dtype=np.int64)
    da, db = _edges(a), _edges(b)
    both = np.concatenate((da, db))
    order = _in_order(both)
    rank = np.empty(n + m, dtype=np.int64)
    group = 0
    for k in range(n + m):
        if k and _after(both[order[k]], both[order[k - 1]]):
            group += 1
        rank[order[k]] = 2 * group
    ra, rb = rank[:n].copy(), rank[n:] + 1
    order_a, order_b = order[order < n], order[order >= n] - n
    none = np.empty((0, 3), dtype=np.int64)
    of_a = _laid(da, ra, rb, order_b, none, 0)
    every = _laid(db, rb, ra, order_a, none, of_a)
    found = np.empty((every, 3), dtype=np.int64)
    _laid(da, ra, rb, order_b, found, 0)
    _laid(db, rb, ra, order_a, found, of_a)
    start, end = np.empty(every, dtype=np.int64), np.empty(every, dtype=np.int64)
    for k in range(every):
        if k < of_a:
            i, j = found[k, 0], found[k, 1]
            tail, head = i * m + j, i * m + (j + 1) % m
        else:
            i, j = found[k, 1], found[k, 0]
            tail, head = i * m + j, ((i + 1) % n) * m + j
        start[k], end[k] = (tail, head) if found[k, 2] else (head, tail)
    by_start, by_end = _sorted_by(start, n, m), _sorted_by(end, n, m)
    follows = np.empty(every, dtype=np.int64)
    for k in range(every):
        follows[by_end[k]] = by_start[k]
    points, ends = np.empty((every, 2), dtype=np.int64), np.empty(every, dtype=np.int64)
    seen = np.zeros(every, dtype=np.bool_)
    have, paths = 0, 0
    for k in range(every):
        if seen[k]:
            continue
        at, count = k, 0
        while not seen[at]:
            seen[at] = True
            p, q = start[at] // m, start[at] % m
            points[have + count, 0] = a[p, 0] + b[q, 0]
            points[have + count, 1] = a[p, 1] + b[q, 1]
            count += 1
            at = follows[at]
        if count >= 3 and len(window):
            count = _near(points[have : have + count], count, window)
        if count >= 3:
            have += count
            ends[paths] = have
            paths += 1
    return points[:have] * times, ends[:paths]


_NO_WINDOW = np.empty(0, dtype=np.int64)


def quick_convolution(a: _Whole, b: _Whole, window: Window | None, times: int) -> list[_Whole]:
    """Return the convolution of two rings as closed paths, shortened to a window and multiplied.

    Parameters
    ----------
    a, b : int64 array, shape (n, 2)
    window : (x least, y least, x most, y most) or None
    times : int
    """
    wanted = _NO_WINDOW if window is None else np.array(window, dtype=np.int64)
    points, ends = _convolution(
        np.ascontiguousarray(a, dtype=np.int64), np.ascontiguousarray(b, dtype=np.int64), wanted, times
    )
    out, first = [], 0
    for last in ends.tolist():
        out.append(points[first:last])
        first = last
    return out


def install() -> None:
    """Let all regions be worked out by the compiled twin from now on, unless the compiler is off."""
    if not numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        use(quick_convolution)
