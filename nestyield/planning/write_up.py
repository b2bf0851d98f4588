"""The chosen candidates as layouts: copies of rows and orders given out, and all that papers say."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from nestyield.model import Bed, Blank, Layout, Order, Piece, Placement, Sawing, Shop
from nestyield.placement.leftovers import letters
from nestyield.placement.stock import blank_of, block_of, leaf_of
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import Choice
from nestyield.planning.lay_parts import Laid, LayoutContext
from nestyield.planning.layouts import make_layout
from nestyield.planning.remembered import Cache, remembered, settings_basis
from nestyield.planning.saw_first import SawnFirst
from nestyield.planning.sets import Handed, is_of
from nestyield.planning.work.inspect import held_in
from nestyield.planning.workers import Job, WorkerPool
from nestyield.planning.worth import share_of, taken_by, value_of

#: Layouts are written up in other processes from so many on.
LEAST_TO_SHARE = 16

Entry = tuple[Blank, tuple[Placement, ...], tuple[Bed, ...], float]


def write_up(
    crew: WorkerPool, orders: Sequence[Order], pool: Sequence[Candidate], choice: Choice, cache: Cache | None
) -> tuple[Layout, ...]:
    """Return the layouts of a choice, by row of the rack; done even when the time is over.

    Parameters
    ----------
    crew : WorkerPool
    orders : sequence of Order
        Served orders.
    pool : sequence of Candidate
    choice : Choice
        From that pool.
    cache : Cache or None
        Layouts of earlier runs.
    """
    shop = crew.job.shop
    entries = dict(enumerate(_entries(crew.job, orders, pool, choice)))
    settings = repr(settings_basis(shop))
    found = remembered(
        cache,
        "layout",
        Layout,
        {k: (settings, entry, _bare(shop, entry)) for k, entry in entries.items()},
        lambda some: crew.run(
            write_up_one,
            {k: entries[k] for k in some},
            what=lambda k: f"writing up blank {entries[k][0].name}",
            share_from=LEAST_TO_SHARE,
            needed=True,
        ),
    )
    return tuple(found.values())


def write_up_one(
    job: Job, blank: Blank, placements: tuple[Placement, ...], beds: tuple[Bed, ...], value: float
) -> Layout:
    """Return one layout; it rests on units, settings, beds, its parts and its pieces alone."""
    bare = _bare(job.shop, (blank, placements, beds, value))
    return make_layout(bare, blank, placements, beds, value)


def _bare(shop: Shop, entry: Entry) -> Shop:
    blank, placements, _, _ = entry
    parts = {p.part for p in placements}
    pieces = {m.piece for m in blank.members}
    return replace(
        shop,
        name="",
        settings=replace(shop.settings, seconds=1.0, workers=1, seed=0, effort=0),
        parts=tuple(p for p in shop.parts if p.name in parts),
        pieces=tuple(
            replace(p, shelf="", note="", parent="", row=0, count=1) for p in shop.pieces if p.name in pieces
        ),
        orders=(),
        files={},
    )


def _entries(job: Job, orders: Sequence[Order], pool: Sequence[Candidate], choice: Choice) -> list[Entry]:
    """Give the chosen candidates their copies of rack rows, and their parts the names of their orders."""
    shop, demands = job.shop, job.demands
    copies = choice.copies or tuple(
        Handed(order=k, copy=copy) for k, n in enumerate(choice.placed) for copy in range(1, n + 1)
    )
    waiting = [[h for h in copies if orders[h.order].name in want.orders] for want in demands]
    out: list[Entry] = []
    number = 0
    for index, here in _with_copies(pool, choice):
        candidate = pool[index]
        for k, (blank, laid) in enumerate(_blanks(shop, candidate, here)):
            if len(blank.members) > 1:
                number += 1
                blank = replace(blank, name=f"glue-up {number}")
            placements: list[Placement] = []
            for want, placement in laid:
                copy = _next(shop, orders, candidate, index, waiting[want])
                placements.append(replace(placement, order=orders[copy.order].name, copy=copy.copy))
            bench = LayoutContext(shop=shop, demands=demands, blank=blank)
            beds = bench.beds([want for want, _ in laid])
            value = candidate.value if candidate.sawn is None else _share(shop, candidate, k)
            if candidate.leaves is not None:
                value = sum(value_of(p, shop.settings) for p in taken_by(blank, shop.pieces))
            out.append((blank, tuple(placements), beds, value))
    return out


def _share(shop: Shop, candidate: Candidate, k: int) -> float:
    assert candidate.sawn is not None
    block = candidate.sawn.blocks[k]
    return value_of(share_of(shop.pieces[candidate.rows[0]], block.cut, block.layer), shop.settings)


def _next(
    shop: Shop, orders: Sequence[Order], candidate: Candidate, index: int, waiting: list[Handed]
) -> Handed:
    """Take the copy that a part on a candidate is from those that wait: one of a set that wants its wood first."""
    for copy in waiting:
        if copy.wood and is_of(shop, candidate, index, orders[copy.order].match, copy.wood):
            waiting.remove(copy)
            return copy
    free = next(copy for copy in waiting if not copy.wood)
    waiting.remove(free)
    return free


def _with_copies(pool: Sequence[Candidate], choice: Choice) -> list[tuple[int, tuple[int, ...]]]:
    """Return the chosen candidates by their index in the order in which they are written up, with the copies of their rows."""
    taken: dict[int, int] = {}
    out = []
    for index in _uses_in_order(pool, choice):
        here = []
        for row in pool[index].rows:
            taken[row] = taken.get(row, 0) + 1
            here.append(taken[row])
        out.append((index, tuple(here)))
    return out


def sawings_of(shop: Shop, pool: Sequence[Candidate], choice: Choice) -> tuple[Sawing, ...]:
    """Return how pieces of a choice are sawn before any of them goes on a bed, by row of the rack.

    Parameters
    ----------
    shop : Shop
    pool : sequence of Candidate
    choice : Choice
        From that pool.
    """
    out = []
    number = 0
    for index, copies in _with_copies(pool, choice):
        candidate = pool[index]
        number += candidate.blank is not None
        for row, copy, first in zip(
            candidate.rows, copies, candidate.crosscuts or (candidate.sawn or candidate.leaves,)
        ):
            if first is not None:
                glued = f"glue-up {number}" if candidate.sawn is None else ""
                out.append(_sawing(shop, shop.pieces[row], copy, first, glued))
    return tuple(out)


def _sawing(shop: Shop, piece: Piece, copy: int, first: SawnFirst, glued: str) -> Sawing:
    """Return how one copy is sawn, into members of a glue-up or, where that is ``""``, into blanks of its own."""
    label = blank_of(piece, copy).name
    rests = tuple(replace(rest, name=f"{label}-{letters(k)}") for k, rest in enumerate(first.rests))
    machines, resaw = shop.settings.machines, first.resaw
    layers = [None] * len(rests) if resaw is None else resaw.rests
    flaws = [
        held
        for rest, layer in zip(rests, layers, strict=True)
        for leaf in (piece if layer is None else leaf_of(piece, layer),)
        for held in held_in([rest], leaf.defects, piece.grain_deg, shop.settings)
    ]
    return Sawing(
        piece=piece.name,
        copy=copy,
        kerf_mm=machines.saw_kerf_mm if resaw is None else machines.resaw_kerf_mm,
        cuts=first.cuts,
        blanks=(glued,) if glued else _sawn_names(shop, label, len(first.blocks)),
        rests=rests,
        value=value_of(piece, shop.settings),
        flaws=tuple(flaws),
        resaw=resaw,
    )


def _sawn_names(shop: Shop, label: str, count: int) -> tuple[str, ...]:
    """Return names for blanks sawn off a piece, ``B-1.1``, ``B-1.2`` ..., none that the rack has."""
    taken = {piece.name for piece in shop.pieces}
    names = (name for k in itertools.count(1) if (name := f"{label}.{k}") not in taken)
    return tuple(itertools.islice(names, count))


def used_in_order(pool: Sequence[Candidate], choice: Choice) -> list[int]:
    """Return the index in the pool of each layout of a choice, in the order in which they are written up."""
    uses = ((index, pool[index].sawn) for index in _uses_in_order(pool, choice))
    return [index for index, sawn in uses for _ in range(1 if sawn is None else len(sawn.blocks))]


def _uses_in_order(pool: Sequence[Candidate], choice: Choice) -> list[int]:
    used = sorted(choice.used, key=lambda use: (pool[use[0]].rows, use[0]))
    return [index for index, times in used for _ in range(times)]


def _blanks(shop: Shop, candidate: Candidate, copies: Sequence[int]) -> list[tuple[Blank, Laid]]:
    """Return the blanks of a candidate, made from these copies of its rows, and what is laid on each."""
    piece = shop.pieces[candidate.rows[0]]
    if candidate.sawn is not None:
        names = _sawn_names(shop, blank_of(piece, copies[0]).name, len(candidate.sawn.blocks))
        return [
            (block_of(piece, block.cut, copy=copies[0], name=name, layer=block.layer), block.laid)
            for name, block in zip(names, candidate.sawn.blocks)
        ]
    if candidate.blank is None:
        return [(blank_of(piece, copies[0]), candidate.laid)]
    copy_of = dict(zip(candidate.blank.copies, copies))
    members = tuple(replace(m, copy=copy_of[m.piece, m.copy]) for m in candidate.blank.members)
    return [(replace(candidate.blank, members=members), candidate.laid)]
