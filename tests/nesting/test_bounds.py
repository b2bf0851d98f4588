"""Bounds that every layout keeps."""

import pytest

from nestyield.nesting.bounds import fewest_sheets, greatest_value, least_length


def test_bounds():
    """Guards bounds against hand-made cases."""
    assert fewest_sheets([6.0, 6.0, 6.0], [10.0, 10.0, 10.0]) == 3
    assert fewest_sheets([5.0, 5.0], [10.0, 10.0]) == 1
    assert fewest_sheets([5.0, 6.0], [10.0]) == 2
    assert least_length([10.0, 20.0], [4.0, 2.0], 10.0) == 4.0
    assert greatest_value([(2.0, 4.0, 3), (1.0, 1.0, 5)], 7.0) == pytest.approx(13.0)
