"""The pool: for each row of the rack, layouts that it could carry."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from nestyield.model import Blank, Part, Piece, Placement, Shop
from nestyield.planning.lay import Bench, Laid
from nestyield.planning.leftovers import usable_area_mm2
from nestyield.planning.misses import too_small
from nestyield.planning.seams import seams_under
from nestyield.planning.stock import Refusal, blank_of, board_feet, unsuitable, value_of
from nestyield.planning.wants import Want

#: A full layout gives all its subsets as candidates up to this many, else only its beginnings.
MOST_SUBSETS = 48
#: Layouts in which one more part would fill more of the blank than this are not searched for.
DENSEST = 0.92
#: From this effort on each want is also searched for on its own.
EFFORT_FOR_MORE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One way to use one copy of a rack row, or of several that are glued up.

    Parameters
    ----------
    rows : tuple of int
        Indices of the pieces in the shop, one for each copy used; a row that is used twice stands twice.
    made : tuple of int
        Copies of each want that it makes.
    laid : tuple of (int, Placement)
        Wants and where they lie, names of order and copy not yet given.
    value : float
        Of the copies taken.
    used_up : float
        Wood taken and not given back as usable leftovers, board feet.
    seams_mm : float
        Length of seams under the parts.
    blank : Blank or None
        A glue-up, its members in the order of ``rows`` and numbered as copies 1; None for the piece itself.
    """

    rows: tuple[int, ...]
    made: tuple[int, ...]
    laid: Laid
    value: float
    used_up: float
    seams_mm: float
    blank: Blank | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RowAnswer:
    """All that was found for one row.

    Parameters
    ----------
    candidates : tuple of Candidate
    refusals : tuple of (int, Refusal)
        Want and reason, for each want that does not go on the row even alone.
    """

    candidates: tuple[Candidate, ...]
    refusals: tuple[tuple[int, Refusal], ...]


def try_row(
    shop: Shop, wants: tuple[Want, ...], row: int, asked: Sequence[int], effort: int, seed: int
) -> RowAnswer:
    """Return the layouts that one row could carry, and why it refuses what it refuses.

    Parameters
    ----------
    shop : Shop
    wants : tuple of Want
    row : int
        Index into the shop's pieces.
    asked : sequence of int
        The wants to try, see `may_serve`.
    effort : int
        Number of random orders tried beside the fixed ones when several parts go on the piece.
    seed : int
        The answer depends on it and on the piece alone, not on its row or on which process asks.
    """
    piece = shop.pieces[row]
    bench = Bench(shop=shop, wants=wants, blank=blank_of(piece))
    refusals: list[tuple[int, Refusal]] = []
    alone: dict[int, Laid] = {}
    for index in asked:
        laid, refusal = bench.add((), index)
        if laid is not None:
            alone[index] = laid
        if refusal is not None:
            refusals.append((index, refusal))
    layouts: dict[tuple[int, ...], Laid] = {}
    rng = np.random.default_rng([seed, zlib.crc32(piece.name.encode())])
    for full in _full_layouts(bench, alone, rng, effort):
        for laid in _subsets(full):
            made = tuple(sum(i == w for i, _ in laid) for w in range(len(wants)))
            layouts.setdefault(made, laid)
    found = tuple(_candidate(shop, bench, piece, row, made, laid) for made, laid in sorted(layouts.items()))
    return RowAnswer(candidates=found, refusals=tuple(refusals))


def refused_at_once(shop: Shop, part: Part, piece: Piece) -> Refusal | None:
    """Return why a piece cannot serve a part, as far as wood, thickness, length and width tell."""
    unfit = unsuitable(part, piece, shop.settings, shop.units)
    return unfit or too_small(part, blank_of(piece), shop.settings, shop.units)


def may_serve(shop: Shop, wants: Sequence[Want], row: int) -> tuple[int, ...]:
    """Return the wants that a row is not refused for at once."""
    piece = shop.pieces[row]
    return tuple(
        i for i, want in enumerate(wants) if refused_at_once(shop, shop.part(want.part), piece) is None
    )


def most_copies(shop: Shop, want: Want, row: int) -> int:
    """Return how many copies of a want one copy of a row can carry at the very most, by area."""
    area = abs(shop.part(want.part).outline.signed_area_mm2)
    return min(want.count, int(shop.pieces[row].shape.area_mm2 // area))


def _candidate(
    shop: Shop, bench: Bench, piece: Piece, row: int, made: tuple[int, ...], laid: Laid
) -> Candidate:
    placements = [(bench.part(i), p) for i, p in laid]
    usable = usable_area_mm2(bench.blank, placements, shop.settings)
    return Candidate(
        rows=(row,),
        made=made,
        laid=laid,
        value=value_of(piece, shop.settings),
        used_up=board_feet(piece.shape.area_mm2 - usable, piece.thickness_mm),
        seams_mm=sum(s.length_mm for s in seams_under(bench.blank, placements, shop.settings)),
    )


def _full_layouts(
    bench: Bench, alone: dict[int, Laid], rng: np.random.Generator, effort: int
) -> Iterator[Laid]:
    """Lay as many parts as will go: each want alone, then all of one thickness together.

    One after the other as served, largest first and at random; and where one more might go, by search.
    """
    areas = {i: abs(bench.part(i).outline.signed_area_mm2) for i in alone}
    room = bench.blank.shape.area_mm2
    known: dict[tuple[int, ...], Laid | None] = {(): ()}
    known.update({(i,): laid for i, laid in alone.items()})
    most = {i: min(bench.wants[i].count, int(room // area)) for i, area in areas.items()}
    asked: list[dict[int, int]] = [{i: most[i]} for i in alone]
    asked += [{i: most[i] for i in group} for group in _by_thickness(bench, list(alone)) if len(group) > 1]
    for counts in asked:
        items = [i for i, n in counts.items() for _ in range(n)]
        orders = [items]
        if len(counts) > 1:
            orders.append(sorted(items, key=lambda i: (-areas[i], i)))
            orders += [[items[k] for k in rng.permutation(len(items))] for _ in range(effort)]
        found = [_lay_in_order(bench, order, known) for order in orders]
        yield from found
        most_wood = max(sum(areas[i] for i, _ in laid) for laid in found)
        left = [i for i, n in counts.items() if max(_times(laid, i) for laid in found) < n]
        several = max(len(laid) for laid in found) >= 2
        whole = counts is asked[-1] or effort >= EFFORT_FOR_MORE
        if left and several and whole and most_wood + min(areas[i] for i in left) <= DENSEST * room:
            from nestyield.planning.packed import pack  # imports the compiler: only where it is needed

            yield pack(bench, counts, effort, int(rng.integers(2**31)))


def _times(laid: Laid, want: int) -> int:
    return sum(i == want for i, _ in laid)


def _by_thickness(bench: Bench, wants: Sequence[int]) -> list[list[int]]:
    """Group wants that a blank of one thickness can carry together."""
    groups: dict[float, list[int]] = {}
    for i in wants:
        groups.setdefault(bench.part(i).thickness_mm, []).append(i)
    return list(groups.values())


def _lay_in_order(bench: Bench, order: Sequence[int], known: dict[tuple[int, ...], Laid | None]) -> Laid:
    """Lay parts in the order given; one that finds no place is left out, and so are its further copies."""
    laid: Laid = ()
    key: tuple[int, ...] = ()
    room = bench.blank.shape.area_mm2
    full: set[int] = set()
    for want in order:
        area = abs(bench.part(want).outline.signed_area_mm2)
        if want in full or area > room:
            continue
        longer = (*key, want)
        if longer not in known:
            known[longer] = bench.add(laid, want)[0]
        more = known[longer]
        if more is None:
            full.add(want)
        else:
            laid, key, room = more, longer, room - area
    return laid


def _subsets(full: Laid) -> Iterator[Laid]:
    """Give the layout and layouts with fewer parts: every mixture when they are few, else its beginnings."""
    counts: dict[int, int] = {}
    for want, _ in full:
        counts[want] = counts.get(want, 0) + 1
    size = 1
    for n in counts.values():
        size *= n + 1
    if size > MOST_SUBSETS:
        yield from (full[:n] for n in range(len(full), 0, -1))
        return
    for kept in product(*(range(n, -1, -1) for n in counts.values())):
        left = dict(zip(counts, kept))
        chosen: list[tuple[int, Placement]] = []
        for want, placement in full:
            if left[want]:
                left[want] -= 1
                chosen.append((want, placement))
        if chosen:
            yield tuple(chosen)
