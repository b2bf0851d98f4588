"""Exact tests on the integer grid: whether interiors of placed polygons meet.

Two regions overlap exactly when edges cross properly, a vertex of one lies inside the other,
or the sectors of their interiors at a shared boundary point overlap: every corner of an
overlap is one of the three. All products fit into 64 bits while coordinates stay
below 2**29 grid units.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.jit import inlined, kernel

LIMIT = 2**29
"""Coordinates must stay below this for products to be exact."""


@inlined
def _cross(ax: int, ay: int, bx: int, by: int) -> int:
    return ax * by - ay * bx


@inlined
def _strictly_between(d1x: int, d1y: int, d2x: int, d2y: int, rx: int, ry: int) -> bool:
    """Whether ray r lies strictly inside the sector that runs counter-clockwise from d1 to d2."""
    turn = _cross(d1x, d1y, d2x, d2y)
    if turn > 0:
        return _cross(d1x, d1y, rx, ry) > 0 and _cross(rx, ry, d2x, d2y) > 0
    if turn == 0 and d1x * d2x + d1y * d2y < 0:
        return _cross(d1x, d1y, rx, ry) > 0
    return not (_cross(d2x, d2y, rx, ry) >= 0 and _cross(rx, ry, d1x, d1y) >= 0)


@inlined
def _sectors_meet(a1x: int, a1y: int, a2x: int, a2y: int, b1x: int, b1y: int, b2x: int, b2y: int) -> bool:
    if _cross(a1x, a1y, b1x, b1y) == 0 and a1x * b1x + a1y * b1y > 0:
        return True
    if _strictly_between(b1x, b1y, b2x, b2y, a1x, a1y):
        return True
    return _strictly_between(a1x, a1y, a2x, a2y, b1x, b1y)


@inlined
def _half(a: Any, b: Any, bx: int, by: int) -> int:
    """Corners of ``a`` against edges and corners of ``b`` shifted by (bx, by); 1 when interiors meet.

    Rows: x, y, next x, next y, previous x, previous y.
    """
    for i in range(a.shape[0]):
        px = a[i, 0]
        py = a[i, 1]
        odd = False
        on = False
        for j in range(b.shape[0]):
            ux = b[j, 0] + bx
            uy = b[j, 1] + by
            vx = b[j, 2] + bx
            vy = b[j, 3] + by
            if py < min(uy, vy) or py > max(uy, vy):
                continue
            side = _cross(vx - ux, vy - uy, px - ux, py - uy)
            if side == 0 and min(ux, vx) <= px <= max(ux, vx):
                on = True
                if px == vx and py == vy:
                    continue  # seen as the start of the next edge
                b1x = vx - ux
                b1y = vy - uy
                if px == ux and py == uy:
                    b2x = b[j, 4] + bx - ux
                    b2y = b[j, 5] + by - uy
                else:
                    b2x = -b1x
                    b2y = -b1y
                if _sectors_meet(a[i, 2] - px, a[i, 3] - py, a[i, 4] - px, a[i, 5] - py, b1x, b1y, b2x, b2y):
                    return 1
            elif (uy > py) != (vy > py) and (side > 0) == (vy > uy):
                odd = not odd
        if odd and not on:
            return 1
    return 0


@kernel
def interiors_meet(a: Any, b: Any, bx: int, by: int) -> bool:
    """Whether region ``a`` and region ``b`` shifted by (bx, by) share an inner point; exact.

    Parameters
    ----------
    a, b : (n, 6) int64
        As :func:`edge_rows` makes them.
    bx, by : int
    """
    if _half(a, b, bx, by) == 1 or _half(b, a, -bx, -by) == 1:
        return True
    for i in range(a.shape[0]):
        ax = a[i, 0]
        ay = a[i, 1]
        dx = a[i, 2] - ax
        dy = a[i, 3] - ay
        for j in range(b.shape[0]):
            ux = b[j, 0] + bx
            uy = b[j, 1] + by
            vx = b[j, 2] + bx
            vy = b[j, 3] + by
            if (
                max(ux, vx) <= min(ax, ax + dx)
                or min(ux, vx) >= max(ax, ax + dx)
                or max(uy, vy) <= min(ay, ay + dy)
                or min(uy, vy) >= max(ay, ay + dy)
            ):
                if dx != 0 and dy != 0:
                    continue
                if max(ux, vx) < min(ax, ax + dx) or min(ux, vx) > max(ax, ax + dx):
                    continue
                if max(uy, vy) < min(ay, ay + dy) or min(uy, vy) > max(ay, ay + dy):
                    continue
            s1 = _cross(dx, dy, ux - ax, uy - ay)
            s2 = _cross(dx, dy, vx - ax, vy - ay)
            if (s1 > 0 and s2 < 0) or (s1 < 0 and s2 > 0):
                ex = vx - ux
                ey = vy - uy
                t1 = _cross(ex, ey, ax - ux, ay - uy)
                t2 = _cross(ex, ey, ax + dx - ux, ay + dy - uy)
                if (t1 > 0 and t2 < 0) or (t1 < 0 and t2 > 0):
                    return True
    return False


@kernel
def lies_in(region: Any, x: int, y: int) -> bool:
    """Whether the point (x, y) lies in the closed region; exact.

    Parameters
    ----------
    region : (n, 6) int64
        As :func:`edge_rows` makes it.
    """
    odd = False
    for j in range(region.shape[0]):
        ux = region[j, 0]
        uy = region[j, 1]
        vx = region[j, 2]
        vy = region[j, 3]
        if y < min(uy, vy) or y > max(uy, vy):
            continue
        side = _cross(vx - ux, vy - uy, x - ux, y - uy)
        if side == 0 and min(ux, vx) <= x <= max(ux, vx):
            return True
        if (uy > y) != (vy > y) and (side > 0) == (vy > uy):
            odd = not odd
    return odd


def edge_rows(rings: Sequence[NDArray[np.int64]]) -> NDArray[np.int64]:
    """Lay out rings (interior on the left) as rows of corner, next corner, previous corner."""
    blocks = [
        np.column_stack([r, np.roll(r, -1, axis=0), np.roll(r, 1, axis=0)]).astype(np.int64) for r in rings
    ]
    return np.ascontiguousarray(np.concatenate(blocks))
