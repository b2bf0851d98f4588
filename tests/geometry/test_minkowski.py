import numpy as np
import pytest
import shapely

from nestyield.geometry import grid
from nestyield.geometry.boolean import union
from nestyield.geometry.minkowski import (
    inner_fit_region,
    inner_ring_subgrid,
    is_box,
    minkowski_sum,
    no_fit_region,
)
from nestyield.geometry.shape import to_shapely


def wavy(rng, n, size_um):
    turn = np.sort(rng.uniform(0, 2 * np.pi, n))
    far = size_um * rng.uniform(0.35, 1.0, n)
    ring = grid.tidy(np.rint(np.column_stack([far * np.cos(turn), far * np.sin(turn)])).astype(np.int64))
    return ring if grid.ring_area_um2(ring) > 0 else ring[::-1]


def quad_sum(a, b):
    """The slow plain twin: union of A + one edge of B, over all edges and vertices."""
    pa = shapely.Polygon(a)
    parts = []
    for p, q in zip(b, np.roll(b, -1, axis=0)):
        for u, v in zip(a, np.roll(a, -1, axis=0)):
            parts.append(shapely.MultiPoint([u + p, v + p, u + q, v + q]).convex_hull)
    parts += [shapely.affinity.translate(pa, *b[0]), shapely.affinity.translate(shapely.Polygon(b), *a[0])]
    return shapely.union_all(parts, grid_size=1)


@pytest.mark.outside(source="shapely 2 union of all quadrilaterals edge + edge", mark="D")
@pytest.mark.parametrize("seed", range(12))
def test_sum_equals_the_plain_union_of_quadrilaterals(seed):
    """The convolution gives the same Minkowski sum as adding every pair of edges."""
    rng = np.random.default_rng(seed)
    a, b = wavy(rng, int(rng.integers(4, 14)), 200_000), wavy(rng, int(rng.integers(3, 9)), 90_000)
    got = to_shapely(minkowski_sum(a, b))
    want = quad_sum(a, b)
    assert abs(got.area * 1e6 - want.area) < 4 * want.length


def test_convex_sum_has_the_area_of_the_mixed_volume_formula():
    """For two rectangles the sum is the rectangle of added sides."""
    a = grid.to_grid([(0, 0), (30, 0), (30, 20), (0, 20)])
    b = grid.to_grid([(0, 0), (5, 0), (5, 7), (0, 7)])
    out = minkowski_sum(a, b)
    assert grid.area_um2(out) == 35_000 * 27_000
    assert grid.bounds(out) == (0, 0, 35_000, 27_000)


def test_a_sum_may_have_a_hole():
    """A C-shaped ring closed by a small square keeps the hole that stays."""
    c = grid.to_grid([(0, 0), (100, 0), (100, 20), (20, 20), (20, 80), (100, 80), (100, 100), (0, 100)])
    lid = grid.to_grid([(80, 15), (100, 15), (100, 85), (80, 85)])
    frame = union([c], [lid])
    square = grid.to_grid([(-5, -5), (5, -5), (5, 5), (-5, 5)])
    out = minkowski_sum(frame, square)
    assert grid.area_um2(out) == pytest.approx((110 * 110 - 50 * 50) * 1e6)


def test_inner_fit_of_a_rectangle_in_a_rectangle():
    """Slack to move is the difference of the sides."""
    c = grid.to_grid([(0, 0), (300, 0), (300, 200), (0, 200)])
    p = grid.to_grid([(10, 10), (110, 10), (110, 60), (10, 60)])
    out = inner_fit_region(c, p)
    assert grid.bounds(out) == (-10_000, -10_000, 190_000, 140_000)
    assert grid.area_um2(out) == 200e3 * 150e3


def test_what_is_larger_than_the_container_does_not_fit():
    """A container inside the moving part is not mistaken for the opposite."""
    small = grid.to_grid([(0, 0), (10, 0), (10, 10), (0, 10)])
    large = grid.to_grid([(0, 0), (30, 0), (30, 30), (0, 30)])
    assert inner_fit_region(small, large) == []


def test_an_obstacle_may_lie_in_an_opening_of_the_part():
    """A knot of 10 mm inside a 30 mm opening leaves 20 mm of play there."""
    frame = [
        grid.to_grid([(0, 0), (100, 0), (100, 100), (0, 100)]),
        grid.to_grid([(35, 35), (65, 35), (65, 65), (35, 65)])[::-1],
    ]
    knot = grid.to_grid([(0, 0), (10, 0), (10, 10), (0, 10)])
    out = no_fit_region(knot, frame)
    assert grid.area_um2(out) == pytest.approx((110 * 110 - 20 * 20) * 1e6)
    back = no_fit_region(frame, knot)
    assert grid.area_um2(back) == pytest.approx((110 * 110 - 20 * 20) * 1e6)


@pytest.mark.outside(source="shapely predicates on sampled shifts", mark="D")
@pytest.mark.parametrize("seed", range(6))
def test_regions_agree_with_shapely_on_samples(seed):
    """A shift lies in the inner-fit or no-fit region exactly when shapely says so, 2 um aside."""
    rng = np.random.default_rng(100 + seed)
    c, p = wavy(rng, 12, 200_000), wavy(rng, 9, 60_000)
    fit = to_shapely(inner_fit_region(c, p))
    clash = to_shapely(no_fit_region(c, p))
    home, part = shapely.Polygon(c / 1000), shapely.Polygon(p / 1000)
    for t in rng.uniform(-250, 250, (150, 2)):
        moved = shapely.affinity.translate(part, *t)
        point = shapely.Point(t)
        if shapely.distance(fit.boundary, point) > 0.002:
            assert fit.contains(point) == home.contains(moved)
        if shapely.distance(clash.boundary, point) > 0.002:
            assert clash.contains(point) == home.intersects(moved)


@pytest.mark.parametrize("seed", range(8))
def test_a_box_holds_what_the_same_box_with_one_more_vertex_holds(seed):
    """Shifts in a box along X and Y are those of the general way, with a window and without."""
    rng = np.random.default_rng(seed)
    for _ in range(20):
        w, h = rng.integers(2_000, 900_000, 2)
        box = np.array([[0, 0], [w, 0], [w, h], [0, h]]) + rng.integers(-9_000, 9_000, 2)
        box = np.roll(box, rng.integers(4), axis=0)
        more = np.insert(box, 1, (box[0] + box[1]) // 2, axis=0)
        moving = wavy(rng, 12, rng.uniform(0.2, 1.1) * min(w, h) / 2)
        window = None
        if rng.random() < 0.5:
            x, y = np.sort(rng.integers(-9_000, w, 2)), np.sort(rng.integers(-9_000, h, 2))
            window = (int(x[0]), int(y[0]), int(x[1]), int(y[1]))
        fast, slow = (inner_ring_subgrid(ring, moving, window) for ring in (box, more))
        assert [sorted(map(tuple, r.tolist())) for r in fast] == [
            sorted(map(tuple, r.tolist())) for r in slow
        ]
        assert all(grid.ring_area_um2(r) > 0 for r in fast)


def test_only_a_rectangle_along_x_and_y_is_a_box():
    """Turned, skew and bow-tie rings of four vertices are no box."""
    square = np.array([[0, 0], [4, 0], [4, 3], [0, 3]])
    for ring in (square, square[::-1], np.roll(square, 1, axis=0)):
        assert is_box(ring)
    for ring in (
        square[[0, 2, 1, 3]],
        np.add(square, [[0, 0], [0, 1], [0, 0], [0, 0]]),
        square[:3],
        square[[0, 0, 2, 3]],
    ):
        assert not is_box(ring)
