"""What became of every order, why, and what to buy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from nestyield.model import Certificate, Order, OrderResult, Piece, Purchase, Shop
from nestyield.planning.candidates import RowAnswer, refused_at_once
from nestyield.planning.lay import Bench
from nestyield.planning.misses import explain
from nestyield.planning.purchases import purchase_for
from nestyield.planning.reasons import reasons_for
from nestyield.planning.stock import Refusal, blank_of
from nestyield.planning.wants import Want, beds_of

#: Told first when it is not the wood that is missing.
NO_BED = "no bed that may cut it takes it, not even from the smallest board (ask with: nestyield fit)"


def order_results(
    shop: Shop,
    orders: Sequence[Order],
    wants: Sequence[Want],
    answers: Mapping[int, RowAnswer],
    copies: Sequence[int],
    purchases: Mapping[str, Purchase | None],
) -> tuple[OrderResult, ...]:
    """Return what became of every order, in file order.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders.
    wants : sequence of Want
    answers : mapping of int to RowAnswer
        What each row that was tried can carry.
    copies : sequence of int
        Copies placed of each served order.
    purchases : mapping of str to Purchase or None
        As `purchases_for` gives them.
    """
    placed = {order.name: n for order, n in zip(orders, copies)}
    looked_into: dict[int, tuple[tuple[Refusal, ...], tuple[Certificate, ...]]] = {}
    results: list[OrderResult] = []
    for order in shop.orders:
        if order.hold:
            results.append(OrderResult(order=order.name, placed=0, reasons=("on hold",)))
            continue
        n = placed[order.name]
        reasons: tuple[str, ...] = ()
        proofs: tuple[Certificate, ...] = ()
        if n < order.count:
            w = next(i for i, want in enumerate(wants) if order.name in want.orders)
            if w not in looked_into:
                looked_into[w] = _refusals(shop, tuple(wants), w, answers)
            refusals, proofs = looked_into[w]
            reasons = reasons_for(shop.part(order.part), refusals, shop.units)
            if purchases[order.name] is None:
                reasons = (NO_BED, *reasons)
        results.append(OrderResult(order=order.name, placed=n, reasons=reasons, certificates=proofs))
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
    shop: Shop, wants: tuple[Want, ...], want: int, answers: Mapping[int, RowAnswer]
) -> tuple[tuple[Refusal, ...], tuple[Certificate, ...]]:
    """Return one refusal a row of the rack for a want that is not met in full, and proofs of some."""
    plain = _plain_refusals(shop, wants, want, answers)
    part = shop.part(wants[want].part)
    return explain(part, shop.settings, [(blank_of(p), r) for p, r in zip(shop.pieces, plain)])


def _plain_refusals(
    shop: Shop, wants: tuple[Want, ...], want: int, answers: Mapping[int, RowAnswer]
) -> list[Refusal]:
    out: list[Refusal] = []
    part = shop.part(wants[want].part)
    for row, piece in enumerate(shop.pieces):
        at_once = refused_at_once(shop, part, piece)
        if at_once is not None:
            out.append(at_once)
        elif row in answers:
            told = [r for w, r in answers[row].refusals if w == want]
            out.append(told[0] if told else Refusal(piece=piece.name, cause="spent", text="is spent"))
        elif piece.status == "taken" or piece.count == 0:
            out.append(Refusal(piece=piece.name, cause="taken", text="is taken"))
        elif piece.status == "hold":
            out.append(_on_hold(shop, wants, want, piece))
        else:
            out.append(Refusal(piece=piece.name, cause="not tried", text="was not tried"))
    return out


def _on_hold(shop: Shop, wants: tuple[Want, ...], want: int, piece: Piece) -> Refusal:
    _, refusal = Bench(shop=shop, wants=wants, blank=blank_of(piece)).add((), want)
    if refusal is None:
        return Refusal(piece=piece.name, cause="on hold", text="would do, but is on hold", short_mm=0.0)
    return replace(refusal, cause="on hold")
