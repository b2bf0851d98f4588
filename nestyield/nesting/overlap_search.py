"""Kernel that takes overlaps out of an arrangement by moving one part at a time.

Guided local search: pairs that still overlap grow heavier, others slowly lighter
(ideas: Egeblad, Nielsen, Odgaard 2007; Umetani et al. 2009; Imamichi et al. 2009;
Elkeran 2013; Gardeyn, Vanden Berghe, Wauters 2025).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from nestyield.nesting.jit import kernel
from nestyield.nesting.moves import measure, move


@kernel
def measure_all(tab: Any, st: Any) -> float:
    """Recompute every overlap; returns the sum over pairs."""
    n = st.kind.shape[0]
    total = 0.0
    for i in range(n):
        measure(tab, st, i)
    for i in range(n):
        for j in range(i + 1, st.pos.shape[0]):
            total += st.overlap[i, j]
    return total


@kernel
def guided_local_search(
    tab: Any,
    st: Any,
    ws: Any,
    rng: Any,
    best_pos: Any,
    best_shape: Any,
    best_bin: Any,
    samples: Any,
    tol: float,
    budget: int,
    patience: int,
    memory: Any,
) -> float:
    """Run passes until nothing overlaps, ``patience`` passes bring nothing, or ``budget`` is spent.

    The best arrangement met is left in ``best_*``; returns its total overlap. ``memory`` keeps
    (best total, passes without gain) between calls.
    """
    n = st.kind.shape[0]
    bodies = st.pos.shape[0]
    order = np.empty(n, dtype=np.int64)
    end = ws.tally[0] + budget
    best = memory[0]
    stale = memory[1]
    while True:
        m = 0
        for i in range(n):
            row = 0.0
            for j in range(bodies):
                row += st.overlap[i, j]
            if row > tol:
                order[m] = i
                m += 1
        for a in range(m - 1, 0, -1):
            c = int(rng.random() * (a + 1))
            order[a], order[c] = order[c], order[a]
        for a in range(m):
            i = order[a]
            row = 0.0
            for j in range(bodies):
                row += st.overlap[i, j]
            if row > tol:
                move(tab, st, ws, rng, i, samples, 0.0)
        total = 0.0
        top = 0.0
        for i in range(n):
            for j in range(i + 1, bodies):
                v = st.overlap[i, j]
                total += v
                top = max(top, v)
        ws.tally[1] += 1
        if total < best:
            if total < 0.98 * best:
                stale = 0.0
            best = total
            for i in range(bodies):  # slices compile for seconds
                best_pos[i, 0], best_pos[i, 1] = st.pos[i, 0], st.pos[i, 1]
                best_shape[i] = st.shape[i]
                best_bin[i] = st.bin[i]
            if total <= tol:
                break
        stale += 1.0
        for i in range(n):
            for j in range(i + 1, bodies):
                v = st.overlap[i, j]
                if v > tol:
                    w = st.weight[i, j] * (1.0 + v / top)
                else:
                    w = max(1.0, st.weight[i, j] * 0.95)
                st.weight[i, j] = w
                st.weight[j, i] = w
        if stale >= patience or ws.tally[0] >= end:
            break
    memory[0] = best
    memory[1] = stale
    return float(best)
