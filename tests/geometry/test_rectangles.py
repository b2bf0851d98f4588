import itertools

import numpy as np
import pytest
import shapely
from geometry_zoo import smooth, star

from nestyield.geometry.grid import to_grid
from nestyield.geometry.rectangles import grow_box, largest_rectangle
from nestyield.geometry.shape import to_shapely


def held(region, angle, found):
    """Whether the rectangle, turned back, lies in the region (0.01 um aside)."""
    x, y, length, width = found
    box = shapely.affinity.rotate(shapely.box(x, y, x + length, y + width), angle, origin=(0, 0))
    return to_shapely(region).buffer(1e-5).covers(box)


def by_grid(region, step):
    """The slow plain twin: every pair of grid columns, longest run of free rows, cells by shapely."""
    home = to_shapely(region)
    x0, y0, x1, y1 = home.bounds
    xs, ys = np.arange(x0, x1 + 1e-9, step), np.arange(y0, y1 + 1e-9, step)
    shapely.prepare(home)
    cells = np.array([[home.covers(shapely.box(a, c, a + step, c + step)) for c in ys[:-1]] for a in xs[:-1]])
    best = 0.0
    for i, k in itertools.combinations(range(len(xs)), 2):
        run = longest = 0
        for free in cells[i:k].all(axis=0):
            run = run + 1 if free else 0
            longest = max(longest, run)
        best = max(best, (xs[k] - xs[i]) * longest * step)
    return best


def test_a_rectangle_is_its_own():
    """A rectangle comes back whole, turned too."""
    box = to_grid([(10, 20), (310, 20), (310, 140), (10, 140)])
    assert largest_rectangle([box], 0) == pytest.approx((10, 20, 300, 120))
    assert largest_rectangle([box], 90) == pytest.approx((20, -310, 120, 300))


def test_beside_a_hole():
    """The larger of the strips beside a square hole; worked by hand."""
    region = [
        to_grid([(0, 0), (300, 0), (300, 200), (0, 200)]),
        to_grid([(100, 60), (160, 60), (160, 110), (100, 110)])[::-1],
    ]
    # right of the hole 140 x 200, left 100 x 200, above 300 x 90
    assert largest_rectangle(region, 0) == pytest.approx((160, 0, 140, 200))


def test_least_size_is_preferred_over_area():
    """A long narrow rectangle that serves wins over a larger one that does not."""
    region = [to_grid([(0, 0), (400, 0), (400, 30), (120, 30), (120, 130), (0, 130)])]
    assert largest_rectangle(region, 0)[2:] == pytest.approx((120, 130))
    assert largest_rectangle(region, 0, 300, 20)[2:] == pytest.approx((400, 30))


def test_half_of_a_triangle():
    """The largest rectangle on a leg of a right triangle has half its area (worked by hand)."""
    region = [to_grid([(0, 0), (300, 0), (0, 200)])]
    found = largest_rectangle(region, 0)
    assert found[2] * found[3] == pytest.approx(15_000, rel=1e-3)
    assert held(region, 0, found)


@pytest.mark.parametrize("seed", range(6))
def test_never_larger_and_no_less_than_brute_force(seed):
    """The rectangle lies in the region and is no smaller than the best of a 4 mm grid, 1 % aside."""
    rng = np.random.default_rng(seed)
    ring = smooth(rng, 40, 90_000) if seed % 2 else star(rng, 12, 90_000)
    found = largest_rectangle([ring], 0)
    assert held([ring], 0, found)
    assert found[2] * found[3] >= 0.99 * by_grid([ring], 4.0)


@pytest.mark.parametrize("angle", [7.0, 33.3, 90.0, -120.0])
def test_turned_rectangles_lie_inside(angle):
    """At any angle the rectangle lies in the region."""
    ring = smooth(np.random.default_rng(3), 60, 150_000)
    found = largest_rectangle([ring], angle)
    assert found[2] > 50
    assert held([ring], angle, found)


def test_nothing_in_nothing():
    """The empty region has the empty rectangle."""
    assert largest_rectangle([], 0) == (0.0, 0.0, 0.0, 0.0)


def test_a_box_grows_to_the_walls_of_a_room_with_a_pillar():
    """A room 300 x 200 with a pillar from (100, 60) to (160, 110); worked by hand."""
    room = [
        np.array([(0, 0), (300, 0), (300, 200), (0, 200)], float),
        np.array([(100, 60), (100, 110), (160, 110), (160, 60)], float),
    ]
    # left, right, below, above: 300 x 90 above the pillar; right of it, below and above first: 140 x 200
    assert grow_box(room, (170, 120, 180, 130)) == (160, 0, 300, 200)
    assert grow_box(room, (10, 120, 90, 130)) == (0, 110, 300, 200)
    # what touches a wall stays there, and grows to the other sides
    assert grow_box(room, (160, 60, 200, 110)) == (160, 0, 300, 200)
    assert grow_box(room, (0, 0, 300, 60)) == (0, 0, 300, 60)


@pytest.mark.parametrize("seed", range(12))
def test_a_grown_box_lies_in_the_region_and_no_side_can_go_on(seed):
    """By shapely: the box is covered, and with any one side 0.01 mm further it is not."""
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * np.pi, 11))
    ring = rng.uniform(120, 300, 11)[:, None] * np.column_stack([np.cos(turns), np.sin(turns)])
    hole = np.array([(-20, 10), (5, 40), (30, 12), (0, -5)][::-1], float) + rng.uniform(20, 40, 2)
    home = shapely.Polygon(ring).difference(shapely.Polygon(hole))
    if not isinstance(home, shapely.Polygon):
        home = max(home.geoms, key=lambda g: g.area)
    rings = [np.array(r.coords[:-1]) for r in (home.exterior, *home.interiors)]
    start = home.buffer(-3).representative_point()
    box = grow_box(rings, (start.x - 1, start.y - 1, start.x + 1, start.y + 1))
    assert (box[2] - box[0]) * (box[3] - box[1]) > 4.1
    assert home.buffer(1e-9).covers(shapely.box(*box))
    for side in range(4):
        further = list(box)
        further[side] += 0.01 if side > 1 else -0.01
        assert not home.covers(shapely.box(*further))
