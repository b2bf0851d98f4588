"""Linear programs from sparse rows."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

MOST_STEPS = 20_000
"""Steps of a linear program: some hundreds are usual, but one was seen to go round in a circle for ever."""


def solve(
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    goal: NDArray[np.float64],
    least: NDArray[np.float64],
    most: NDArray[np.float64],
    sides: Any,
) -> NDArray[np.float64] | None:
    """Minimize ``goal @ x`` with ``low <= x <= high`` and ``least <= sides @ x <= most``.

    Parameters
    ----------
    low, high, goal : (n,) float
    least, most : (m,) float
    sides : scipy.sparse.csr_matrix, (m, n)

    Returns
    -------
    (n,) float or None
        None when there is no solution within ``MOST_STEPS``.
    """
    from ortools.linear_solver.python import model_builder_helper as lp

    model: Any = lp.ModelBuilderHelper()
    model.fill_model_from_sparse_data(low, high, goal, least, most, sides)
    solver = lp.ModelSolverHelper("glop")
    solver.set_solver_specific_parameters(f"max_number_of_iterations: {MOST_STEPS}")
    solver.solve(model)
    if not solver.has_solution() or solver.status() != lp.SolveStatus.OPTIMAL:
        return None
    return np.asarray(solver.variable_values())
