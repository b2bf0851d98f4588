"""One line of search on a strip: overlap minimization, compaction, reduction of the length.

Overlap is minimized for a given length by guided local search (Egeblad, Nielsen, Odgaard 2007; Imamichi,
Yagiura, Nagamochi 2009; Umetani et al. 2009). What is free of overlap, or nearly, is compacted and separated
by linear programs (Li, Milenkovic 1995; Gomes, Oliveira 2006). Then the length is reduced; what is stuck is
disturbed. Settings are those of our own measurements (``scripts/RESULTS-nesting.md``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.compaction import shorten
from nestyield.nesting.disturb import disturb
from nestyield.nesting.moves import Scratch, State, Tables, fresh_state, make_scratch
from nestyield.nesting.overlap_search import guided_local_search, measure_all


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """Settings of the search, found by measurement.

    Parameters
    ----------
    samples : tuple of int
        Candidate positions a shape: in the whole container, near the present one, at corners, less where
        there are more than two shapes; positions refined; most shapes tried a move.
    patience : int
        Passes without gain that end a trial.
    trials : int
        Trials from the best arrangement of a target length before another start is taken.
    step : float
        Share of the length taken off after each gain.
    reach : float
        Half side of the square of a linear program, in mean part sizes.
    pool : int
        Arrangements kept to start again from.
    removable : float
        Total overlap, in widths of the strip, up to which linear programs try to separate parts.
    marks : tuple of int
        Passes without gain after which they do, besides the end of a trial.
    stall : int
        Evaluations a line without a new best, and no fewer than it took to come there, after which lines
        start from nothing.
    """

    samples: tuple[int, int, int, int, int] = (20, 20, 20, 3, 8)
    patience: int = 120
    trials: int = 2
    step: float = 0.005
    reach: float = 0.3
    pool: int = 20
    removable: float = 0.015
    marks: tuple[int, ...] = (10, 30)
    stall: int = 100_000_000


@dataclass(slots=True, kw_only=True)
class Incumbent:
    """A layout free of overlap.

    Parameters
    ----------
    length : float
        Used length, grid units.
    pos : (n, 2) float
    shape : (n,) int
    """

    length: float
    pos: NDArray[np.float64]
    shape: NDArray[np.int32]

    def copy(self) -> Incumbent:
        """Copy the arrays too."""
        return Incumbent(length=self.length, pos=self.pos.copy(), shape=self.shape.copy())


@dataclass(slots=True)
class _Arrangement:
    overlap: float
    pos: NDArray[np.float64]
    shape: NDArray[np.int32]


@dataclass(slots=True)
class SearchLine:
    """A search line with its own state and random numbers.

    Parameters
    ----------
    tab : Tables
    kinds : (n,) int
    width : float
        Strip width, grid units.
    area : float
        Total area of the parts, square grid units.
    rng : numpy.random.Generator
    tuning : Tuning
    obstacle : int, optional
        Shape index of the container's complement; None for a plain strip.
    longest : float
        Length of the container, grid units.
    obstacle_at : (float, float)
        Where that complement stands.
    least : float
        Shorter than this is of no use, grid units.
    """

    tab: Tables
    kinds: NDArray[np.int32]
    width: float
    area: float
    rng: np.random.Generator
    tuning: Tuning
    obstacle: int | None = None
    longest: float = math.inf
    obstacle_at: tuple[float, float] = (0.0, 0.0)
    least: float = 0.0
    st: State = field(init=False)
    ws: Scratch = field(init=False)
    best: Incumbent | None = None
    stats: dict[str, int] = field(default_factory=dict)
    _kept_pos: NDArray[np.float64] = field(init=False)
    _kept_shape: NDArray[np.int32] = field(init=False)
    _kept_bin: NDArray[np.int32] = field(init=False)
    _memory: NDArray[np.float64] = field(init=False)
    _samples: NDArray[np.int64] = field(init=False)
    _pool: list[_Arrangement] = field(default_factory=list)
    _retried: int = 0
    _tol: float = 0.0
    _large: NDArray[np.int64] = field(init=False)
    _origin: str = "start"
    _tried: float = -1.0

    def __post_init__(self) -> None:
        n = len(self.kinds)
        bodies = n if self.obstacle is None else n + 1
        self.ws = make_scratch(bodies)
        self._tol = 1e-7 * self.width
        self._samples = np.array(self.tuning.samples, dtype=np.int64)
        self._memory = np.array([math.inf, 0.0])
        self.st = fresh_state(self.kinds, bodies - n, np.array([[0.0, 0.0, 0.0, self.width]]))
        if self.obstacle is not None:
            self.st.shape[n] = self.obstacle
            self.st.pos[n] = self.obstacle_at
        self._kept_pos = self.st.pos.copy()
        self._kept_shape = self.st.shape.copy()
        self._kept_bin = self.st.bin.copy()
        size = [float(np.prod(self.tab.size[self.tab.shapes[self.tab.shapes_start[k]]])) for k in self.kinds]
        self._large = np.argsort(-np.array(size), kind="stable")[: max(4, n // 2)]
        self.restart()

    def restart(self) -> None:
        """Begin from nothing, without a layout to beat."""
        part = max(self._fitting(int(k))[1] for k in self.kinds)
        self.best = None
        self._pool.clear()
        self._retried = 0
        self._origin = "start"
        self.scatter(min(max(self.area / (0.6 * self.width), part * 1.05), self.longest))

    def _fitting(self, kind: int) -> tuple[list[int], float]:
        """Shapes of a kind that fit the strip's width, and the least of their lengths."""
        tab = self.tab
        own = [int(s) for s in tab.shapes[tab.shapes_start[kind] : tab.shapes_start[kind + 1]]]
        fit = [
            s
            for s in own
            if tab.size[s, 1] <= self.width and tab.pos_bounds[0, s, 2] >= tab.pos_bounds[0, s, 0]
        ]
        return fit, min(float(tab.size[s, 0]) for s in fit)

    def scatter(self, length: float) -> None:
        """Put every part somewhere at random in a strip of that length."""
        st = self.st
        st.bin_box[0, 2] = length
        for i, kind in enumerate(self.kinds):
            fit = [s for s in self._fitting(int(kind))[0] if self.tab.size[s, 0] <= length]
            fit = fit or self._fitting(int(kind))[0]
            s = fit[int(self.rng.random() * len(fit))]
            st.shape[i] = s
            low = np.maximum(self.tab.pos_bounds[0, s, :2], 0.0)
            high = np.minimum(
                self.tab.pos_bounds[0, s, 2:], np.array([length, self.width]) - self.tab.size[s]
            )
            st.pos[i] = low + self.rng.random(2) * np.maximum(high - low, 0.0)
        self._begin()

    def _begin(self) -> None:
        self.st.weight[:] = 1.0
        self._memory[:] = (math.inf, 0.0)
        measure_all(self.tab, self.st)

    def target(self, length: float, start: Incumbent | None = None) -> None:
        """Aim at a length, from ``start`` or from where parts lie: what is right of a cut moves left."""
        st = self.st
        n = len(self.kinds)
        if start is not None:
            st.pos[:n] = start.pos
            st.shape[:n] = start.shape
            old = start.length
        else:
            old = float(st.bin_box[0, 2])
        cut = self.rng.random() * old
        sizes = self.tab.size[st.shape[:n]]
        right = np.flatnonzero(st.pos[:n, 0] + 0.5 * sizes[:, 0] > cut)
        st.pos[right, 0] -= old - length
        st.pos[:n, 0] = np.clip(st.pos[:n, 0], 0.0, np.maximum(length - sizes[:, 0], 0.0))
        st.bin_box[0, 2] = length
        self._retried = 0
        self._pool.clear()
        self._origin = "step"
        self._begin()

    def advance(self, budget: int) -> None:
        """Search for about ``budget`` evaluations."""
        end = int(self.ws.tally[0]) + budget
        patience = self.tuning.patience
        while self.ws.tally[0] < end:
            mark = min((m for m in self.tuning.marks if self._memory[1] < m < patience), default=patience)
            v = guided_local_search(
                self.tab,
                self.st,
                self.ws,
                self.rng,
                self._kept_pos,
                self._kept_shape,
                self._kept_bin,
                self._samples,
                self._tol,
                end - int(self.ws.tally[0]),
                mark,
                self._memory,
            )
            self.ws.tally[0] += 50
            if v <= self._tol:
                done = self._compacted(False)
                if done is not None:
                    self._accept(done)
                else:
                    self._end_trial(v)
            elif self._memory[1] >= mark and not self._separated(v) and self._memory[1] >= patience:
                self._end_trial(v)

    def _separated(self, overlap: float) -> bool:
        """Whether linear programs take the last small overlaps out of the kept arrangement."""
        if self.best is None or overlap == self._tried or overlap > self.tuning.removable * self.width:
            return False
        self._tried = overlap
        pos, shape = self.st.pos.copy(), self.st.shape.copy()
        done = self._compacted(True)
        self._count("programs")
        if done is not None and done.length < self.best.length * (1.0 - 1e-7):
            self._count("separated")
            self._accept(done)
            return True
        self.st.pos[:], self.st.shape[:] = pos, shape
        measure_all(self.tab, self.st)
        return False

    def _count(self, what: str) -> None:
        self.stats[what] = self.stats.get(what, 0) + 1

    def _reach(self) -> float:
        return self.tuning.reach * math.sqrt(self.area / len(self.kinds))

    def _compacted(self, strict: bool) -> Incumbent | None:
        """Compact the kept arrangement by linear programs, which also separate small overlaps."""
        st = self.st
        st.pos[:] = self._kept_pos
        st.shape[:] = self._kept_shape
        n = len(self.kinds)
        used = float((st.pos[:n, 0] + self.tab.size[st.shape[:n], 0]).max())
        self.ws.tally[0] += 500 + 200 * n  # about what the programs cost
        length = shorten(self.tab, st, reach=self._reach(), near=max(1.0, 4.0 * self._tol), strict=strict)
        if length < math.inf and measure_all(self.tab, st) <= 4.0 * self._tol:
            return Incumbent(length=length, pos=st.pos[:n].copy(), shape=st.shape[:n].copy())
        st.pos[:] = self._kept_pos
        if not strict and measure_all(self.tab, st) <= self._tol:
            return Incumbent(length=used, pos=st.pos[:n].copy(), shape=st.shape[:n].copy())
        return None

    def _accept(self, done: Incumbent) -> None:
        self._count(self._origin)
        if self.best is None or done.length < self.best.length:
            self.best = done
        loose = self.area / (self.width * self.best.length) < 0.7
        self.target(self.next_length(done.length, 2.0 if loose else 1.0), done)

    def next_length(self, length: float, steps: float = 1.0) -> float:
        """Return what to aim at after a layout of that length: no less than is of use."""
        return max(length * (1.0 - steps * self.tuning.step), self.least)

    def _end_trial(self, overlap: float) -> None:
        st = self.st
        if self.best is None:  # the first length was too short
            self.scatter(min(1.1 * float(st.bin_box[0, 2]), self.longest))
            return
        self._retried += 1
        if self._retried < self.tuning.trials:
            st.pos[:] = self._kept_pos
            st.shape[:] = self._kept_shape
            st.weight[:] = 1.0
            self._memory[1] = 0.0
            measure_all(self.tab, st)
            return
        self._retried = 0
        self._count("lost")
        self._pool.append(_Arrangement(overlap, self._kept_pos.copy(), self._kept_shape.copy()))
        self._pool.sort(key=lambda k: k.overlap)
        del self._pool[self.tuning.pool :]
        k = int(self.rng.random() * (len(self._pool) + 1) / 2.0)  # one of the better half
        st.pos[:] = self._pool[k].pos
        st.shape[:] = self._pool[k].shape
        self._origin = disturb(self.tab, st, self._large, self.rng)
        self._begin()
