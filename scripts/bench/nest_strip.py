"""The strip problem from items to a checked layout."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bench.jigsaw import perfect_fit
from bench.problem import Grid, Item, Spot, make_grid
from bench.turning import finer_turns, turns_each
from nestyield.model import ModelError
from nestyield.nesting.exact import edge_rows, interiors_meet
from nestyield.nesting.moves import fresh_state
from nestyield.nesting.rounding import round_to_grid
from nestyield.nesting.search_line import Incumbent, Tuning
from nestyield.nesting.shapes import build_tables, ring_area2
from nestyield.nesting.strip import search_strip

FIT_NODES = 30_000
"""Placements tried for a perfect fit before the general search."""
STEPS_DEG = (5.0, 1.5, 0.5, 0.15)
"""Any angle: steps between the turns of each search after the first."""
FIRST_SHARE = 0.5
"""Share of the effort for the first of these searches; the others share the rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StripLayout:
    """A strip layout that passed the exact test.

    Parameters
    ----------
    spots : tuple of Spot
    length : float
        Used length.
    density_pct : float
        100 x area of the parts / (width x used length).
    bound : float
        No layout is shorter: area over width, and the longest part where turns are given.
    proven : bool
        Whether ``length`` equals the bound.
    evaluations : int
    stopped : str
        ``"effort"``, ``"seconds"``, ``"interrupt"`` or ``"bound"``.
    trace : tuple of (seconds, length)
        For benchmarks only; not reproducible.
    """

    spots: tuple[Spot, ...]
    length: float
    density_pct: float
    bound: float
    proven: bool
    evaluations: int
    stopped: str
    trace: tuple[tuple[float, float], ...] = ()


def _area(items: Sequence[Item]) -> float:
    total = 0.0
    for it in items:
        for k, r in enumerate(it.rings):
            p = np.asarray(r, dtype=np.float64)
            a = abs(0.5 * float((p[:, 0] * np.roll(p[:, 1], -1) - p[:, 1] * np.roll(p[:, 0], -1)).sum()))
            total += it.count * (a if k == 0 else -a)
    return total


def nest_strip(
    items: Sequence[Item],
    width: float,
    *,
    seed: int = 1,
    effort: int | None = None,
    seconds: float | None = None,
    workers: int = 2,
    tuning: Tuning | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> StripLayout:
    """Lay all items into a strip of that width, as short as can be found.

    Parameters
    ----------
    items : sequence of Item
    width : float
        Extent along y, in the unit of the items.
    seed : int
    effort : int, optional
        Evaluations; with it the answer repeats, whatever the number of workers.
    seconds : float, optional
        Ceiling, tables included; without effort it sets the pace.
    workers : int
        Threads.
    tuning : Tuning, optional
    progress : callable, optional
        Called with (share done, best length in the unit of the items).

    Raises
    ------
    ModelError
        When an item fits the width in no turn or has none, neither effort nor seconds is given, or width,
        effort or seconds is not above 0.
    """
    if effort is None and seconds is None:
        raise ModelError("expected effort or seconds, got neither")
    if effort is not None and effort < 1:
        raise ModelError(f"expected effort >= 1, got {effort}")
    if seconds is not None and not seconds > 0.0:
        raise ModelError(f"expected seconds > 0, got {seconds:g}")
    if not 0.0 < width < math.inf:
        raise ModelError(f"expected a strip width > 0, got {width:g}")
    if not items:
        raise ModelError("expected at least one item, got none")
    free = any(it.angles_deg is None for it in items)
    began = time.monotonic()
    best: StripLayout | None = None
    spent = 0
    for turn, step in enumerate((0.0, *STEPS_DEG) if free else (0.0,)):
        share = 1.0 if not free else FIRST_SHARE + (1.0 - FIRST_SHARE) * turn / len(STEPS_DEG)
        left = None if seconds is None else share * seconds - (time.monotonic() - began)
        if best is not None and (
            best.proven or best.stopped == "interrupt" or (left is not None and left <= 0.0)
        ):
            break
        found = _searched(
            items if best is None else _near(items, best, step),
            width,
            best,
            free,
            seed=seed + turn,
            effort=None if effort is None else max(1, round(share * effort) - spent),
            seconds=left,
            workers=workers,
            tuning=tuning,
            progress=progress,
        )
        spent += found.evaluations
        if best is None or found.length <= best.length:
            best = found
    assert best is not None
    return replace(best, evaluations=spent)


def _near(items: Sequence[Item], layout: StripLayout, step_deg: float) -> list[Item]:
    """Let parts that may lie at any angle lie near the angles that they have in a layout."""
    turns = finer_turns(
        [it.rings[0] for it in items],
        [(s.item, s.angle_deg, s.mirrored, s.x, s.y) for s in layout.spots],
        step_deg,
        turns_each(sum(1 + it.mirror for it in items)),
    )
    return [replace(it, angles_deg=own) if it.angles_deg is None else it for it, own in zip(items, turns)]


def _searched(
    items: Sequence[Item],
    width: float,
    start: StripLayout | None,
    free: bool,
    *,
    seed: int,
    effort: int | None,
    seconds: float | None,
    workers: int,
    tuning: Tuning | None,
    progress: Callable[[float, float], None] | None,
) -> StripLayout:
    """Search with given turns, from a layout in which every copy has one of them."""
    grid = make_grid(items, [width], max(width, 2.0 * _area(items) / width))
    high = round(width * grid.scale)
    for k, it in enumerate(items):
        if not any(s.size[1] <= high for s in grid.shapes if s.kind == k):
            raise ModelError(f"expected {it.name} to fit the width {width:g} in some turn, it does not")
    bound = _bound(grid, high, free)
    rows = [edge_rows(s.rings) for s in grid.shapes]
    began = time.monotonic()
    if start is None:
        fit = _jigsaw(grid, high, seed, None if seconds is None else began + 0.2 * seconds)
        if fit is not None:
            shape, places = fit
            return _layout(grid, high, shape, places, bound, 0, "bound", ())
    tab = build_tables(grid.shapes, len(items))
    result = search_strip(
        tab,
        grid.kinds,
        float(high),
        grid.area,
        seed=seed,
        effort=effort,
        seconds=None if seconds is None else max(0.1, seconds - (time.monotonic() - began)),
        workers=workers,
        tuning=tuning,
        start=None if start is None else _begun(grid, start),
        bound=bound,
        progress=None if progress is None else lambda f, v: progress(f, v / grid.scale),
    )
    trace = tuple((t, v / grid.scale) for t, v in result.trace)
    for candidate in result.layouts:
        done = _rounded(tab, grid, high, rows, candidate)
        if done is not None:
            return _layout(
                grid, high, candidate.shape, done, bound, result.evaluations, result.stopped, trace
            )
    shape, places = _shelves(grid, high)
    return _layout(grid, high, shape, places, bound, result.evaluations, result.stopped, trace)


def _begun(grid: Grid, layout: StripLayout) -> Incumbent | None:
    """Return a layout as the search sees it; None when one of its turns goes by another name now."""
    index = {(s.kind, s.angle_deg, s.mirrored): k for k, s in enumerate(grid.shapes)}
    spots = sorted(layout.spots, key=lambda s: s.item)
    if any((s.item, s.angle_deg, s.mirrored) not in index for s in spots):
        return None
    shape = np.array([index[s.item, s.angle_deg, s.mirrored] for s in spots], dtype=np.int32)
    corner = np.array([grid.shapes[k].corner for k in shape], dtype=np.float64)
    pos = np.rint(np.array([(s.x, s.y) for s in spots]) * grid.scale) + corner
    return Incumbent(length=layout.length * grid.scale, pos=pos, shape=shape)


def _bound(grid: Grid, high: int, free: bool) -> float:
    """Least length by area and, where all turns are given, by the longest part; grid units."""
    if free:
        return grid.area / high
    longest = 0
    for k in range(len(grid.counts)):
        longest = max(longest, min(s.size[0] for s in grid.shapes if s.kind == k and s.size[1] <= high))
    return max(grid.area / high, float(longest))


def _jigsaw(
    grid: Grid, high: int, seed: int, until: float | None
) -> tuple[NDArray[np.int32], NDArray[np.int64]] | None:
    """Perfect fit, when the area is a whole number of columns."""
    area2 = sum(
        c * sum(ring_area2(r) for r in next(s for s in grid.shapes if s.kind == k).rings)
        for k, c in enumerate(grid.counts)
    )
    if area2 % (2 * high):
        return None
    length = area2 // (2 * high)
    box = np.array([[0, 0], [length, 0], [length, high], [0, high]], dtype=np.int64)
    answer = perfect_fit(
        grid.shapes,
        grid.counts,
        [[box]],
        rng=np.random.default_rng(seed),
        effort=FIT_NODES,
        stop=lambda: until is not None and time.monotonic() > until,
    )
    if answer.fits is None:
        return None
    order = sorted(answer.fits, key=lambda f: f.kind)
    shape = np.array([f.shape for f in order], dtype=np.int32)
    return shape, np.array([(f.x, f.y) for f in order], dtype=np.int64)


def _rounded(tab, grid: Grid, high: int, rows, found: Incumbent) -> NDArray[np.int64] | None:  # type: ignore[no-untyped-def]
    st = fresh_state(grid.kinds, 0, np.array([[0.0, 0.0, found.length * 1.01, float(high)]]))
    st.pos[:], st.shape[:] = found.pos, found.shape
    to_grid = max(1, grid.scale)
    snaps = [u for u in (to_grid, to_grid // 2, to_grid // 4, to_grid // 8) if u > 1]
    places = round_to_grid(tab, st, lambda p: clashes(rows, found.shape, p), reach=1e-3 * high, snaps=snaps)
    if places is None or clashes(rows, found.shape, places):
        return None
    return places


def clashes(
    rows: Sequence[NDArray[np.int64]], shape: NDArray[np.int32], places: NDArray[np.int64]
) -> list[tuple[int, int]]:
    """Pairs of parts whose interiors meet; exact.

    Parameters
    ----------
    rows : sequence of (n, 6) int64
        Corner rows of each shape, see ``exact.edge_rows``.
    shape : (n,) int
    places : (n, 2) int64
        Lower left corners of bounds, grid units.
    """
    sizes = np.array([r[:, :2].max(axis=0) for r in rows])
    low, high = places, places + sizes[shape]
    out = []
    n = len(shape)
    for i in range(n):
        hit = (
            (low[i + 1 :, 0] < high[i, 0])
            & (low[i + 1 :, 1] < high[i, 1])
            & (high[i + 1 :, 0] > low[i, 0])
            & (high[i + 1 :, 1] > low[i, 1])
        )
        for j in (np.flatnonzero(hit) + i + 1).tolist():
            d = places[j] - places[i]
            if interiors_meet(rows[int(shape[i])], rows[int(shape[j])], int(d[0]), int(d[1])):
                out.append((i, j))
    return out


def _shelves(grid: Grid, high: int) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """A plain valid layout: columns of bounding boxes."""
    shape = np.zeros(len(grid.kinds), dtype=np.int32)
    places = np.zeros((len(grid.kinds), 2), dtype=np.int64)
    x = y = column = 0
    for i, k in enumerate(grid.kinds):
        s = next(j for j, t in enumerate(grid.shapes) if t.kind == k and t.size[1] <= high)
        w, h = grid.shapes[s].size
        if y + h > high:
            x, y, column = x + column, 0, 0
        shape[i], places[i] = s, (x, y)
        y += h
        column = max(column, w)
    return shape, places


def _layout(
    grid: Grid,
    high: int,
    shape: NDArray[np.int32],
    places: NDArray[np.int64],
    bound: float,
    evaluations: int,
    stopped: str,
    trace: tuple[tuple[float, float], ...],
) -> StripLayout:
    used = max(int(p[0]) + grid.shapes[int(s)].size[0] for s, p in zip(shape, places))
    return StripLayout(
        spots=tuple(grid.spot(int(s), int(p[0]), int(p[1])) for s, p in zip(shape, places)),
        length=used / grid.scale,
        density_pct=100.0 * grid.area / (high * used),
        bound=bound / grid.scale,
        proven=used <= bound,
        evaluations=evaluations,
        stopped=stopped,
        trace=trace,
    )
