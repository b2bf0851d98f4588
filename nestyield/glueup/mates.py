"""Which rows may be glued to each other, and pairs of rows by blocks: no table of all rows by all rows is held."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from nestyield.model import GlueUpRules, Piece

#: Pairs looked at in one block, about.
BLOCK = 1_000_000
#: Sums are compared with so much to spare where another look follows.
SPARE = 1e-9

Rows = NDArray[np.int64]


class Mates:
    """Tells which rows may be glued to each other: species, moisture, board as the settings ask.

    Parameters
    ----------
    pieces : sequence of Piece
    rules : GlueUpRules
    """

    def __init__(self, pieces: Sequence[Piece], rules: GlueUpRules) -> None:
        kinds = {name: k for k, name in enumerate(sorted({p.species for p in pieces}))}
        boards = {name: k for k, name in enumerate(sorted({p.board for p in pieces}))}
        one_kind, one_board = not rules.mixed_species, rules.one_board
        self._kind = np.array([kinds[p.species] if one_kind else 0 for p in pieces], dtype=np.int64)
        self._board = np.array([boards[p.board] if one_board else 0 for p in pieces], dtype=np.int64)
        self._wet = np.array([np.nan if p.moisture_pct is None else p.moisture_pct for p in pieces])
        self._most = rules.moisture_difference + 1e-9
        self._told = list(zip(self._kind.tolist(), self._board.tolist(), self._wet.tolist()))

    def block(self, rows: Rows, others: Rows) -> NDArray[np.bool_]:
        """Return whether each of some rows may be glued to each of some others, shape (rows, others)."""
        same = self._kind[rows][:, None] == self._kind[others][None, :]
        same &= self._board[rows][:, None] == self._board[others][None, :]
        apart = np.abs(self._wet[rows][:, None] - self._wet[others][None, :])
        return np.asarray(same & ~(apart > self._most), dtype=np.bool_)

    def together(self, rows: Sequence[int]) -> bool:
        """Tell whether all of some rows may be glued to one another."""
        told = [self._told[r] for r in rows]
        return all(
            kind == other and board == on and not abs(wet - moist) > self._most
            for k, (kind, board, wet) in enumerate(told)
            for other, on, moist in told[k + 1 :]
        )


def blocks(rows: Rows, others: int) -> Iterator[Rows]:
    """Give rows in turn, so many at once that they make a block with so many others."""
    size = max(1, BLOCK // max(1, others))
    for k in range(0, len(rows), size):
        yield rows[k : k + size]


def rows_beside(
    others: Sequence[int],
    serving: Rows,
    mates: Mates,
    area: NDArray[np.float64],
    count: NDArray[np.int64],
    value: NDArray[np.float64],
    ends: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    least: float,
    below: float,
) -> list[int]:
    """Return the rows of which two members may stand beside some others, at a first look.

    None that may is left out: wood and value are compared with something to spare, and one order of the members
    must bridge the part.

    Parameters
    ----------
    others : sequence of int
    serving : array of int
    mates : Mates
    area, count, value : array
        Of every row.
    ends : (up, down, give)
        Of every row: the highest seam from below, the lowest from above, and what a row bridges between.
    least, below : float
        Least wood, and what the rows must cost less than.
    """
    up, down, give = ends
    if not mates.together(others):
        return []
    have = {o: list(others).count(o) for o in others}
    wood = area[serving] * np.minimum(2, count[serving])
    cost = value[serving].astype(np.float64)
    for o, n in have.items():
        own = serving == o
        wood = wood + np.where(
            own, area[o] * (min(n + 2, count[o]) - min(2, count[o])), area[o] * min(n, count[o])
        )
        cost = cost + np.where(own, 0.0, value[o])
    good = (wood * (1.0 + SPARE) >= least) & (cost <= below + SPARE)
    if others:
        good &= mates.block(serving, np.array(sorted(have), dtype=np.int64)).all(axis=1)
    bridged = np.zeros(len(serving), dtype=np.bool_)
    for order in sorted(set(permutations((-1, -1, *others)))):
        first, *inner, last = (serving if r < 0 else np.array([r]) for r in order)
        gap = down[last] - up[first]
        bridged |= np.isfinite(gap) & (sum((give[r] for r in inner), np.zeros(1)) + SPARE * 1e6 >= gap)
    return [int(r) for r in serving[good & bridged]]
