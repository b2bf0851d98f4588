from __future__ import annotations

import pytest

from nestyield.bed.words import format_length


@pytest.mark.parametrize(
    ("length", "units", "up", "text"),
    [
        (628.4, "mm", None, "628.4 mm"),
        (28.4000001, "mm", True, "28.4 mm"),
        (600.0, "mm", None, "600 mm"),
        (0.0, "mm", None, "0 mm"),
        (0.0004, "mm", True, "0.001 mm"),
        (44.45, "in", None, "1 3/4 in"),
        (25.4, "in", None, "1 in"),
        (25.41, "in", True, "1 1/64 in"),
        (25.39, "in", False, "63/64 in"),
        (-12.7, "in", None, "-1/2 in"),
        (0.01, "in", None, "0.0004 in"),
    ],
)
def test_lengths_as_makers_write_them(length, units, up, text):
    """Millimetres drop idle zeros, inches are fractions to 1/64, and rounding goes the safe way."""
    assert format_length(length, units, up=up) == text
