"""Patterns and places inside areas."""

import math

import pytest

from nestyield.model import Outline
from nestyield.paperwork import hatch


def test_lines_fill_the_area_and_stay_inside():
    """Lines across a square run from edge to edge, one a spacing; a hole stays free."""
    square, hole = Outline.rectangle(0, 0, 40, 20), Outline.circle(20, 10, 5)
    lines = hatch.lines([square], 0.0, 2.0)
    assert len(lines) == 10
    assert sum(math.dist(a, b) for a, b in lines) == pytest.approx(400.0)
    holed = hatch.lines([square, hole], 0.0, 0.5)
    run = sum(math.dist(a, b) for a, b in holed) * 0.5
    assert run == pytest.approx(800 - math.pi * 25, rel=0.01)


def test_dots_stay_inside():
    """No dot lies outside the area or in its hole."""
    for x, y in hatch.dots([Outline.circle(0, 0, 10), Outline.circle(0, 0, 4)], 1.0):
        assert 4 - 0.1 <= math.hypot(x, y) <= 10


def test_center_lies_inside():
    """The middle of a horseshoe is wood, not the gap."""
    shoe = Outline.polygon([(0, 0), (30, 0), (30, 30), (20, 30), (20, 10), (10, 10), (10, 30), (0, 30)])
    from shapely.geometry import Point

    assert hatch.region([shoe]).contains(Point(hatch.center([shoe])))


def test_quiet_place_avoids_what_is_busy():
    """A label goes where nothing is, and says whether it fits at all."""
    area = Outline.rectangle(0, 0, 100, 30)
    busy = [hatch.region([Outline.rectangle(0, 0, 60, 30)])]
    (x, _), inside = hatch.quiet_place(area, busy, 20.0, 4.0)
    assert x >= 70
    assert inside
    assert not hatch.quiet_place(area, [], 120.0, 4.0)[1]
