"""Depth tables against shapely, point by point."""

import math

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from nestyield.nesting.depth import build_table, depth_at
from nestyield.nesting.jit import kernel


@kernel
def _depths(tab, k, points, out):
    for i in range(points.shape[0]):
        out[i, 0], out[i, 1] = depth_at(tab, k, points[i, 0], points[i, 1])


def _star(rng, corners, spread):
    a = np.sort(rng.random(corners)) * 2 * math.pi
    r = 1000 * (1 + spread * rng.random(corners))
    return np.rint(np.column_stack([r * np.cos(a), r * np.sin(a)]))


@pytest.mark.outside(source="shapely: contains and distance to the boundary", mark="S")
def test_depth_is_the_distance_to_the_boundary():
    """Guards that the cells never lose the nearest edge or the side of a point."""
    rng = np.random.default_rng(5)
    regions = [[_star(rng, n, s)] for n, s in ((3, 0.2), (8, 2.0), (60, 1.5), (400, 0.8))]
    regions.append(
        [np.array([[0, 0], [9, 0], [9, 9], [0, 9.0]]), np.array([[3, 3], [3, 6], [6, 6], [6, 3.0]])]
    )
    tab = build_table(regions)
    for k, rings in enumerate(regions):
        shape = Polygon(rings[0], rings[1:])
        low, high = rings[0].min(axis=0), rings[0].max(axis=0)
        points = low - 1 + rng.random((300, 2)) * (high - low + 2)
        out = np.zeros((300, 2))
        _depths(tab, k, points, out)
        for p, (d, e) in zip(points, out):
            inside = shape.contains(Point(p))
            assert (e >= 0) == inside
            want = shape.boundary.distance(Point(p)) if inside else 0.0
            assert d == pytest.approx(want, abs=1e-7)


def test_empty_table_is_made():
    """Guards the case of a single shape that meets nothing."""
    assert build_table([]).boxes.shape == (0, 4)
