"""Parts stand off the edges of a piece where nothing worth keeping is lost."""

from __future__ import annotations

from typing import Any

import pytest

from nestyield.model import Order, Plan
from nestyield.planning.run import make_plan

#: Cutter 6, margin 5; leftovers of 200 x 60 and more are kept.
RULES = {"leftover_shortest_mm": 200.0, "leftover_narrowest_mm": 60.0}


def plan(make: Any, length: float, width: float, count: int = 1) -> Plan:
    shop = make.shop(
        [make.board("B", length, width)],
        [make.part("block", 300, 80, grain_tolerance_deg=0)],
        [Order(name="o", part="block", count=count)],
        settings=RULES,
    )
    return make_plan(shop, seed=1, effort=1, seconds=300, workers=1)


def corners(made: Plan) -> list[tuple[float, float]]:
    (layout,) = made.layouts
    return sorted((p.x_um / 1000, p.y_um / 1000) for p in layout.placements)


def test_in_the_middle_where_nothing_is_kept(make: Any) -> None:
    """On 400 x 110 nothing is worth keeping: 50 mm at each end, 15 at each side."""
    ((x, y),) = corners(plan(make, 400, 110))
    assert (x, y) == pytest.approx((50, 15), abs=0.1)


def test_two_move_together(make: Any) -> None:
    """Two blocks on 400 x 200: 50 mm at each end, and as much above the upper one as below the lower."""
    (x0, y0), (x1, y1) = sorted(corners(plan(make, 400, 200, count=2)), key=lambda c: c[1])
    assert (x0, x1) == pytest.approx((50, 50), abs=0.1)
    assert y1 - y0 >= 80 + 6
    assert y0 == pytest.approx(200 - (y1 + 80), abs=0.1)


def test_a_leftover_is_not_given_up(make: Any) -> None:
    """On 700 x 110 the 390 beyond the part are kept: it stays within a few millimeters of one end."""
    made = plan(make, 700, 110)
    ((x, _),) = corners(made)
    near = min(x, 700 - 300 - x)
    assert 5 - 0.01 <= near <= 9.1
    assert [left.usable for left in made.layouts[0].leftovers].count(True) == 1


def test_one_strip_is_not_made_two(make: Any) -> None:
    """On 900 x 110 the 590 beyond the part stay one leftover: two of 295, worth as much, are not the same."""
    made = plan(make, 900, 110)
    usable = [left for left in made.layouts[0].leftovers if left.usable]
    assert len(usable) == 1
    assert usable[0].rectangle_mm[2] >= 570
