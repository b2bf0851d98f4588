"""All parts of one sheet at once: the search for the shortest length, with the sheet's end left open.

What is to go on a sheet is laid from its left end, as far beyond its right end as it takes, and then
shortened until it reaches no further than the sheet does. So one search serves a sheet that must hold more
and a sheet of which the rest shall be one piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.filling import FillJob, used_length
from nestyield.nesting.packer import Packing
from nestyield.nesting.search_line import Incumbent
from nestyield.nesting.shapes import beyond_end
from nestyield.nesting.strip import StripResult, search_strip


@dataclass(frozen=True, slots=True, kw_only=True)
class Squeezed:
    """What shortening came to.

    Parameters
    ----------
    whole : Packing or None
        All parts on the sheet; None when they did not go on.
    cut : Packing or None
        Of the shortest layout the parts that lie on the sheet wholly, when they did not.
    evaluations : int
    """

    whole: Packing | None
    cut: Packing | None
    evaluations: int


def search_open_ended(
    job: FillJob,
    base: Packing | None,
    more: Sequence[int],
    b: int,
    effort: int,
    rng: np.random.Generator,
    workers: int,
) -> Squeezed:
    """Look for a layout of the parts of one sheet with further parts.

    Parameters
    ----------
    job : FillJob
    base : Packing or None
        What lies there; the search begins with it and the other parts beyond the sheet's end. With None it
        begins from nothing.
    more : sequence of int
        Kinds of the further parts.
    b : int
        The sheet.
    effort : int
        Evaluations.
    rng : numpy.random.Generator
    workers : int
        Threads.
    """
    length = float(job.boxes[b, 2] - job.boxes[b, 0])
    begun = _begun(job, base, more, b) if base is not None else None
    there = base.kinds.tolist() if base is not None else []
    kinds = np.sort(np.array([*there, *more], dtype=np.int32), kind="stable")
    result = _shortened(job, kinds, begun, b, effort, rng, workers, aim=length)
    whole = _rounded(job, result, kinds, b, length)
    if whole is not None or not result.layouts:
        return Squeezed(whole=whole, cut=None, evaluations=result.evaluations)
    best = result.layouts[0]
    ends = best.pos[:, 0] + job.tab.size[best.shape, 0]
    on = np.flatnonzero(ends <= length)
    cut = None
    if len(on):
        cut = job.certifier.round_to_grid(job.tab, _packing(job, best, kinds, b, on), job.boxes)
    return Squeezed(whole=None, cut=cut, evaluations=result.evaluations)


def push(
    job: FillJob, packing: Packing | None, b: int, effort: int, rng: np.random.Generator, workers: int
) -> tuple[Packing | None, int]:
    """Shorten the used length of one sheet; None when nothing shorter was found."""
    if packing is None:
        return None, 0
    order = np.argsort(packing.kinds, kind="stable")
    kinds = packing.kinds[order]
    now = used_length(job, packing, b)
    begun = Incumbent(
        length=float(now), pos=packing.pos[order] - job.boxes[b, :2], shape=packing.shape[order]
    )
    result = _shortened(job, kinds, begun, b, effort, rng, workers, aim=None)
    done = _rounded(job, result, kinds, b, now - 1)
    return done, result.evaluations


def _begun(job: FillJob, base: Packing, more: Sequence[int], b: int) -> Incumbent | None:
    """Lay further parts in columns beyond the sheet's end; None when one of them cannot lie there."""
    origin = job.boxes[b, :2]
    kinds = [int(k) for k in base.kinds]
    shape, pos = [int(s) for s in base.shape], [p - origin for p in base.pos]
    x = float(job.boxes[b, 2] - origin[0]) + job.gap_um + _blocked_beyond(job, more, b)
    column, y = 0.0, -1.0
    for kind in more:
        choice = _lying_free(job, kind, b)
        if choice is None:
            return None
        s, low, high = choice
        width, height = job.tab.size[s]
        at = max(low - origin[1], y)
        if y < 0.0 or at > high - origin[1]:
            x, column, at = x + column, 0.0, low - origin[1]
        kinds.append(kind)
        shape.append(s)
        pos.append(np.array([x, at]))
        column, y = max(column, float(width) + job.gap_um + 1), at + float(height) + job.gap_um + 1
    order = np.argsort(np.array(kinds), kind="stable")
    places, shapes = np.array(pos)[order], np.array(shape, dtype=np.int32)[order]
    return Incumbent(length=float((places[:, 0] + job.tab.size[shapes, 0]).max()), pos=places, shape=shapes)


def _blocked_beyond(job: FillJob, kinds: Sequence[int], b: int) -> float:
    """Return how far beyond the sheet's end none of some parts can lie, grid units; 0 for a plain sheet."""
    tab, of = job.tab, len(job.boxes) + b
    out = 0
    for kind in set(kinds):
        for s in tab.shapes[tab.shapes_start[kind] : tab.shapes_start[kind + 1]]:
            if tab.pair_region[len(job.shapes) + of, s] >= 0:
                least, end = tab.pos_bounds[of, s, 0], job.boxes[b, 2] - tab.size[s, 0]
                out = max(out, beyond_end(float(least), float(end)))
    return float(out)


def _lying_free(job: FillJob, kind: int, b: int) -> tuple[int, float, float] | None:
    """Return the shape of a kind that is shortest, and between which y it may lie beyond the sheet's end."""
    tab, of = job.tab, len(job.boxes) + b
    best = None
    for s in tab.shapes[tab.shapes_start[kind] : tab.shapes_start[kind + 1]]:
        low, high = tab.pos_bounds[of, s, 1], tab.pos_bounds[of, s, 3]
        high = min(high, job.boxes[b, 3] - tab.size[s, 1])
        free = bool(np.isinf(tab.pos_bounds[of, s, 2]) and low <= high)
        if free and (best is None or tab.size[s, 0] < tab.size[best[0], 0]):
            best = int(s), max(float(low), float(job.boxes[b, 1])), float(high)
    return best


def _shortened(
    job: FillJob,
    kinds: NDArray[np.int32],
    begun: Incumbent | None,
    b: int,
    effort: int,
    rng: np.random.Generator,
    workers: int,
    aim: float | None,
) -> StripResult:
    box = job.boxes[b]
    origin = box[:2]
    tab, of = job.tab, len(job.boxes) + b
    pos_bounds = tab.pos_bounds[of : of + 1] - np.concatenate([origin, origin])
    least = max(float(min(s.size[0] for s in job.shapes if s.kind == k)) for k in set(kinds.tolist()))
    return search_strip(
        tab._replace(pos_bounds=pos_bounds),
        kinds,
        float(box[3] - box[1]),
        float(sum(job.area(int(k)) for k in kinds)),
        seed=int(rng.integers(2**31)),
        effort=effort,
        workers=workers,
        tuning=job.tuning,
        obstacle=len(job.shapes) + of,
        stop=job.stop,
        round_size=min(500_000, max(50_000, effort // 8)),
        obstacle_at=(-float(origin[0]), -float(origin[1])),
        start=begun,
        bound=max(least, aim or 0.0),
        aim=aim,
    )


def _packing(
    job: FillJob, found: Incumbent, kinds: NDArray[np.int32], b: int, some: NDArray[np.int64] | None = None
) -> Packing:
    own = np.arange(len(kinds)) if some is None else some
    return Packing(
        kinds=kinds[own],
        shape=found.shape[own],
        bin=np.full(len(own), b, dtype=np.int32),
        pos=found.pos[own] + job.boxes[b, :2],
    )


def _rounded(
    job: FillJob, result: StripResult, kinds: NDArray[np.int32], b: int, length: float
) -> Packing | None:
    """Return the shortest layout that passes the exact tests and is no longer than that."""
    for found in result.layouts:
        if found.length > length + 0.25:
            continue
        done = job.certifier.round_to_grid(job.tab, _packing(job, found, kinds, b), job.boxes)
        if done is not None and used_length(job, done, b) <= length:
            return done
    return None
