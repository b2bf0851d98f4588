"""Small shops: the plan against trying every set of boards for every copy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from nestyield.model import GlueUpRules, Order
from nestyield.planning.run import make_plan

from .exhaustive import best_of_rectangles, random_rectangles, reached


@pytest.mark.parametrize("seed", [3056, 3000, 3001, 3066, 3076])  # in 3000 and 3001 no glue-up beats a board
def test_boards_and_glue_ups_are_chosen_as_by_trying_all(seed: int) -> None:
    """Rectangles, what can be made and what it costs worked out by hand (``exhaustive.holds``)."""
    shop = random_rectangles(np.random.default_rng(seed))
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    assert reached(plan) == best_of_rectangles(shop)
    assert all(o.proven for o in plan.objectives)


@pytest.mark.parametrize("seed", [3, 4, 5])  # the other orders of laying find it by chance
def test_a_board_that_carries_less_wood_leaves_more_room(make: Any, seed: int) -> None:
    """The long board could carry two rails and the square; all five are made where it carries one rail and both blocks.

    Inside its margins the long board has 539 x 299 mm. Square and rail in a row take 240 + 9 + 240 of its length, the
    two blocks below the rail 85 + 9 + 130 of its width and 240 + 9 + 2 x 110 + 9 of its length; the other board, 370 x 126
    inside, takes a rail and nothing beside it: 240 + 9 + 110 would do along it, but a block is 130 mm wide.
    """
    size = {"rail": (240.0, 85.0), "block": (110.0, 130.0), "square": (240.0, 240.0)}
    shop = make.shop(
        [
            make.board("long", 563, 323, value=2.0),
            make.board("short", 394, 150, value=3.0),
        ],
        [make.part(n, *s, grain_tolerance_deg=0.0, thickness_mm=40.0) for n, s in size.items()],
        [
            Order(name="rail", part="rail", count=2, priority=1),
            Order(name="block", part="block", count=2, priority=2),
            Order(name="square", part="square", count=1, priority=2),
        ],
        settings={
            "blank_margin_mm": 12.0,
            "between_parts_mm": 9.0,
            "leftover_worth": 0.0,
            "glueup": GlueUpRules(most_pieces=1),
        },
    )
    plan = make_plan(shop, seed=seed, effort=1, seconds=100_000, workers=1)
    assert [r.placed for r in plan.orders] == [r.count for r in shop.orders]
