"""What became of every order, why, and what to buy."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Literal

from nestyield.model import Certificate, Order, OrderResult, Part, Piece, Purchase, Shop
from nestyield.model.facts import (
    LackingPart,
    LeftForSet,
    NoBedForPart,
    NotTried,
    OnHold,
    OrderOnHold,
    Reason,
    Refusal,
    SetNotWhole,
    Spent,
    Taken,
    Undecided,
)
from nestyield.model.sets import sets_of
from nestyield.placement.stock import blank_of
from nestyield.planning.book_match import board_for, book_matched
from nestyield.planning.candidates import RowAnswer, refused_at_once
from nestyield.planning.choice import Choice
from nestyield.planning.demand import Demand, beds_of, demands_of
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.layers_to_buy import layers_to_buy
from nestyield.planning.looks import Diagnosis, look_at_row, look_closely, worth_a_look
from nestyield.planning.purchases import purchase_for
from nestyield.planning.reasons import closest_row, reasons_for
from nestyield.planning.remembered import Cache, remembered, settings_basis
from nestyield.planning.remembered import plain as plain_piece
from nestyield.planning.resaw import may_be_resawn
from nestyield.planning.strips import board_for_strips
from nestyield.planning.workers import Job, WorkerPool

#: Pieces are looked into in other processes from so many on.
LEAST_LOOKS_TO_SHARE = 8
#: The piece told as the closest is looked into closely; another one, where nothing helps for certain, so often.
MOST_CLOSE_LOOKS = 3

#: What the plan's own check rejected of a piece.
Doubt = Literal["layout", "proof"]


def order_results(
    crew: WorkerPool,
    orders: Sequence[Order],
    answers: Mapping[int, RowAnswer],
    choice: Choice,
    purchases: Mapping[str, tuple[Purchase, ...]],
    cache: Cache | None = None,
    doubts: Mapping[tuple[str, str], Doubt] = MappingProxyType({}),
    used: Collection[str] = (),
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
    choice : Choice
        Copies placed of each served order, and what lacks for sets.
    purchases : mapping of str to tuple of Purchase
        As `purchases_for` gives them.
    cache : Cache or None
        What earlier runs saw in single pieces.
    doubts : mapping of (str, str) to {"layout", "proof"}
        Part and piece whose layout, or proof that there is none, was rejected.
    used : collection of str
        Pieces of which the plan uses every copy.
    """
    shop, demands = crew.job.shop, crew.job.demands
    placed = {order.name: n for order, n in zip(orders, choice.placed)}
    sets = _not_whole(orders, choice, _made_singly(demands, answers))
    waiting = {orders[k].name for k, n in enumerate(choice.lacking) if orders[k].set and not n}
    short = {o.name for o, n in zip(orders, choice.placed) if n < o.count} - waiting
    unmet = [w for w, want in enumerate(demands) if short & set(want.orders)]
    looked_into = _refusals(crew, unmet, answers, cache, doubts, used)
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
        if n < order.count and order.name in waiting:
            reasons = (sets[order.set],)
        elif n < order.count:
            w = next(i for i, want in enumerate(demands) if order.name in want.orders)
            refusals, proofs = looked_into[w]
            if order.set:
                refusals = _left(refusals, used)
            reasons = reasons_for(shop.part(order.part), refusals, used, stopped=bool(crew.clock.reason))
            unbought = order.name in purchases and not purchases[order.name]
            asked = shop.part(order.part)
            if unbought and not asked.book_match and asked.strips != "only":
                reasons = (NoBedForPart(), *reasons)
            if order.set in sets:
                reasons = (sets[order.set], *reasons)
        results.append(
            OrderResult(order=order.name, placed=n, count=order.count, reasons=reasons, certificates=proofs)
        )
    return tuple(results)


def _made_singly(demands: Sequence[Demand], answers: Mapping[int, RowAnswer]) -> set[str]:
    """Return the orders of which some row of the rack makes a copy."""
    made = {w for a in answers.values() for c in a.candidates for w, n in enumerate(c.made) if n}
    return {name for w in made for name in demands[w].orders}


def _not_whole(orders: Sequence[Order], choice: Choice, singly: set[str]) -> dict[str, SetNotWhole]:
    """Return what is told of each set that is not made as often as it is wanted."""
    out = {}
    for wanted in sets_of(orders) if choice.lacking else ():
        # of the order that asks for the most, each one of the set needs all its copies
        most = max(wanted.orders, key=lambda k: orders[k].count / orders[k].per_set)
        made = choice.placed[most] // orders[most].per_set
        if made < wanted.count:
            out[wanted.name] = SetNotWhole(
                set=wanted.name,
                made=made,
                wanted=wanted.count,
                lacking=tuple(
                    LackingPart(
                        order=orders[k].name,
                        part=orders[k].part,
                        copies=choice.lacking[k],
                        species=dict(choice.lacking_species).get(k, ()),
                    )
                    for k in wanted.orders
                    if choice.lacking[k]
                ),
                match=wanted.match,
                singly=wanted.match in ("row", "board")
                and {orders[k].name for k in wanted.matching} <= singly,
            )
    return out


def _left(refusals: Sequence[Refusal], used: Collection[str]) -> tuple[Refusal, ...]:
    """Return refusals of an order of a set: a piece that would do and is not used up is left for the set."""
    return tuple(
        LeftForSet(piece=r.piece) if isinstance(r, Spent) and r.piece not in used else r for r in refusals
    )


def purchases_for(
    shop: Shop,
    orders: Sequence[Order],
    placed: Sequence[int],
    lacking: Sequence[int] = (),
    species: Mapping[int, tuple[str, ...]] = MappingProxyType({}),
    used: Mapping[str, int] = MappingProxyType({}),
) -> dict[str, tuple[Purchase, ...]]:
    """Return what to buy for each served order that is not met in full; nothing where no board would help.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders.
    placed : sequence of int
        Copies placed of each.
    lacking : sequence of int
        Copies of each that lack for sets; of the other orders of these nothing is to be bought.
    species : mapping of int to tuple of str
        Which woods alone help an order whose set must match.
    used : mapping of str to int
        Copies of each row that the plan takes.
    """
    missing = [
        lacking[k] if lacking and order.set else order.count - placed[k] for k, order in enumerate(orders)
    ]
    demands = demands_of(shop)
    found: dict[str, tuple[Purchase, ...]] = {}
    for k, (order, n) in enumerate(zip(orders, missing)):
        part = _of_species(shop.part(order.part), species.get(k, ()))
        beds = [b for b in shop.beds if b.name in beds_of(order, shop)]
        if n <= 0:
            continue
        if part.cap:
            found[order.name] = layers_to_buy(shop, part, order, n, beds, used)
            continue
        board = (
            board_for(shop, demands, _want_of(demands, order), n, order.name)
            if part.book_match
            else board_for_strips(shop, demands, _want_of(demands, order), n, order.name)
            if part.strips == "only"
            else purchase_for(part, order, n, beds, shop.settings, shop.units)
        )
        found[order.name] = () if board is None else (board,)
    return found


def _of_species(part: Part, species: tuple[str, ...]) -> Part:
    return replace(part, species=species) if species else part


def _want_of(demands: Sequence[Demand], order: Order) -> int:
    return next(i for i, want in enumerate(demands) if order.name in want.orders)


def _refusals(
    crew: WorkerPool,
    unmet: Sequence[int],
    answers: Mapping[int, RowAnswer],
    cache: Cache | None,
    doubts: Mapping[tuple[str, str], Doubt],
    used: Collection[str],
) -> dict[int, tuple[tuple[Refusal, ...], tuple[Certificate, ...]]]:
    """Return one refusal a row of the rack for each want that is not met in full, and proofs of some."""
    shop, demands = crew.job.shop, crew.job.demands
    plain = {
        w: _doubted(shop, demands[w].part, _plain_refusals(shop, demands, w, answers), doubts) for w in unmet
    }
    near = {
        (w, row): plain[w][row]
        for w in unmet
        for row in worth_a_look(shop.pieces, plain[w], shop.part(demands[w].part), shop.settings)
    }
    proofs: dict[int, list[Certificate]] = {w: [] for w in unmet}
    for (w, row), told in _looks(crew, "look", look_at_row, near, cache).items():
        plain[w][row] = _looked_into(plain[w][row], told.refusal)
        if told.proof is not None and (told.proof.part, told.proof.blank) not in doubts:
            proofs[w].append(told.proof)
    certain: set[tuple[int, int]] = set()
    for _ in range(MOST_CLOSE_LOOKS):
        close = {}
        for w in unmet:
            nearest = closest_row(shop.part(demands[w].part), plain[w], used, stopped=bool(crew.clock.reason))
            if nearest is not None and (w, nearest) not in certain:
                close[w, nearest] = plain[w][nearest]
        for (w, row), told in _looks(crew, "close look", look_closely, close, cache).items():
            plain[w][row] = told.refusal
        certain |= close.keys()
    return {w: (tuple(refusals), tuple(proofs[w])) for w, refusals in plain.items()}


def _looks(
    crew: WorkerPool,
    name: str,
    look: Callable[[Job, int, int, Refusal], Diagnosis],
    asked: Mapping[tuple[int, int], Refusal],
    cache: Cache | None,
) -> dict[tuple[int, int], Diagnosis]:
    """Look into why some wants are refused by some rows; equal questions are asked once."""
    shop, demands = crew.job.shop, crew.job.demands
    return remembered(
        cache,
        name,
        Diagnosis,
        {
            (w, row): (
                settings_basis(shop),
                shop.part(demands[w].part),
                demands[w].beds,
                _bare(shop.pieces[row]),
                refusal,
            )
            for (w, row), refusal in asked.items()
        },
        lambda some: crew.run(
            look,
            {(w, row): (w, row, asked[w, row]) for w, row in some},
            what=lambda s: f"looking why {demands[s[0]].part} finds no place on {shop.pieces[s[1]].name}",
            share_from=LEAST_LOOKS_TO_SHARE,
        ),
    )


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


def _plain_refusals(
    shop: Shop, demands: tuple[Demand, ...], want: int, answers: Mapping[int, RowAnswer]
) -> list[Refusal]:
    out: list[Refusal] = []
    part = shop.part(demands[want].part)
    for row, piece in enumerate(shop.pieces):
        at_once = refused_at_once(shop, part, piece)
        found = answers[row].candidates if row in answers else ()
        untried = part.book_match and row not in answers and may_be_resawn(shop, part, piece)
        if at_once is not None and not untried and not any(c.made[want] for c in found):
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
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(piece))
    if bench.part(want).book_match:
        usable = book_matched(bench, piece, shop.pieces.index(piece), want) is not None
        return OnHold(piece=piece.name, usable=usable, far_um=0 if usable else None)
    _, refusal = bench.add((), want)
    if refusal is None:
        return OnHold(piece=piece.name, usable=True, far_um=0)
    return OnHold(piece=piece.name, usable=False, far_um=refusal.far_um)
