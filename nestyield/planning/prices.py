"""What a copy of each part is worth to the choice: prices of its linear relaxation."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from nestyield.model import Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import Choice
from nestyield.planning.wants import Want


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Prices at the optimum of the linear relaxation.

    Parameters
    ----------
    copy : tuple of float
        What one more copy of each want costs in stock.
    gap : float
        Value of the choice less the optimum of the relaxation, at least 0.
    """

    copy: tuple[float, ...]
    gap: float


def prices_of(shop: Shop, wants: Sequence[Want], pool: Sequence[Candidate], choice: Choice) -> Prices:
    """Return the prices for making what a choice makes, from a pool at least value.

    Parameters
    ----------
    shop : Shop
    wants : sequence of Want
    pool : sequence of Candidate
    choice : Choice
        A choice from that pool.
    """
    solver = pywraplp.Solver.CreateSolver("GLOP")
    use = [solver.NumVar(0.0, solver.infinity(), "") for _ in pool]
    made = [sum(pool[i].made[w] * n for i, n in choice.used) for w in range(len(wants))]
    demand = []
    for w, n in enumerate(made):
        row = solver.Constraint(float(n), float(n))
        for variable, candidate in zip(use, pool):
            if candidate.made[w]:
                row.SetCoefficient(variable, float(candidate.made[w]))
        demand.append(row)
    used = sorted({row for c in pool for row in c.rows})
    copies = {row: solver.Constraint(0.0, float(shop.pieces[row].count)) for row in used}
    for variable, candidate in zip(use, pool):
        for row, n in Counter(candidate.rows).items():
            copies[row].SetCoefficient(variable, float(n))
    objective = solver.Objective()
    for variable, candidate in zip(use, pool):
        objective.SetCoefficient(variable, candidate.value)
    objective.SetMinimization()
    value = sum(pool[i].value * n for i, n in choice.used)
    if not pool or solver.Solve() != pywraplp.Solver.OPTIMAL:
        return Prices(copy=tuple(value for _ in wants), gap=value)
    return Prices(
        copy=tuple(float(row.dual_value()) for row in demand),
        gap=max(0.0, value - float(objective.Value())),
    )
