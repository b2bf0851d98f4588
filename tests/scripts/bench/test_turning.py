"""Turns for parts that may lie at any angle."""

import math

import pytest
from bench.turning import finer_turns, first_turns, turns_each

WEDGE = [(0.0, 0.0), (10.0, 0.0), (0.0, 4.0)]
BAR = [(0.0, 0.0), (10.0, 0.0), (10.0, 2.0), (0.0, 2.0)]


def test_long_sides_come_to_lie_along_the_axes():
    """Guards the first turns: the slant of a wedge along X, both ways, and along Y."""
    slant = math.degrees(math.atan2(4.0, 10.0))
    turns = first_turns(WEDGE, [], 60)
    for want in (slant, slant + 90.0, slant + 180.0, slant + 270.0, 0.0, 15.0):
        assert any(abs(t - want) < 1e-6 for t in turns)
    assert len(set(turns)) == len(turns) <= 60


def test_a_part_fills_a_width():
    """Guards the turns at which the extent along y is the width, and not a hair more."""
    found = 0
    for turn in first_turns(BAR, [6.0], 60):
        a = math.radians(turn)
        extent = 10.0 * abs(math.sin(a)) + 2.0 * abs(math.cos(a))
        found += extent == pytest.approx(6.0, rel=1e-6)
        assert not 6.0 < extent < 6.0 * (1.0 + 1e-6)
    assert found == 4


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_side_comes_to_lie_along_a_neighbours(mirrored):
    """Guards finer turns: two bars, one 3 degrees off, each may come to lie along the other."""
    placed = [(0, 20.0, False, 0.0, 0.0), (1, 23.0, mirrored, 0.0, 2.2)]
    if mirrored:  # a bar mirrored in x lies to the left of the origin
        placed[1] = (1, 203.0, True, 0.0, 4.2)
    turns = finer_turns([BAR, BAR], placed, 2.0, 10)
    assert any(abs(t - 23.0) < 1e-6 for t in turns[0])
    assert any(abs(t - (200.0 if mirrored else 20.0)) < 1e-6 for t in turns[1])
    assert {18.0, 20.0, 22.0} <= set(turns[0])


def test_present_turns_are_kept():
    """Guards that a layout can be taken over: turns in use come first, whatever the limit."""
    placed = [(0, 10.0 * k, False, 20.0 * k, 0.0) for k in range(12)]
    assert finer_turns([BAR], placed, 1.0, 4)[0] == tuple(10.0 * k for k in range(12))


def test_fewer_turns_for_more_kinds():
    """Guards the size of the tables."""
    assert turns_each(1) == 64
    assert turns_each(8) == 12
    assert turns_each(100) == 8
    assert len(first_turns(BAR, [5.0], 8)) <= 8
