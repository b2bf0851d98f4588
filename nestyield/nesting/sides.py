"""The free side of a pair of parts, as rows of a linear program.

Around the present relative place of a pair, a convex cell free of their no-fit region is cut out
of a small square; its sides are the pair's linear constraints (ideas: Li, Milenkovic 1995;
Gomes, Oliveira 2006).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from nestyield.nesting.depth import depth_at
from nestyield.nesting.jit import kernel

MOST_SIDES = 64
"""Sides of a free cell that there is room for."""


@kernel
def free_cell(
    edges: Any, first: int, last: int, qx: float, qy: float, reach: float, near: float, out: Any
) -> int:
    """Cut a convex cell around q out of the complement of one no-fit region.

    Writes rows (nx, ny, c), meaning nx * x + ny * y >= c, to ``out``; returns how many, or -1
    when the cell needs more sides than there is room for.
    """
    m = last - first
    order = np.empty(m, dtype=np.int64)
    dist = np.empty(m)
    count = 0
    for i in range(m):
        e = first + i
        t = ((qx - edges[e, 0]) * edges[e, 2] + (qy - edges[e, 1]) * edges[e, 3]) * edges[e, 4]
        t = min(max(t, 0.0), 1.0)
        px = qx - edges[e, 0] - t * edges[e, 2]
        py = qy - edges[e, 1] - t * edges[e, 3]
        d = math.sqrt(px * px + py * py)
        if d < 1.5 * reach:
            k = count
            while k > 0 and dist[k - 1] > d:
                dist[k] = dist[k - 1]
                order[k] = order[k - 1]
                k -= 1
            dist[k] = d
            order[k] = e
            count += 1
    sides = 0
    for k in range(count):
        e = order[k]
        ax = edges[e, 0]
        ay = edges[e, 1]
        dx = edges[e, 2]
        dy = edges[e, 3]
        # the part of the edge inside the square and inside the sides found so far
        t0 = 0.0
        t1 = 1.0
        for w in range(4 + sides):
            if w == 0:
                f, g = ax - (qx - reach), dx
            elif w == 1:
                f, g = (qx + reach) - ax, -dx
            elif w == 2:
                f, g = ay - (qy - reach), dy
            elif w == 3:
                f, g = (qy + reach) - ay, -dy
            else:
                s = w - 4
                f = out[s, 0] * ax + out[s, 1] * ay - out[s, 2]
                g = out[s, 0] * dx + out[s, 1] * dy
            # keep f + t * g > 0, with a hair of tolerance for sides that touch
            f -= 1e-7
            if g > 0.0:
                t0 = max(t0, -f / g)
            elif g < 0.0:
                t1 = min(t1, -f / g)
            elif f <= 0.0:
                t1 = -1.0
        if t1 <= t0:
            continue
        if sides >= out.shape[0]:
            return -1
        length = math.sqrt(dx * dx + dy * dy)
        nx = dy / length  # the region lies to the left of its edges
        ny = -dx / length
        away = nx * (qx - ax) + ny * (qy - ay)
        if away >= dist[k] * 0.999 - near or dist[k] <= near:
            out[sides, 0] = nx
            out[sides, 1] = ny
            out[sides, 2] = nx * ax + ny * ay
        else:
            t = ((qx - ax) * dx + (qy - ay) * dy) * edges[e, 4]
            t = min(max(t, 0.0), 1.0)
            px = ax + t * dx
            py = ay + t * dy
            if away < 0.0 and 0.0 < t < 1.0:  # q lies inside: push it out over this edge
                out[sides, 0] = nx
                out[sides, 1] = ny
            else:
                out[sides, 0] = (qx - px) / dist[k]
                out[sides, 1] = (qy - py) / dist[k]
            out[sides, 2] = out[sides, 0] * px + out[sides, 1] * py
        sides += 1
    return sides


@kernel
def pair_sides(tab: Any, st: Any, reach: float, near: float, pairs: Any, rows: Any) -> int:
    """Collect the sides of every near pair: ``pairs`` gets (i, j), ``rows`` (nx, ny, c); returns how many.

    A row means nx * (x_i - x_j) + ny * (y_i - y_j) >= c. Returns -1 when there is no room, -2 when a
    cell has too many sides.
    """
    n = st.kind.shape[0]
    cell = np.empty((MOST_SIDES, 3))
    total = 0
    for i in range(n):
        s = st.shape[i]
        for j in range(st.pos.shape[0]):
            if (j < n and j <= i) or st.bin[i] != st.bin[j]:
                continue
            f = st.shape[j]
            k = tab.pair_region[f, s]
            if k < 0:
                continue
            sgn = tab.pair_sign[f, s]
            qx = sgn * (st.pos[i, 0] - st.pos[j, 0])
            qy = sgn * (st.pos[i, 1] - st.pos[j, 1])
            d, e = depth_at(tab.depth, k, qx, qy)
            if d > 0.0:  # overlapping: go by the nearest place where the two only touch
                g = tab.depth.edges[e]
                t = min(max(((qx - g[0]) * g[2] + (qy - g[1]) * g[3]) * g[4], 0.0), 1.0)
                qx = g[0] + t * g[2]
                qy = g[1] + t * g[3]
            b = tab.depth.boxes[k]
            if qx < b[0] - reach or qx > b[2] + reach or qy < b[1] - reach or qy > b[3] + reach:
                continue
            m = free_cell(
                tab.depth.edges,
                tab.depth.edge_start[k],
                tab.depth.edge_start[k + 1],
                qx,
                qy,
                reach,
                near,
                cell,
            )
            if m < 0:
                return -2
            if total + m > rows.shape[0]:
                return -1
            for a in range(m):
                pairs[total, 0] = i
                pairs[total, 1] = j
                rows[total, 0] = sgn * cell[a, 0]
                rows[total, 1] = sgn * cell[a, 1]
                rows[total, 2] = cell[a, 2]
                total += 1
    return total
