"""Notices of a plan read as sentences, listed with the findings of intake."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.model import ModelError
from nestyield.model.facts import BlanksKept, OrderShort, StoppedEarly
from nestyield.paperwork.notices import notice_finding
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
