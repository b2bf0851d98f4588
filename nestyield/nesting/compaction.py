"""Linear programs that shorten a layout while its parts keep to their sides of each other.

Around the present relative place of a pair, a convex cell free of their no-fit region is cut out
of a small square; its sides are the pair's linear constraints (ideas: Li, Milenkovic 1995;
Gomes, Oliveira 2006). Every solution of the program is free of overlap, so no step is undone.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

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


@kernel
def _program(
    st: Any,
    width: Any,
    height: Any,
    reach: float,
    slack: float,
    tighten: Any,
    pairs: Any,
    rows: Any,
    count: int,
    low: Any,
    high: Any,
    least: Any,
    most: Any,
    start: Any,
    column: Any,
    factor: Any,
) -> tuple[int, float]:
    """Lay out one linear program; returns its number of constraints and the used length.

    Variables are the moves (x, y) of each part in units of ``reach`` and, last, the length saved. Constraints
    come as compressed rows (``start``, ``column``, ``factor``) between ``least`` and ``most``.
    """
    n = st.kind.shape[0]
    used = -math.inf
    for i in range(n):
        box = st.bin_box[st.bin[i]]
        x = st.pos[i, 0]
        y = st.pos[i, 1]
        top = min(0.5, (box[3] - height[i] - y) / reach)
        low[2 * i] = max(-0.5, (box[0] - x) / reach)
        high[2 * i] = 0.5
        low[2 * i + 1] = min(max(-0.5, (box[1] - y) / reach), top)
        high[2 * i + 1] = top
        used = max(used, x + width[i])
    low[2 * n] = -2.0
    high[2 * n] = 2.0
    m = 0
    f = 0
    for i in range(n):
        room = (used - st.pos[i, 0] - width[i]) / reach
        if room < 2.6:
            start[m] = f
            column[f] = 2 * i
            column[f + 1] = 2 * n
            factor[f] = 1.0
            factor[f + 1] = 1.0
            f += 2
            least[m] = -math.inf
            most[m] = room
            m += 1
    for a in range(count):
        i = pairs[a, 0]
        j = pairs[a, 1]
        nx = rows[a, 0]
        ny = rows[a, 1]
        now = nx * (st.pos[i, 0] - st.pos[j, 0]) + ny * (st.pos[i, 1] - st.pos[j, 1])
        extra = 0.0
        if tighten.shape[0] and abs(nx) > 1e-12 and abs(ny) > 1e-12:
            extra = tighten[i, j] * (abs(nx) + abs(ny))
        start[m] = f
        column[f] = 2 * i
        column[f + 1] = 2 * i + 1
        factor[f] = nx
        factor[f + 1] = ny
        f += 2
        if j < n:
            column[f] = 2 * j
            column[f + 1] = 2 * j + 1
            factor[f] = -nx
            factor[f + 1] = -ny
            f += 2
        least[m] = min((rows[a, 2] + extra - now) / reach, slack)
        most[m] = math.inf
        m += 1
    start[m] = f
    return m, used


def shorten(
    tab: Any,
    st: Any,
    *,
    reach: float,
    tighten: NDArray[np.float64] | None = None,
    near: float = 1.0,
    max_rounds: int = 12,
    strict: bool = False,
) -> float:
    """Shorten the strip of a layout by linear programs; changes ``st.pos``; returns the used length.

    Parameters
    ----------
    tab, st : Tables, State
    reach : float
        Half side of the square in which a pair's relative place may change in one program, grid units.
    tighten : (N, N) float, optional
        Distance added to the sides of a pair that are not parallel to an axis, grid units, times |nx| + |ny|.
    near : float
        Distance that counts as contact, grid units.
    max_rounds : int
    strict : bool
        Give up at once when not every overlap can be taken out.

    Returns
    -------
    float
        Used length, grid units; infinity when the first program has no solution.
    """
    from ortools.linear_solver.python import model_builder_helper as lp
    from scipy.sparse import csr_matrix

    n = st.kind.shape[0]
    width = tab.size[st.shape[:n], 0]
    height = tab.size[st.shape[:n], 1]
    extra = np.zeros((0, 0)) if tighten is None else tighten
    goal = np.zeros(2 * n + 1)
    goal[0 : 2 * n : 2] = 1e-4 / n
    goal[2 * n] = -1.0
    low, high = np.empty(2 * n + 1), np.empty(2 * n + 1)
    capacity = 64 * n + 1024
    pairs, rows = np.empty((capacity, 2), dtype=np.int64), np.empty((capacity, 3))
    last = math.inf
    slack = math.inf
    for turn in range(max_rounds):
        count = pair_sides(tab, st, reach, near, pairs, rows)
        while count < 0:
            capacity *= 4
            if count < -1 or capacity > 10**7:
                return last
            pairs, rows = np.empty((capacity, 2), dtype=np.int64), np.empty((capacity, 3))
            count = pair_sides(tab, st, reach, near, pairs, rows)
        least, most = np.empty(n + count), np.empty(n + count)
        start = np.empty(n + count + 1, dtype=np.int32)
        column, factor = np.empty(2 * n + 4 * count, dtype=np.int32), np.empty(2 * n + 4 * count)
        while True:
            m, used = _program(
                st, width, height, reach, slack, extra, pairs, rows, count,
                low, high, least, most, start, column, factor,
            )  # fmt: skip
            f = start[m]
            model: Any = lp.ModelBuilderHelper()
            sides = csr_matrix((factor[:f], column[:f], start[: m + 1]), shape=(m, 2 * n + 1))
            model.fill_model_from_sparse_data(low, high, goal, least[:m], most[:m], sides)
            solver = lp.ModelSolverHelper("glop")
            solver.solve(model)
            if solver.has_solution() and solver.status() == lp.SolveStatus.OPTIMAL:
                break
            if last < math.inf or slack == 0.0 or strict or tighten is not None:
                return last
            slack = 0.0  # residual overlaps may stay
        moves = np.asarray(solver.variable_values())[: 2 * n].reshape(n, 2)
        st.pos[:n] += reach * moves
        new = float((st.pos[:n, 0] + width).max())
        gain = last - new if last < math.inf else used - new
        last = new
        if turn and gain < 1e-7 * used:
            break
    return last
