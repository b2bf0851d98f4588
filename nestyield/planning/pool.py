"""Which rows of the rack are tried: the cheapest first, then those with which the choice could still gain.

A row costs time to try, so a large rack is tried in rounds. After each round the rows not yet tried are
priced: a row can only lower the value of the stock taken if what it could at best carry is worth more, at
the prices of the linear relaxation, than the row itself by more than the gap between the choice and that
relaxation. Rows that fail this can be left out without loss; the others are tried, best first.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from nestyield.model import Order, Shop
from nestyield.planning.candidates import Candidate, RowAnswer, may_serve, most_copies
from nestyield.planning.choice import Choice, choose
from nestyield.planning.clock import Clock
from nestyield.planning.prices import Prices, prices_of
from nestyield.planning.stock import value_of
from nestyield.planning.wants import Want

#: Racks with no more rows than this are tried whole.
SMALL_RACK = 40
#: Rows tried in one round, for each step of effort, beside those that the first round needs.
ROUND_ROWS = 8
#: Money that is too little to try a row for.
LEAST_GAIN = 1e-6

Ask = Callable[[Mapping[int, tuple[int, ...]]], dict[int, RowAnswer]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """What was tried.

    Parameters
    ----------
    answers : dict of int to RowAnswer
        By row, in rising value of the row.
    note : str
        How far the answer is limited by what was tried, for people.
    """

    answers: dict[int, RowAnswer]
    note: str

    @property
    def candidates(self) -> list[Candidate]:
        """All candidates, by rising value of the row."""
        return [candidate for answer in self.answers.values() for candidate in answer.candidates]


def grow_pool(
    shop: Shop,
    orders: Sequence[Order],
    wants: tuple[Want, ...],
    *,
    ask: Ask,
    effort: int,
    seed: int,
    clock: Clock,
) -> Pool:
    """Try rows until no other row could make more copies or lower the value of the stock taken.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders.
    wants : tuple of Want
    ask : callable
        Answers about rows, given the wants to try on each.
    effort, seed : int
    clock : Clock

    Returns
    -------
    Pool
    """
    ready = [row for row, piece in enumerate(shop.pieces) if piece.status == "ready" and piece.count > 0]
    ready.sort(key=lambda row: (value_of(shop.pieces[row], shop.settings), row))
    may = {row: asked for row in ready if (asked := may_serve(shop, wants, row))}
    answers: dict[int, RowAnswer] = {}

    def try_these(rows: Sequence[int]) -> None:
        answers.update(ask({row: may[row] for row in rows}))

    if len(may) <= SMALL_RACK:
        try_these(list(may))
        return _pool(shop, may, answers, clock, whole=True)
    while True:
        short = _short_of(shop, wants, may, answers)
        rows = _cheapest_for(shop, wants, may, answers, short)
        if not rows and not clock.over():
            candidates = [c for row in may if row in answers for c in answers[row].candidates]
            choice = choose(
                shop, orders, wants, candidates, effort=effort, seed=seed, clock=clock, rough=True
            )
            rows = _worth_trying(shop, orders, wants, may, answers, candidates, choice)
            rows = rows[: ROUND_ROWS * effort]
        if not rows or clock.over():
            return _pool(shop, may, answers, clock, whole=not rows)
        try_these(sorted(rows, key=list(may).index))


def _pool(
    shop: Shop,
    may: Mapping[int, tuple[int, ...]],
    answers: Mapping[int, RowAnswer],
    clock: Clock,
    whole: bool,
) -> Pool:
    tried = {row: answers[row] for row in may if row in answers}
    layouts = sum(len(answer.candidates) for answer in tried.values())
    note = f"{layouts} layouts on {len(tried)} of {len(shop.pieces)} rows"
    if len(tried) < len(may):
        rest = len(may) - len(tried)
        if whole and not clock.stopped:
            note += f"; {rest} more that might serve could not lower the value of the stock taken"
        else:
            note += f"; {rest} more that might serve were not tried: they limit the answer, not the proof"
    return Pool(answers=tried, note=note)


def _short_of(
    shop: Shop,
    wants: Sequence[Want],
    may: Mapping[int, tuple[int, ...]],
    answers: Mapping[int, RowAnswer],
) -> list[int]:
    """Return the wants for which the tried rows, each used for nothing else, do not yet suffice."""
    supply = [0] * len(wants)
    for row, answer in answers.items():
        for w in may[row]:
            most = max((c.made[w] for c in answer.candidates), default=0)
            supply[w] += most * shop.pieces[row].count
    return [w for w, want in enumerate(wants) if supply[w] < want.count]


def _cheapest_for(
    shop: Shop,
    wants: Sequence[Want],
    may: Mapping[int, tuple[int, ...]],
    answers: Mapping[int, RowAnswer],
    short: Sequence[int],
) -> list[int]:
    """Return the cheapest untried rows that might serve the wants that are short, twice as many as needed."""
    rows: set[int] = set()
    for w in short:
        hoped = 0
        for row in may:
            if row in answers or w not in may[row]:
                continue
            if hoped >= 2 * wants[w].count:
                break
            rows.add(row)
            hoped += most_copies(shop, wants[w], row) * shop.pieces[row].count
    return list(rows)


def _worth_trying(
    shop: Shop,
    orders: Sequence[Order],
    wants: Sequence[Want],
    may: Mapping[int, tuple[int, ...]],
    answers: Mapping[int, RowAnswer],
    candidates: Sequence[Candidate],
    choice: Choice,
) -> list[int]:
    """Return untried rows that could make more copies, else those that could lower the value, best first."""
    untried = [row for row in may if row not in answers]
    missing = {
        w
        for w, want in enumerate(wants)
        for order, n in zip(orders, choice.placed)
        if order.name in want.orders and n < order.count
    }
    # A want that is missing may also be made by moving another one elsewhere, so all that share rows count.
    rows = [row for row in untried if missing & set(may[row])]
    if missing and not rows:
        linked = _linked(may, candidates, missing)
        rows = [row for row in untried if linked & set(may[row])]
    if rows:
        return rows
    prices = prices_of(shop, wants, candidates, choice)
    gains = {row: _gain(shop, wants, may[row], row, prices) for row in untried}
    worth = [row for row in untried if gains[row] > LEAST_GAIN - prices.gap]
    return sorted(worth, key=lambda row: (-gains[row], row))


def _linked(
    may: Mapping[int, tuple[int, ...]], candidates: Sequence[Candidate], missing: set[int]
) -> set[int]:
    """Return wants that hold rows, directly or through others, on which missing ones could be made."""
    linked = set(missing)
    while True:
        rows = {row for c in candidates if any(c.made[w] for w in linked) for row in c.rows}
        more = {w for row in rows for w in may.get(row, ())}
        if more <= linked:
            return linked if linked != missing else set()
        linked |= more


def _gain(shop: Shop, wants: Sequence[Want], asked: Sequence[int], row: int, prices: Prices) -> float:
    """Return the most that one copy of a row could save at the prices: what it could carry less its value.

    What it could carry is bounded by area, as if parts could be cut up.
    """
    room = shop.pieces[row].shape.area_mm2
    worth = 0.0
    area = {w: abs(shop.part(wants[w].part).outline.signed_area_mm2) for w in asked}
    for w in sorted(asked, key=lambda w: (-prices.copy[w] / area[w], w)):
        if prices.copy[w] <= 0 or room <= 0:
            break
        n = min(float(most_copies(shop, wants[w], row)), room / area[w])
        worth += n * prices.copy[w]
        room -= n * area[w]
    return worth - value_of(shop.pieces[row], shop.settings)
