"""Candidates that are glued up from several pieces, for parts that no single piece serves."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.glueup.find import find
from nestyield.model import Order, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import Choice
from nestyield.planning.clock import Clock
from nestyield.planning.lay import Bench
from nestyield.planning.leftovers import usable_area_mm2
from nestyield.planning.seams import seams_under
from nestyield.planning.stock import board_feet, unsuitable, value_of
from nestyield.planning.wants import Want


def glued_candidates(
    shop: Shop,
    orders: Sequence[Order],
    wants: tuple[Want, ...],
    choice: Choice,
    *,
    effort: int,
    clock: Clock,
) -> list[Candidate]:
    """Return glue-ups for the wants that a choice of single pieces leaves short.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders.
    wants : tuple of Want
    choice : Choice
        Of single pieces.
    effort : int
    clock : Clock

    Returns
    -------
    list of Candidate
    """
    short = {order.name for order, n in zip(orders, choice.placed) if n < order.count}
    out: list[Candidate] = []
    for w, want in enumerate(wants):
        if not short & set(want.orders) or clock.over():
            continue
        part = shop.part(want.part)
        rows = [
            row
            for row, piece in enumerate(shop.pieces)
            if piece.status == "ready" and piece.count > 0 and not piece.seams and piece.grain_deg is not None
            if unsuitable(part, piece, shop.settings, shop.units) is None
        ]
        pieces = [shop.pieces[row] for row in rows]
        row_of = {piece.name: row for piece, row in zip(pieces, rows)}
        found = find(
            part,
            pieces,
            shop.settings,
            lambda p: value_of(p, shop.settings),
            wanted=4 + 2 * want.count,
            effort=effort,
        )
        for glued in found:
            bench = Bench(shop=shop, wants=wants, blank=glued.blank)
            laid = ((w, glued.placement),)
            if shop.beds and not any(s.serves for s in bench.setups(laid)):
                continue
            taken = [row_of[m.piece] for m in glued.blank.members]
            usable = usable_area_mm2(glued.blank, [(part, glued.placement)], shop.settings)
            wood = sum(board_feet(shop.pieces[r].shape.area_mm2, shop.pieces[r].thickness_mm) for r in taken)
            out.append(
                Candidate(
                    rows=tuple(taken),
                    made=tuple(int(k == w) for k in range(len(wants))),
                    laid=laid,
                    value=sum(value_of(shop.pieces[r], shop.settings) for r in taken),
                    used_up=wood - board_feet(usable, glued.blank.thickness_mm),
                    seams_mm=sum(
                        s.length_mm
                        for s in seams_under(glued.blank, [(part, glued.placement)], shop.settings)
                    ),
                    blank=glued.blank,
                )
            )
    return out
