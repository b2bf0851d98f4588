"""Piece after piece filled with what is left of all parts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from nestyield.model import Order
from nestyield.planning.run import make_plan


@pytest.mark.study
def test_many_sizes_on_alike_boards_use_as_few_as_their_cut_up_originals(make: Any) -> None:
    """Three boards of 300 x 200 mm, each cut into four rectangles of other sizes: all twelve go back on three.

    Gap and margin are nothing, and boards 6 mm longer and wider than the originals leave a little play. Each
    search by itself would fill a board with the same best four.
    """
    rng = np.random.default_rng(5)
    sizes = []
    for _ in range(3):
        x, low, high = rng.uniform(110, 190), rng.uniform(70, 130), rng.uniform(70, 130)
        sizes += [(x, low), (x, 200 - low), (300 - x, high), (300 - x, 200 - high)]
    parts = [
        make.part(f"p{k}", round(a, 1), round(b, 1), grain_tolerance_deg=0.0)
        for k, (a, b) in enumerate(sizes)
    ]
    shop = make.shop(
        [make.board("alike", 306, 206, count=6)],
        parts,
        [Order(name=p.name, part=p.name) for p in parts],
        settings={"blank_margin_mm": 0.0, "between_parts_mm": 0.0},
    )
    plan = make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)
    assert sum(r.placed for r in plan.orders) == 12
    assert len(plan.layouts) == 3
