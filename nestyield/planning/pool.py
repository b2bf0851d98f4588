"""Which rows of the rack are tried, and how closely: the cheapest first, then where the choice could gain.

A row costs time to try, so a large rack is tried in rounds. After each round the rows not yet tried are
priced: a row can only lower the value of the stock taken if what it could at best carry is worth more, at
the prices of the linear relaxation, than the row itself by more than the gap between the choice and that
relaxation. Rows that fail this can be left out without loss; the others are tried, best first. Searches for
more parts on one piece are priced in the same way, and made only where the choice could gain: all of them with
little effort first, then again with more, up to the effort of the run. Last come glue-ups (``glued``), and all
of it once more with their prices, until nothing new is found.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from nestyield.model import Order, Shop
from nestyield.model.facts import LayoutsTried, RowsNotTried, RowsRuledOut, SearchesLeft, Untried
from nestyield.planning.candidates import (
    Candidate,
    RowAnswer,
    may_serve,
    most_copies,
    without_sections,
)
from nestyield.planning.choice import Choice, choose
from nestyield.planning.clock import Clock
from nestyield.planning.demand import Demand
from nestyield.planning.denser import (
    DEEPER,
    Areas,
    PackingRequest,
    areas_of,
    joined,
    loads,
    may_gain,
    open_mixtures,
)
from nestyield.planning.duals import Duals, copy_duals_of, duals_of
from nestyield.planning.fill_up import AlikeRequest, may_save, next_alike, next_fill
from nestyield.planning.resaw import most_leaves
from nestyield.planning.worth import value_of

#: Racks with no more rows than this are tried whole.
SMALL_RACK = 40
#: Mixtures of parts are searched for one by one where no more rows than this may serve.
FEW_ROWS = 12
#: Rows tried in one round, for each step of effort, beside those that the first round needs.
ROUND_ROWS = 8
#: Searches for more parts on one piece, for each step of their effort: in one round, and in all.
ROUND_SEARCHES = 4
MOST_SEARCHES = 8
#: Searches that fill one of several pieces after the other, for each step of depth.
MOST_FILLS = 48
#: Money that is too little to try a row for.
LEAST_GAIN = 1e-6

Ask = Callable[[Mapping[int, tuple[int, ...]]], dict[int, RowAnswer]]
Choose = Callable[[Sequence[Candidate], bool], Choice]
Glue = Callable[[Sequence[Candidate], Choice, set[int]], list[Candidate]]
Alike = Callable[[AlikeRequest, int], RowAnswer]
Search = Callable[[Sequence[tuple[int, PackingRequest]], int], dict[tuple[int, PackingRequest], RowAnswer]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """What was tried.

    Parameters
    ----------
    answers : dict of int to RowAnswer
        By row, in rising value of the row.
    tried : LayoutsTried
    untried : tuple of Untried
        What was not tried, with or without loss.
    glued : tuple of Candidate
        Glue-ups.
    """

    answers: dict[int, RowAnswer]
    tried: LayoutsTried
    untried: tuple[Untried, ...]
    glued: tuple[Candidate, ...] = ()

    @property
    def candidates(self) -> list[Candidate]:
        """All candidates, by rising value of the row, glue-ups last."""
        singles = (c for answer in self.answers.values() for c in without_sections(answer.candidates))
        return [*singles, *self.glued]


@dataclass(slots=True, kw_only=True)
class _Growth:
    """The pool while it grows."""

    shop: Shop
    orders: Sequence[Order]
    demands: tuple[Demand, ...]
    effort: int
    seed: int
    clock: Clock
    may: dict[int, tuple[int, ...]]
    answers: dict[int, RowAnswer] = field(default_factory=dict)
    areas: Areas
    depth: int = 1
    searched: dict[tuple[int, PackingRequest, int], RowAnswer] = field(default_factory=dict)
    alike: dict[tuple[AlikeRequest, int], RowAnswer] = field(default_factory=dict)
    distinct: set[object] = field(default_factory=set)
    refused: int = 0
    fills: int = 0
    chosen: Choose | None = None
    glued: list[Candidate] = field(default_factory=list)

    def full(self, row: int) -> RowAnswer:
        """Return all that is known about a row."""
        more = [answer for (r, _, _), answer in self.searched.items() if r == row]
        more += [answer for ((r, _, _), _), answer in self.alike.items() if r == row]
        return joined(self.answers[row], more) if more else self.answers[row]

    def allowed(self, wanted: Sequence[tuple[int, PackingRequest]]) -> list[tuple[int, PackingRequest]]:
        """Return the searches of the next round; alike rows are one search. Count those refused for good."""
        out: list[tuple[int, PackingRequest]] = []
        now: set[object] = set()
        more: set[object] = set()
        for row, load in wanted:
            piece = self.shop.pieces[row]
            key = (
                piece.species,
                piece.thickness_mm,
                piece.shape,
                piece.grain_deg,
                piece.defects,
                piece.seams,
                load,
            )
            if key in now or (
                len(now) < ROUND_SEARCHES * self.depth
                and len(self.distinct) + len(now) < MOST_SEARCHES * self.depth
            ):
                now.add(key)
                out.append((row, load))
            else:
                more.add(key)
        self.distinct |= now
        self.refused = len(more) if len(self.distinct) >= MOST_SEARCHES * self.depth else 0
        return out

    def deepen(self) -> bool:
        """Let the next searches have more effort; tell whether the run's effort allows it."""
        if self.depth >= self.effort:
            return False
        self.depth = min(DEEPER * self.depth, self.effort)
        self.distinct.clear()
        self.fills = 0
        return True

    def next_alike(
        self, candidates: Sequence[Candidate], choice: Choice, missing: set[int]
    ) -> AlikeRequest | None:
        """Return the search for all parts of several alike pieces on fewer of them, or None."""
        return next_alike(
            self.shop,
            self.demands,
            {row: self.full(row) for row in self.may if row in self.answers},
            self.areas,
            missing,
            [candidates[k] for k, n in choice.used for _ in range(n)],
            lambda asked: (asked, self.depth) in self.alike,
        )

    def next_fill(self) -> list[tuple[int, PackingRequest]]:
        """Return the search that fills the next of several pieces, or none; so many for each depth at the most."""
        if self.fills >= MOST_FILLS:
            return []
        answers = {row: self.full(row) for row in self.may if row in self.answers}
        asked = next_fill(
            self.shop,
            self.demands,
            answers,
            self.areas,
            lambda row, load: (row, load, self.depth) in self.searched,
        )
        self.fills += asked is not None
        return [asked] if asked else []

    def candidates(self) -> list[Candidate]:
        rows = (row for row in self.may if row in self.answers)
        singles = (c for row in rows for c in without_sections(self.full(row).candidates))
        return [*singles, *self.glued]

    def choice(self, candidates: Sequence[Candidate]) -> Choice:
        if self.chosen is not None:
            return self.chosen(candidates, True)
        return choose(
            self.shop,
            self.orders,
            self.demands,
            candidates,
            effort=self.effort,
            seed=self.seed,
            clock=self.clock,
            rough=True,
        )


def generate_columns(
    shop: Shop,
    orders: Sequence[Order],
    demands: tuple[Demand, ...],
    *,
    ask: Ask,
    search: Search | None = None,
    alike: Alike | None = None,
    chosen: Choose | None = None,
    glue: Glue | None = None,
    effort: int,
    seed: int,
    clock: Clock,
    copies_only: bool = False,
    laminated: Sequence[Candidate] = (),
) -> Pool:
    """Try rows until no other row could make more copies or lower the value of the stock taken.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders.
    wants : tuple of Demand
    ask : callable
        Answers about rows, given the wants to try on each.
    search : callable, optional
        Searches for more parts on rows, given row and load of each, and the effort; left out, nothing is
        searched for.
    alike : callable, optional
        Searches for all parts of several alike pieces on fewer of them, given the request and the effort.
    chosen : callable, optional
        Chooses from candidates, roughly when told so; left out, as `choose` does.
    glue : callable, optional
        Glue-ups that could make a choice from candidates better, given the wants that are missing.
    effort, seed : int
    clock : Clock
    copies_only : bool
        End as soon as no copy is missing, whatever the stock is worth.
    laminated : sequence of Candidate
        Laminated blanks, which compete with what is found.

    Returns
    -------
    Pool
    """
    ready = [row for row, piece in enumerate(shop.pieces) if piece.status == "ready" and piece.count > 0]
    ready.sort(key=lambda row: (value_of(shop.pieces[row], shop.settings), row))
    may = {row: asked for row in ready if (asked := may_serve(shop, demands, row))}
    growth = _Growth(
        shop=shop,
        orders=orders,
        demands=demands,
        effort=effort,
        seed=seed,
        clock=clock,
        may=may,
        areas=areas_of(shop, demands),
        depth=min(1, effort),
        chosen=chosen,
        glued=list(laminated),
    )
    order = {row: k for k, row in enumerate(may)}
    rows: Sequence[int] = list(may) if len(may) <= SMALL_RACK else []
    if not rows:
        light = {w for w, want in enumerate(demands) if _lightest(shop, want)}
        rows = _cheapest_for(shop, demands, may, {}, list(range(len(demands))))
        rows = sorted({*rows, *(row for row, asked in may.items() if light & set(asked))})
    while not clock.over():
        if rows:
            growth.answers.update(ask({row: may[row] for row in sorted(rows, key=order.__getitem__)}))
        short = _short_of(shop, demands, may, growth.answers)
        rows = _cheapest_for(shop, demands, may, growth.answers, short)
        if rows or clock.over():
            continue
        candidates = growth.candidates()
        choice = growth.choice(candidates)
        missing = _missing(orders, demands, choice)
        if copies_only and not missing:
            break
        rows = _worth_trying(shop, demands, may, growth.answers, candidates, missing, choice, growth.areas)
        rows = rows[: ROUND_ROWS * effort]
        if rows or clock.over():
            continue
        # a part that goes nowhere by itself goes nowhere beside others
        hopeless = copies_only and not any(c.made[w] for w in missing for c in candidates)
        if search is not None and not hopeless:
            gain = missing or may_save(shop, candidates, choice.used, growth.areas)
            together = growth.next_alike(candidates, choice, missing) if gain and alike else None
            if alike is not None and together is not None:
                growth.alike[together, growth.depth] = alike(together, growth.depth)
                continue
            wanted = growth.next_fill() if gain else []
            wanted = wanted or growth.allowed(_worth_searching(growth, candidates, missing, choice))
            if wanted:
                found = search(wanted, growth.depth)
                growth.searched.update({(*key, growth.depth): answer for key, answer in found.items()})
                if len(found) < len(wanted):
                    search = None  # stopped: glue-ups and the choice come after it
            if wanted or growth.deepen():
                continue
        glued = [] if glue is None else glue(candidates, choice, missing)
        growth.glued += glued
        if not glued:
            break
    return _pool(growth)


def _lightest(shop: Shop, want: Demand) -> bool:
    """Tell whether a want is to be as light as can be: then what rows are worth rules none of them out."""
    wish = shop.part(want.part).weight
    return wish is not None and wish.lightest


def _pool(growth: _Growth) -> Pool:
    tried = {row: growth.full(row) for row in growth.may if row in growth.answers}
    layouts = sum(len(answer.candidates) for answer in tried.values())
    scope = LayoutsTried(
        layouts=layouts, rows=len(tried), of_rows=len(growth.shop.pieces), glue_ups=len(growth.glued)
    )
    untried: list[Untried] = []
    rest = len(growth.may) - len(tried)
    if rest:
        untried.append(RowsNotTried(rows=rest) if growth.clock.stopped else RowsRuledOut(rows=rest))
    if growth.refused:
        untried.append(SearchesLeft(searches=growth.refused))
    return Pool(answers=tried, tried=scope, untried=tuple(untried), glued=tuple(growth.glued))


def _missing(orders: Sequence[Order], demands: Sequence[Demand], choice: Choice) -> set[int]:
    """Return the wants of which copies are missing."""
    return {
        w
        for w, want in enumerate(demands)
        for order, n in zip(orders, choice.placed)
        if order.name in want.orders and n < order.count
    }


def _worth_searching(
    growth: _Growth, candidates: Sequence[Candidate], missing: set[int], choice: Choice
) -> list[tuple[int, PackingRequest]]:
    """Return searches that could make more copies, else those that could lower the value, best first."""
    shop, demands = growth.shop, growth.demands
    open_ = [
        (row, load)
        for row in growth.may
        if row in growth.answers
        for load in loads(shop, demands, row, growth.full(row), growth.areas, growth.effort)
    ]
    if any(c.made[w] for w in missing for c in candidates):
        prices, cost = copy_duals_of(shop, growth.orders, demands, candidates, choice), False
    else:
        prices, cost = duals_of(shop, demands, candidates, choice), True
    gains: dict[tuple[int, PackingRequest], float] = {}
    asked_for: list[tuple[int, PackingRequest]] = []
    for row, whole in open_:
        if missing & {w for w, _ in whole}:
            asked_for.append((row, whole))
        # what is worth nothing need not lie on this row too, if another can carry it
        dear = tuple((w, n) for w, n in whole if prices.copy[w] > LEAST_GAIN)
        if all(_served_elsewhere(growth, w, row) for w, _ in whole if prices.copy[w] <= LEAST_GAIN):
            asked_for.append((row, dear))
    for row, load in asked_for:
        if not load or (row, load, growth.depth) in growth.searched:
            continue
        if not may_gain(load, growth.areas, row, growth.full(row)):
            continue
        asked = tuple(w for w, _ in load)
        measure = _gain if cost else _carried
        gain = measure(shop, demands, asked, row, prices, growth.areas) - prices.row.get(row, 0.0)
        if gain > LEAST_GAIN - prices.gap:
            gains[row, load] = gain
    if not gains and len(growth.may) <= FEW_ROWS:
        gains = _mixtures_worth(growth, prices, cost)
    return sorted(gains, key=lambda s: (-gains[s], -sum(n for _, n in s[1]), s[0], s[1]))


def _mixtures_worth(growth: _Growth, prices: Duals, cost: bool) -> dict[tuple[int, PackingRequest], float]:
    """Return mixtures of parts, each for a row, with which the choice might be better, and by how much at the most."""
    shop, demands = growth.shop, growth.demands
    worth = shop.settings.leftover_worth
    gains: dict[tuple[int, PackingRequest], float] = {}
    for row in growth.may:
        if row not in growth.answers:
            continue
        piece = shop.pieces[row]
        value = value_of(piece, shop.settings) if cost else 0.0
        under = worth * value / piece.shape.area_mm2
        for load in open_mixtures(shop, demands, row, growth.full(row), growth.areas):
            wood = sum(n * abs(shop.part(demands[w].part).outline.signed_area_mm2) for w, n in load)
            paid = sum(n * prices.copy[w] for w, n in load) - prices.row.get(row, 0.0)
            gain = paid - under * wood - (1.0 - worth) * value
            if gain > LEAST_GAIN - prices.gap and (row, load, growth.depth) not in growth.searched:
                gains[row, load] = gain
    return gains


def _served_elsewhere(growth: _Growth, want: int, row: int) -> bool:
    """Tell whether a want might be made on another row, or another copy of the row."""
    return growth.shop.pieces[row].count > 1 or any(
        want in asked for r, asked in growth.may.items() if r != row
    )


def _short_of(
    shop: Shop,
    demands: Sequence[Demand],
    may: Mapping[int, tuple[int, ...]],
    answers: Mapping[int, RowAnswer],
) -> list[int]:
    """Return the wants for which the tried rows, each used for nothing else, do not yet suffice."""
    supply = [0] * len(demands)
    for row, answer in answers.items():
        for w in may[row]:
            most = max((c.made[w] for c in answer.candidates), default=0)
            supply[w] += most * shop.pieces[row].count
    return [w for w, want in enumerate(demands) if supply[w] < want.count]


def _cheapest_for(
    shop: Shop,
    demands: Sequence[Demand],
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
            if hoped >= 2 * demands[w].count:
                break
            rows.add(row)
            hoped += most_copies(shop, demands[w], row) * shop.pieces[row].count
    return list(rows)


def _worth_trying(
    shop: Shop,
    demands: Sequence[Demand],
    may: Mapping[int, tuple[int, ...]],
    answers: Mapping[int, RowAnswer],
    candidates: Sequence[Candidate],
    missing: set[int],
    choice: Choice,
    areas: Areas | None = None,
) -> list[int]:
    """Return untried rows that could make more copies, else those that could lower the value, best first."""
    untried = [row for row in may if row not in answers]
    # A want that is missing may also be made by moving another one elsewhere, so all that share rows count.
    rows = [row for row in untried if missing & set(may[row])]
    if missing and not rows:
        linked = _linked(may, candidates, missing)
        rows = [row for row in untried if linked & set(may[row])]
    if rows:
        return rows
    if not untried:
        return []
    prices = duals_of(shop, demands, candidates, choice)
    gains = {row: _gain(shop, demands, may[row], row, prices, areas) for row in untried}
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


def _gain(
    shop: Shop,
    demands: Sequence[Demand],
    asked: Sequence[int],
    row: int,
    prices: Duals,
    areas: Areas | None = None,
) -> float:
    """Return the most that one copy of a row could save at the prices: what it could carry less its value."""
    # What comes back is worth its share of the piece at the most, so a part costs the wood under it.
    piece, worth = shop.pieces[row], shop.settings.leftover_worth
    value = value_of(piece, shop.settings)
    leaves = most_leaves(shop, piece, [shop.part(demands[w].part) for w in asked])
    under = worth * value / (piece.shape.area_mm2 * leaves)
    return _carried(shop, demands, asked, row, prices, areas, under) - (1.0 - worth) * value


def _carried(
    shop: Shop,
    demands: Sequence[Demand],
    asked: Sequence[int],
    row: int,
    prices: Duals,
    areas: Areas | None = None,
    under: float = 0.0,
) -> float:
    """Return what a row could carry at the prices, at the most, less so much for each mm2 under parts.

    It is bounded by area, as if parts could be cut up. With ``areas`` each part has half the gap around it, and
    the row is what such parts may cover. Nothing that can be laid is left out by that: parts on one blank lie a gap
    apart, those on two blanks sawn from one piece at least twice the margin and the kerf (where that is less than
    the gap, ``areas`` are not used), so parts grown by half of it share no wood; and every part lies the margin
    inside the piece, so grown it stays within what is left of the piece less the margin, grown by as much.
    A part of which even one, so grown, has more area than that goes nowhere on the row.
    """
    settings = shop.settings
    leaves = most_leaves(shop, shop.pieces[row], [shop.part(demands[w].part) for w in asked])
    plain = {w: abs(shop.part(demands[w].part).outline.signed_area_mm2) for w in asked}
    area, whole = plain, shop.pieces[row].shape.area_mm2
    if (
        areas is not None
        and settings.gap_mm <= 2.0 * settings.blank_margin_mm + settings.machines.saw_kerf_mm
    ):
        area, whole = {w: areas.parts[w] for w in asked}, areas.rows[row]
    room, worth = whole * leaves, 0.0
    price = {w: prices.copy[w] - under * plain[w] for w in asked}
    for w in sorted(asked, key=lambda w: (-price[w] / area[w], w)):
        if price[w] <= 0 or room <= 0:
            break
        most = min(demands[w].count, leaves * min(most_copies(shop, demands[w], row), int(whole // area[w])))
        n = min(float(most), room / area[w])
        worth += n * price[w]
        room -= n * area[w]
    return worth
