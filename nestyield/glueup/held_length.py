"""How long the wood is that a member must hold below a seam, for many lengths of pieces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nestyield.geometry.grid import IntPoly


class HeldLength:
    """The length along X of what of a region lies no higher than a seam, seam by seam.

    Between two neighboring heights of corners only the edges that run from one to the other change it, so
    each question looks at those of one such band.

    Parameters
    ----------
    rings : sequence of int64 array, shape (n, 2)
        Whole micrometers.
    """

    def __init__(self, rings: Sequence[IntPoly]) -> None:
        self._tails = np.concatenate(rings)
        self._heads = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
        x, y = self._tails[:, 0], self._tails[:, 1]
        self._whole = int(np.ptp(x))
        self._rise = np.where(self._heads[:, 1] == y, 1, self._heads[:, 1] - y)
        self._run = self._heads[:, 0] - x
        self._heights = np.unique(y)
        at = self._heights[:, None]
        below = y[None, :] <= at
        cut = x + (at - y) / self._rise * self._run
        crossing = (y[None, :] > at) != (self._heads[None, :, 1] > at)
        self._least = np.where(below, x, np.inf).min(axis=1)
        self._most = np.where(below, x, -np.inf).max(axis=1)
        least = np.minimum(self._least, np.where(crossing, cut, np.inf).min(axis=1))
        most = np.maximum(self._most, np.where(crossing, cut, -np.inf).max(axis=1))
        self._lengths = np.maximum.accumulate(most - least)

    def seam(self, length_um: int) -> int | None:
        """Return the highest seam below which the wood is no longer than so much; None where it never is longer.

        The lowest corner's height where it is longer from the start.
        """
        if self._whole <= length_um:
            return None
        k = int(np.searchsorted(self._lengths, length_um, side="right")) - 1
        if k < 0:
            return int(self._heights[0])
        low, high = int(self._heights[k]), int(self._heights[k + 1])
        x, y = self._tails[:, 0], self._tails[:, 1]
        crossing = np.flatnonzero((y > low) != (self._heads[:, 1] > low))
        edges = [v[crossing].tolist() for v in (x, y, self._rise, self._run)]
        least, most = float(self._least[k]), float(self._most[k])
        while high - low > 1:
            at = (low + high) // 2
            cut = [a + (at - b) / rise * run for a, b, rise, run in zip(*edges)]
            if max(most, *cut) - min(least, *cut) <= length_um:
                low = at
            else:
                high = at
        return low
