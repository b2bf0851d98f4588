"""Whether given parts go into given containers together: overlap search over one or several bins."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.moves import State, Tables, fresh_state, make_scratch
from nestyield.nesting.overlap_search import guided_local_search, measure_all
from nestyield.nesting.search_line import Tuning


@dataclass(slots=True, kw_only=True)
class Packing:
    """Places of parts in bins, free of overlap up to rounding.

    Parameters
    ----------
    kinds : (n,) int32
    shape, bin : (n,) int32
    pos : (n, 2) float
        Lower left corners of bounds, grid units.
    """

    kinds: NDArray[np.int32]
    shape: NDArray[np.int32]
    bin: NDArray[np.int32]
    pos: NDArray[np.float64]


@dataclass(slots=True)
class Packer:
    """Searches for packings; counts its evaluations.

    Parameters
    ----------
    tab : Tables
    shape_count : int
        Shapes of parts; the complement of container ``b`` is shape ``shape_count + b``.
    boxes : (B, 4) float
        Bounds of the containers.
    rng : numpy.random.Generator
    tuning : Tuning
    stop : callable
    evaluations : int
    near : list of (float, Packing)
        What the trials of the last search that failed ended at: total overlap, and the arrangement.
    """

    tab: Tables
    shape_count: int
    boxes: NDArray[np.float64]
    rng: np.random.Generator
    tuning: Tuning
    stop: Callable[[], bool] = lambda: False
    evaluations: int = 0
    near: list[tuple[float, Packing]] = field(default_factory=list)
    _samples: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        self._samples = np.array(self.tuning.samples, dtype=np.int64)

    def choices(self, kind: int, bins: Sequence[int]) -> list[tuple[int, int]]:
        """Pairs (shape, bin) in which a part of that kind fits by its bounds."""
        tab = self.tab
        own = tab.shapes[tab.shapes_start[kind] : tab.shapes_start[kind + 1]]
        out = []
        for b in bins:
            w, h = self.boxes[b, 2] - self.boxes[b, 0], self.boxes[b, 3] - self.boxes[b, 1]
            for s in own:
                low, high = tab.pos_bounds[b, s, :2], tab.pos_bounds[b, s, 2:]
                if tab.size[s, 0] <= w and tab.size[s, 1] <= h and (low <= high).all():
                    out.append((int(s), b))
        return out

    def _drop(self, kind: int, bins: Sequence[int]) -> tuple[int, int, NDArray[np.float64]] | None:
        options = self.choices(kind, bins)
        if not options:
            return None
        s, b = options[int(self.rng.random() * len(options))]
        low = np.maximum(self.tab.pos_bounds[b, s, :2], self.boxes[b, :2])
        high = np.minimum(self.tab.pos_bounds[b, s, 2:], self.boxes[b, 2:] - self.tab.size[s])
        return s, b, low + self.rng.random(2) * np.maximum(high - low, 0.0)

    def pack(
        self,
        kinds: Sequence[int],
        bins: Sequence[int],
        effort: int,
        start: Packing | None = None,
        box: NDArray[np.float64] | None = None,
    ) -> Packing | None:
        """Look for a packing of the parts in the bins.

        Parameters
        ----------
        kinds : sequence of int
            One a part. With ``start``, its parts come first, in its order.
        bins : sequence of int
        effort : int
            Evaluations.
        start : Packing, optional
            Where the search begins; further parts are dropped anywhere.
        box : (B, 4) float, optional
            Bounds to use instead of the containers'.
        """
        n = len(kinds)
        boxes = self.boxes if box is None else box
        count = len(boxes)
        bodies = n + count
        st = fresh_state(np.array(kinds, dtype=np.int32), count, boxes.copy())
        for b in set(range(count)) - set(bins):  # closed: nothing fits
            st.bin_box[b] = (0.0, 0.0, -1.0, -1.0)
        for b in range(count):
            st.shape[n + b] = self.shape_count + b
            st.bin[n + b] = b
        first = 0
        if start is not None:
            first = len(start.kinds)
            st.pos[:first], st.shape[:first], st.bin[:first] = start.pos, start.shape, start.bin
        self._scatter(st, first, n, bins)
        if not self._fits:
            self.evaluations += 100  # effort is spent, or a caller would ask for ever
            return None
        ws = make_scratch(bodies)
        kept = (st.pos.copy(), st.shape.copy(), st.bin.copy())
        memory = np.array([math.inf, 0.0])
        tol = 1e-7 * float(max(boxes[b, 3] - boxes[b, 1] for b in bins))
        measure_all(self.tab, st)
        retries = 0
        self.near.clear()
        while ws.tally[0] < effort and not self.stop():
            size = min(400_000, effort - int(ws.tally[0]))
            v = guided_local_search(
                self.tab, st, ws, self.rng, *kept, self._samples, tol, size, self.tuning.patience, memory
            )
            ws.tally[0] += 50
            if v <= tol:
                self.evaluations += int(ws.tally[0])
                return Packing(kinds=st.kind, shape=kept[1][:n], bin=kept[2][:n], pos=kept[0][:n])
            if memory[1] >= self.tuning.patience:
                self._note(float(v), st.kind, kept)
                retries += 1
                st.weight[:] = 1.0
                if retries % self.tuning.trials:
                    st.pos[:], st.shape[:], st.bin[:] = kept
                    memory[1] = 0.0
                else:
                    self._shake(st, n, bins)
                    memory[:] = (math.inf, 0.0)
                measure_all(self.tab, st)
        if 0.0 < memory[1] < self.tuning.patience and math.isfinite(memory[0]):
            self._note(float(memory[0]), st.kind, kept)
        self.evaluations += int(ws.tally[0])
        return None

    def _note(
        self,
        overlap: float,
        kinds: NDArray[np.int32],
        kept: tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32]],
    ) -> None:
        n = len(kinds)
        pos, shape, where = kept[0][:n].copy(), kept[1][:n].copy(), kept[2][:n].copy()
        self.near.append((overlap, Packing(kinds=kinds, shape=shape, bin=where, pos=pos)))

    _fits: bool = True

    def _scatter(self, st: State, first: int, n: int, bins: Sequence[int]) -> None:
        self._fits = True
        for i in range(first, n):
            drop = self._drop(int(st.kind[i]), bins)
            if drop is None:
                self._fits = False
                return
            st.shape[i], st.bin[i], st.pos[i] = drop

    def _shake(self, st: State, n: int, bins: Sequence[int]) -> None:
        """Start elsewhere: all parts anew, or a few of them."""
        if self.rng.random() < 0.3:
            self._scatter(st, 0, n, bins)
            return
        for i in self.rng.choice(n, max(1, min(n, n // 6)), replace=False):
            drop = self._drop(int(st.kind[i]), bins)
            if drop is not None:
                st.shape[i], st.bin[i], st.pos[i] = drop
