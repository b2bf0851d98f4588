import numpy as np
import pytest
import shapely
from geometry_zoo import REGIONS, smooth

from nestyield.geometry.grid import area_um2
from nestyield.geometry.shape import to_shapely
from nestyield.geometry.sweep import rotation_intersection, swept_edges
from nestyield.model.pose import Pose


def turned_shape(region, angle, center):
    origin = (center[0] / 1000, center[1] / 1000)
    return shapely.affinity.rotate(to_shapely(region), angle, origin=origin)


@pytest.mark.parametrize("name", sorted(REGIONS))
@pytest.mark.parametrize("half", [0.01, 1.0, 11.0, 40.0])
def test_what_is_kept_lies_in_every_turned_copy(name, half):
    """No copy turned within the range leaves a kept point uncovered."""
    region = REGIONS[name]
    center = (20_000.0, 15_000.0)
    kept = to_shapely(rotation_intersection(region, half, center))
    for angle in np.linspace(-half, half, 9):
        copy = turned_shape(region, float(angle), center)
        assert kept.difference(copy.buffer(1e-6)).area < 1e-6


def test_what_is_kept_is_nearly_all_there_is():
    """Against the intersection of 81 turned copies by shapely, 1 % of the area and the slack aside."""
    region = [smooth(np.random.default_rng(5), 120, 80_000)]
    for half in (0.1, 2.0, 8.0):
        kept = area_um2(rotation_intersection(region, half, (0.0, 0.0))) / 1e6
        copies = [turned_shape(region, float(a), (0, 0)) for a in np.linspace(-half, half, 81)]
        true = shapely.intersection_all(copies)
        assert true.area * 0.99 - 0.003 * true.length <= kept <= true.area


def test_no_turn_keeps_all_but_the_slack():
    """A turn of nothing takes the slack off, and nothing else."""
    box = [np.array([[0, 0], [50_000, 0], [50_000, 30_000], [0, 30_000]])]
    kept = rotation_intersection(box, 0.0, (0.0, 0.0), slack_um=2.0)
    assert area_um2(kept) == 49_996 * 29_996


def test_swept_edges_hold_the_edges():
    """Every place of an edge lies in its polygon."""
    ring = smooth(np.random.default_rng(8), 30, 80_000)
    hulls = [shapely.Polygon(h / 16) for h in swept_edges(ring, 7.0, (1000.0, -2000.0), 0.5)]
    for angle in np.linspace(-7, 7, 11):
        p = Pose(angle_deg=float(angle)).array(ring - np.array((1000.0, -2000.0))) + np.array(
            (1000.0, -2000.0)
        )
        for k, hull in enumerate(hulls):
            assert hull.covers(shapely.LineString([p[k], p[(k + 1) % len(p)]]))


def test_wide_turns_are_refused():
    """Half a range of 45 degrees or more has no bound by tangents."""
    with pytest.raises(ValueError, match="half_deg < 45"):
        rotation_intersection(REGIONS["square"], 45.0, (0, 0))
