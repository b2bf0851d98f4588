"""Forces as a workshop writes them."""

import pytest

from nestyield.intake.forces import ForceError, parse_force


@pytest.mark.outside(source="1 lbf = 4.4482216152605 N, 1 kgf = 9.80665 N by definition", mark="S")
def test_units():
    """A bare number is newtons or pounds; a text carries its unit."""
    assert parse_force(4450, "n") == 4450
    assert parse_force("4.5kN", "lbf") == 4500
    assert parse_force("1000", "lbf") == pytest.approx(4448.2216)
    assert parse_force("1000 lbf", "n") == parse_force("1000 lb", "n") == parse_force(1000.0, "lbf")
    assert parse_force("450 kgf", "n") == pytest.approx(4412.99)


@pytest.mark.parametrize(
    "bad", ["", "strong", "-4 kN", "4,5 kN", "4 mm", True, float("nan"), float("inf"), "1e9 N"]
)
def test_what_is_no_force(bad):
    """The rule stands in the message, and the text that breaks it."""
    with pytest.raises(ForceError, match=r"expected a force such as '4\.5 kN' or '1000 lbf', got"):
        parse_force(bad, "n")
