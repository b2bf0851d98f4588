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

MOST_SIDES = 24


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

    A row means nx * (x_i - x_j) + ny * (y_i - y_j) >= c. Returns -1 when there is no room.
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
            if m < 0 or total + m > rows.shape[0]:
                return -1
            for a in range(m):
                pairs[total, 0] = i
                pairs[total, 1] = j
                rows[total, 0] = sgn * cell[a, 0]
                rows[total, 1] = sgn * cell[a, 1]
                rows[total, 2] = cell[a, 2]
                total += 1
    return total


def shorten(
    tab: Any,
    st: Any,
    *,
    reach: float,
    tighten: NDArray[np.float64] | None = None,
    near: float = 1.0,
    max_rounds: int = 12,
    pull: NDArray[np.float64] | None = None,
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
    pull : (n, 2) float, optional
        Small objective weights on the places, to choose among layouts of equal length.

    Returns
    -------
    float
        Used length, grid units; infinity when the first program has no solution.
    """
    from ortools.linear_solver import pywraplp

    n = st.kind.shape[0]
    width = tab.size[st.shape[:n], 0]
    height = tab.size[st.shape[:n], 1]
    capacity = 64 * n + 1024
    last = math.inf
    slack = math.inf
    for turn in range(max_rounds):
        pairs = np.zeros((capacity, 2), dtype=np.int64)
        rows = np.zeros((capacity, 3))
        count = pair_sides(tab, st, reach, near, pairs, rows)
        if count < 0:
            capacity *= 4
            if capacity > 10**7:
                return last
            continue
        scale = reach  # variables are moves in units of the reach, for the solver's tolerances
        solver = pywraplp.Solver.CreateSolver("GLOP")
        start = st.pos[:n].copy()
        x = []
        y = []
        for i in range(n):
            box = st.bin_box[st.bin[i]]
            lo_x = max(-0.5, (box[0] - start[i, 0]) / scale)
            lo_y = max(-0.5, (box[1] - start[i, 1]) / scale)
            hi_y = min(0.5, (box[3] - height[i] - start[i, 1]) / scale)
            x.append(solver.NumVar(lo_x, 0.5, ""))
            y.append(solver.NumVar(min(lo_y, hi_y), hi_y, ""))
        used = float((start[:, 0] + width).max())
        saved = solver.NumVar(-2.0, 2.0, "")  # used length becomes used - saved * scale
        infinity = solver.infinity()
        for i in range(n):
            room = (used - start[i, 0] - width[i]) / scale
            if room < 2.6:
                c = solver.Constraint(-infinity, room)
                c.SetCoefficient(x[i], 1.0)
                c.SetCoefficient(saved, 1.0)
        for a in range(count):
            i, j = int(pairs[a, 0]), int(pairs[a, 1])
            nx, ny, c0 = rows[a]
            xj, yj = st.pos[j]
            now = nx * (start[i, 0] - xj) + ny * (start[i, 1] - yj)
            extra = 0.0
            if tighten is not None and abs(nx) > 1e-12 and abs(ny) > 1e-12:
                extra = tighten[i, j] * (abs(nx) + abs(ny))
            c = solver.Constraint(min((c0 + extra - now) / scale, slack), infinity)
            c.SetCoefficient(x[i], nx)
            c.SetCoefficient(y[i], ny)
            if j < n:
                c.SetCoefficient(x[j], -nx)
                c.SetCoefficient(y[j], -ny)
        goal = solver.Objective()
        goal.SetCoefficient(saved, 1.0)
        for i in range(n):
            if pull is None:
                goal.SetCoefficient(x[i], -1e-4 / n)
            else:
                goal.SetCoefficient(x[i], float(pull[i, 0]))
                goal.SetCoefficient(y[i], float(pull[i, 1]))
        goal.SetMaximization()
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            if last < math.inf or slack == 0.0 or tighten is not None:
                return last
            slack = 0.0  # residual overlaps may stay
            continue
        for i in range(n):
            st.pos[i, 0] = start[i, 0] + scale * x[i].solution_value()
            st.pos[i, 1] = start[i, 1] + scale * y[i].solution_value()
        new = float((st.pos[:n, 0] + width).max())
        gain = last - new if last < math.inf else used - new
        last = new
        if turn and gain < 1e-7 * used:
            break
    return last
