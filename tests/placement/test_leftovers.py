"""The largest rectangle of a leftover, against shapes whose largest one is known."""

from __future__ import annotations

import math

import pytest

from nestyield.model import Outline, Settings, Shape
from nestyield.placement.leftovers import largest_along


@pytest.mark.parametrize("turn", [0.0, 2.0, 7.3, 30.0, 90.0])
@pytest.mark.parametrize(("length", "width"), [(363.815, 48.185), (215.433, 20.939), (160.445, 26.635)])
@pytest.mark.outside(source="an L of L x W and L/3 x W beside it: L x W is its largest rectangle", mark="D")
def test_largest_rectangle_of_an_ell(turn: float, length: float, width: float) -> None:
    """The largest rectangle of an L too small to keep is told, not 0 x 0, at any grain and off the grid."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    corners = [
        (0, 0),
        (length, 0),
        (length, width),
        (length / 3, width),
        (length / 3, 2 * width),
        (0, 2 * width),
    ]
    points = tuple((x * c - y * s - 217.0313, x * s + y * c + 88.0907) for x, y in corners)
    shape = Shape(outer=Outline(points_mm=points, bulges=(0.0,) * 6))
    _, _, long, wide = largest_along(shape, turn, Settings(cutter_diameter_mm=6.35))
    assert long * wide == pytest.approx(length * width, rel=0.01)
    assert long * wide <= length * width + 0.5
