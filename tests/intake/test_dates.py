"""Dates with the month in words."""

from __future__ import annotations

import pytest

from nestyield.intake.dates import date_in_words


@pytest.mark.parametrize(
    ("text", "date"),
    [
        ("1 March 2027", "2027-03-01"),
        ("1. Mar 2027", "2027-03-01"),
        ("1st of March", ""),
        ("March 1st, 2027", "2027-03-01"),
        ("Sept. 30 2026", "2026-09-30"),
        ("30-Sep-2026", "2026-09-30"),
        ("31 February 2027", ""),
        ("3/1/2027", ""),
        ("next week", ""),
        ("", ""),
    ],
)
def test_a_date_in_words(text: str, date: str) -> None:
    """A day, a month in words and a year are a date; what could be two dates, or is none, is not guessed."""
    assert date_in_words(text) == date
