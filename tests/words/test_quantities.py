"""Quantities as a shop writes them. Values are worked by hand; conversion factors are exact by definition."""

import math
import random
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.words import Words, fill, listed, plural

MM, IN = Words("mm"), Words("in")


@pytest.mark.parametrize(
    ("mm", "style", "rounding", "metric", "inch"),
    [
        (19.05, "rule", "nearest", "19.1 mm", "3/4 in"),
        (600.0, "rule", "nearest", "600 mm", "23 5/8 in"),
        (628.42, "machine", "nearest", "628.42 mm", "24.741 in"),
        (2.2449, "fine", "down", "2.24 mm", "5/64 in"),
        (2.2449, "fine", "up", "2.25 mm", "3/32 in"),
        (0.1, "fine", "nearest", "0.1 mm", "0.004 in"),
        (6.35, "setting", "nearest", "6.35 mm", "1/4 in"),
        (6.5, "setting", "nearest", "6.5 mm", "0.2559 in"),
        (4.762, "setting", "nearest", "4.762 mm", "3/16 in"),
        (0.0, "setting", "nearest", "0 mm", "0 in"),
        (0.0005, "setting", "nearest", "0.0005 mm", "1.9685e-05 in"),
        (0.04, "rule", "nearest", "0 mm", "0 in"),
        (-0.04, "rule", "nearest", "0 mm", "0 in"),
        (-25.4, "rule", "nearest", "-25.4 mm", "-1 in"),
        (38.1, "rule", "up", "38.1 mm", "1 1/2 in"),
    ],
)
def test_lengths(mm, style, rounding, metric, inch):
    assert MM.length(mm, style=style, rounding=rounding) == metric
    assert IN.length(mm, style=style, rounding=rounding) == inch


@given(st.floats(min_value=0.0, max_value=5000.0))
def test_up_and_down_enclose(mm):
    """What is needed is never written too small, what there is never too large."""
    for words in (MM, IN):
        low = words.number(mm, rounding="down")
        high = words.number(mm, rounding="up")
        unit = 1.0 if words is MM else 25.4
        value = [sum(_fraction(p) for p in text.split()) * unit for text in (low, high)]
        assert value[0] <= mm + 1e-4
        assert value[1] >= mm - 1e-4
        assert value[1] - value[0] <= (0.1 if words is MM else 25.4 / 64) + 1e-9


def _fraction(text):
    top, _, bottom = text.partition("/")
    return float(top) / float(bottom or 1)


def test_other_quantities():
    assert (MM.area(51_400), IN.area(25.4**2 * 12)) == ("514 cm²", "12 sq in")
    assert (MM.volume(12.46), IN.volume(16.387064)) == ("12.5 ml", "1 cu in")
    assert (MM.force(4450), MM.force(321), IN.force(4448.2216)) == ("4.5 kN", "320 N", "1000 lbf")
    assert (MM.pressure(1.2), IN.pressure(1.2)) == ("1.2 MPa", "175 psi")
    assert [MM.angle(a) for a in (0, -0.01, 180, -180, 359.6, 159.2, 540)] == [
        "0°", "0°", "180°", "180°", "-0.4°", "159.2°", "180°",
    ]  # fmt: skip
    assert (MM.money(7.5), MM.money(120.0)) == ("7.50", "120")
    assert MM.size(508, 177.8) == "508 × 177.8 mm"
    assert (IN.cell(19.05), IN.cell(-19.05), IN.cell(44.45)) == ("0 3/4", "-0 3/4", "1 3/4")


def test_no_break_spaces():
    """On paper nothing breaks inside a number or before its unit."""
    assert Words("in", space="\u00a0").length(44.45) == "1\u00a03/4\u00a0in"


def test_templates():
    values = {
        "needs_um": 334_241,
        "axis": "X",
        "names": ("a", "b", "c"),
        "count": 1,
        "turn_deg": 7.5,
        "box_mm": (10, 20),
    }
    assert fill("{axis}: {needs_um:up machine}", values, MM) == "X: 334.25 mm"
    assert fill("{names} {names:or} {count:plural box boxes}", values, MM) == "a, b and c a, b or c box"
    assert fill("{box_mm} {turn_deg} {axis:cap}", values, IN) == "25/64 × 25/32 in 7.5° X"
    with pytest.raises(KeyError):
        fill("{what}", values, MM)
    with pytest.raises(ValueError, match="unknown flag 'upp'"):
        fill("{needs_um:upp}", values, MM)


def test_lists_and_counts():
    assert listed(["a", "", "b"]) == "a and b"
    assert plural(2, "piece") == "pieces"


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (44.45, "1 3/4"),
        (25.4, "1"),
        (19.05, "3/4"),
        (0.0, "0"),
        (-44.45, "-1 3/4"),
        (25.4 / 64, "1/64"),
        (25.4 * 63 / 64, "63/64"),
        (25.4 * (1 - 1 / 200), "1"),
        (336.55, "13 1/4"),
    ],
)
def test_inches_with_fractions(mm, text):
    """Inches come reduced, to the nearest 1/64, whole inches apart."""
    assert IN.number(mm) == text


@pytest.mark.outside(source="1 in = 25.4 mm exactly (international yard and pound agreement, 1959)", mark="M")
def test_inches_agree_with_a_printed_table():
    """Decimal equivalents as every shop has them on the wall."""
    for mm, text in ((1.5875, "1/16"), (3.175, "1/8"), (9.525, "3/8"), (11.1125, "7/16"), (15.875, "5/8")):
        assert IN.number(mm) == text


@given(st.floats(-5000, 5000))
def test_inches_are_within_half_a_sixty_fourth(mm):
    """Reading the text back is never off by more than 1/128 inch."""
    text = IN.number(mm)
    value = sum(_fraction(p) for p in text.lstrip("-").split()) * (-1 if text.startswith("-") else 1)
    assert abs(value * 25.4 - mm) <= 25.4 / 128 + 1e-5


def test_the_same_margin_always_reads_the_same():
    """A half goes away from 0, whatever the last micrometer says."""
    assert {MM.number(v) for v in (6.35, 6.3485, 6.3501, 6.35 + 1e-12)} == {"6.4"}
    assert MM.number(-6.35) == "-6.4"
    assert MM.number(6.34) == "6.3"
    assert MM.number(6.3485, rounding="down") == "6.3"
    assert MM.number(6.3485, style="fine") == "6.35"


def test_columns_line_up():
    """Millimeters of a column all have one decimal, and never a minus before nothing; inches are fractions."""
    assert [MM.column(v) for v in (600.0, 44.44, -0.01, 6.35)] == ["600.0", "44.4", "0.0", "6.4"]
    assert IN.column(19.05) == "3/4"


def test_limits_judged_by_eye():
    """Limits of safety come to whole millimeters and half inches: 304.8 mm are 12 in, 290 are 11.4."""
    assert (MM.length(304.8, style="coarse", rounding="up"), IN.length(304.8, style="coarse")) == (
        "305 mm",
        "12 in",
    )
    assert IN.length(290.0, style="coarse", rounding="up") == "11 1/2 in"
    assert MM.length(77.0, style="coarse", rounding="up") == "77 mm"


def test_shares():
    """A share of nothing is a dash."""
    assert (MM.share(1, 3), MM.share(1, 2), MM.share(1, 0)) == ("33.3 %", "50 %", "–")


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("style", ["rule", "fine", "machine", "setting", "coarse"])
@pytest.mark.parametrize("rounding", ["nearest", "up", "down"])
@pytest.mark.parametrize("length", [1e308, -1e308, math.inf, -math.inf, math.nan])
def test_lengths_beyond_all_numbers_are_written(units, style, rounding, length):
    """A message about a length of 1e308 or none at all can be made."""
    assert Words(units).length(length, style=style, rounding=rounding)


@pytest.mark.parametrize("units", ["in", "mm"])
def test_lines_of_a_run_differ_by_the_size_told(units: Any) -> None:
    """Where a leftover begins and ends, as a rule shows it, is its size apart: worked out with exact fractions."""
    words, rng = Words(units), random.Random(5)

    def exact(text: str) -> Fraction:
        return sum((Fraction(part) for part in text.split()), Fraction(0))

    for _ in range(3000):
        start, length = rng.uniform(0.0, 900.0), rng.uniform(5.0, 900.0)
        begin, end = words.run(start, length).split(" to ")
        assert exact(end) - exact(begin) == exact(words.number(length, rounding="wood"))
        assert begin == words.number(start)
    # what a maker found: a strip from 10 3/8 in, 3.37 in wide, told as 3 23/64 and sawn to 13 3/4
    assert Words("in").run(25.4 * 10.375, 25.4 * 3.37) == "10 3/8 to 13 47/64"
