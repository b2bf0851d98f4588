"""The last word on a layout: exact tests on the grid, and the small moves that make it pass them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.offset import grow
from nestyield.model import NestyieldError
from nestyield.nesting.exact import edge_rows, interiors_meet, lies_in
from nestyield.nesting.moves import Tables, fresh_state
from nestyield.nesting.packer import Packing
from nestyield.nesting.rounding import round_to_grid
from nestyield.nesting.shapes import FeasibleRegions, OrientedShape


@dataclass(slots=True, kw_only=True)
class Certifier:
    """Tests places of parts in bins exactly: gaps to each other, and allowed regions.

    Parameters
    ----------
    shapes : sequence of OrientedShape
    gap_um : int
    feasible : sequence of FeasibleRegions
        By bin and shape: allowed places of the shape's corner; None for the whole box.
    """

    shapes: Sequence[OrientedShape]
    gap_um: int
    feasible: Sequence[FeasibleRegions]
    _rows: list[NDArray[np.int64]] = field(init=False)
    _grown: dict[tuple[int, int], NDArray[np.int64]] = field(init=False)
    _regions: dict[tuple[int, int], NDArray[np.int64]] = field(init=False)

    def __post_init__(self) -> None:
        self._rows = [edge_rows(s.rings) for s in self.shapes]
        self._grown = {}
        self._regions = {}

    def _standing(self, s: int, moving: int) -> NDArray[np.int64]:
        gap = self.gap_um + max(self.shapes[s].wider, self.shapes[moving].wider)
        if not gap:
            return self._rows[s]
        if (s, gap) not in self._grown:
            self._grown[s, gap] = edge_rows(grow(list(self.shapes[s].rings), gap))
        return self._grown[s, gap]

    def bad_pairs(self, packing: Packing, places: NDArray[np.int64]) -> list[tuple[int, int]]:
        """Pairs of parts too near each other, and (part, n + bin) for parts outside their region."""
        n = len(packing.kinds)
        out = []
        sizes = np.array([self.shapes[int(s)].size for s in packing.shape]).reshape(-1, 2)
        most = self.gap_um + max((s.wider for s in self.shapes), default=0) + 8
        low, high = places - most, places + sizes + most
        for i in range(n):
            hit = (packing.bin[i + 1 :] == packing.bin[i]) & (
                (low[i + 1 :] < high[i]) & (high[i + 1 :] > low[i])
            ).all(axis=1)
            for j in (np.flatnonzero(hit) + i + 1).tolist():
                a, b = (i, j) if packing.shape[i] <= packing.shape[j] else (j, i)
                d = places[b] - places[a]
                if interiors_meet(
                    self._standing(int(packing.shape[a]), int(packing.shape[b])),
                    self._rows[int(packing.shape[b])],
                    int(d[0]),
                    int(d[1]),
                ):
                    out.append((i, j))
            if not self._allowed(int(packing.bin[i]), int(packing.shape[i]), places[i]):
                out.append((i, n + int(packing.bin[i])))
        return out

    def _allowed(self, b: int, s: int, at: NDArray[np.int64]) -> bool:
        region: Any = self.feasible[b][s]
        if region is None:
            return True
        if not len(region):
            return False
        key = (b, s)
        if key not in self._regions:
            self._regions[key] = edge_rows(region)
        return bool(lies_in(self._regions[key], int(at[0]), int(at[1])))

    def round_to_grid(self, tab: Any, packing: Packing, boxes: NDArray[np.float64]) -> Packing | None:
        """Round a packing to whole micrometers so that it passes every test; None when that fails."""
        n = len(packing.kinds)
        count = len(boxes)
        st = fresh_state(np.asarray(packing.kinds, dtype=np.int32), count, boxes.copy())
        st.pos[:n], st.shape[:n], st.bin[:n] = packing.pos, packing.shape, packing.bin
        st.shape[n:] = len(self.shapes) + np.arange(count)
        st.bin[n:] = np.arange(count)
        tables: Tables = tab
        places = round_to_grid(tables, st, lambda p: self.bad_pairs(packing, p), reach=1000.0)
        if places is None:
            return None
        return Packing(
            kinds=packing.kinds, shape=packing.shape, bin=packing.bin, pos=places.astype(np.float64)
        )

    def require(self, packing: Packing) -> None:
        """Raise when a rounded packing does not pass."""
        places = np.rint(packing.pos).astype(np.int64)
        bad = self.bad_pairs(packing, places)
        if bad or (places != packing.pos).any():
            raise NestyieldError(f"expected a layout without overlap, found clashes between {bad[:5]}")
