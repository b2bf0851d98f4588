"""Crosscuts and rips before the bed where rows of parts end: counts worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import MachineLimits, Order, Shop
from nestyield.planning.cut_positions import MOST_ENDS, row_lengths
from nestyield.planning.makeable import makeable
from nestyield.planning.needed import needed
from nestyield.planning.run import make_plan

IN = 25.4
#: Of the makers in conftest: margin 5 mm, a gap of 9 mm; what the saw takes.
MARGIN, GAP, KERF = 5.0, 9.0, 3.0
SAW = MachineLimits(saw_kerf_mm=KERF)


def long_board(make: Any, length: float, count: int) -> Shop:
    """Bodies of 140 x 90 mm, and a board just wide enough, for a table of 300 x 200 mm."""
    body = make.part("body", 140, 90, grain_tolerance_deg=0.0)
    settings = {"machines": SAW, "effort": 1, "workers": 1}
    return make.shop(
        [make.board("long", length, 90 + 2 * MARGIN)],
        [body],
        [Order(name="o", part="body", count=count)],
        beds=[make.bed(x=300.0, y=200.0)],
        settings=settings,
    )


def test_rows_that_are_told() -> None:
    """Parts of 12 and 16 with 1 between them and 2 around: 14, 18, then two and three in a row."""
    assert row_lengths([12.0, 16.0], 1.0, 2.0, 44.0) == [14, 18, 27, 31, 35, 40, 44]
    assert row_lengths([50.0], 1.0, 2.0, 44.0) == []
    many = row_lengths([3.0], 1.0, 2.0, 400.0)
    assert len(many) == MOST_ENDS
    assert (many[0], many[-1]) == (5.0, 397.0)


#: Three blanks with two bodies each, and two cuts between them.
PAIRS = 3 * (2 * 140 + GAP + 2 * MARGIN) + 2 * KERF


@pytest.mark.parametrize(("length", "count"), [(PAIRS + 2.0, 6), (PAIRS - 2.0, 5)])
def test_two_in_a_row_on_a_blank_waste_less(length: float, count: int, make: Any) -> None:
    """Six blanks for a body each take 6 x 150 + 5 x 3 = 915 mm; three for two each take 903, on a board of 905."""
    assert PAIRS == 903.0
    shop = long_board(make, length, 8)
    plan = make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)
    assert [r.placed for r in plan.orders] == [count]
    assert audit(plan) == ()
    (need,) = needed(shop)
    assert need.placed == count
    assert [m.count for m in makeable(shop, shop.parts, ("bench",)).alone] == [count]


def test_a_sheet_an_inch_longer_than_the_table(make: Any) -> None:
    """A sheet 49 x 25 in, a table 48 x 30 in, templates 16 x 12 in with 1/4 in around them and 1/2 in between.

    Two by two of them take 2 x 16 + 1/2 + 2 x 1/4 = 33 in by 25 in; of the other 15 7/8 in one turned takes 12 1/2:
    five.
    """
    template = make.part(
        "template", 16 * IN, 12 * IN, species=("MDF",), thickness_mm=0.75 * IN, grain_deg=None
    )
    sheet = make.board("MDF-1", 49 * IN, 25 * IN, species="MDF", thickness_mm=0.75 * IN)
    shop = make.shop(
        [replace(sheet, grain_deg=None)],
        [template],
        [Order(name="o", part="template", count=5)],
        beds=[make.bed(x=48 * IN, y=30 * IN)],
        settings={
            "cutter_diameter_mm": 0.25 * IN,
            "blank_margin_mm": 0.25 * IN,
            "between_parts_mm": 0.5 * IN,
            "machines": MachineLimits(saw_kerf_mm=0.125 * IN),
            "effort": 1,
            "workers": 1,
        },
    )
    shop = replace(shop, units="in")
    (need,) = needed(shop)
    assert (need.placed, need.buy) == (5, None)
    assert [m.count for m in makeable(shop, shop.parts, ("bench",)).alone] == [5]
    plan = make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)
    assert [r.placed for r in plan.orders] == [5]
    assert audit(plan) == ()
    # 33 in, 1/2 in and the turned one of 12 in: 45 1/2 in come off the sheet at the least
    (sawing,) = plan.sawings
    assert sum(abs(c.at_mm - c.start_mm) for c in sawing.cuts if c.across == "x") >= 45.5 * IN - 0.1
