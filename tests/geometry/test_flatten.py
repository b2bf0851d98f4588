import math

import numpy as np
import pytest
import shapely

from nestyield.geometry.flatten import flatten, flatten_shape, reversed_outline
from nestyield.geometry.grid import area_um2, ring_area_um2
from nestyield.model import Outline, Shape
from nestyield.model.arc import Arc


def area(ring):
    return ring_area_um2(ring) / 1e6


LENS = Outline(points_mm=((0.0, 0.0), (100.0, 0.0)), bulges=(0.4, 0.4))
MOON = Outline(points_mm=((0.0, 0.0), (100.0, 0.0)), bulges=(0.9, -0.4))
KEYHOLE = Outline(
    points_mm=((0, 0), (80, 0), (80, 30), (50, 30), (30, 30), (0, 30)), bulges=(0, 0, 0, -1.0, 0, 0.3)
)


def segment(chord, bulge):
    """Area between a chord and its arc: r^2 (theta - sin theta) / 2, a closed formula."""
    theta = 4 * math.atan(abs(bulge))
    r = chord / (2 * math.sin(theta / 2))
    return 0.5 * r * r * (theta - math.sin(theta))


@pytest.mark.outside(source="area of a circle and of a circular segment, closed formulas", mark="D")
@pytest.mark.parametrize("error", [0.5, 0.02, 0.001])
@pytest.mark.parametrize(
    ("outline", "true", "length"),
    [
        (Outline.circle(10, -20, 50), math.pi * 2500, 315),
        (LENS, 2 * segment(100, 0.4), 240),
        (MOON, segment(100, 0.9) - segment(100, 0.4), 270),
        (KEYHOLE, 80 * 30 - math.pi * 100 / 2 + segment(30, 0.3), 260),
    ],
    ids=["circle", "lens", "moon", "keyhole"],
)
def test_areas_agree_with_closed_formulas_on_the_right_side(outline, true, length, error):
    """Outside is never smaller, inside never larger, both within chord error times length."""
    rounding = length * 0.0008
    outside, inside = area(flatten(outline, error, "outside")), area(flatten(outline, error, "inside"))
    assert true - rounding <= outside <= true + error * length + rounding
    assert true - error * length - rounding <= inside <= true + rounding
    middle = area(flatten(outline, error, "nearest"))
    assert abs(middle - true) <= error * length + rounding


@pytest.mark.parametrize("outline", [LENS, MOON, KEYHOLE, Outline.circle(0, 0, 3)])
def test_outside_holds_inside(outline):
    """The inside polygon lies in the outside one, a micrometer aside."""
    outer = shapely.Polygon(flatten(outline, 0.05, "outside"))
    inner = shapely.Polygon(flatten(outline, 0.05, "inside"))
    assert outer.buffer(1.5).covers(inner)


def test_direction_does_not_matter():
    """An outline run backwards gives the same polygon."""
    a, b = flatten(KEYHOLE, 0.02, "outside"), flatten(reversed_outline(KEYHOLE), 0.02, "outside")
    assert {tuple(p) for p in a.tolist()} == {tuple(p) for p in b.tolist()}
    assert ring_area_um2(a) > 0
    assert ring_area_um2(b) > 0


def test_center_of_an_arc():
    """A quarter circle about the origin, by the polyline convention."""
    bulge = math.tan(math.pi / 8)
    assert Arc.of((10, 0), (0, 10), bulge) == pytest.approx((0, 0, 10, 0, math.pi / 2))
    assert Arc.of((0, 10), (10, 0), -bulge) == pytest.approx((0, 0, 10, math.pi / 2, -math.pi / 2))


def test_holes_err_the_other_way():
    """A piece with a round hole never gets larger: its hole is flattened outside."""
    piece = Shape(outer=Outline.rectangle(0, 0, 100, 100), holes=(Outline.circle(50, 50, 20),))
    true = 10_000 - math.pi * 400
    inside, outside = (area_um2(flatten_shape(piece, 0.05, s)) / 1e6 for s in ("inside", "outside"))
    assert inside < true < outside
    assert outside - inside < 2 * 0.05 * 2 * math.pi * 20


def test_chord_error_must_be_above_zero():
    """A chord error of zero would need infinitely many points."""
    with pytest.raises(ValueError, match="chord_error_mm > 0"):
        flatten(LENS, 0.0, "outside")


def test_straight_outlines_keep_their_corners():
    """Lines are not touched."""
    box = flatten(Outline.rectangle(1, 2, 30, 40), 0.02, "outside")
    assert np.array_equal(np.sort(box, axis=0)[[0, -1]], [[1000, 2000], [30000, 40000]])
