"""Piece after piece filled with what is left of all parts: which search comes next.

Searches for each row by itself all ask for the same parts, and fill every piece with the same ones. Where many parts
go on several pieces, each is filled with what those before it leave (sequential value heuristic; Gilmore and Gomory
1961 for the patterns, the order of pieces is ours: the cheapest first). Where a row has several alike pieces, all of
what goes on them is laid on fewer of them in one search before that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import replace

from nestyield.model import Shop
from nestyield.placement.stock import blank_of
from nestyield.planning.candidates import Candidate, RowAnswer, may_share
from nestyield.planning.demand import Demand
from nestyield.planning.denser import Areas, PackingRequest, may_gain
from nestyield.planning.lay_parts import LayoutContext

#: A search for all of a load on copies of one row: the row, the load, and how many copies at the most.
AlikeRequest = tuple[int, PackingRequest, int]

#: Copies of wants on a piece that make a search worth while: fewer are laid exactly one after the other.
LEAST_PARTS = 3
#: Pieces filled one after the other, or in one search, at the most.
MOST_PIECES = 24


def next_fill(
    shop: Shop,
    demands: tuple[Demand, ...],
    answers: Mapping[int, RowAnswer],
    areas: Areas,
    known: Callable[[int, PackingRequest], bool],
) -> tuple[int, PackingRequest] | None:
    """Return the search by which the next piece is filled; None when all is laid or nothing is left to ask.

    Parameters
    ----------
    shop : Shop
    demands : tuple of Demand
    answers : mapping of int to RowAnswer
        All that is known of each row, the cheapest first.
    areas : Areas
    known : callable
        Whether a search of a row for a load was made.
    """
    left = {w: want.count for w, want in enumerate(demands)}
    filled = 0
    for row, answer in answers.items():
        for _ in range(shop.pieces[row].count):
            load = _load(shop, demands, row, answer, areas, left)
            here = _of_these(answer, left)
            enough = sum(n for _, n in load) >= LEAST_PARTS
            if enough and not known(row, load) and may_gain(load, areas, row, here):
                return row, load
            best = _densest(here.candidates, areas)
            if best is None:
                break
            for w, n in enumerate(best.made):
                left[w] -= n
            filled += 1
            if filled >= MOST_PIECES or not any(left.values()):
                return None
    return None


def _load(
    shop: Shop,
    demands: tuple[Demand, ...],
    row: int,
    answer: RowAnswer,
    areas: Areas,
    left: Mapping[int, int],
) -> PackingRequest:
    """Return the wants that may share a row and have the most area left, as many copies as its area allows."""
    alone = [w for w, n in left.items() if n and any(c.made[w] and c.whole for c in answer.candidates)]
    if not alone:
        return ()
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(shop.pieces[row]))
    groups = may_share(bench, alone)
    group = max(groups, key=lambda g: (round(sum(left[w] * areas.parts[w] for w in g), 3), -g[0]))
    counts = ((w, min(left[w], int(areas.rows[row] // areas.parts[w]))) for w in group)
    return tuple((w, n) for w, n in counts if n)


def next_alike(
    shop: Shop,
    demands: tuple[Demand, ...],
    answers: Mapping[int, RowAnswer],
    areas: Areas,
    missing: Set[int],
    used: Sequence[Candidate],
    known: Callable[[AlikeRequest], bool],
) -> AlikeRequest | None:
    """Return the next search for all copies of some parts on fewer copies of one row; None when none is left.

    It is asked where a row of several copies is used more than once, or copies are missing that it might
    carry, and area allows to do with fewer.

    Parameters
    ----------
    shop : Shop
    demands : tuple of Demand
    answers : mapping of int to RowAnswer
        All that is known of each row.
    areas : Areas
    missing : set of int
        Wants of which copies are missing.
    used : sequence of Candidate
        What is chosen, each as often as it is.
    known : callable
        Whether a search was made.
    """
    for row, answer in answers.items():
        count = shop.pieces[row].count
        if count < 2:
            continue
        here = [c for c in used if c.rows == (row,) and c.blank is None and c.sawn is None]
        bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(shop.pieces[row]))
        alone = [w for w in range(len(demands)) if any(c.made[w] and c.whole for c in answer.candidates)]
        for group in may_share(bench, alone):
            of_group = [c for c in here if all(w in group for w, n in enumerate(c.made) if n)]
            lacking = missing & set(group)
            if lacking:
                load = tuple((w, demands[w].count) for w in group)
                most = min(count, MOST_PIECES)
            else:
                made = {w: sum(c.made[w] for c in of_group) for w in group}
                load = tuple((w, n) for w, n in made.items() if n)
                most = len(of_group) - 1
            wood = sum(n * areas.parts[w] for w, n in load)
            asked = (row, load, most)
            if (
                sum(n for _, n in load) >= LEAST_PARTS
                and most <= MOST_PIECES
                and areas.rows[row] < wood <= most * areas.rows[row]
                and not known(asked)
            ):
                return asked
    return None


def _of_these(answer: RowAnswer, left: Mapping[int, int]) -> RowAnswer:
    """Return an answer with the layouts that need no more than is left."""
    fit = (c for c in answer.candidates if any(c.made) and all(n <= left[w] for w, n in enumerate(c.made)))
    return replace(answer, candidates=tuple(fit))


def _densest(fit: Sequence[Candidate], areas: Areas) -> Candidate | None:
    """Return the layout that covers the most, of those alike the first."""
    covered = [sum(n * areas.parts[w] for w, n in enumerate(c.made)) for c in fit]
    return fit[max(range(len(fit)), key=lambda k: (round(covered[k], 3), -k))] if fit else None


def may_save(
    shop: Shop, candidates: Sequence[Candidate], used: Sequence[tuple[int, int]], areas: Areas
) -> bool:
    """Tell whether area allows what lies on some pieces to lie on one of them less.

    Parameters
    ----------
    shop : Shop
    candidates : sequence of Candidate
    used : sequence of (int, int)
        Candidates chosen, and how often.
    areas : Areas
    """
    taken = [
        (candidates[k], n) for k, n in used if candidates[k].blank is None and candidates[k].sawn is None
    ]
    rooms = [areas.rows[c.rows[0]] for c, n in taken for _ in range(n)]
    covered = sum(n * m * areas.parts[w] for c, n in taken for w, m in enumerate(c.made))
    return len(rooms) > 1 and covered <= sum(rooms) - min(rooms)
