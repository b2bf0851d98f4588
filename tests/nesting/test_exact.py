"""Exact tests on the grid against shapely."""

import math

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import Point, Polygon

from nestyield.nesting.exact import edge_rows, interiors_meet, lies_in


def _random(rng, corners, size):
    a = np.sort(rng.random(corners)) * 2 * math.pi
    r = size * (0.2 + rng.random(corners))
    ring = np.rint(np.column_stack([r * np.cos(a), r * np.sin(a)])).astype(np.int64)
    ring = ring[(ring != np.roll(ring, 1, axis=0)).any(axis=1)]
    shape = Polygon(ring) if len(ring) > 2 else None
    if shape is None or not shape.is_valid or shape.area == 0:
        return _random(rng, corners, size)
    return ring if shape.exterior.is_ccw else ring[::-1].copy()


@pytest.mark.outside(source="shapely: area of the intersection, on small whole coordinates", mark="S")
def test_interiors_meet_agrees_with_shapely():
    """Guards touching corners and edges, which small coordinates make frequent."""
    rng = np.random.default_rng(3)
    touching = 0
    for _ in range(1500):
        a, b = _random(rng, int(rng.integers(3, 9)), 6), _random(rng, int(rng.integers(3, 9)), 6)
        d = rng.integers(-9, 10, 2)
        pa, pb = Polygon(a), translate(Polygon(b), *d)
        want = pa.intersection(pb).area > 1e-9
        touching += pa.intersects(pb) and not want
        assert bool(interiors_meet(edge_rows([a]), edge_rows([b]), int(d[0]), int(d[1]))) == want
    assert touching > 50


def test_equal_polygons_meet_and_neighbors_do_not():
    """Guards the case in which no corner lies strictly inside."""
    square = edge_rows([np.array([[0, 0], [4, 0], [4, 4], [0, 4]])])
    assert interiors_meet(square, square, 0, 0)
    assert not interiors_meet(square, square, 4, 0)
    assert not interiors_meet(square, square, 4, 4)
    assert interiors_meet(square, square, 3, 4 - 1)


def test_part_in_a_hole_touches_but_does_not_meet():
    """Guards regions with holes: a block that fills the hole exactly is free."""
    frame = edge_rows(
        [np.array([[0, 0], [9, 0], [9, 9], [0, 9]]), np.array([[3, 3], [3, 6], [6, 6], [6, 3]])]
    )
    block = edge_rows([np.array([[0, 0], [3, 0], [3, 3], [0, 3]])])
    assert not interiors_meet(frame, block, 3, 3)
    assert interiors_meet(frame, block, 3, 4)


@pytest.mark.outside(source="shapely: covers", mark="S")
def test_lies_in_is_closed():
    """Guards that the border belongs to an allowed region."""
    rng = np.random.default_rng(4)
    for _ in range(60):
        ring = _random(rng, 7, 6)
        rows, shape = edge_rows([ring]), Polygon(ring)
        for x in range(-8, 9):
            for y in range(-8, 9):
                assert bool(lies_in(rows, x, y)) == shape.covers(Point(x, y))
