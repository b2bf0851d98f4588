"""What became of every order, why, and what to buy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Literal

from nestyield.model import Certificate, Order, OrderResult, Piece, Purchase, Shop
from nestyield.model.facts import (
    NoBedForPart,
    NotTried,
    OnHold,
    OrderOnHold,
    Reason,
    Refusal,
    Spent,
    Taken,
    Undecided,
)
from nestyield.placement.stock import blank_of
from nestyield.planning.candidates import RowAnswer, refused_at_once
from nestyield.planning.demand import Demand, beds_of
from nestyield.planning.diagnose import Diagnosis, diagnose, worth_a_look
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.purchases import purchase_for
from nestyield.planning.reasons import reasons_for
from nestyield.planning.remembered import Cache, remembered, settings_basis
from nestyield.planning.remembered import plain as plain_piece
from nestyield.planning.workers import Job, WorkerPool

#: Pieces are looked into in other processes from so many on.
LEAST_LOOKS_TO_SHARE = 8

#: What the plan's own check rejected of a piece.
Doubt = Literal["layout", "proof"]


def order_results(
    crew: WorkerPool,
    orders: Sequence[Order],
    answers: Mapping[int, RowAnswer],
    copies: Sequence[int],
    purchases: Mapping[str, Purchase | None],
    cache: Cache | None = None,
    doubts: Mapping[tuple[str, str], Doubt] = MappingProxyType({}),
) -> tuple[OrderResult, ...]:
    """Return what became of every order, in file order.

    Parameters
    ----------
    crew : WorkerPool
        Looks into single pieces, unless the time is over.
    orders : sequence of Order
        Served orders.
    answers : mapping of int to RowAnswer
        What each row that was tried can carry.
    copies : sequence of int
        Copies placed of each served order.
    purchases : mapping of str to Purchase or None
        As `purchases_for` gives them.
    cache : Cache or None
        What earlier runs saw in single pieces.
    doubts : mapping of (str, str) to {"layout", "proof"}
        Part and piece whose layout, or proof that there is none, was rejected.
    """
    shop, demands = crew.job.shop, crew.job.demands
    placed = {order.name: n for order, n in zip(orders, copies)}
    short = {o.name for o, n in zip(orders, copies) if n < o.count}
    unmet = [w for w, want in enumerate(demands) if short & set(want.orders)]
    looked_into = _refusals(crew, unmet, answers, cache, doubts)
    results: list[OrderResult] = []
    for order in shop.orders:
        if order.hold:
            results.append(
                OrderResult(order=order.name, placed=0, count=order.count, reasons=(OrderOnHold(),))
            )
            continue
        n = placed[order.name]
        reasons: tuple[Reason, ...] = ()
        proofs: tuple[Certificate, ...] = ()
        if n < order.count:
            w = next(i for i, want in enumerate(demands) if order.name in want.orders)
            refusals, proofs = looked_into[w]
            reasons = reasons_for(shop.part(order.part), refusals)
            if purchases[order.name] is None:
                reasons = (NoBedForPart(), *reasons)
        results.append(
            OrderResult(order=order.name, placed=n, count=order.count, reasons=reasons, certificates=proofs)
        )
    return tuple(results)


def purchases_for(shop: Shop, orders: Sequence[Order], placed: Sequence[int]) -> dict[str, Purchase | None]:
    """Return what to buy for each served order that is not met in full; None when no board would help.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders.
    placed : sequence of int
        Copies placed of each.
    """
    return {
        order.name: purchase_for(
            shop.part(order.part),
            order,
            order.count - n,
            [b for b in shop.beds if b.name in beds_of(order, shop)],
            shop.settings,
        )
        for order, n in zip(orders, placed)
        if n < order.count
    }


def _refusals(
    crew: WorkerPool,
    unmet: Sequence[int],
    answers: Mapping[int, RowAnswer],
    cache: Cache | None,
    doubts: Mapping[tuple[str, str], Doubt],
) -> dict[int, tuple[tuple[Refusal, ...], tuple[Certificate, ...]]]:
    """Return one refusal a row of the rack for each want that is not met in full, and proofs of some."""
    shop, demands = crew.job.shop, crew.job.demands
    plain = {
        w: _doubted(shop, demands[w].part, _plain_refusals(shop, demands, w, answers), doubts) for w in unmet
    }
    near = [(w, row) for w in unmet for row in worth_a_look(shop.pieces, plain[w])]
    seen = remembered(
        cache,
        "look",
        Diagnosis,
        {
            (w, row): (settings_basis(shop), shop.part(demands[w].part), _bare(shop.pieces[row]))
            for w, row in near
        },
        lambda some: crew.run(
            see,
            {key: key for key in some},
            what=lambda s: f"looking why {demands[s[0]].part} finds no place on {shop.pieces[s[1]].name}",
            share_from=LEAST_LOOKS_TO_SHARE,
        ),
    )
    out: dict[int, tuple[tuple[Refusal, ...], tuple[Certificate, ...]]] = {}
    for w, refusals in plain.items():
        proofs = []
        for row in range(len(refusals)):
            if (w, row) in seen:
                told = seen[w, row]
                refusals[row] = _looked_into(refusals[row], told.refusal)
                if told.proof is not None and (told.proof.part, told.proof.blank) not in doubts:
                    proofs.append(told.proof)
        out[w] = tuple(refusals), tuple(proofs)
    return out


def _doubted(
    shop: Shop, part: str, refusals: Sequence[Refusal], doubts: Mapping[tuple[str, str], Doubt]
) -> list[Refusal]:
    """Return the refusals of a part, a piece undecided where its layout or proof was rejected."""
    out = []
    for piece, refusal in zip(shop.pieces, refusals):
        because = doubts.get((part, piece.name))
        out.append(refusal if because is None else Undecided(piece=piece.name, because=because))
    return out


def _looked_into(plain: Refusal, refusal: Refusal) -> Refusal:
    """Return the refusal that a closer look gives; a piece on hold stays one that is on hold."""
    return replace(plain, far_um=refusal.far_um) if isinstance(plain, OnHold) else refusal


def _bare(piece: Piece) -> Piece:
    return replace(plain_piece(piece), name=piece.name)


def see(job: Job, want: int, row: int) -> Diagnosis:
    """Look into why a want finds no place on a row."""
    part, blank = job.shop.part(job.demands[want].part), blank_of(job.shop.pieces[row])
    return diagnose(part, blank, job.shop.settings)


def _plain_refusals(
    shop: Shop, demands: tuple[Demand, ...], want: int, answers: Mapping[int, RowAnswer]
) -> list[Refusal]:
    out: list[Refusal] = []
    part = shop.part(demands[want].part)
    for row, piece in enumerate(shop.pieces):
        at_once = refused_at_once(shop, part, piece)
        if at_once is not None:
            out.append(at_once)
        elif row in answers:
            told = [r for w, r in answers[row].refusals if w == want]
            out.append(told[0] if told else Spent(piece=piece.name))
        elif piece.status == "taken" or piece.count == 0:
            out.append(Taken(piece=piece.name))
        elif piece.status == "hold":
            out.append(_on_hold(shop, demands, want, piece))
        else:
            out.append(NotTried(piece=piece.name))
    return out


def _on_hold(shop: Shop, demands: tuple[Demand, ...], want: int, piece: Piece) -> Refusal:
    _, refusal = LayoutContext(shop=shop, demands=demands, blank=blank_of(piece)).add((), want)
    if refusal is None:
        return OnHold(piece=piece.name, usable=True, far_um=0)
    return OnHold(piece=piece.name, usable=False, far_um=refusal.far_um)
