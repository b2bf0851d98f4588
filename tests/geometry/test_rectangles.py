import itertools

import numpy as np
import pytest
import shapely
from geometry_zoo import smooth, star

from nestyield.geometry.grid import to_grid
from nestyield.geometry.rectangles import largest_rectangle
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
