"""A board too long for one go: sawn first where that does, in sections where only sections do."""

from __future__ import annotations

from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Order, Plan
from nestyield.planning.run import make_plan

#: A bed that moves 600 mm along X, open at both ends, with pins for sections.
BED = {
    "x": 600.0,
    "y": 400.0,
    "table_x_mm": (-60.0, 660.0),
    "table_y_mm": (-40.0, 440.0),
    "open_ends": ("x-", "x+"),
    "pin_diameter_mm": 6.0,
}


def planned(make: Any, length: float, count: int, piece: float = 820.0, wide: float = 200.0) -> Plan:
    """Parts of a length and 69.85 mm, and one board."""
    part = make.part("neck", length, 69.85, grain_tolerance_deg=0.0)
    shop = make.shop(
        [make.board("S-1", piece, wide)],
        [part],
        [Order(name="o", part="neck", count=count)],
        beds=[make.bed(**BED)],
        settings={"workers": 1, "effort": 1},
    )
    plan = make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)
    assert audit(plan) == ()
    assert [r.placed for r in plan.orders] == [count]
    return plan


def sections(plan: Plan) -> list[int]:
    return [len(x.setups[x.chosen].sections) for x in plan.layouts if x.chosen is not None]


@pytest.mark.parametrize(
    ("count", "piece", "wide", "each"),
    [
        (4, 820.0, 200.0, 2),  # a pair side by side: 2 x 69.85 + 9 + 2 x 5 are 158.7 mm of 200
        (2, 900.0, 100.0, 1),
        (4, 820.0, 170.0, 2),  # no room for pins in four: no sections either way
    ],
)
def test_a_crosscut_comes_before_sections(
    count: int, piece: float, wide: float, each: int, make: Any
) -> None:
    """Two necks in a row reach over 2 x 317.5 + 9 + 6 = 650 mm, farther than the bed moves: two blanks, no section."""
    plan = planned(make, 317.5, count, piece, wide)
    assert sections(plan) == [0, 0]
    (sawing,) = plan.sawings
    assert {cut.across for cut in sawing.cuts} == {"x"}
    assert [len(x.placements) for x in plan.layouts] == [each, each]


@pytest.mark.parametrize(("length", "piece", "expected"), [(317.5, 820.0, 0), (700.0, 900.0, 2)])
def test_what_needs_no_saw_is_not_sawn(length: float, piece: float, expected: int, make: Any) -> None:
    """A pair lies within reach on the whole board; a part longer than the bed moves has sections, sawn or not."""
    plan = planned(make, length, 2 if length < 600 else 1, piece, 170.0)
    assert plan.sawings == ()
    assert sections(plan) == [expected]
