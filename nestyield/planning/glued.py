"""Candidates that are glued up from several pieces, for parts that no single piece serves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nestyield.glueup.find import find
from nestyield.model import Order, Part, Piece, Placement, Shop
from nestyield.placement.leftovers import usable_shapes
from nestyield.placement.stock import unsuitable
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import Choice
from nestyield.planning.demand import Demand
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.remembered import Cache, plain, remembered, settings_basis
from nestyield.planning.seams import seams_under
from nestyield.planning.workers import Job, WorkerPool
from nestyield.planning.worth import back_value, board_feet, left_thickness_mm, value_of

#: Glue-ups are asked for in other processes from so many wants on.
LEAST_WANTS_TO_SHARE = 2


def glued_candidates(
    crew: WorkerPool, orders: Sequence[Order], pool: Sequence[Candidate], choice: Choice, cache: Cache | None
) -> list[Candidate]:
    """Return glue-ups for the wants that a choice of single pieces leaves short.

    A piece that holds the part by itself is no member: glued to others it would make no more.

    Parameters
    ----------
    crew : WorkerPool
    orders : sequence of Order
        Served orders.
    pool : sequence of Candidate
        Layouts on single pieces.
    choice : Choice
        From that pool.
    cache : Cache or None
        Answers of earlier runs.

    Returns
    -------
    list of Candidate
    """
    shop, demands = crew.job.shop, crew.job.demands
    short = {order.name for order, n in zip(orders, choice.placed) if n < order.count}
    asked = {}
    for w, want in enumerate(demands):
        alone = {row for c in pool if c.made[w] for row in c.rows}
        rows = tuple(row for row in _rows(shop, want) if row not in alone)
        if rows and short & set(want.orders):
            asked[w] = rows
    settings = repr(settings_basis(shop))
    bases = {
        w: (
            settings,
            shop.part(demands[w].part),
            demands[w].beds,
            demands[w].count,
            [
                replace(plain(shop.pieces[r]), name=shop.pieces[r].name, count=shop.pieces[r].count)
                for r in rows
            ],
            crew.job.effort,
        )
        for w, rows in asked.items()
    }
    found = remembered(
        cache,
        "glue-ups",
        tuple[Candidate, ...],
        bases,
        lambda some: crew.run(
            glue_up_want,
            {w: (w, asked[w]) for w in some},
            what=lambda w: f"looking for glue-ups of {demands[w].part}",
            share_from=LEAST_WANTS_TO_SHARE,
        ),
    )
    return [
        replace(
            c,
            rows=tuple(asked[w][r] for r in c.rows),
            made=tuple(int(k == w) for k in range(len(demands))),
            laid=tuple((w, placement) for _, placement in c.laid),
        )
        for w, candidates in found.items()
        for c in candidates
    ]


def _rows(shop: Shop, want: Demand) -> tuple[int, ...]:
    """Return the rows whose pieces may be members of a glue-up for a want."""
    part = shop.part(want.part)
    return tuple(
        row
        for row, piece in enumerate(shop.pieces)
        if piece.status == "ready" and piece.count > 0 and not piece.seams and piece.grain_deg is not None
        if unsuitable(part, piece, shop.settings) is None
    )


def glue_up_want(job: Job, want: int, rows: tuple[int, ...]) -> tuple[Candidate, ...]:
    """Return glue-ups for one want.

    Parameters
    ----------
    job : Job
    want : int
    rows : tuple of int
        Rows whose pieces may be members.

    Returns
    -------
    tuple of Candidate
        Their ``rows`` are indices into ``rows``, and the want is their only one.
    """
    shop = job.shop
    part = shop.part(job.demands[want].part)
    pieces = [shop.pieces[row] for row in rows]
    found = find(
        part,
        pieces,
        shop.settings,
        lambda piece: value_of(piece, shop.settings),
        wanted=4 + 2 * job.demands[want].count,
        effort=job.effort,
    )
    out = []
    for glued in found:
        bench = LayoutContext(shop=shop, demands=(job.demands[want],), blank=glued.blank)
        laid = ((0, glued.placement),)
        if shop.beds and not any(s.is_usable for s in bench.setups(laid)):
            continue
        out.append(_candidate(shop, part, pieces, bench, laid))
    return tuple(out)


def _candidate(
    shop: Shop,
    part: Part,
    pieces: Sequence[Piece],
    bench: LayoutContext,
    laid: tuple[tuple[int, Placement], ...],
) -> Candidate:
    blank, placements = bench.blank, [(part, p) for _, p in laid]
    row_of = {piece.name: row for row, piece in enumerate(pieces)}
    taken = tuple(row_of[name] for name, _ in blank.copies)
    usable = usable_shapes(blank, placements, shop.settings)
    thickness = left_thickness_mm(blank, [part])
    wood = sum(board_feet(pieces[r].shape.area_mm2, pieces[r].thickness_mm) for r in taken)
    return Candidate(
        rows=taken,
        made=(1,),
        laid=laid,
        value=sum(value_of(pieces[r], shop.settings) for r in taken),
        back=back_value(blank, placements, usable, [pieces[r] for r in taken], shop.settings),
        used_up=wood - board_feet(sum(shape.area_mm2 for shape in usable), thickness),
        seams_mm=sum(s.length_mm for s in seams_under(blank, placements, shop.settings)),
        blank=blank,
    )
