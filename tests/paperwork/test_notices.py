"""Notices of a plan read as sentences, listed with the findings of intake."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.model import Finding, ModelError, Order
from nestyield.model.facts import BlanksKept, OrderShort, StoppedEarly
from nestyield.paperwork.notices import notice_finding, person_lines
from nestyield.paperwork.write import render_all
from nestyield.words import Words


def test_a_short_order_names_itself_and_counts():
    """Two of three missing: the line gives order, both numbers and the part, and is a warning."""
    told = notice_finding(OrderShort(order="spring", part="neck", missing=2, count=3), Words("mm"))
    assert str(told) == "warning P010: spring: 2 of 3 neck not placed"


def test_kept_blanks_are_a_note():
    """Kept blanks are named in their order, and need nobody."""
    told = notice_finding(BlanksKept(blanks=("B-2", "A-1")), Words("in"))
    assert (told.severity, told.message) == ("note", "kept as accepted: B-2 and A-1")


@pytest.mark.parametrize(
    ("by", "ended"),
    [("seconds", "the time limit in seconds"), ("interrupt", "Ctrl-C or another wish to stop")],
)
def test_an_early_stop_is_in_the_report(build, by, ended):
    """The report lists how the run ended among its findings."""
    plan = replace(build.plan(), notices=(StoppedEarly(by=by),))
    page = render_all(plan)["report.html"].decode()
    assert f"the run stopped early: {ended} ended it" in page


@pytest.mark.parametrize("missing", [0, 4])
def test_a_shortfall_has_a_number_that_can_be(missing):
    """No shortfall of nothing, and none of more than was ordered."""
    with pytest.raises(ModelError, match="0 < missing <= 3"):
        OrderShort(order="spring", part="neck", missing=missing, count=3)


def test_why_a_plan_needs_a_person(build):
    """Short orders and warnings are counted, then named; what news told is not told again, notes are not."""
    short = OrderShort(order="spring", part="neck", missing=2, count=3)
    curve = Finding(code="D022", severity="warning", message="a curve by points", file="body.dxf")
    note = Finding(code="R003", severity="note", message="a column of your own", file="rack.csv")
    plan = replace(
        build.plan(), notices=(short, BlanksKept(blanks=("B-2",))), intake=(note, curve), layouts=()
    )
    lines = ["1 order not filled, 1 warning", "spring: 2 of 3 neck not placed", f"{curve}"]
    assert person_lines(plan) == lines
    assert person_lines(plan, f"Short:\n  spring, 1 of 3\n  look at: {curve}\n") == lines[:1]
    assert person_lines(replace(plan, notices=(), intake=(note,))) == []


def test_an_order_that_is_cut_is_done_and_not_on_hold(build):
    """The report has its state, and neither its list of what is not filled nor that of parts to make names it."""
    plan = build.plan()
    results = {r.order: r for r in plan.orders}
    held = next(o for o in plan.shop.orders if o.hold)

    def page(**changes: bool) -> str:
        orders = tuple(replace(o, **changes) if o is held else o for o in plan.shop.orders)
        return render_all(replace(plan, shop=replace(plan.shop, orders=orders)))["report.html"].decode()

    assert held.name in results
    assert '<span class="tag hold">on hold</span>' in page()
    done = page(done=True)
    assert '<span class="tag done">done</span>' in done
    assert "on hold" not in done.split('<h2 id="orders">')[0].split("<main")[1]
    with pytest.raises(ModelError, match="expected hold"):
        Order(name="o", part="p", done=True)
