"""Machine limits: what is refused, what takes care, and that a way out is named."""

import pytest

from nestyield.model import ModelError
from nestyield.wood.machining import GENERAL_CAUTIONS, MachineLimits, machining_cautions

LIMITS = MachineLimits()


def refused(*size, limits=LIMITS, **kw):
    return {c.machine for c in machining_cautions(*size, limits, **kw) if c.refused}


@pytest.mark.outside(source="jointer and planer 12 in: common practice, no source; manuals decide", mark="P")
def test_shortest_pieces():
    """Under 12 in nothing goes over the jointer or through a planer of unknown roller spacing."""
    assert refused(304, 100, 45) == {"jointer", "planer"}
    assert refused(306, 100, 45) == set()
    assert refused(304, 100, 45, machines=("saw",)) == set()


@pytest.mark.outside(source="planer: roller spacing + 2 in, common practice, no source", mark="P")
def test_planer_by_its_rollers():
    """A known roller spacing decides, and a stated shortest piece decides over that."""
    assert MachineLimits(planer_rollers_mm=200).planer_least_length_mm == pytest.approx(250.8)
    assert MachineLimits(planer_rollers_mm=200, planer_shortest_mm=280).planer_least_length_mm == 280
    assert refused(260, 100, 45, limits=MachineLimits(planer_rollers_mm=200), machines=("planer",)) == set()


@pytest.mark.outside(source="HSE circular saw guidance: push stick, last 300 mm and shorter cuts", mark="S")
def test_push_stick():
    """A saw cut under 300 mm carries the caution for its whole length, a longer one does not."""
    (caution,) = machining_cautions(299, 100, 45, LIMITS, ("saw",))
    assert (caution.machine, caution.refused, caution.mark) == ("saw", False, "S")
    assert "450 mm" in caution.text
    assert machining_cautions(300, 100, 45, LIMITS, ("saw",)) == ()
    assert any("300 mm" in text for text, mark in GENERAL_CAUTIONS if mark == "S")


def test_limits_of_a_shop_file():
    """A shop file's values stand, the rest keep their defaults, and keys of others are passed over."""
    limits = MachineLimits.of({"planer_widest_mm": 317.5, "planer_shortest_mm": None, "other": 1})
    assert (limits.planer_widest_mm, limits.planer_least_length_mm) == (317.5, 304.8)


def test_push_blocks():
    """A piece that may go over the jointer but is low or narrow asks for push blocks."""
    (caution,) = machining_cautions(500, 60, 100, LIMITS, ("jointer",))
    assert not caution.refused
    assert "push block" in caution.text
    assert machining_cautions(500, 100, 100, LIMITS, ("jointer",)) == ()


def test_too_narrow_thin_or_wide():
    """Width and thickness have limits of their own, and every refusal names another way."""
    cautions = machining_cautions(500, 15, 5, LIMITS)
    assert {c.machine for c in cautions if c.refused} == {"jointer", "planer"}
    assert all(c.instead for c in cautions)
    assert refused(500, 330, 45, limits=MachineLimits(planer_widest_mm=317.5)) == {"planer"}
    assert refused(500, 330, 45) == set()


def test_texts_state_rule_then_value_in_shop_units():
    """A text names the limit and then the piece's own size, in the shop's units."""
    first = machining_cautions(254, 100, 45, LIMITS, ("jointer",), unit="in")[0]
    assert first.text == "length at least 12 in for the jointer, this is 10 in"
    with pytest.raises(ModelError, match="> 0"):
        machining_cautions(0, 1, 1, LIMITS)
