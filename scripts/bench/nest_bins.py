"""As few equal rectangular bins as possible for a set of items."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.jigsaw import perfect_fit
from bench.problem import Grid, Item, Spot, make_grid
from bench.rectangles import perfect_rectangles
from nestyield.model import ModelError
from nestyield.nesting.bounds import fewest_sheets
from nestyield.nesting.certify import Certifier
from nestyield.nesting.packer import Packer, Packing
from nestyield.nesting.search_line import Tuning
from nestyield.nesting.shapes import build_tables, ring_area2


@dataclass(frozen=True, slots=True, kw_only=True)
class BinLayout:
    """A layout over bins that passed the exact test.

    Parameters
    ----------
    spots : tuple of Spot
    bins : int
    bound : int
        No layout needs fewer: area, and parts larger than half a bin.
    proven : bool
    evaluations : int
    stopped : str
        ``"effort"``, ``"seconds"`` or ``"bound"``.
    """

    spots: tuple[Spot, ...]
    bins: int
    bound: int
    proven: bool
    evaluations: int
    stopped: str


def nest_bins(
    items: Sequence[Item],
    width: float,
    height: float,
    *,
    seed: int = 1,
    effort: int = 100_000_000,
    seconds: float | None = None,
    workers: int = 2,
    tuning: Tuning | None = None,
) -> BinLayout:
    """Lay all items into as few bins as can be found.

    When the items' area fills the least number of bins exactly, a perfect fit is looked for first by
    exact search; what remains of the time goes to overlap search with more and more bins.

    Parameters
    ----------
    items : sequence of Item
    width, height : float
        Of a bin, in the unit of the items.
    seed : int
    effort : int
        Evaluations; the answer repeats with any number of workers.
    seconds : float, optional
        Ceiling.
    workers : int
    tuning : Tuning, optional

    Raises
    ------
    ModelError
        When an item fits a bin in no turn.
    """
    if not items:
        raise ModelError("expected at least one item, got none")
    grid = make_grid(items, [width, height], max(width, height))
    w, h = round(width * grid.scale), round(height * grid.scale)
    for k, it in enumerate(items):
        if not any(s.size[0] <= w and s.size[1] <= h for s in grid.shapes if s.kind == k):
            raise ModelError(
                f"expected {it.name} to fit a bin of {width:g} x {height:g} in some turn, it does not"
            )
    areas = [next(s.area for s in grid.shapes if s.kind == k) for k in grid.kinds]
    bound = fewest_sheets(areas, [float(w * h)] * len(areas))
    began = time.monotonic()

    def late(share: float) -> Callable[[], bool]:
        return lambda: seconds is not None and time.monotonic() - began > share * seconds

    fit = _perfect(grid, w, h, bound, seed, workers, late(0.8))
    if fit is not None:
        return BinLayout(spots=fit, bins=bound, bound=bound, proven=True, evaluations=0, stopped="bound")
    return _search(grid, w, h, bound, len(items), seed, effort, late, workers, tuning or Tuning())


def _perfect(
    grid: Grid, w: int, h: int, bins: int, seed: int, workers: int, stop: Callable[[], bool]
) -> tuple[Spot, ...] | None:
    firsts = [next(s for s in grid.shapes if s.kind == k) for k in range(len(grid.counts))]
    area2 = sum(c * sum(ring_area2(r) for r in s.rings) for c, s in zip(grid.counts, firsts))
    if area2 != 2 * w * h * bins:
        return None
    rng = np.random.default_rng(seed)
    if all(len(s.rings) == 1 and ring_area2(s.rings[0]) == 2 * s.size[0] * s.size[1] for s in firsts):
        turns = [len({s.size for s in grid.shapes if s.kind == k}) for k in range(len(firsts))]
        turn = all(n == 2 or s.size[0] == s.size[1] for n, s in zip(turns, firsts))
        if turn or all(n == 1 for n in turns):
            answer = perfect_rectangles(
                [s.size for s in firsts],
                grid.counts,
                w,
                h,
                turn=turn,
                bins=bins,
                workers=workers,
                rng=rng,
                stop=stop,
            )
            if answer.rects is None:
                return None
            spots = []
            for r in answer.rects:
                size = firsts[r.kind].size[::-1] if r.turned else firsts[r.kind].size
                shape = next(i for i, s in enumerate(grid.shapes) if s.kind == r.kind and s.size == size)
                spots.append(grid.spot(shape, r.x, r.y, r.bin))
            return tuple(sorted(spots, key=lambda s: (s.bin, s.item, s.x, s.y)))
    box = np.array([[0, 0], [w, 0], [w, h], [0, h]], dtype=np.int64)
    found = perfect_fit(grid.shapes, grid.counts, [[box]] * bins, rng=rng, effort=2_000_000, stop=stop)
    if found.fits is None:
        return None
    spots = [grid.spot(f.shape, f.x, f.y, f.container) for f in found.fits]
    return tuple(sorted(spots, key=lambda s: (s.bin, s.item, s.x, s.y)))


def _search(
    grid: Grid,
    w: int,
    h: int,
    bound: int,
    items: int,
    seed: int,
    effort: int,
    late: Callable[[float], Callable[[], bool]],
    workers: int,
    tuning: Tuning,
) -> BinLayout:
    n = len(grid.kinds)
    free: list[None] = [None] * len(grid.shapes)
    tab = build_tables(grid.shapes, items, feasible=[free] * n)
    boxes = np.array([[0.0, 0.0, w, h]] * n)
    certifier = Certifier(shapes=grid.shapes, gap_um=0, feasible=[free] * n)
    rngs = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(2)]
    spent = 0
    stopped = "bound"
    with ThreadPoolExecutor(max_workers=max(1, workers)) as pool:
        for k in range(bound, n + 1):
            share = 0.6 if k < n else 1.0
            budget = max(200_000, int((effort - spent) * share / 2))
            stop = late(1.0 - 0.4 ** (k - bound + 1))
            packers = [Packer(tab, len(grid.shapes), boxes[:k], r, tuning, stop) for r in rngs]

            def one(p: Packer, k: int = k, budget: int = budget) -> Packing | None:
                kinds = grid.kinds.tolist()
                return p.pack(kinds, range(k), budget) if k < n else _one_a_bin(grid, w, h)

            answers = list(pool.map(one, packers))
            spent += sum(p.evaluations for p in packers)
            for got in answers:
                done = certifier.round_to_grid(tab, got, boxes[:k]) if got is not None else None
                if done is not None:
                    certifier.require(done)
                    return _layout(grid, done, bound, spent, stopped)
            stopped = "seconds" if late(1.0)() else "effort"
    raise ModelError("expected every part to fit a bin of its own, one does not")


def _one_a_bin(grid: Grid, w: int, h: int) -> Packing:
    n = len(grid.kinds)
    shape = [
        next(i for i, s in enumerate(grid.shapes) if s.kind == k and s.size[0] <= w and s.size[1] <= h)
        for k in grid.kinds
    ]
    return Packing(
        kinds=grid.kinds,
        shape=np.array(shape, dtype=np.int32),
        bin=np.arange(n, dtype=np.int32),
        pos=np.zeros((n, 2)),
    )


def _layout(grid: Grid, done: Packing, bound: int, spent: int, stopped: str) -> BinLayout:
    places: NDArray[np.int64] = np.rint(done.pos).astype(np.int64)
    order = {b: k for k, b in enumerate(sorted({int(b) for b in done.bin}))}
    spots = [
        grid.spot(int(s), int(p[0]), int(p[1]), order[int(b)])
        for s, p, b in zip(done.shape, places, done.bin)
    ]
    bins = len(order)
    return BinLayout(
        spots=tuple(sorted(spots, key=lambda s: (s.bin, s.item, s.x, s.y))),
        bins=bins,
        bound=bound,
        proven=bins <= bound or math.isclose(bins, bound),
        evaluations=spent,
        stopped="bound" if bins <= bound else stopped,
    )
