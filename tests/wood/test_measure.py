"""Board measure against published and hand-worked boards."""

from fractions import Fraction

import pytest

from nestyield.wood.measure import MM3_PER_BOARD_FOOT, board_feet, inches, surface_measure


@pytest.mark.outside(source="Wengert 1998: board of 6 7/16 in x 10 ft 9 in has surface measure 5", mark="S")
def test_surface_measure_of_the_published_board():
    """The published board's surface measure is 5: the 9 in of length do not count, the 7/16 do."""
    assert surface_measure(Fraction(129), Fraction(103, 16)) == 5
    assert surface_measure(inches(3276.6), inches(163.5125)) == 5


@pytest.mark.outside(source="NHLA rules, summary charts: 6 in x 8 ft is SM 4", mark="S")
def test_least_fas_board():
    """The least FAS board measures 4."""
    assert surface_measure(Fraction(96), Fraction(6)) == 4


@pytest.mark.outside(source="NHLA surface measure rule, worked by hand", mark="D")
@pytest.mark.parametrize(
    ("length_in", "width_in", "measure"),
    [(96, 8, 5), (96, 12, 8), (48, 3, 1), (144, 8, 8), (107, 6, 4), (108, 6, 5), (96, "5 1/4", 4)],
)
def test_surface_measure(length_in, width_in, measure):
    """Whole feet of length times inches of width over 12, to the nearest whole."""
    width = sum(Fraction(t) for t in str(width_in).split())
    assert surface_measure(Fraction(length_in), width) == measure


@pytest.mark.outside(source="NHLA: 1 board foot is 144 cubic inches", mark="S")
def test_board_foot():
    """A board foot is 2,359,737 cubic millimeters, and a 5/4 board of 6 x 72 in has 3.75."""
    assert round(MM3_PER_BOARD_FOOT) == 2359737
    assert Fraction(254, 10) ** 3 * 144 == MM3_PER_BOARD_FOOT
    assert board_feet(1.25 * 6 * 72 * 25.4**3) == pytest.approx(3.75, rel=1e-12)


@pytest.mark.outside(source="the inch is 25.4 mm exactly", mark="S")
@pytest.mark.parametrize("n", [1, 127, 128, 129, 777, 12345])
def test_inches_come_back_exact(n):
    """A multiple of 1/128 in that went through millimeters comes back as that fraction."""
    assert inches(n * 25.4 / 128) == Fraction(n, 128)


def test_other_sizes_are_whole_micrometers():
    """A metric size is kept to the micrometer."""
    assert inches(100.05) == Fraction(100050, 25400)
    assert inches(25.402) != 1
    assert inches(25.4009) == 1
