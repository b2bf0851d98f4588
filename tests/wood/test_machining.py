"""Machine limits: what is refused, what takes care, and that a way out is named."""

import pytest

from nestyield.model import ModelError
from nestyield.model.facts import OverMachineLimit, TakePushBlocks, TakePushStick, UnderMachineLimit
from nestyield.wood.machining import MachineLimits, machining_rules

LIMITS = MachineLimits()


def refused(*size, limits=LIMITS, **kw):
    return {c.machine for c in machining_rules(*size, limits, **kw) if c.refused}


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
    (rule,) = machining_rules(299, 100, 45, LIMITS, ("saw",))
    assert rule == TakePushStick(value_um=299_000, least_um=300_000, stick_um=450_000)
    assert (rule.refused, rule.source) == (False, "HSE saw")
    assert machining_rules(300, 100, 45, LIMITS, ("saw",)) == ()


def test_push_blocks():
    """A piece that may go over the jointer but is low or narrow asks for push blocks."""
    (rule,) = machining_rules(500, 60, 100, LIMITS, ("jointer",))
    assert rule == TakePushBlocks(length_um=304_800, width_um=76_200, thickness_um=76_200)
    assert not rule.refused
    assert machining_rules(500, 100, 100, LIMITS, ("jointer",)) == ()


def test_too_narrow_thin_or_wide():
    """Width and thickness have limits of their own, and every refusal names another way."""
    cautions = machining_rules(500, 15, 5, LIMITS)
    assert {c.machine for c in cautions if c.refused} == {"jointer", "planer"}
    assert {(c.machine, c.remedy) for c in cautions if c.refused} == {
        ("jointer", "joint while longer"),
        ("planer", "carrier board"),
    }
    assert refused(500, 330, 45, limits=MachineLimits(planer_widest_mm=317.5)) == {"planer"}
    assert refused(500, 330, 45) == set()


def test_rules_hold_the_shops_limit_and_the_boards_size():
    """A rule gives the limit and the board's own size in whole micrometers, and a size of nothing is refused."""
    (first,) = machining_rules(254, 100, 45, LIMITS, ("jointer",))
    assert first == UnderMachineLimit(
        machine="jointer",
        dimension="length",
        value_um=254_000,
        least_um=304_800,
        remedy="joint while longer",
    )
    (wide,) = machining_rules(500, 330.2, 45, MachineLimits(planer_widest_mm=317.5), ("planer",))
    assert wide == OverMachineLimit(
        machine="planer", dimension="width", value_um=330_200, most_um=317_500, remedy="level by hand"
    )
    with pytest.raises(ModelError, match="> 0"):
        machining_rules(0, 1, 1, LIMITS)
