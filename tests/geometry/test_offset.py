import math

import numpy as np
import pytest
import shapely
from geometry_zoo import HOLED, REGIONS, smooth

from nestyield.geometry.boolean import intersection
from nestyield.geometry.grid import ARC_TOL_UM, area_um2, bounds
from nestyield.geometry.offset import disc, grow, shrink
from nestyield.geometry.shape import to_shapely

# A rounded corner lies within its tolerance, and vertices are rounded outwards or inwards to the grid.
OFF_MM = (ARC_TOL_UM + 2.0) / 1000


def covers(large, small):
    return small.is_empty or large.covers(small)


@pytest.mark.outside(source="shapely 2 buffer with 256 chords a quarter", mark="D")
@pytest.mark.parametrize("name", sorted(REGIONS))
@pytest.mark.parametrize("by", [3.0, 6.35])
def test_growing_agrees_with_shapely_and_errs_on_its_side(name, by):
    """Outside holds the true offset, inside lies in it, both within the stated tolerance."""
    region = REGIONS[name]
    shape = to_shapely(region)
    true = shape.buffer(by, quad_segs=256)
    outside, inside = (to_shapely(grow(region, by * 1000, s)) for s in ("outside", "inside"))
    slack = 0.0015
    assert covers(outside.buffer(slack), true)
    assert covers(shape.buffer(by + OFF_MM, quad_segs=256).buffer(slack), outside)
    assert covers(true.buffer(slack), inside)
    assert covers(inside.buffer(OFF_MM).buffer(slack), true)


@pytest.mark.outside(source="shapely 2 negative buffer with 256 chords a quarter", mark="D")
@pytest.mark.parametrize("name", sorted(REGIONS))
@pytest.mark.parametrize("by", [1.0, 6.35])
def test_shrinking_agrees_with_shapely_and_errs_on_its_side(name, by):
    """Inside lies in the true inset, outside holds it."""
    region = REGIONS[name]
    shape = to_shapely(region)
    true = shape.buffer(-by, quad_segs=256)
    inside, outside = (to_shapely(shrink(region, by * 1000, s)) for s in ("inside", "outside"))
    slack = 0.0015
    assert covers(true.buffer(slack), inside)
    assert covers(outside.buffer(slack), true)
    assert covers(shape.buffer(-(by - OFF_MM), quad_segs=256).buffer(slack), outside)


def test_straight_edges_move_by_the_distance_itself():
    """A rectangle grown and shrunk has exact sides."""
    box = [np.array([[0, 0], [100_000, 0], [100_000, 50_000], [0, 50_000]])]
    assert bounds(grow(box, 6350)) == (-6350, -6350, 106_350, 56_350)
    assert bounds(shrink(box, 6350)) == (6350, 6350, 93_650, 43_650)
    assert area_um2(shrink(box, 6350)) == 87_300 * 37_300


def test_zero_changes_nothing():
    """A distance of zero returns the region as it is; a negative one is refused."""
    frame = HOLED["frame"]
    assert all(np.array_equal(a, b) for a, b in zip(grow(frame, 0), frame))
    assert all(np.array_equal(a, b) for a, b in zip(shrink(frame, 0), frame))
    for f in (grow, shrink):
        with pytest.raises(ValueError, match=">= 0"):
            f(frame, -1)
        assert f([], 5) == []


def test_a_hole_closes():
    """A 20 mm hole is gone after growing by 10 mm."""
    window = [
        np.array([[0, 0], [80, 0], [80, 80], [0, 80]]) * 1000,
        np.array([[30, 30], [30, 50], [50, 50], [50, 30]]) * 1000,
    ]
    assert len(grow(window, 9_900)) == 2
    assert len(grow(window, 10_100)) == 1


@pytest.mark.parametrize("radius", [3.0, 50.0, 3175.0, 250_000.0])
def test_discs_lie_on_their_side(radius):
    """The outside disc holds the circle, the inside disc lies in it; both close."""
    out, inn = disc(radius, "outside"), disc(radius, "inside")
    gap = shapely.Polygon(out).exterior.distance(shapely.Point(0, 0))
    assert gap >= radius - 1e-6
    assert np.hypot(*out.T).max() <= radius + ARC_TOL_UM + 2
    assert np.hypot(*inn.T).max() <= radius + 1e-6
    assert shapely.Polygon(inn).exterior.distance(shapely.Point(0, 0)) >= radius - ARC_TOL_UM - 2


def test_intersection_of_curves():
    """Two overlapping curves keep what they share."""
    a, b = smooth(np.random.default_rng(1), 50, 60_000), smooth(np.random.default_rng(2), 50, 60_000)
    both = intersection([a], [b])
    want = shapely.Polygon(a).intersection(shapely.Polygon(b)).area
    assert area_um2(both) == pytest.approx(want, rel=1e-4)


@pytest.mark.parametrize("um", [0.2, 0.7, 1.0, 1.2, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("turn", [0.0, 0.5])
def test_distances_of_a_micrometer_take_and_give_next_to_nothing(um, turn):
    """A board moved in or out by about one micrometer stays itself to a few, whichever side is asked for."""
    c, s = math.cos(turn), math.sin(turn)
    corners = np.array([[0, 0], [50_000, 0], [50_000, 40_000], [0, 40_000]]) @ np.array([[c, s], [-s, c]])
    ring = np.rint(corners).astype(np.int64)
    board = shapely.Polygon(ring)
    for side in ("inside", "outside"):
        (less,) = shrink([ring], um, side)
        (more,) = grow([ring], um, side)
        assert board.hausdorff_distance(shapely.Polygon(less)) <= math.sqrt(2) * (um + 2)
        assert board.hausdorff_distance(shapely.Polygon(more)) <= math.sqrt(2) * (um + 2)
        assert board.buffer(0.01).covers(shapely.Polygon(less))
        assert shapely.Polygon(more).buffer(0.01).covers(board)
