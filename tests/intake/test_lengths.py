"""Lengths as makers write them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.intake.lengths import LengthError, parse_length


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        (44.5, "mm", 44.5),
        (44.5, "in", 1130.3),
        (2, "cm", 20.0),
        ("44.5 mm", "in", 44.5),
        ("44.5mm", "in", 44.5),
        ("4.5 cm", "in", 45.0),
        ("1 3/4 in", "mm", 44.45),
        ("1-3/4 in", "mm", 44.45),
        ('1-3/4"', "mm", 44.45),
        ('1 3/4"', "mm", 44.45),
        ("1 3/4", "in", 44.45),
        ("7/8", "in", 22.225),
        ("7/8", "mm", 0.875),
        ('7/8"', "mm", 22.225),
        ("1¾ in", "mm", 44.45),
        ("1 ¾″", "mm", 44.45),
        ("½", "in", 12.7),
        ("1⁄2 in", "mm", 12.7),
        ("8 ft", "mm", 2438.4),
        ("8 ft 6 in", "mm", 2590.8),
        ("8' 6 1/2\"", "mm", 2603.5),
        ("8'-6\"", "mm", 2590.8),
        ("8′ 6″", "mm", 2590.8),
        ("-3", "mm", -3.0),
        ("−3 mm", "in", -3.0),
        (".5in", "mm", 12.7),
        ("1e2", "mm", 100.0),
        ("2 inches", "mm", 50.8),
        ("1 m", "mm", 1000.0),
        ("  12  mm ", "in", 12.0),
        ("1\u00a03/4\u00a0in", "mm", 44.45),
    ],
)
def test_reads(text: str | float, unit: str, mm: float) -> None:
    """Numbers, units, fractions and primes come out as the nearest float of the exact value."""
    assert parse_length(text, unit) == mm


@pytest.mark.outside(
    source="International yard and pound agreement (1959): 1 inch is exactly 25.4 mm", mark="M"
)
def test_inch_is_exact() -> None:
    """Every 64th of an inch is the float nearest to its exact size."""
    for n in range(1, 1000):
        assert parse_length(f"{n}/64 in", "mm") == float(Fraction(n, 64) * Fraction(254, 10))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("abc", "expected a length such as"),
        ("12,5", r"decimal point, not a comma; write 12\.5$"),
        ("1,200", r"write 1\.200 or 1200$"),
        ("1.200,5", r"no mark between thousands; write 1200\.5$"),
        ("1,200.5", r"no mark between thousands; write 1200\.5$"),
        ("3/0", "'3/0' is no fraction"),
        ("1 2 in", "one length"),
        ("6 in 8 ft", "one length"),
        ("1 3/4 in x", "expected a length"),
        ("5 furlong", "furlong"),
        ("1/2/3", "expected a length"),
        ("--3", "expected a length"),
        ("nan", "expected a length"),
        ("inf", "expected a length"),
        ("1e400", "finite"),
        ("9" * 5000, "at most 60 characters"),
        ("٣", "expected a length"),
        (True, "true"),
        (float("nan"), "finite"),
        (float("inf"), "finite"),
        ("12 mm 3", "one length"),
        ("in", "expected a length"),
    ],
)
def test_refuses(text: str | float, told: str) -> None:
    """What is no length is refused with the rule and the text, never guessed."""
    with pytest.raises(LengthError, match=told):
        parse_length(text, "mm")


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text makes anything but a finite number or a LengthError."""
    try:
        value = parse_length(text, "in")
    except LengthError:
        return
    assert abs(value) < 1e308


@given(st.integers(0, 500), st.integers(0, 63))
def test_fraction_of_an_inch_round_trip(whole: int, part: int) -> None:
    """Whole inches and 64ths written as a fraction are read exactly."""
    exact = float((whole + Fraction(part, 64)) * Fraction(254, 10))
    assert parse_length(f"{whole} {part}/64 in", "mm") == exact
    assert parse_length(f'{whole}-{part}/64"', "mm") == exact


@pytest.mark.parametrize(
    ("cell", "was"),
    [
        ("3-Aug", "perhaps 3/8 or 3.8,"),
        ("8-Mar", "perhaps 3/8 or 8.3,"),
        ("Aug-03", "perhaps 3/8 or 3.8,"),
        ("1-Feb", "perhaps 1/2 or 1.2,"),
        ("5-Aug-2026", "perhaps 5/8 or 5.8,"),
        ("03/04/2026", "turned a size into"),
        ("7.8.26", "turned a size into"),
        ("2026-03-04 00:00:00", "perhaps 3/4 or 4.3,"),
        ("2026-05-08", "perhaps 5/8 or 8.5,"),
        ("46237", "2026-08-03, perhaps 3/8 or 3.8 once"),
        ("15-Jun", "perhaps 15.6,"),
        ("#REF!", "#REF!"),
        ("#####", "###"),
    ],
)
def test_what_spreadsheets_do_to_fractions(cell: str, was: str) -> None:
    """A date in the place of a length is told with what it may have been: a fraction written day/month or
    month/day, or a decimal written day.month as spreadsheets of Europe read it (common practice, no source)."""
    with pytest.raises(LengthError, match="spreadsheet") as caught:
        parse_length(cell, "in")
    assert was in str(caught.value)


@pytest.mark.parametrize("cell", ["3/8", "1-3/4", "1 3/4", "12", "3 ft 6 in", "2026"])
def test_lengths_that_are_no_dates(cell: str) -> None:
    """Lengths that look a little like dates are lengths."""
    assert parse_length(cell, "in") > 0


def test_a_shop_in_inches_is_shown_lengths_in_inches():
    """What a length may look like is told in the shop's own unit."""
    with pytest.raises(LengthError, match=r"such as 1\.75, '1 3/4' or '1 3/4 in', got 'long'"):
        parse_length("long", "in")
    with pytest.raises(LengthError, match=r"such as 44\.5, '44.5 mm' or '1 3/4 in', got 'long'"):
        parse_length("long", "mm")
