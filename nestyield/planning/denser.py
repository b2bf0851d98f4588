"""More parts on one piece than laying one after the other finds: where a search may gain, and the search."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from nestyield.model import Shop
from nestyield.planning.candidates import RowAnswer, by_thickness, candidates_of, seed_of
from nestyield.planning.demand import Demand
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.stock import blank_of
from nestyield.planning.workers import Job

#: Layouts in which one more part would fill more of the blank than this are not searched for.
DENSEST = 0.92
#: From this effort on each want is also searched for on its own.
EFFORT_FOR_MORE = 3

#: Wants that are laid together, as ((want, copies), ...).
PackingRequest = tuple[tuple[int, int], ...]


def loads(
    shop: Shop, demands: tuple[Demand, ...], row: int, answer: RowAnswer, effort: int
) -> tuple[PackingRequest, ...]:
    """Return which parts might go on a row in greater number than was found, by area.

    Parameters
    ----------
    shop : Shop
    wants : tuple of Demand
    row : int
    answer : RowAnswer
        What was found for the row.
    effort : int

    Returns
    -------
    tuple of PackingRequest
        All wants of one thickness that go on the row alone; from some effort on, each want by itself too.
    """
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(shop.pieces[row]))
    alone = [w for w in range(len(demands)) if any(c.made[w] for c in answer.candidates)]
    area = {w: abs(bench.part(w).outline.signed_area_mm2) for w in alone}
    room = bench.blank.shape.area_mm2
    groups = by_thickness(bench, alone)
    asked = [
        *groups,
        *([w] for group in groups if len(group) > 1 for w in group if effort >= EFFORT_FOR_MORE),
    ]
    loaded = [tuple((w, min(demands[w].count, int(room // area[w]))) for w in group) for group in asked]
    return tuple(load for load in loaded if may_gain(load, area, room, answer))


def may_gain(load: PackingRequest, area: Mapping[int, float], room: float, answer: RowAnswer) -> bool:
    """Tell whether one more part of a load might go beside those of a layout that was found, by area."""
    most = dict(load)
    made = [
        {w: c.made[w] for w in most}
        for c in answer.candidates
        if not any(n for w, n in enumerate(c.made) if w not in most)
    ]
    if not any(sum(counts.values()) >= 2 for counts in made):
        return False
    wood = max(sum(n * area[w] for w, n in counts.items()) for counts in made)
    left = [w for w in most if max(counts[w] for counts in made) < most[w]]
    return bool(left) and wood + min(area[w] for w in left) <= DENSEST * room


def pack_row(job: Job, row: int, load: PackingRequest) -> RowAnswer:
    """Search for a layout of several parts on a row.

    Parameters
    ----------
    job : Job
    row : int
    load : PackingRequest

    Returns
    -------
    RowAnswer
        Without refusals.
    """
    from nestyield.planning.packed import pack  # imports the compiler: only where it is needed

    piece = job.shop.pieces[row]
    bench = LayoutContext(shop=job.shop, demands=job.demands, blank=blank_of(piece))
    rng = np.random.default_rng(seed_of(job, piece, *(copies for _, copies in load)))
    full = pack(bench, dict(load), job.effort, int(rng.integers(2**31)))
    return RowAnswer(candidates=candidates_of(bench, row, [full]) if full else (), refusals=())


def joined(quick: RowAnswer, more: Sequence[RowAnswer]) -> RowAnswer:
    """Return all that was found for a row, the first of each mixture of parts."""
    found = {c.made: c for answer in reversed([quick, *more]) for c in answer.candidates}
    return RowAnswer(candidates=tuple(found[made] for made in sorted(found)), refusals=quick.refusals)
