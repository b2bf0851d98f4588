"""Linear programs that shorten a layout while its parts keep to their sides of each other.

The constraints of a pair come from :mod:`nestyield.nesting.sides`. Every solution of the program is free of
overlap, so no step is undone.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.jit import kernel
from nestyield.nesting.linear import solve
from nestyield.nesting.sides import pair_sides


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
        free = (used - st.pos[i, 0] - width[i]) / reach
        if free < 2.6:
            start[m] = f
            column[f] = 2 * i
            column[f + 1] = 2 * n
            factor[f] = 1.0
            factor[f + 1] = 1.0
            f += 2
            least[m] = -math.inf
            most[m] = free
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
        Used length, grid units; infinity when the first program has no solution within ``linear.MOST_STEPS``.
    """
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
            sides = csr_matrix((factor[:f], column[:f], start[: m + 1]), shape=(m, 2 * n + 1))
            answer = solve(low, high, goal, least[:m], most[:m], sides)
            if answer is not None:
                break
            if last < math.inf or slack == 0.0 or strict or tighten is not None:
                return last
            slack = 0.0  # residual overlaps may stay
        moves = answer[: 2 * n].reshape(n, 2)
        st.pos[:n] += reach * moves
        new = float((st.pos[:n, 0] + width).max())
        gain = last - new if last < math.inf else used - new
        last = new
        if turn and gain < 1e-7 * used:
            break
    return last
