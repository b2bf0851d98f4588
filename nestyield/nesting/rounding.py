"""From a layout in doubles to whole grid places that are valid to the last unit.

Rounding keeps every contact along an axis, because it keeps order. Contacts along slanted edges may
come to overlap by a unit; those pairs, and only those, are moved apart by a unit or two.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.compaction import shorten
from nestyield.nesting.moves import State, Tables


def round_to_grid(
    tab: Tables,
    st: State,
    bad_pairs: Callable[[NDArray[np.int64]], list[tuple[int, int]]],
    *,
    reach: float,
    snaps: Sequence[int] = (),
    rounds: int = 30,
) -> NDArray[np.int64] | None:
    """Round a layout to whole places without overlap; None when that fails.

    Parameters
    ----------
    tab, st : Tables, State
        ``st.pos`` is free of overlap up to rounding; it is moved a little.
    bad_pairs : callable
        Exact test: gives the pairs of bodies that overlap at whole places.
    reach : float
        How far parts may move to make room, grid units.
    snaps : sequence of int
        Coarser lattices to try first, grid units.
    rounds : int
    """
    n = st.kind.shape[0]
    shape = st.shape[:n]
    sizes = np.rint(tab.size[shape]).astype(np.int64)
    box = np.rint(st.bin_box[st.bin[:n]]).astype(np.int64)

    def whole(unit: int, turn: int = 0) -> NDArray[np.int64]:
        nudge = (turn * 0.618) % 0.9 - (0.45 if turn else 0.0)  # contacts that lie at half units
        places = (np.rint(st.pos[:n] / unit + nudge) * unit).astype(np.int64)
        np.maximum(places, box[:, :2], out=places)
        np.minimum(places, box[:, 2:] - sizes, out=places)
        return places

    for unit in (*snaps, 1):
        places = whole(unit)
        if np.abs(places - st.pos[:n]).max() <= max(2.0, 1e-4 * reach) and not bad_pairs(places):
            return places
    tighten = np.zeros((len(st.pos), len(st.pos)))
    for turn in range(rounds):
        places = whole(1, turn)
        bad = bad_pairs(places)
        if not bad:
            return places
        for i, j in bad:
            step = 1.0 if tighten[i, j] < 4.0 else tighten[i, j]
            tighten[i, j] += step
            tighten[j, i] += step
        if shorten(tab, st, reach=reach, tighten=tighten, near=8.0, max_rounds=1) == np.inf:
            return None
    return None
