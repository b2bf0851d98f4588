"""The second checker's own geometry, against figures worked by hand."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Polygon, box

from second import leftovers, shapes


@pytest.mark.outside(source="pi r^2; two half arcs of bulge 1 are a circle (DXF reference)", mark="D")
def test_two_half_arcs_are_a_circle() -> None:
    """A circle of radius 20 has its area within the chords' error, and its bounds."""
    circle = shapes.of_outline({"points_mm": [[-20, 5], [20, 5]], "bulges": [1, 1]})
    assert circle.area == pytest.approx(math.pi * 400, rel=1e-4)
    assert circle.bounds == pytest.approx((-20, -15, 20, 25), abs=0.002)


@pytest.mark.outside(source="worked by hand: r (1 - cos 45 deg) high above a chord of r sqrt 2", mark="D")
def test_a_quarter_arc_bulges_to_its_right() -> None:
    """A quarter arc that runs counter-clockwise lies right of its chord, 0.2071 chords high."""
    points = [(0.0, 0.0), *shapes.arc_points((0, 0), (100, 0), math.tan(math.pi / 8))]
    assert min(y for _, y in points) == pytest.approx(-20.7107, abs=0.002)
    assert all(y <= 1e-9 for _, y in points)


@pytest.mark.outside(source="worked by hand from the schema: mirror in X, turn, shift", mark="D")
def test_the_placement_rule() -> None:
    """(10, 2) mirrored is (-10, 2), turned by 90 degrees (-2, -10), shifted by (5, 50) mm (3, 40)."""
    at = {"mirrored": True, "angle_deg": 90.0, "x_um": 5000, "y_um": 50000}
    corner = shapes.placed(Polygon([(10, 2), (11, 2), (10, 3)]), at)
    assert corner.exterior.coords[0] == pytest.approx((3.0, 40.0))
    again = shapes.back(corner, at)
    assert again.exterior.coords[0] == pytest.approx((10.0, 2.0))


@pytest.mark.outside(source="worked by hand", mark="D")
def test_grain() -> None:
    """2 and 179 degrees are 3 apart; a mirrored drawing's grain of 10, turned by 20, is 190, so 10."""
    assert shapes.grain_apart(2, 179) == pytest.approx(3)
    assert shapes.grain_as_laid(10, {"mirrored": True, "angle_deg": 20}) % 180 == pytest.approx(10)


@pytest.mark.outside(source="an L of 100 x 100 less 60 x 60: 100 x 40 is its largest rectangle", mark="D")
def test_largest_rectangle() -> None:
    """The cells find 40 x 100 of an L, within a cell."""
    ell = box(0, 0, 100, 100).difference(box(40, 40, 100, 100))
    assert 3850 <= leftovers.largest(ell, 0.0) <= 4000
