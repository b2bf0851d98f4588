import math

import numpy as np
import pytest
import shapely
from geometry_zoo import REGIONS, smooth

from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import area_um2, ring_area_um2
from nestyield.geometry.transform import cos_sin, place, transform_outline, transform_shape, turned
from nestyield.model import Outline, Shape

LENS = Outline(points_mm=((0.0, 0.0), (100.0, 10.0)), bulges=(0.4, 0.7))


def test_mirror_then_turn_then_shift():
    """As the model says, worked by hand: (10, 5) mirrored is (-10, 5), turned by 90 degrees (-5, -10)."""
    ring = np.array([[10_000, 5000], [20_000, 5000], [10_000, 9000]])
    out = place(ring, 90.0, True, 100, 200)
    assert [-5000 + 100, -10_000 + 200] in out.tolist()
    assert ring_area_um2(out) == ring_area_um2(ring)


@pytest.mark.outside(source="shapely.affinity", mark="D")
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("angle", [0.0, 33.3, 90.0, 180.0, -271.5])
def test_agrees_with_shapely(angle, mirrored):
    """Rings turned here and by shapely lie within the rounding of each other."""
    ring = smooth(np.random.default_rng(1), 40, 90_000)
    want = shapely.Polygon(ring)
    if mirrored:
        want = shapely.affinity.scale(want, -1, 1, origin=(0, 0))
    want = shapely.affinity.translate(shapely.affinity.rotate(want, angle, origin=(0, 0)), 500, -700)
    got = shapely.Polygon(place(ring, angle, mirrored, 500, -700))
    assert shapely.hausdorff_distance(got, want) < 0.72


@pytest.mark.parametrize("quarter", range(-5, 6))
def test_quarter_turns_are_exact(quarter):
    """Cosine and sine at multiples of 90 degrees are whole."""
    want = (round(math.cos(quarter * math.pi / 2)), round(math.sin(quarter * math.pi / 2)))
    assert cos_sin(90.0 * quarter) == want


def test_four_quarters_come_home():
    """Four quarter turns of the grid are no turn at all."""
    ring = REGIONS["hook"][0]
    for _ in range(4):
        ring = place(ring, 90.0)
    assert ring.tolist() == REGIONS["hook"][0].tolist()


def test_regions_keep_their_directions():
    """Holes stay holes when mirrored."""
    frame = REGIONS["frame"]
    assert area_um2(place(frame, 0.0, True)) == area_um2(frame)
    assert area_um2(place(frame, 12.0, True)) == pytest.approx(area_um2(frame), rel=1e-4)


@pytest.mark.parametrize("mirrored", [False, True])
def test_arcs_stay_arcs(mirrored):
    """Moving an outline and then flattening it is flattening and then moving it."""
    one = flatten(transform_outline(LENS, 25.0, mirrored, 3.0, -4.0), 0.01, "nearest")
    two = place(flatten(LENS, 0.01, "nearest"), 25.0, mirrored, 3000, -4000)
    assert shapely.hausdorff_distance(shapely.Polygon(one), shapely.Polygon(two)) < 1.5
    area = transform_outline(LENS, 25.0, mirrored).signed_area_mm2
    assert abs(area) == pytest.approx(abs(LENS.signed_area_mm2))


def test_shapes_move_with_their_holes():
    """The area of a shape with holes does not change."""
    shape = Shape(outer=Outline.rectangle(0, 0, 50, 40), holes=(Outline.circle(20, 20, 5),))
    assert transform_shape(shape, 71.0, True, 9, 9).area_mm2 == pytest.approx(shape.area_mm2)


def test_turned_is_not_rounded():
    """The unrounded turn keeps lengths."""
    p = np.array([[3000, 4000]])
    assert np.hypot(*turned(p, 17.0)[0]) == pytest.approx(5000, rel=1e-14)
