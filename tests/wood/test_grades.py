"""The rule table against the NHLA summary charts."""

import pytest

from nestyield.wood.grades import FAS, GRADES, NO_1_COMMON, NO_2A_COMMON, NO_3A_COMMON

CHARTS = pytest.mark.outside(source="NHLA rules, summary charts", mark="S")


@CHARTS
@pytest.mark.parametrize(
    ("grade", "board", "cuttings", "units"),
    [
        (FAS, (96, 6), {(60, 4), (84, 3)}, 10),
        (NO_1_COMMON, (48, 3), {(24, 4), (36, 3)}, 8),
        (NO_2A_COMMON, (48, 3), {(24, 3)}, 6),
        (NO_3A_COMMON, (48, 3), {(24, 3)}, 4),
    ],
)
def test_sizes_and_units(grade, board, cuttings, units):
    """Least board, least cuttings and units a foot of surface measure are the charts'."""
    assert (grade.board_in, set(grade.cuttings_in), grade.units) == (board, cuttings, units)


@CHARTS
@pytest.mark.parametrize(
    ("grade", "counts"),
    [
        (FAS, {3: 0, 4: 1, 7: 1, 8: 2, 11: 2, 12: 3, 15: 3, 16: 4, 30: 4}),
        (NO_1_COMMON, {1: 0, 2: 1, 4: 1, 5: 2, 7: 2, 8: 3, 11: 4, 14: 5, 30: 5}),
        (NO_2A_COMMON, {1: 0, 2: 1, 3: 1, 4: 2, 13: 6, 14: 7, 30: 7}),
    ],
)
def test_cuttings_allowed(grade, counts):
    """Cuttings allowed follow the surface measure as the charts say."""
    assert {sm: grade.cuttings(sm) for sm in counts} == counts


@CHARTS
@pytest.mark.parametrize(
    ("grade", "measure", "ways"),
    [
        (FAS, 8, ((2, 80), (3, 88))),
        (FAS, 5, ((1, 50),)),
        (FAS, 6, ((1, 60), (2, 66))),
        (FAS, 15, ((3, 150), (4, 165))),
        (FAS, 16, ((4, 160),)),
        (NO_1_COMMON, 5, ((2, 40), (3, 45))),
        (NO_1_COMMON, 2, ((1, 16),)),
        (NO_1_COMMON, 10, ((3, 80), (4, 90))),
        (NO_1_COMMON, 11, ((4, 88),)),
        (NO_2A_COMMON, 7, ((3, 42), (4, 56))),
        (NO_2A_COMMON, 8, ((4, 48),)),
    ],
)
def test_one_more_cutting(grade, measure, ways):
    """One more cutting is allowed in the charts' range of surface measure, for more clear units."""
    assert grade.ways(measure) == ways


def test_order():
    """Grades stand best first, each asking for more than the next."""
    assert [g.units for g in GRADES] == [10, 8, 6, 4]
