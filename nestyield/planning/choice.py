"""Which candidates of the pool become the plan: strict objectives, one after the other, by CP-SAT.

The objectives, in this order: the most copies of each group of orders of equal priority and due date, first
group first; the least value of stock taken; the least wood used up (taken and not returned as usable
leftovers); the least length of seams under parts. Each is settled before the next is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from nestyield.model import Objective, Order, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.clock import Clock
from nestyield.planning.stock import board_feet
from nestyield.planning.wants import Want

#: Money and board feet are compared in steps of this.
VALUE_STEP = 1e-4
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
    """

    used: tuple[tuple[int, int], ...]
    placed: tuple[int, ...]
    objectives: tuple[Objective, ...]


@dataclass(frozen=True, slots=True)
class _Goal:
    name: str
    unit: str
    maximize: bool
    step: float
    expression: cp_model.LinearExprT


def groups_of(orders: Sequence[Order]) -> list[list[int]]:
    """Return indices of served orders, gathered by equal priority and due date, first to serve first."""
    groups: dict[tuple[int, str | None], list[int]] = {}
    for index, order in enumerate(orders):
        groups.setdefault((order.priority, order.due), []).append(index)
    return list(groups.values())


def used_up(candidate: Candidate, shop: Shop) -> float:
    """Return the wood that a candidate takes and does not give back as usable leftovers, board feet."""
    piece = shop.pieces[candidate.row]
    return board_feet(piece.shape.area_mm2 - candidate.usable_mm2, piece.thickness_mm)


def choose(
    shop: Shop,
    orders: Sequence[Order],
    wants: Sequence[Want],
    pool: Sequence[Candidate],
    *,
    effort: int,
    seed: int,
    clock: Clock,
) -> Choice:
    """Return the best set of candidates.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders, first to serve first.
    wants : sequence of Want
    pool : sequence of Candidate
    effort, seed : int
    clock : Clock
        Its ceiling bounds each step of the solver too.
    """
    model = cp_model.CpModel()
    use = [model.new_int_var(0, shop.pieces[c.row].count, f"use {i}") for i, c in enumerate(pool)]
    placed = [model.new_int_var(0, order.count, order.name) for order in orders]
    rows: dict[int, list[int]] = {}
    for i, candidate in enumerate(pool):
        rows.setdefault(candidate.row, []).append(i)
    for row, members in rows.items():
        model.add(sum(use[i] for i in members) <= shop.pieces[row].count)
    for w, want in enumerate(wants):
        made = sum(c.made[w] * use[i] for i, c in enumerate(pool) if c.made[w])
        model.add(made == sum(placed[k] for k, order in enumerate(orders) if order.name in want.orders))
    goals = _goals(shop, orders, pool, use, placed)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = DETERMINISTIC_TIME * effort
    objectives: list[Objective] = []
    values: list[int] = [0] * (len(use) + len(placed))
    for goal in goals:
        solver.parameters.max_time_in_seconds = max(1.0, clock.left())
        _aim(model, goal)
        status = solver.solve(model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            break
        values = [solver.value(v) for v in (*use, *placed)]
        reached = round(solver.objective_value)
        objectives.append(
            Objective(
                name=goal.name,
                unit=goal.unit,
                value=round(reached * goal.step, 6),
                bound=round(round(solver.best_objective_bound) * goal.step, 6),
                proven=status == cp_model.OPTIMAL,
            )
        )
        model.clear_objective()  # type: ignore[no-untyped-call]
        model.clear_hints()  # type: ignore[no-untyped-call]
        model.add(goal.expression >= reached if goal.maximize else goal.expression <= reached)
        for variable, value in zip((*use, *placed), values):
            model.add_hint(variable, value)
    chosen = tuple((i, n) for i, n in enumerate(values[: len(use)]) if n)
    copies = _handed_out(orders, wants, values[len(use) :])
    return Choice(used=chosen, placed=copies, objectives=tuple(objectives))


def _handed_out(orders: Sequence[Order], wants: Sequence[Want], placed: Sequence[int]) -> tuple[int, ...]:
    """Give the copies of each want to its orders in the order in which they are served."""
    copies = list(placed)
    for want in wants:
        mine = [k for k, order in enumerate(orders) if order.name in want.orders]
        left = sum(placed[k] for k in mine)
        for k in mine:
            copies[k] = min(orders[k].count, left)
            left -= copies[k]
    return tuple(copies)


def _aim(model: cp_model.CpModel, goal: _Goal) -> None:
    if goal.maximize:
        model.maximize(goal.expression)
    else:
        model.minimize(goal.expression)


def _goals(
    shop: Shop,
    orders: Sequence[Order],
    pool: Sequence[Candidate],
    use: Sequence[cp_model.IntVar],
    placed: Sequence[cp_model.IntVar],
) -> list[_Goal]:
    goals = [
        _Goal(
            f"copies of {', '.join(orders[k].name for k in group)}",
            "copies",
            True,
            1.0,
            sum(placed[k] for k in group),
        )
        for group in groups_of(orders)
    ]
    if not pool:
        return goals
    value = sum(round(c.value / VALUE_STEP) * use[i] for i, c in enumerate(pool))
    wood = sum(round(used_up(c, shop) / VALUE_STEP) * use[i] for i, c in enumerate(pool))
    goals.append(_Goal("value of stock taken", "value", False, VALUE_STEP, value))
    goals.append(_Goal("wood used up", "board feet", False, VALUE_STEP, wood))
    if any(c.seams_mm for c in pool):
        seams = sum(round(c.seams_mm) * use[i] for i, c in enumerate(pool))
        goals.append(_Goal("seams under parts", "mm", False, 1.0, seams))
    return goals
