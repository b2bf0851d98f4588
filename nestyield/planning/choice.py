"""Which candidates of the pool become the plan: strict objectives, one after the other, by CP-SAT.

The objectives, in this order: the most copies of each group of orders of equal priority and due date, first
group first; the fewest members sawn from one piece to be glued to each other; the least weight of parts that are
to be as light as can be; the least value of stock, taken less what comes back, and of joints; the least wood used
up (taken and not returned as usable leftovers); the least length of seams under parts. Each is settled before the next is looked at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from nestyield.model import Objective, Order, Settings, Shop
from nestyield.model.plan import Goal
from nestyield.planning.candidates import Candidate, net_value
from nestyield.planning.clock import Clock
from nestyield.planning.demand import Demand
from nestyield.planning.sets import Handed, SetModel, add_sets, handed, lacking_species

#: Money and board feet are compared in steps of this.
VALUE_STEP = 1e-4
#: Weights are compared in steps of this, kg.
WEIGHT_STEP_KG = 1e-3
#: Deterministic time for each objective and step of effort; never the wall clock, so that results repeat.
DETERMINISTIC_TIME = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What was chosen.

    Parameters
    ----------
    used : tuple of (int, int)
        Index of a candidate and how many copies of its row are used so.
    placed : tuple of int
        Copies placed of each served order.
    objectives : tuple of Objective
    copies : tuple of Handed
        Which copies of each order are placed, of which wood those of sets must be; empty where no order is of
        a set: then the first ones are.
    lacking : tuple of int
        Copies of each order that lack for the sets that are not made; empty where no order is of a set.
    lacking_species : tuple of (int, tuple of str)
        Orders whose lacking copies must be of some species, and which.
    """

    used: tuple[tuple[int, int], ...]
    placed: tuple[int, ...]
    objectives: tuple[Objective, ...]
    copies: tuple[Handed, ...] = ()
    lacking: tuple[int, ...] = ()
    lacking_species: tuple[tuple[int, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class _Goal:
    goal: Goal
    maximize: bool
    step: float
    expression: cp_model.LinearExprT
    most: int = 0
    orders: tuple[str, ...] = ()


def groups_of(orders: Sequence[Order]) -> list[list[int]]:
    """Return indices of served orders, gathered by equal priority and due date, first to serve first."""
    groups: dict[tuple[int, str | None], list[int]] = {}
    for index, order in enumerate(orders):
        groups.setdefault((order.priority, order.due), []).append(index)
    return list(groups.values())


def most_uses(shop: Shop, candidate: Candidate) -> int:
    """Return how often a candidate can be used at the most, by the counts of its rows."""
    return min(shop.pieces[row].count // copies for row, copies in Counter(candidate.rows).items())


def choose(
    shop: Shop,
    orders: Sequence[Order],
    demands: Sequence[Demand],
    pool: Sequence[Candidate],
    *,
    effort: int,
    seed: int,
    clock: Clock,
    rough: bool = False,
) -> Choice:
    """Return the best set of candidates.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders, first to serve first.
    wants : sequence of Demand
    pool : sequence of Candidate
    effort, seed : int
    clock : Clock
        Its ceiling bounds each step of the solver too.
    rough : bool
        Stop after the value of the stock: enough to see where the pool should grow.
    """
    model, use, placed = _model(shop, orders, demands, pool)
    sets = SetModel(sets=())
    if any(order.set for order in orders):
        sets = add_sets(model, shop, orders, demands, pool, use, placed)
    solver = _solver(effort, seed)
    table = _Table(model=model, solver=solver, clock=clock, variables=(*use, *placed, *sets.variables))
    wanted = _copies_goals(orders, placed)
    if not wanted or not table.all_at_once(wanted):
        for goal in wanted:
            if not table.settle(goal):
                break
    for goal in _stock_goals(pool, use, shop.settings):
        if not table.settle(goal) or (rough and goal.goal == "value"):
            break
    chosen = tuple((i, n) for i, n in enumerate(table.values[: len(use)]) if n)
    reached = table.values[len(use) : len(use) + len(placed)]
    if not sets.sets:
        out = _handed_out(orders, demands, reached)
        return Choice(used=chosen, placed=out, objectives=tuple(table.objectives))
    values = {v.index: n for v, n in zip(table.variables, table.values)}
    lacking, species = ((), {}) if rough else _lacking(shop, orders, demands, pool, reached, effort, seed)
    return Choice(
        used=chosen,
        placed=tuple(reached),
        objectives=tuple(table.objectives),
        copies=handed(sets, values, orders, reached),
        lacking=lacking,
        lacking_species=tuple(species.items()),
    )


def _model(
    shop: Shop, orders: Sequence[Order], demands: Sequence[Demand], pool: Sequence[Candidate]
) -> tuple[cp_model.CpModel, list[cp_model.IntVar], list[cp_model.IntVar]]:
    """Return a model of the choice, uses of each candidate and copies placed of each order in it."""
    model = cp_model.CpModel()
    use = [model.new_int_var(0, most_uses(shop, c), f"use {i}") for i, c in enumerate(pool)]
    placed = [model.new_int_var(0, order.count, order.name) for order in orders]
    rows: dict[int, list[tuple[int, int]]] = {}
    for i, candidate in enumerate(pool):
        for row, copies in Counter(candidate.rows).items():
            rows.setdefault(row, []).append((i, copies))
    for row, members in rows.items():
        model.add(sum(copies * use[i] for i, copies in members) <= shop.pieces[row].count)
    for w, want in enumerate(demands):
        made = sum(c.made[w] * use[i] for i, c in enumerate(pool) if c.made[w])
        model.add(made == sum(placed[k] for k, order in enumerate(orders) if order.name in want.orders))
    return model, use, placed


def _solver(effort: int, seed: int) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.catch_sigint_signal = False  # whoever plans minds Ctrl-C
    solver.parameters.linearization_level = 2  # strong bounds for set packing
    solver.parameters.max_deterministic_time = DETERMINISTIC_TIME * effort
    return solver


def _lacking(
    shop: Shop,
    orders: Sequence[Order],
    demands: Sequence[Demand],
    pool: Sequence[Candidate],
    reached: Sequence[int],
    effort: int,
    seed: int,
) -> tuple[tuple[int, ...], dict[int, tuple[str, ...]]]:
    """Return the fewest copies of orders with which all sets would be whole, what is made staying; their species."""
    if all(order.count == n for order, n in zip(orders, reached) if order.set):
        return (0,) * len(orders), {}
    model, use, placed = _model(shop, orders, demands, pool)
    sets = add_sets(model, shop, orders, demands, pool, use, placed, short=True)
    for variable, n in zip(placed, reached):
        model.add(variable >= n)  # what is made stays
    model.minimize(sum(sets.lacking.values()))
    solver = _solver(effort, seed)
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return tuple(order.count - n for order, n in zip(orders, reached)), {}
    lacking = tuple(solver.value(sets.lacking[k]) if k in sets.lacking else 0 for k in range(len(orders)))
    return lacking, lacking_species(sets, solver.value)


def _handed_out(orders: Sequence[Order], demands: Sequence[Demand], placed: Sequence[int]) -> tuple[int, ...]:
    """Give the copies of each want to its orders in the order in which they are served."""
    copies = list(placed)
    for want in demands:
        mine = [k for k, order in enumerate(orders) if order.name in want.orders]
        left = sum(placed[k] for k in mine)
        for k in mine:
            copies[k] = min(orders[k].count, left)
            left -= copies[k]
    return tuple(copies)


class _Table:
    """The solver, and what it has settled so far."""

    def __init__(
        self,
        *,
        model: cp_model.CpModel,
        solver: cp_model.CpSolver,
        clock: Clock,
        variables: tuple[cp_model.IntVar, ...],
    ) -> None:
        self.model, self.solver, self.clock, self.variables = model, solver, clock, variables
        self.values = [0] * len(variables)
        self.objectives: list[Objective] = []

    def _solve(self) -> bool:
        self.solver.parameters.max_time_in_seconds = max(1.0, self.clock.left())
        status = self.solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return False
        self.values = [self.solver.value(v) for v in self.variables]
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for variable, value in zip(self.variables, self.values):
            self.model.add_hint(variable, value)
        return True

    def all_at_once(self, goals: Sequence[_Goal]) -> bool:
        """Settle all copies in one step when everything that is wanted can be made."""
        wanted = sum(goal.most for goal in goals)
        self.model.maximize(sum(goal.expression for goal in goals))
        made = self._solve() and round(self.solver.objective_value) == wanted
        self.model.clear_objective()  # type: ignore[no-untyped-call]
        if made:
            for goal in goals:
                self.model.add(goal.expression == goal.most)
                self.objectives.append(
                    Objective(
                        goal=goal.goal,
                        orders=goal.orders,
                        value=float(goal.most),
                        bound=float(goal.most),
                        proven=True,
                    )
                )
        return made

    def settle(self, goal: _Goal) -> bool:
        """Reach the best value of one goal and hold the model to it; False when the time is over."""
        if goal.maximize:
            self.model.maximize(goal.expression)
        else:
            self.model.minimize(goal.expression)
        if not self._solve():
            return False
        reached, bound = round(self.solver.objective_value), round(self.solver.best_objective_bound)
        self.objectives.append(
            Objective(
                goal=goal.goal,
                orders=goal.orders,
                value=round(reached * goal.step, 6),
                bound=round(bound * goal.step, 6),
                proven=reached == bound,
            )
        )
        self.model.clear_objective()  # type: ignore[no-untyped-call]
        self.model.add(goal.expression >= reached if goal.maximize else goal.expression <= reached)
        return True


def _copies_goals(orders: Sequence[Order], placed: Sequence[cp_model.IntVar]) -> list[_Goal]:
    return [
        _Goal(
            "copies",
            True,
            1.0,
            sum(placed[k] for k in group),
            sum(orders[k].count for k in group),
            tuple(orders[k].name for k in group),
        )
        for group in groups_of(orders)
    ]


def _stock_goals(
    pool: Sequence[Candidate], use: Sequence[cp_model.IntVar], settings: Settings
) -> list[_Goal]:
    if not pool:
        return []
    value = sum(round(net_value(c, settings) / VALUE_STEP) * use[i] for i, c in enumerate(pool))
    wood = sum(round(c.used_up / VALUE_STEP) * use[i] for i, c in enumerate(pool))
    goals = [
        _Goal("value", False, VALUE_STEP, value),
        _Goal("wood", False, VALUE_STEP, wood),
    ]
    if any(c.sawn_apart for c in pool):
        apart = sum(c.sawn_apart * use[i] for i, c in enumerate(pool))
        goals.insert(0, _Goal("sawn apart", False, 1.0, apart))
    if any(c.lightest_kg for c in pool):
        light = sum(round(c.lightest_kg / WEIGHT_STEP_KG) * use[i] for i, c in enumerate(pool))
        goals.insert(len(goals) - 2, _Goal("weight", False, WEIGHT_STEP_KG, light))
    if any(c.seams_mm for c in pool):
        seams = sum(round(c.seams_mm) * use[i] for i, c in enumerate(pool))
        goals.append(_Goal("seams", False, 1.0, seams))
    return goals
