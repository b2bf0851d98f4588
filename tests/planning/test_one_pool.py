"""Small shops: the plan against trying every set of boards for every copy."""

from __future__ import annotations

import numpy as np
import pytest

from nestyield.planning.run import make_plan

from .exhaustive import best_of_rectangles, random_rectangles, reached


@pytest.mark.parametrize("seed", [3056, 3000, 3001, 3066, 3076])  # in 3000 and 3001 no glue-up beats a board
def test_boards_and_glue_ups_are_chosen_as_by_trying_all(seed: int) -> None:
    """Rectangles, what can be made and what it costs worked out by hand (``exhaustive.holds``)."""
    shop = random_rectangles(np.random.default_rng(seed))
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    assert reached(plan) == best_of_rectangles(shop)
    assert all(o.proven for o in plan.objectives)
