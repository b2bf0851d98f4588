"""Lengths as makers write them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.paperwork import measure


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
    assert measure.number(mm, "in") == text


def test_inches_agree_with_a_printed_table():
    """Decimal equivalents as every shop has them on the wall."""
    for mm, text in ((1.5875, "1/16"), (3.175, "1/8"), (9.525, "3/8"), (11.1125, "7/16"), (15.875, "5/8")):
        assert measure.number(mm, "in") == text


test_inches_agree_with_a_printed_table = pytest.mark.outside(
    source="1 in = 25.4 mm exactly (international yard and pound agreement, 1959)", mark="M"
)(test_inches_agree_with_a_printed_table)


@given(st.floats(-5000, 5000))
def test_inches_are_within_half_a_sixty_fourth(mm):
    """Reading the text back is never off by more than 1/128 inch."""
    text = measure.number(mm, "in")
    sign = -1 if text.startswith("-") else 1
    value = sum((Fraction(p) for p in text.lstrip("-").split(" ")), Fraction(0)) * sign
    assert abs(float(value) * 25.4 - mm) <= 25.4 / 128 + 1e-9


def test_millimetres_have_one_decimal():
    """Millimetres carry one decimal, and never a minus before nothing."""
    assert measure.number(44.44, "mm") == "44.4"
    assert measure.number(-0.01, "mm") == "0.0"
    assert measure.length(600, "mm") == "600 mm"
    assert measure.size(508, 177.8, "mm") == "508 × 177.8 mm"
    assert measure.number(600, "mm") == "600.0"
    assert measure.fine(2.25, "mm") == "2.25 mm"
    assert measure.fine(2.4938, "mm") == "2.49 mm"
    assert measure.size(508, 177.8, "in") == "20 × 7 in"


def test_the_same_margin_always_reads_the_same():
    """A half goes upwards, whatever the last micrometre says."""
    assert {measure.number(v, "mm") for v in (6.35, 6.3485, 6.3501, 6.35 + 1e-12)} == {"6.4"}
    assert measure.number(-6.35, "mm") == "-6.4"
    assert measure.number(2.25, "mm") == "2.3"


def test_a_cell_is_never_read_as_a_date():
    """A fraction in a table carries its whole inches, since spreadsheets read 3/4 as a day."""
    assert measure.cell(19.05, "in") == "0 3/4"
    assert measure.cell(-19.05, "in") == "-0 3/4"
    assert measure.cell(44.45, "in") == "1 3/4"
    assert measure.cell(19.05, "mm") == "19.1"


def test_angles_and_shares():
    """Angles come between -180 and 180, shares in percent."""
    assert measure.angle(183.0) == "-177°"
    assert measure.angle(-180.0) == "180°"
    assert measure.angle(2.25) == "2.2°"
    assert measure.percent(1, 3) == "33.3 %"
    assert measure.percent(1, 0) == "–"
    assert measure.area(64516, "in") == "100 sq in"
    assert measure.decimal(19.05, "in") == "0.75"
