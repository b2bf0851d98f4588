"""More parts on one piece than laying one after the other finds: where a search may gain, and the search."""

from __future__ import annotations

import itertools
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from nestyield.geometry.shape import to_shapely
from nestyield.model import Shape, Shop
from nestyield.placement.stock import blank_of
from nestyield.planning.candidates import (
    Candidate,
    RowAnswer,
    TimedAnswer,
    candidate_of,
    candidates_of,
    may_share,
    seed_of,
)
from nestyield.planning.core_boxes import MOST_MIXTURES, CoreBoxes, boxes_inside
from nestyield.planning.demand import Demand
from nestyield.planning.keep_clear import kept_clear
from nestyield.planning.lay_parts import Laid, LayoutContext
from nestyield.planning.workers import Job

#: From this effort on each want is also searched for on its own.
EFFORT_FOR_MORE = 3
#: Mixtures of so many parts at the most are searched for one by one.
MOST_PARTS = 6
#: Each round of searches has so many times the effort of the one before, up to the run's.
DEEPER = 4

#: Wants that are laid together, as ((want, copies), ...).
PackingRequest = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Areas:
    """Areas with half the gap around each part, square millimeters: parts so grown lie apart.

    Parameters
    ----------
    parts : tuple of float
        By demand.
    rows : tuple of float
        By row: what parts so grown may cover.
    cores : tuple of CoreBoxes
        By row: what can never lie on it together.
    """

    parts: tuple[float, ...]
    rows: tuple[float, ...]
    cores: tuple[CoreBoxes, ...]


def areas_of(shop: Shop, demands: Sequence[Demand]) -> Areas:
    """Return the areas by which it is told how much may go on a row."""
    half, margin = shop.settings.gap_mm / 2.0, shop.settings.blank_margin_mm

    def room(shape: Shape) -> float:
        inner = to_shapely(shape).buffer(-margin * 0.999)
        return float(inner.buffer(half).area)

    chord = shop.settings.chord_error_mm
    inside = {name: boxes_inside(shop.part(name), chord) for name in dict.fromkeys(d.part for d in demands)}
    boxes = [inside[want.part] for want in demands]
    return Areas(
        parts=tuple(
            float(to_shapely(Shape(outer=shop.part(want.part).outline)).buffer(half * 0.999).area)
            for want in demands
        ),
        rows=tuple(room(piece.shape) for piece in shop.pieces),
        cores=tuple(CoreBoxes(blank_of(piece), shop.settings, boxes) for piece in shop.pieces),
    )


def loads(
    shop: Shop, demands: tuple[Demand, ...], row: int, answer: RowAnswer, areas: Areas, effort: int
) -> tuple[PackingRequest, ...]:
    """Return which parts might go on a row in greater number than was found, by area.

    Parameters
    ----------
    shop : Shop
    wants : tuple of Demand
    row : int
    answer : RowAnswer
        What was found for the row.
    areas : Areas
    effort : int

    Returns
    -------
    tuple of PackingRequest
        All wants that go on the row alone and may share it; from some effort on, each want by itself too.
    """
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(shop.pieces[row]))
    alone = [w for w in range(len(demands)) if any(c.made[w] and c.whole for c in answer.candidates)]
    room = areas.rows[row]
    groups = may_share(bench, alone)
    asked = [
        *groups,
        *([w] for group in groups if len(group) > 1 for w in group if effort >= EFFORT_FOR_MORE),
    ]
    loaded = [
        tuple((w, min(demands[w].count, int(room // areas.parts[w]))) for w in group) for group in asked
    ]
    return tuple(load for load in dict.fromkeys(loaded) if may_gain(load, areas, row, answer))


def may_gain(load: PackingRequest, areas: Areas, row: int, answer: RowAnswer) -> bool:
    """Tell whether a layout of a load might cover more wood than those found, by areas and core boxes."""
    most = dict(load)
    made = [
        {w: c.made[w] for w in most}
        for c in answer.candidates
        if not _resawn(c)
        if not any(n for w, n in enumerate(c.made) if w not in most)
    ]
    if not any(sum(counts.values()) for counts in made):
        return False
    wood = max(sum(n * areas.parts[w] for w, n in counts.items()) for counts in made)
    left = [w for w in most if max(counts[w] for counts in made) < most[w]]
    together = any(all(counts[w] >= most[w] for w in most) for counts in made)
    if together:
        return False
    more = [areas.parts[w] for w in (left or most)]
    if wood + min(more) > areas.rows[row]:
        return False
    if math.prod(n + 1 for n in most.values()) > MOST_MIXTURES:
        return True
    mixtures = np.array(list(itertools.product(*(range(n + 1) for n in most.values()))))
    covered = mixtures @ [areas.parts[w] for w in most]
    better = mixtures[(covered > wood * (1.0 + 1e-9)) & (covered <= areas.rows[row])]
    return len(better) > 0 and not areas.cores[row].ruled_out(tuple(most), better).all()


def open_mixtures(
    shop: Shop, demands: tuple[Demand, ...], row: int, answer: RowAnswer, areas: Areas
) -> tuple[PackingRequest, ...]:
    """Return mixtures of few parts that might go on a row, by area and core boxes, and that no layout found holds.

    What covers less wood than what was found may still leave for other rows what goes there.

    Parameters
    ----------
    shop : Shop
    demands : tuple of Demand
    row : int
    answer : RowAnswer
        What was found for the row.
    areas : Areas
    """
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(shop.pieces[row]))
    alone = [w for w in range(len(demands)) if any(c.made[w] and c.whole for c in answer.candidates)]
    found = [c.made for c in answer.candidates if not _resawn(c)]
    out: list[PackingRequest] = []
    for group in may_share(bench, alone):
        most = [min(demands[w].count, int(areas.rows[row] // areas.parts[w]), MOST_PARTS) for w in group]
        if len(group) < 2 or math.prod(n + 1 for n in most) > MOST_MIXTURES:
            continue
        every = np.array(list(itertools.product(*(range(n + 1) for n in most))))
        few = (every.sum(axis=1) > 1) & (every.sum(axis=1) <= MOST_PARTS)
        some = every[few & (every @ [areas.parts[w] for w in group] <= areas.rows[row])]
        new = [m for m in some if not any(all(c[w] >= n for w, n in zip(group, m)) for c in found)]
        if not new:
            continue
        some = np.array(new)
        some = some[~areas.cores[row].ruled_out(tuple(group), some)]
        out += [tuple((w, int(n)) for w, n in zip(group, m) if n) for m in some]
    return tuple(dict.fromkeys(out))


def pack_row(
    job: Job,
    row: int,
    load: PackingRequest,
    effort: int,
    until: float,
    workers: int = 1,
    stop: Callable[[], bool] | None = None,
    goal: Literal["value", "length"] = "value",
    begun: Laid = (),
) -> TimedAnswer:
    """Search for a layout of several parts on a row.

    Parameters
    ----------
    job : Job
    row : int
    load : PackingRequest
    effort : int
        Of this search.
    until : float
        When it ends at the latest, on the monotonic clock.
    workers : int
        Threads; the answer does not depend on them.
    stop : callable, optional
        Ends the search too.
    goal : {"value", "length"}
        As much as will go, or all of the load on the least length.
    begun : tuple of (int, Placement)
        A layout of all of the load, to push together.
    """
    from nestyield.planning.packed import pack  # imports the compiler: only where it is needed

    def late() -> bool:
        return time.monotonic() >= until or (stop is not None and stop())

    if late():
        return TimedAnswer(answer=RowAnswer(candidates=(), refusals=()), stopped="seconds")
    piece = job.shop.pieces[row]
    bench = LayoutContext(shop=job.shop, demands=job.demands, blank=blank_of(piece))
    rng = np.random.default_rng(seed_of(job, piece, effort, *(copies for _, copies in load)))
    full, stopped = pack(
        bench,
        dict(load),
        effort,
        int(rng.integers(2**31)),
        goal=goal,
        workers=workers,
        stop=late,
        begun=begun,
    )
    found = candidates_of(bench, row, [full]) if full else ()
    return TimedAnswer(answer=RowAnswer(candidates=found, refusals=()), stopped=stopped)


def pack_alike_rows(
    job: Job,
    row: int,
    load: PackingRequest,
    most: int,
    effort: int,
    until: float,
    workers: int = 1,
    stop: Callable[[], bool] | None = None,
) -> TimedAnswer:
    """Search for layouts of all of a load on as few copies of a row as will do, all copies in one search.

    Parameters
    ----------
    job, row, load, effort, until, workers, stop
        As of `pack_row`.
    most : int
        Copies of the row.
    """
    from nestyield.planning.packed import pack_on_alike  # imports the compiler: only where it is needed

    def late() -> bool:
        return time.monotonic() >= until or (stop is not None and stop())

    if late():
        return TimedAnswer(answer=RowAnswer(candidates=(), refusals=()), stopped="seconds")
    piece = job.shop.pieces[row]
    bench = LayoutContext(shop=job.shop, demands=job.demands, blank=blank_of(piece))
    rng = np.random.default_rng(seed_of(job, piece, effort, most, *(copies for _, copies in load)))
    found = pack_on_alike(
        bench, dict(load), most, effort, int(rng.integers(2**31)), workers=workers, stop=late
    )
    made = {tuple(sum(i == w for i, _ in laid) for w in range(len(job.demands))): laid for laid in found}
    candidates = tuple(
        candidate_of(bench, row, counts, kept_clear(bench, laid)) for counts, laid in sorted(made.items())
    )
    ended = "seconds" if late() else "effort"
    return TimedAnswer(answer=RowAnswer(candidates=candidates, refusals=()), stopped=ended)


def joined(quick: RowAnswer, more: Sequence[RowAnswer]) -> RowAnswer:
    """Return all that was found for a row, the first of each mixture of parts, the piece whole before it is sawn.

    One that is resawn, or cut in sections, stands beside one that is not.
    """
    every = [c for answer in (quick, *more) for c in answer.candidates]
    found: dict[tuple[tuple[int, ...], bool, bool], Candidate] = {}
    for candidate in sorted(every, key=lambda c: c.sawn is not None):
        found.setdefault((candidate.made, _resawn(candidate), candidate.sections), candidate)
    return RowAnswer(candidates=tuple(found[made] for made in sorted(found)), refusals=quick.refusals)


def _resawn(candidate: Candidate) -> bool:
    return candidate.sawn is not None and candidate.sawn.resaw is not None
