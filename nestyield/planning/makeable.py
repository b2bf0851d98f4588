"""What could be made from the rack as it is: copies of each part by itself, and mixtures of all of them.

Each part by itself is looked for as `nestyield need` looks for it, with all that a plan does: several on a piece,
sawing first, resawing, book matches; and pieces too small for a part are glued up. For mixtures every row is asked besides what it could carry of all
parts together, by a quicker search. The choice among all that is exact, but only what was found can be chosen. So
a count can be made, and is not proven to be the most.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from ortools.sat.python import cp_model

from nestyield.glueup.chains import Interest
from nestyield.model import Order, Part, Shop
from nestyield.placement.stock import blank_of
from nestyield.planning.candidates import full_layouts, most_copies, refused_at_once, subsets
from nestyield.planning.clock import Clock
from nestyield.planning.copies import most_copies_of
from nestyield.planning.demand import Demand
from nestyield.planning.glue_search import GlueRequest, glue_ups_kept, members_of
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.remembered import Cache, plain, remembered, settings_basis
from nestyield.planning.saw_first import out_of_reach, sawn_layouts
from nestyield.planning.sets import add_sets
from nestyield.planning.workers import Job
from nestyield.planning.worth import value_of

#: Copies of a part that are looked for on one piece at the most.
MOST_ON_A_PIECE = 24
#: A piece that no bed takes whole is sawn first where the whole carries less than this share of what there is
#: area for.
SAWN_BELOW = 0.5
#: Rounds in which glue-ups of one part are looked for, each without the wood of the ones before, and sets a round.
GLUE_ROUNDS, GLUE_SETS = 6, 6
#: Effort of the searches for more parts on one piece.
EFFORT = 1
#: Deterministic time of each step of the choice; never the wall clock, so that results repeat.
DETERMINISTIC_TIME = 2.0
#: Money is compared in steps of this.
MONEY_STEP = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """Copies of one part.

    Parameters
    ----------
    part : str
    count : int
    pieces : tuple of (str, ...)
        For each blank the rows that it takes; a row that is used twice stands twice.
    glued : int
        Copies out of glue-ups.
    full : bool
        Whether some piece holds as many as were looked for: it may hold more.
    """

    part: str
    count: int
    pieces: tuple[tuple[str, ...], ...]
    glued: int = 0
    full: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """Parts that can all be made from the rack together.

    Parameters
    ----------
    goal : {"value", "equal"}
        The most money for the parts; or the same count of each, and then the most money, or as many more as go
        where no part has a price.
    made : tuple of Made
        In file order, those of which there are some.
    worth : float or None
        What the parts bring together; None where no part has a price.
    least : int
        Copies that there are of every part.
    """

    goal: Literal["value", "equal"]
    made: tuple[Made, ...]
    worth: float | None
    least: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SetMade:
    """Whole ones of a set that the rack makes, with the whole rack for it.

    Parameters
    ----------
    name : str
    count : int
    parts : tuple of (str, int)
        Part and copies in one.
    """

    name: str
    count: int
    parts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Makeable:
    """What could be made from the rack.

    Parameters
    ----------
    alone : tuple of Made
        Each part by itself, with the whole rack for it.
    mixes : tuple of Mix
        For the most value where a part has a price; for equal counts where several parts can be made.
    unpriced : tuple of str
        Parts that can be made, and are left out of the most valuable mix since they have no price.
    sets : tuple of SetMade
        Sets of the shop's orders of which all parts are asked about, each by itself.
    stopped : str
        Why the search was stopped early, ``"seconds"`` or ``"interrupt"``, or empty: what was found until then.
    """

    alone: tuple[Made, ...]
    mixes: tuple[Mix, ...]
    unpriced: tuple[str, ...]
    sets: tuple[SetMade, ...] = ()
    stopped: str = ""


def makeable(
    shop: Shop, parts: Sequence[Part], beds: tuple[str, ...], cache: Cache | None = None
) -> Makeable:
    """Tell how many copies of parts the ready pieces of the rack would make.

    Parameters
    ----------
    shop : Shop
        Its orders do not matter, but for the sets that they make up.
    parts : sequence of Part
    beds : tuple of str
        Beds that may cut them.
    cache : Cache, optional
        Answers of earlier runs; the answer is the same with it and without.
    """
    demands = tuple(Demand(part=p.name, beds=beds, orders=(), count=MOST_ON_A_PIECE) for p in parts)
    job = Job(shop=shop, demands=demands, effort=0, seed=0)
    pool = _singles(job, cache)
    clock = Clock(seconds=shop.settings.seconds)
    with clock.minding_ctrl_c():
        for want in range(len(demands)):
            if not clock.over():
                pool += _searched(job, want, cache, clock)
            if not clock.over():
                with clock.may_break():
                    pool += _glued(job, want, pool, cache)
    pool = list(dict.fromkeys(pool))
    whole = _Choice(job, pool)
    alone = tuple(whole.most({w: 1}, [w]).made[w] for w in range(len(parts)))
    can = [w for w, made in enumerate(alone) if made.count]
    mixes = []
    price = {w: parts[w].each or 0.0 for w in can}
    if any(price.values()):
        mixes.append(whole.mix("value", price, can))
    if len(can) > 1:
        mixes.append(whole.mix("equal", price, can))
    unpriced = tuple(parts[w].name for w in can if parts[w].each is None) if any(price.values()) else ()
    return Makeable(
        alone=alone, mixes=tuple(mixes), unpriced=unpriced, sets=tuple(whole.sets()), stopped=clock.reason
    )


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to use rows of the rack: copies of each want that it makes."""

    rows: tuple[int, ...]
    made: tuple[int, ...]
    glued: bool = False

    @property
    def sawn_apart(self) -> int:
        """Pieces that it takes beyond the first of each row."""
        return len(self.rows) - len(set(self.rows))


def _singles(job: Job, cache: Cache | None) -> list[_Way]:
    """Return what single rows could carry; rows that are alike are asked once."""
    shop = job.shop
    asked: dict[int, list[int]] = {}
    for row, piece in enumerate(shop.pieces):
        if piece.status == "ready" and piece.count:
            asked[row] = [
                w
                for w, want in enumerate(job.demands)
                if refused_at_once(shop, shop.part(want.part), piece) is None and most_copies(shop, want, row)
            ]
    basis = repr((settings_basis(shop), [(shop.part(w.part), w.beds, w.count) for w in job.demands]))
    found = remembered(
        cache,
        "carried",
        tuple[tuple[int, ...], ...],
        {row: (basis, wants, plain(shop.pieces[row])) for row, wants in asked.items() if wants},
        lambda some: {row: tuple(carried(job, row, asked[row])) for row in some},
    )
    return [_Way((row,), made) for row, answer in found.items() for made in answer]


def carried(job: Job, row: int, asked: Sequence[int]) -> list[tuple[int, ...]]:
    """Return the mixtures of wants that one row could carry, whole or sawn into blanks first."""
    shop, demands = job.shop, job.demands
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(shop.pieces[row]))
    alone = {w: laid for w in asked if (laid := bench.add((), w)[0]) is not None}
    rng = np.random.default_rng(0)
    found = {
        tuple(sum(i == w for i, _ in laid) for w in range(len(demands)))
        for full in full_layouts(bench, alone, rng, 0, math.inf)
        for laid in subsets(full)
    }
    short = [
        w
        for w in asked
        if max((made[w] for made in found), default=0) < SAWN_BELOW * most_copies(shop, demands[w], row)
        and out_of_reach(bench, w)
    ]
    for framed in (True, False) if short else ():
        sawn = sawn_layouts(bench, shop.pieces[row], short, framed)
        found |= {tuple(way.wants.count(w) for w in range(len(demands))) for way in sawn}
    return sorted(found)


def _searched(job: Job, want: int, cache: Cache | None, clock: Clock) -> list[_Way]:
    """Return the ways to make one part that `nestyield need` finds for as many copies as are looked for."""
    part, beds = job.demands[want].part, job.demands[want].beds
    order = Order(name=part, part=part, count=MOST_ON_A_PIECE, beds=beds)
    shop = replace(job.shop, orders=(order,))
    found, _ = most_copies_of(shop, [order], cache, clock=clock, effort=EFFORT, glue=False)
    return [
        _Way(
            tuple(sorted(c.rows)),
            tuple(c.made[0] * n for n in _one(job, want)),
            c.blank is not None and c.leaves is None,
        )
        for c in found
    ]


def _glued(job: Job, want: int, pool: Sequence[_Way], cache: Cache | None) -> list[_Way]:
    """Return glue-ups of pieces that do not hold a part by themselves, the cheapest first, of other wood each round."""
    shop, rules = job.shop, job.shop.settings.glueup
    rows = members_of(shop, job.demands[want])
    if not shop.part(job.demands[want].part).glue or rules.most_pieces < 2:
        return []
    alone = {row for c in pool if c.made[want] and not c.glued for row in c.rows}
    left = {row: shop.pieces[row].count for row in rows if row not in alone}
    found: list[_Way] = []
    for apart in (False, True):
        if apart and (alone or found):
            break  # a piece is sawn apart and glued to itself only where nothing else makes a copy
        for _ in range(GLUE_ROUNDS):
            if not left or (not apart and sum(left.values()) < 2):
                break
            costs = tuple(value_of(shop.pieces[r], shop.settings) if left.get(r) else math.inf for r in rows)
            known = frozenset(tuple(sorted(rows.index(r) for r in c.rows)) for c in found)
            interest = Interest(joint=rules.joint_cost, every=True, known=known, apart=apart)
            request = GlueRequest(rows=rows, costs=costs, strict=None, interest=interest)
            fresh = [
                _Way(tuple(sorted(rows[r] for r in c.rows)), _one(job, want), True)
                for c in glue_ups_kept(job, want, request, cache, GLUE_SETS).candidates
            ]
            if not fresh:
                break
            found += fresh
            for row, n in Counter(fresh[0].rows).items():
                left[row] -= n
                if left[row] <= 0:
                    del left[row]
    return found


def _one(job: Job, want: int) -> tuple[int, ...]:
    return tuple(int(w == want) for w in range(len(job.demands)))


@dataclass(frozen=True, slots=True)
class _Chosen:
    made: tuple[Made, ...]
    counts: tuple[int, ...]


class _Choice:
    """Chooses among ways to use the rack, one aim after the other."""

    def __init__(self, job: Job, pool: Sequence[_Way]) -> None:
        self.job, self.pool = job, pool
        shop = job.shop
        self.model = cp_model.CpModel()
        self.use = [
            self.model.new_int_var(0, min(shop.pieces[r].count for r in c.rows), f"use {i}")
            for i, c in enumerate(pool)
        ]
        rows: dict[int, list[tuple[int, int]]] = {}
        for i, candidate in enumerate(pool):
            for row, copies in Counter(candidate.rows).items():
                rows.setdefault(row, []).append((i, copies))
        for row, members in rows.items():
            self.model.add(sum(n * self.use[i] for i, n in members) <= shop.pieces[row].count)
        self.count = [
            sum(c.made[w] * self.use[i] for i, c in enumerate(pool) if c.made[w])
            for w in range(len(job.demands))
        ]
        money = [value_of(piece, shop.settings) for piece in shop.pieces]
        self.costs = [round(sum(money[r] for r in c.rows) / MONEY_STEP) + 1 for c in pool]
        self.cost = sum(cost * self.use[i] for i, cost in enumerate(self.costs))

    def most(
        self, worth: dict[int, int], wants: Sequence[int], floor: dict[int, int] | None = None
    ) -> _Chosen:
        """Return the uses that make the most of what is worth something, of these those that take the least wood."""
        model = self.model.clone()
        for w, least in (floor or {}).items():
            model.add(self.count[w] >= least)
        total = sum(n * self.count[w] for w, n in worth.items())
        if isinstance(total, int):
            return self._told([0] * len(self.pool), wants)
        values = self._solved(model, total, maximize=True)
        if values is None:
            return self._told([0] * len(self.pool), wants)
        reached = sum(n * self._made(values, w) for w, n in worth.items())
        model.add(total >= reached)
        values = self._solved(model, self.cost, maximize=False) or values
        # on the wood that is taken anyway, as many more as go
        model.add(self.cost <= sum(cost * n for cost, n in zip(self.costs, values)))
        return self._told(
            self._solved(model, sum(self.count[w] for w in wants), maximize=True) or values, wants
        )

    def mix(self, goal: Literal["value", "equal"], price: dict[int, float], can: Sequence[int]) -> Mix:
        """Return a mixture of the parts that can be made."""
        least = 0
        money = {w: round(p / MONEY_STEP) for w, p in price.items() if p}
        if goal == "value":
            chosen = self.most(money, can)
        else:
            model = self.model.clone()
            fewest = model.new_int_var(0, 10**6, "fewest")
            for w in can:
                model.add(self.count[w] >= fewest)
            values = self._solved(model, fewest, maximize=True) or [0] * len(self.pool)
            least = min(self._made(values, w) for w in can)
            chosen = self.most(money or dict.fromkeys(can, 1), can, dict.fromkeys(can, least))
        worth = sum(price[w] * chosen.counts[w] for w in can) if any(price.values()) else None
        made = tuple(m for m in chosen.made if m.count)
        return Mix(goal=goal, made=made, worth=worth, least=min(chosen.counts[w] for w in can))

    def sets(self) -> list[SetMade]:
        """Return how many whole ones of each set of the orders could be made."""
        shop, demands = self.job.shop, self.job.demands
        asked = {d.part for d in demands}
        out = []
        for name in dict.fromkeys(o.set for o in shop.orders if o.set):
            orders = [
                replace(o, count=MOST_ON_A_PIECE * o.per_set, hold=False, done=False)
                for o in shop.orders
                if o.set == name
            ]
            if not {o.part for o in orders} <= asked:
                continue
            model = self.model.clone()
            placed = [model.new_int_var(0, o.count, o.name) for o in orders]
            wants = [replace(d, orders=tuple(o.name for o in orders if o.part == d.part)) for d in demands]
            for w, want in enumerate(wants):
                mine = [p for p, o in zip(placed, orders) if o.name in want.orders]
                if mine:
                    model.add(self.count[w] >= sum(mine))
            made = add_sets(model, shop, orders, wants, self.pool, self.use, placed).made
            values = self._solved(model, sum(made.values()), maximize=True, of=tuple(made.values()))
            parts = tuple((o.part, o.per_set) for o in orders)
            out.append(SetMade(name=name, count=sum(values or ()), parts=parts))
        return out

    def _solved(
        self,
        model: cp_model.CpModel,
        aim: cp_model.LinearExprT,
        *,
        maximize: bool,
        of: Sequence[cp_model.IntVar] | None = None,
    ) -> list[int] | None:
        (model.maximize if maximize else model.minimize)(aim)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 0
        solver.parameters.linearization_level = 2
        solver.parameters.max_deterministic_time = DETERMINISTIC_TIME
        if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        return [solver.value(v) for v in (self.use if of is None else of)]

    def _made(self, values: Sequence[int], want: int) -> int:
        return sum(c.made[want] * n for c, n in zip(self.pool, values) if n)

    def _told(self, values: Sequence[int], wants: Sequence[int]) -> _Chosen:
        """Return what some uses make of the wants asked about; wood that is spent on others is not told."""
        shop, demands = self.job.shop, self.job.demands
        made = []
        for w, want in enumerate(demands):
            uses = [(c, n) for c, n in zip(self.pool, values) if n and c.made[w] and w in wants]
            pieces = [tuple(shop.pieces[r].name for r in c.rows) for c, n in uses for _ in range(n)]
            full = any(c.made[w] >= MOST_ON_A_PIECE for c, _ in uses)
            made.append(
                Made(
                    part=want.part,
                    count=sum(c.made[w] * n for c, n in uses),
                    pieces=tuple(sorted(pieces)),
                    glued=sum(c.made[w] * n for c, n in uses if c.glued),
                    full=full,
                )
            )
        return _Chosen(tuple(made), tuple(m.count for m in made))
