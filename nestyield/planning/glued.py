"""Glue-ups as candidates: for orders that are short, and wherever one could cost less than what is chosen.

Sets of pieces are priced as rows are (``pool``). While copies are missing, a set is of interest where another
copy is worth more than the copies that its rows could make otherwise. A piece that holds the part by itself is
no member then: glued to others it would make no more. Members are sawn from one piece only where nothing else
makes the copy. After that a set is of interest where its net cost, at the least, is below the price of a copy
by the linear relaxation and the gap of the choice; where no set can be, nothing is searched for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from nestyield.glueup.chains import Interest
from nestyield.model import Order, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import Choice
from nestyield.planning.demand import Demand
from nestyield.planning.duals import Duals, copy_duals_of, duals_of
from nestyield.planning.glue_search import GlueAnswer, GlueRequest, basis_of, glue_up_want, members_of
from nestyield.planning.remembered import Cache, remembered
from nestyield.planning.workers import WorkerPool
from nestyield.planning.worth import board_feet, value_of

#: Glue-ups are asked for in other processes from so many wants on.
LEAST_WANTS_TO_SHARE = 2
#: Glue-ups are looked for again with new prices so often at the most, and so often more for each step of effort.
ROUNDS, ROUNDS_PER_EFFORT = 4, 2
#: Money and copies that are too little to look for glue-ups.
LEAST_GAIN = 1e-6


class GlueUps:
    """The glue-ups of a plan, found as the choice shows where they could gain.

    Parameters
    ----------
    crew : WorkerPool
    orders : sequence of Order
        Served orders.
    cache : Cache or None
        Answers of earlier runs.
    copies_only : bool
        Only for copies that are missing, never to take cheaper stock.
    """

    def __init__(
        self,
        crew: WorkerPool,
        orders: Sequence[Order],
        cache: Cache | None,
        copies_only: bool = False,
    ) -> None:
        self._copies_only = copies_only
        self._crew, self._orders, self._cache = crew, orders, cache
        shop = crew.job.shop
        self._rows = [members_of(shop, want) for want in crew.job.demands]
        matching = {order.name for order in orders if order.match}
        self._matching = {w for w, d in enumerate(crew.job.demands) if matching & set(d.orders)}
        self._asked: set[tuple[int, GlueRequest]] = set()
        self._known: dict[tuple[int, bool], set[tuple[int, ...]]] = {}
        self._left: set[int] = set()
        self._rounds = ROUNDS + ROUNDS_PER_EFFORT * crew.job.effort

    @property
    def left(self) -> int:
        """Wants for which glue-ups that may gain were not looked at."""
        return len(self._left)

    def more(self, candidates: Sequence[Candidate], choice: Choice, missing: set[int]) -> list[Candidate]:
        """Return glue-ups that are not among the candidates and could make the choice better.

        Parameters
        ----------
        candidates : sequence of Candidate
        choice : Choice
            From them.
        missing : set of int
            Wants of which copies are missing.
        """
        for requests in self._stages(candidates, choice, missing):
            fresh = {w: r for w, r in requests.items() if (w, r) not in self._asked}
            if not fresh:
                continue
            if not self._rounds:
                self._left |= set(fresh)
                return []
            found = self._answers(fresh)
            new = [c for c in found if self._is_new(c)]
            if new:
                self._rounds -= 1
                return new
        return []

    def _is_new(self, candidate: Candidate) -> bool:
        # members sawn from one board are another set than as many boards of its row
        known = self._known.setdefault((candidate.laid[0][0], candidate.sawn_apart > 0), set())
        rows = _member_rows(candidate)
        if rows in known:
            return False
        known.add(rows)
        return True

    def _stages(
        self, candidates: Sequence[Candidate], choice: Choice, missing: set[int]
    ) -> Iterator[dict[int, GlueRequest]]:
        shop, demands = self._crew.job.shop, self._crew.job.demands
        if missing:
            prices = copy_duals_of(shop, self._orders, demands, candidates, choice)
            # of a set that must match, copies are missing for want of some wood, which the prices do not know
            asked = missing & self._matching
            prices = replace(prices, copy=tuple(max(p, float(w in asked)) for w, p in enumerate(prices.copy)))
            yield self._for_copies(candidates, prices, range(len(demands)), apart=False)
            yield self._for_copies(candidates, prices, sorted(missing), apart=True)
        if not self._copies_only and any(n for _, n in choice.used):
            yield self._for_cost(candidates, choice, duals_of(shop, demands, candidates, choice))

    def _for_copies(
        self, candidates: Sequence[Candidate], prices: Duals, wants: Sequence[int], *, apart: bool
    ) -> dict[int, GlueRequest]:
        """Ask for sets of which a copy more is worth more than what their rows could make otherwise."""
        shop = self._crew.job.shop
        joint = shop.settings.glueup.joint_cost
        value = [value_of(p, shop.settings) for p in shop.pieces]
        # a copy is worth more than all the money of a set
        much = 1.0 + 4.0 * max(value, default=0.0) + 3.0 * joint
        out: dict[int, GlueRequest] = {}
        for w in wants:
            if prices.copy[w] <= LEAST_GAIN:
                continue
            alone = {c.rows[0] for c in candidates if c.made[w] and c.blank is None}
            costs = {r: much * prices.row.get(r, 0.0) + value[r] for r in self._rows[w] if r not in alone}
            budget = much * (prices.copy[w] + prices.gap - LEAST_GAIN)
            self._request(out, w, costs, Interest(joint=joint, budget=budget, apart=apart))
        return out

    def _for_cost(
        self, candidates: Sequence[Candidate], choice: Choice, prices: Duals
    ) -> dict[int, GlueRequest]:
        """Ask for sets whose least net cost is below the price of the copy."""
        shop, demands = self._crew.job.shop, self._crew.job.demands
        settings = shop.settings
        made = {w for i, _ in choice.used for w, n in enumerate(candidates[i].made) if n}
        out: dict[int, GlueRequest] = {}
        for w in sorted(made):
            # what comes back counts for so much of its value at the most, the wood under the part never
            spent = {
                r: value_of(shop.pieces[r], settings) * (1.0 - settings.leftover_worth) for r in self._rows[w]
            }
            costs = {r: cost + prices.row.get(r, 0.0) for r, cost in spent.items()}
            budget = prices.copy[w] + prices.gap - LEAST_GAIN - _under(shop, demands[w], self._rows[w])
            costs = _affordable(shop, demands[w], costs, budget)
            joint = settings.glueup.joint_cost
            if not costs or not self._request(
                out, w, costs, Interest(joint=joint, budget=budget, every=True, apart=False), strict=True
            ):
                self._left.discard(w)
        return out

    def _request(
        self,
        out: dict[int, GlueRequest],
        want: int,
        costs: Mapping[int, float],
        interest: Interest,
        strict: bool | None = None,
    ) -> bool:
        """Add a request; False when too few pieces are left for any set."""
        shop, demand = self._crew.job.shop, self._crew.job.demands[want]
        rows = self._rows[want]
        if not shop.part(demand.part).glue or shop.settings.glueup.most_pieces < 2:
            return False
        if not interest.apart and sum(shop.pieces[r].count for r in costs) < 2:
            return False
        if not costs:
            return False
        at = {r: k for k, r in enumerate(rows)}
        known = frozenset(
            tuple(at[r] for r in some) for some in self._known.get((want, bool(interest.apart)), ())
        )
        out[want] = GlueRequest(
            rows=rows,
            costs=tuple(costs.get(r, math.inf) for r in rows),
            strict=strict,
            interest=replace(interest, known=known),
        )
        return True

    def _answers(self, requests: Mapping[int, GlueRequest]) -> list[Candidate]:
        job = self._crew.job
        found = remembered(
            self._cache,
            "glue-ups",
            GlueAnswer,
            {w: basis_of(job, w, request) for w, request in requests.items()},
            lambda some: self._crew.run(
                glue_up_want,
                {w: (w, requests[w]) for w in some},
                what=lambda w: f"looking for glue-ups of {job.demands[w].part}",
                share_from=LEAST_WANTS_TO_SHARE,
            ),
        )
        self._asked |= {(w, requests[w]) for w in found}
        self._left -= set(found)
        self._left |= {w for w, answer in found.items() if answer.cut_short}
        return [
            replace(
                c,
                rows=tuple(requests[w].rows[r] for r in c.rows),
                made=tuple(int(k == w) for k in range(len(job.demands))),
                laid=tuple((w, placement) for _, placement in c.laid),
            )
            for w, answer in found.items()
            for c in answer.candidates
        ]


def _member_rows(candidate: Candidate) -> tuple[int, ...]:
    """Return the row of each member, rising."""
    assert candidate.blank is not None
    row_of = dict(zip(candidate.blank.copies, candidate.rows, strict=True))
    return tuple(sorted(row_of[m.piece, m.copy] for m in candidate.blank.members))


def _under(shop: Shop, want: Demand, rows: Sequence[int]) -> float:
    """Return what of the value of any set never comes back, at the least: the wood under the part."""
    part, settings = shop.part(want.part), shop.settings
    rate, thickness = math.inf, part.thickness_mm
    for piece in (shop.pieces[r] for r in rows):
        thickness = min(thickness, piece.thickness_mm)
        feet = board_feet(piece.shape.area_mm2, piece.thickness_mm)
        rate = min(rate, value_of(piece, settings) / feet)
    if not rows:
        return 0.0
    return settings.leftover_worth * rate * board_feet(abs(part.outline.signed_area_mm2), thickness)


def _affordable(shop: Shop, want: Demand, costs: Mapping[int, float], budget: float) -> dict[int, float]:
    """Return the rows that may be in a set within the budget; none when no set can be.

    A set has two pieces or more and at least the part's area; pieces are taken as if they could be divided.
    """
    joint = shop.settings.glueup.joint_cost
    single = sorted(cost for r, cost in costs.items() for _ in range(min(2, shop.pieces[r].count)))
    area = abs(shop.part(want.part).outline.signed_area_mm2)
    cover = 0.0
    for r in sorted(costs, key=lambda r: (costs[r] / shop.pieces[r].shape.area_mm2, r)):
        wood = shop.pieces[r].shape.area_mm2 * shop.pieces[r].count
        cover += costs[r] * shop.pieces[r].count * min(1.0, area / wood)
        area -= wood
        if area <= 0:
            break
    if len(single) < 2 or area > 0 or joint + max(cover, single[0] + single[1]) >= budget:
        return {}
    return {r: cost for r, cost in costs.items() if joint + cost + single[0] < budget}
