import numpy as np
import pytest
import shapely
from geometry_zoo import REGIONS

from nestyield.geometry.grid import area_um2, ring_area_um2
from nestyield.geometry.shape import region_to_shape, to_shapely
from nestyield.model import Outline, Shape


@pytest.mark.parametrize("name", sorted(REGIONS))
def test_regions_keep_their_area_as_shapes(name):
    """On the way to the model and to shapely no area is lost."""
    region = REGIONS[name]
    want = area_um2(region) / 1e6
    assert sum(s.area_mm2 for s in region_to_shape(region)) == pytest.approx(want, abs=1e-6)
    assert to_shapely(region).area == pytest.approx(want, abs=1e-6)


def test_a_piece_for_each_island():
    """Two islands are two shapes."""
    assert len(region_to_shape(REGIONS["two islands"])) == 2


def test_shapes_with_arcs_and_nothing():
    """Arcs become chords within the error; the empty region is an empty polygon."""
    circle = Shape(outer=Outline.circle(5, 5, 20), holes=(Outline.circle(5, 5, 10),))
    assert to_shapely(circle).area == pytest.approx(circle.area_mm2, rel=1e-3)
    assert to_shapely([]).is_empty


def test_a_ring_around_a_hole_on_the_edge_becomes_what_it_goes_around():
    """A ring that runs along the edge of a triangular notch and back gives shapes that are valid, of the area left."""
    ring = np.array(
        [[338700, 59600], [380500, 149600], [665000, 59600], [338700, 59600], [855000, 59600], [0, 239000]]
    )
    ring = ring if ring_area_um2(ring) > 0 else ring[::-1]
    shapes = region_to_shape([ring])
    whole, hole = (855.0 - 338.7) * (239.0 - 59.6) / 2, (665.0 - 338.7) * (149.6 - 59.6) / 2
    assert sum(s.area_mm2 for s in shapes) == pytest.approx(whole - hole)
    assert all(shapely.Polygon(s.outer.points_mm).is_valid for s in shapes)
