"""Laying parts on a blank and asking the beds about it."""

from __future__ import annotations

import time
from typing import Any

from nestyield.model import Order, Plan, Shop
from nestyield.model.facts import BedsRefuse, ClosestRefusal
from nestyield.planning import run
from nestyield.planning.candidates import try_row
from nestyield.planning.demand import demands_of
from nestyield.planning.workers import Job


def plan(shop: Shop) -> Plan:
    return run.make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def test_too_long_for_the_travel_is_cut_in_sections(make: Any) -> None:
    """A part longer than the travel is planned on a bed with open ends, in sections that pass the audit."""
    board = make.board("long", 900, 260)
    part = make.part("p", 850, 100)
    open_bed = make.bed("open", 600, 400, open_ends=("x-", "x+"), pin_diameter_mm=6.0)
    made = plan(make.shop([board], [part], [Order(name="o", part="p")], beds=[open_bed]))
    (layout,) = made.layouts
    assert layout.chosen is not None
    assert len(layout.setups[layout.chosen].sections) == 2

    closed = make.bed("closed", 600, 400, pin_diameter_mm=6.0)
    made = plan(make.shop([board], [part], [Order(name="o", part="p")], beds=[closed]))
    assert made.orders[0].placed == 0
    assert any(isinstance(getattr(r, "refusal", None), BedsRefuse) for r in made.orders[0].reasons)


def test_one_go_before_sections(make: Any) -> None:
    """A bed that takes the blank in one go is chosen before one that needs sections, whatever their order."""
    open_bed = make.bed("open", 600, 400, open_ends=("x-", "x+"), pin_diameter_mm=6.0)
    wide = make.bed("wide", 1000, 400)
    shop = make.shop(
        [make.board("long", 900, 260)],
        [make.part("p", 850, 100)],
        [Order(name="o", part="p")],
        beds=[open_bed, wide],
    )
    (layout,) = plan(shop).layouts
    assert layout.chosen is not None
    assert layout.setups[layout.chosen].bed == "wide"
    assert not layout.setups[layout.chosen].sections


def test_a_board_too_big_for_the_table_is_told(make: Any) -> None:
    """Where only the board, not the cut, is too big for the bed, the reason says that it may be sawn first."""
    bed = make.bed("small", 400, 300)
    shop = make.shop(
        [make.board("W", 900, 350)], [make.part("p", 300, 80)], [Order(name="o", part="p")], beds=[bed]
    )
    made = plan(shop)
    assert made.orders[0].placed == 0
    (refused,) = [r.refusal for r in made.orders[0].reasons if isinstance(r, ClosestRefusal)]
    assert isinstance(refused, BedsRefuse)
    assert refused.sawn_first


def test_parts_that_may_touch_are_laid_side_by_side(make: Any) -> None:
    """With no gap and no margin two parts of half a board fill it: 2 x 300 x 100 on 600 x 100."""
    shop = make.shop(
        [make.board("B", 600, 100)],
        [make.part("p", 300, 100)],
        [Order(name="o", part="p", count=2)],
        settings={"blank_margin_mm": 0.0, "between_parts_mm": 0.0},
    )
    made = plan(shop)
    assert made.orders[0].placed == 2


def test_a_row_takes_no_more_than_its_share_of_the_time(make: Any) -> None:
    """When it is late each part is still tried by itself, and nothing further; the answer says so."""
    shop = make.shop(
        [make.board("B", 900, 300)], [make.part("p", 200, 60)], [Order(name="o", part="p", count=9)]
    )
    job = Job(shop=shop, demands=demands_of(shop), effort=1, seed=1)
    late = try_row(job, 0, (0,), end=time.monotonic() - 1.0)
    assert late.stopped == "seconds"
    assert [c.made for c in late.answer.candidates] == [(1,)]
    early = try_row(job, 0, (0,))
    assert early.stopped == "effort"
    assert max(c.made for c in early.answer.candidates) == (9,)
