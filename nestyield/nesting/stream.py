"""One line of search on a strip: separate, shorten, shrink, and start again when stuck."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.compaction import shorten
from nestyield.nesting.moves import Scratch, State, Tables, fresh_state, make_scratch
from nestyield.nesting.separate import measure_all, separate


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """Settings of the search, found by measurement.

    Parameters
    ----------
    samples : tuple of int
        Wide, near and corner samples a shape; places refined; most shapes tried a move.
    patience : int
        Passes without gain that end a trial.
    strikes : int
        Trials from the best arrangement of a target before another start is taken.
    shrink : float
        Share of the length taken off after a success while exploring.
    squeeze : (float, float)
        First and last share while squeezing.
    squeeze_patience : int
    explore : float
        Share of the effort spent exploring.
    reach : float
        Half side of the square of a linear program, in mean part sizes.
    pool : int
        Arrangements kept to start again from.
    """

    samples: tuple[int, int, int, int, int] = (20, 20, 20, 3, 8)
    patience: int = 80
    strikes: int = 2
    shrink: float = 0.001
    squeeze: tuple[float, float] = (0.0005, 0.00001)
    squeeze_patience: int = 100
    explore: float = 0.8
    reach: float = 0.3
    pool: int = 20
    restart: float = 0.0
    legalise: float = 0.05


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
class _Kept:
    overlap: float
    pos: NDArray[np.float64]
    shape: NDArray[np.int32]


@dataclass(slots=True)
class Stream:
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
    ground : int, optional
        Shape index of the container's complement; None for a plain strip.
    longest : float
        Length of the container, grid units.
    ground_at : (float, float)
        Where that complement stands.
    """

    tab: Tables
    kinds: NDArray[np.int32]
    width: float
    area: float
    rng: np.random.Generator
    tuning: Tuning
    ground: int | None = None
    longest: float = math.inf
    ground_at: tuple[float, float] = (0.0, 0.0)
    st: State = field(init=False)
    ws: Scratch = field(init=False)
    best: Incumbent | None = None
    squeezing: bool = False
    ratio: float = 0.0
    stats: dict[str, int] = field(default_factory=dict)
    _kept_pos: NDArray[np.float64] = field(init=False)
    _kept_shape: NDArray[np.int32] = field(init=False)
    _kept_bin: NDArray[np.int32] = field(init=False)
    _memory: NDArray[np.float64] = field(init=False)
    _samples: NDArray[np.int64] = field(init=False)
    _pool: list[_Kept] = field(default_factory=list)
    _strikes: int = 0
    _tol: float = 0.0
    _large: NDArray[np.int64] = field(init=False)
    _origin: str = "start"

    def __post_init__(self) -> None:
        n = len(self.kinds)
        bodies = n if self.ground is None else n + 1
        self.ws = make_scratch(bodies)
        self._tol = 1e-7 * self.width
        self._samples = np.array(self.tuning.samples, dtype=np.int64)
        self._memory = np.array([math.inf, 0.0])
        self.st = fresh_state(self.kinds, bodies - n, np.array([[0.0, 0.0, 0.0, self.width]]))
        if self.ground is not None:
            self.st.shape[n] = self.ground
            self.st.pos[n] = self.ground_at
        self._kept_pos = self.st.pos.copy()
        self._kept_shape = self.st.shape.copy()
        self._kept_bin = self.st.bin.copy()
        size = [float(np.prod(self.tab.size[self.tab.shapes[self.tab.shapes_start[k]]])) for k in self.kinds]
        self._large = np.argsort(-np.array(size), kind="stable")[: max(4, n // 2)]
        part = max(self._fitting(int(k))[1] for k in self.kinds)
        self.scatter(min(max(self.area / (0.6 * self.width), part * 1.05), self.longest))

    def _fitting(self, kind: int) -> tuple[list[int], float]:
        """Shapes of a kind that fit the strip's width, and the least of their lengths."""
        tab = self.tab
        own = [int(s) for s in tab.shapes[tab.shapes_start[kind] : tab.shapes_start[kind + 1]]]
        fit = [s for s in own if tab.size[s, 1] <= self.width and tab.room[0, s, 2] >= tab.room[0, s, 0]]
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
            low = np.maximum(self.tab.room[0, s, :2], 0.0)
            high = np.minimum(self.tab.room[0, s, 2:], np.array([length, self.width]) - self.tab.size[s])
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
        self._strikes = 0
        self._pool.clear()
        self._origin = "shrink"
        self._begin()

    def advance(self, budget: int) -> None:
        """Search for about ``budget`` evaluations."""
        end = int(self.ws.tally[0]) + budget
        patience = self.tuning.squeeze_patience if self.squeezing else self.tuning.patience
        while self.ws.tally[0] < end:
            v = separate(
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
                patience,
                self._memory,
            )
            if v <= self._tol:
                done = self._legalise()
                if done is not None:
                    self._succeed(done)
                else:
                    self._fail(v)
            elif self._memory[1] >= patience:
                self._fail(v)
            self.ws.tally[0] += 50

    def _reach(self) -> float:
        return self.tuning.reach * math.sqrt(self.area / len(self.kinds))

    def _legalise(self) -> Incumbent | None:
        """Shorten the kept arrangement by linear programs, which also take small overlaps out."""
        st = self.st
        st.pos[:] = self._kept_pos
        st.shape[:] = self._kept_shape
        n = len(self.kinds)
        used = float((st.pos[:n, 0] + self.tab.size[st.shape[:n], 0]).max())
        length = shorten(self.tab, st, reach=self._reach(), near=max(1.0, 4.0 * self._tol))
        if length < math.inf and measure_all(self.tab, st) <= 4.0 * self._tol:
            return Incumbent(length=length, pos=st.pos[:n].copy(), shape=st.shape[:n].copy())
        st.pos[:] = self._kept_pos
        if measure_all(self.tab, st) <= self._tol:
            return Incumbent(length=used, pos=st.pos[:n].copy(), shape=st.shape[:n].copy())
        return None

    def _succeed(self, done: Incumbent) -> None:
        self.stats[self._origin] = self.stats.get(self._origin, 0) + 1
        if self.best is None or done.length < self.best.length:
            self.best = done
        if self.squeezing:
            self.target(self.best.length * (1.0 - self.ratio), self.best)
        else:
            loose = self.area / (self.width * self.best.length) < 0.7
            self.target(done.length * (1.0 - (0.01 if loose else self.tuning.shrink)), done)

    def _fail(self, overlap: float) -> None:
        st = self.st
        if self.best is not None and overlap < self.tuning.legalise * self.width:
            done = self._legalise()
            self.stats["legalise"] = self.stats.get("legalise", 0) + 1
            if done is not None and done.length < self.best.length * (1.0 - 1e-7):
                self.stats["legalised"] = self.stats.get("legalised", 0) + 1
                self._succeed(done)
                return
        if self.squeezing:
            assert self.best is not None
            self.target(self.best.length * (1.0 - self.ratio), self.best)
            return
        if self.best is None:  # the first length was too short
            self.scatter(min(1.1 * float(st.bin_box[0, 2]), self.longest))
            return
        self._strikes += 1
        if self._strikes < self.tuning.strikes:
            st.pos[:] = self._kept_pos
            st.shape[:] = self._kept_shape
            st.weight[:] = 1.0
            self._memory[1] = 0.0
            measure_all(self.tab, st)
            return
        self._strikes = 0
        self.stats["fail"] = self.stats.get("fail", 0) + 1
        self._pool.append(_Kept(overlap, self._kept_pos.copy(), self._kept_shape.copy()))
        self._pool.sort(key=lambda k: k.overlap)
        del self._pool[self.tuning.pool :]
        if self.rng.random() < self.tuning.restart:
            self._origin = "restart"
            self.scatter(float(st.bin_box[0, 2]))
            return
        k = min(int(abs(self.rng.standard_normal()) * len(self._pool) / 3.0), len(self._pool) - 1)
        st.pos[:] = self._pool[k].pos
        st.shape[:] = self._pool[k].shape
        self._origin = "swap"
        self._swap_large()
        self._begin()

    def _swap_large(self) -> None:
        """Exchange the places of two large parts of different kinds, if there are two."""
        st = self.st
        if len(self._large) < 2:
            return
        for _ in range(50):
            a, b = (int(v) for v in self.rng.choice(self._large, 2, replace=False))
            if self.kinds[a] != self.kinds[b]:
                break
        sa, sb = self.tab.size[st.shape[a]], self.tab.size[st.shape[b]]
        ca, cb = st.pos[a] + 0.5 * sa, st.pos[b] + 0.5 * sb
        limit = st.bin_box[0, 2:4]
        st.pos[a] = np.clip(cb - 0.5 * sa, 0.0, np.maximum(limit - sa, 0.0))
        st.pos[b] = np.clip(ca - 0.5 * sb, 0.0, np.maximum(limit - sb, 0.0))
