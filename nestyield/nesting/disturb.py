"""Ways to leave an arrangement from which no single move helps: a few parts change places at random."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.moves import Tables

SHARES = (("insert", 0.15), ("scatter", 0.2), ("swap", 0.15), ("large", 0.5))
"""How often each way is taken."""


def disturb(tab: Tables, st: Any, large: NDArray[np.int64], rng: np.random.Generator) -> str:
    """Move some parts of a strip; overlaps are not measured again.

    Parameters
    ----------
    tab, st : Tables, State
        The places in ``st.pos`` change; every part stays within the bounds of the first container.
    large : (m,) int
        The larger parts.
    rng : numpy.random.Generator

    Returns
    -------
    str
        ``"insert"`` (one part anywhere), ``"scatter"`` (some neighbors, over the box that they fill),
        ``"swap"`` (two parts of different kinds) or ``"large"`` (two large ones).
    """
    r = rng.random()
    way = SHARES[-1][0]
    for name, share in SHARES:
        r -= share
        if r < 0.0:
            way = name
            break
    n = st.kind.shape[0]
    if way == "insert":
        _drop(tab, st, np.array([int(rng.random() * n)]), np.zeros(2), st.bin_box[0, 2:4], rng)
    elif way == "scatter":
        _scatter(tab, st, rng)
    else:
        swap(tab, st, large if way == "large" else np.arange(n), rng)
    return way


def _drop(
    tab: Tables,
    st: Any,
    parts: NDArray[np.int64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    rng: np.random.Generator,
) -> None:
    """Put parts at random within bounds."""
    size = tab.size[st.shape[parts]]
    to = low + rng.random((len(parts), 2)) * np.maximum(high - low - size, 0.0)
    st.pos[parts] = np.clip(to, 0.0, np.maximum(st.bin_box[0, 2:4] - size, 0.0))


def _scatter(tab: Tables, st: Any, rng: np.random.Generator) -> None:
    """Scatter a part and its nearest neighbors, mostly few, over the box that they fill."""
    n = st.kind.shape[0]
    size = tab.size[st.shape[:n]]
    middle = st.pos[:n] + 0.5 * size
    far = ((middle - middle[int(rng.random() * n)]) ** 2).sum(axis=1)
    parts = np.argsort(far, kind="stable")[: min(n, 2 + int(rng.exponential(2.5)))]
    _drop(tab, st, parts, st.pos[parts].min(axis=0), (st.pos[parts] + size[parts]).max(axis=0), rng)


def swap(tab: Tables, st: Any, among: NDArray[np.int64], rng: np.random.Generator) -> None:
    """Exchange the places of two parts of different kinds, if there are two."""
    if len(among) < 2:
        return
    for _ in range(50):
        a, b = (int(v) for v in rng.choice(among, 2, replace=False))
        if st.kind[a] != st.kind[b]:
            break
    sa, sb = tab.size[st.shape[a]], tab.size[st.shape[b]]
    ca, cb = st.pos[a] + 0.5 * sa, st.pos[b] + 0.5 * sb
    limit = st.bin_box[0, 2:4]
    st.pos[a] = np.clip(cb - 0.5 * sa, 0.0, np.maximum(limit - sa, 0.0))
    st.pos[b] = np.clip(ca - 0.5 * sb, 0.0, np.maximum(limit - sb, 0.0))
