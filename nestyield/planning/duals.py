"""What a copy of each part is worth to the choice: prices of its linear relaxation."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from ortools.linear_solver.pywraplp import Solver

from nestyield.model import Order, Shop
from nestyield.planning.candidates import Candidate, net_value
from nestyield.planning.choice import Choice, groups_of
from nestyield.planning.demand import Demand

#: Weights of orders are doubled from group to group no more often than this.
MOST_DOUBLINGS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Duals:
    """Duals at the optimum of the linear relaxation.

    Parameters
    ----------
    copy : tuple of float
        What one more copy of each want costs in stock.
    row : dict of int to float
        What one more copy of each tried row would save, at least 0; rows left out save nothing.
    gap : float
        Value of the choice less the optimum of the relaxation, at least 0.
    """

    copy: tuple[float, ...]
    row: dict[int, float] = field(default_factory=dict)
    gap: float


def duals_of(shop: Shop, demands: Sequence[Demand], pool: Sequence[Candidate], choice: Choice) -> Duals:
    """Return the prices for making what a choice makes, from a pool at least value.

    Parameters
    ----------
    shop : Shop
    wants : sequence of Demand
    pool : sequence of Candidate
    choice : Choice
        A choice from that pool.
    """
    solver = Solver.CreateSolver("GLOP")
    use = [solver.NumVar(0.0, solver.infinity(), "") for _ in pool]
    made = [sum(pool[i].made[w] * n for i, n in choice.used) for w in range(len(demands))]
    demand = []
    for w, n in enumerate(made):
        row = solver.Constraint(float(n), float(n))
        for variable, candidate in zip(use, pool):
            if candidate.made[w]:
                row.SetCoefficient(variable, float(candidate.made[w]))
        demand.append(row)
    copies = _limits(solver, shop, pool, use)
    objective = solver.Objective()
    for variable, candidate in zip(use, pool):
        objective.SetCoefficient(variable, net_value(candidate, shop.settings))
    objective.SetMinimization()
    value = sum(net_value(pool[i], shop.settings) * n for i, n in choice.used)
    if not pool or solver.Solve() != Solver.OPTIMAL:
        return Duals(copy=tuple(value for _ in demands), gap=value)
    return Duals(
        copy=tuple(float(row.dual_value()) for row in demand),
        row={row: max(0.0, -float(limit.dual_value())) for row, limit in copies.items()},
        gap=max(0.0, value - float(objective.Value())),
    )


def copy_duals_of(
    shop: Shop, orders: Sequence[Order], demands: Sequence[Demand], pool: Sequence[Candidate], choice: Choice
) -> Duals:
    """Return what one more copy of each want, and of each row, would add to the copies made.

    Copies of orders served earlier weigh more: twice those of the next group of equal rank, up to a limit.

    Parameters
    ----------
    shop : Shop
    orders : sequence of Order
        Served orders.
    wants : sequence of Demand
    pool : sequence of Candidate
    choice : Choice
        A choice from that pool.
    """
    groups = groups_of(orders)
    weight = {
        k: 2.0 ** min(len(groups) - 1 - g, MOST_DOUBLINGS) for g, group in enumerate(groups) for k in group
    }
    solver = Solver.CreateSolver("GLOP")
    use = [solver.NumVar(0.0, solver.infinity(), "") for _ in pool]
    placed = [solver.NumVar(0.0, float(order.count), "") for order in orders]
    objective = solver.Objective()
    for k, variable in enumerate(placed):
        objective.SetCoefficient(variable, weight[k])
    objective.SetMaximization()
    demand = []
    for w, want in enumerate(demands):
        row = solver.Constraint(-solver.infinity(), 0.0)  # no more placed than made
        for variable, candidate in zip(use, pool):
            if candidate.made[w]:
                row.SetCoefficient(variable, -float(candidate.made[w]))
        for variable, order in zip(placed, orders):
            if order.name in want.orders:
                row.SetCoefficient(variable, 1.0)
        demand.append(row)
    copies = _limits(solver, shop, pool, use)
    if solver.Solve() != Solver.OPTIMAL:
        return Duals(copy=tuple(1.0 for _ in demands), gap=0.0)
    reached = sum(weight[k] * n for k, n in enumerate(choice.placed))
    return Duals(
        copy=tuple(max(0.0, float(row.dual_value())) for row in demand),
        row={row: max(0.0, float(limit.dual_value())) for row, limit in copies.items()},
        gap=max(0.0, float(objective.Value()) - reached),
    )


def _limits(solver: Any, shop: Shop, pool: Sequence[Candidate], use: Sequence[Any]) -> dict[int, Any]:
    """Add that no more copies of a row are used than there are."""
    used = sorted({row for c in pool for row in c.rows})
    copies = {row: solver.Constraint(0.0, float(shop.pieces[row].count)) for row in used}
    for variable, candidate in zip(use, pool):
        for row, n in Counter(candidate.rows).items():
            copies[row].SetCoefficient(variable, float(n))
    return copies
