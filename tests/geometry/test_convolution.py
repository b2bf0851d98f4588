import numpy as np
import pytest
from geometry_zoo import SIMPLE, smooth, star

from nestyield.geometry.convolution import convolution, near
from nestyield.geometry.grid import ring_area_um2


def winding(paths, x, y):
    """Winding number of closed paths about a point that lies on none of them."""
    total = 0
    for path in paths:
        d = path - np.array([x, y])
        e = np.roll(d, -1, axis=0)
        cross = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
        total += int(((d[:, 1] <= 0) & (e[:, 1] > 0) & (cross > 0)).sum())
        total -= int(((d[:, 1] > 0) & (e[:, 1] <= 0) & (cross < 0)).sum())
    return total


@pytest.mark.parametrize("a", sorted(SIMPLE))
@pytest.mark.parametrize("b", ["square", "ell", "comb", "spiky"])
def test_signed_area_follows_the_mixed_area(a, b):
    """The convolution's signed area is that of A, of B, and twice their mixed area, which is symmetric."""
    p, q = SIMPLE[a] // 8, SIMPLE[b] // 8
    if len(p) < 3 or ring_area_um2(p) == 0:
        return
    one = sum(ring_area_um2(c) for c in convolution(p, q))
    two = sum(ring_area_um2(c) for c in convolution(q, p))
    assert one == pytest.approx(two, rel=1e-12, abs=1)


@pytest.mark.outside(source="scipy ConvexHull: the sum of convex polygons is the hull of all sums", mark="D")
@pytest.mark.parametrize("seed", range(5))
def test_convex_convolutions_are_the_hull_of_sums(seed):
    """For convex polygons the convolution is one path around the hull of all vertex sums."""
    from scipy.spatial import ConvexHull

    rng = np.random.default_rng(seed)
    a, b = (p[ConvexHull(p).vertices] for p in rng.integers(-50_000, 50_000, (2, 30, 2)))
    paths = convolution(a, b)
    assert len(paths) == 1
    sums = (a[:, None, :] + b[None, :, :]).reshape(-1, 2)
    assert ring_area_um2(paths[0]) == pytest.approx(ConvexHull(sums).volume, rel=1e-12)


def test_edges_without_length_change_nothing():
    """A repeated vertex (left by rounding after a turn) has no direction and is dropped."""
    a, b = star(np.random.default_rng(1), 20, 50_000), star(np.random.default_rng(2), 15, 30_000)
    doubled = np.repeat(a, 2, axis=0)
    for x, y in np.random.default_rng(3).integers(-80_000, 80_000, (60, 2)):
        at = (x + 0.37, y + 0.41)
        assert winding(convolution(a, b), *at) == winding(convolution(doubled, b), *at)


def test_too_few_vertices_give_nothing():
    """Points and lines have no convolution here."""
    line = np.array([[0, 0], [5, 5]])
    assert convolution(line, SIMPLE["square"]) == []


def test_shortened_paths_wind_the_same_inside_the_window():
    """What is cut away beyond the window does not change the winding number in it."""
    rng = np.random.default_rng(4)
    paths = convolution(smooth(rng, 80, 60_000)[::-1], -star(rng, 30, 40_000))
    window = (-9000, -4000, 8000, 12_000)
    short = [q for q in (near(p, window) for p in paths) if len(q)]
    assert sum(map(len, short)) < sum(map(len, paths))
    for x, y in rng.uniform((-9000, -4000), (8000, 12_000), (80, 2)):
        assert winding(short, x, y) == winding(paths, x, y)
