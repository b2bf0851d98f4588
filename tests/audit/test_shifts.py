from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import shapely.affinity

from nestyield.audit.shifts import crossing, edges, minus, shifts_left

HOME = shapely.box(0, 0, 100, 60)
BAR = shapely.box(0, 0, 40, 10)


def test_a_bar_in_a_box():
    """(100 - 40) x (60 - 10), from the origin; nothing when the box is narrower than the bar."""
    left = shifts_left(HOME, BAR, [])
    assert left.area == pytest.approx(60 * 50, abs=0.01)
    assert left.bounds == pytest.approx((0, 0, 60, 50), abs=1e-4)
    assert shifts_left(shapely.box(0, 0, 100, 9.99), BAR, []).is_empty
    assert shifts_left(shapely.box(0, 0, 39.99, 60), BAR, []).is_empty


@pytest.mark.outside(source="area of a rectangle plus a disc: l w + 2 (l + w) r + pi r^2", mark="D")
def test_a_round_wall_takes_its_sum_with_the_bar():
    """In the middle of the box nothing of the sum is cut off."""
    wall = shapely.Point(50, 30).buffer(4, quad_segs=64)
    left = shifts_left(HOME, BAR, [(wall, BAR)])
    assert left.area == pytest.approx(3000 - (400 + 2 * 50 * 4 + math.pi * 16), abs=0.05)


def test_walls_within_and_around():
    """A wall that is wholly inside the wood, or around it, is met though no edges cross."""
    speck = shapely.box(50, 30, 50.01, 30.01)
    assert not shifts_left(HOME, BAR, [(speck, BAR)]).covers(shapely.Point(30, 25))
    sea = shapely.box(-10, -10, 110, 70)
    assert shifts_left(HOME, BAR, [(sea, BAR)]).is_empty


def test_a_wall_in_an_opening_is_not_met():
    """Wood with a window of 20 x 6 around a wall of 2 x 2: 18 x 4 shifts, and those clear of the wood."""
    frame = BAR.difference(shapely.box(10, 2, 30, 8))
    wall = shapely.box(49, 29, 51, 31)
    left = shifts_left(HOME, BAR, [(wall, frame)])
    assert left.area == pytest.approx(3000 - 42 * 12 + 18 * 4, abs=0.05)


def test_every_piece_must_lie_in_the_home():
    """Two pieces 30 apart in a notched home, against trying a lattice of shifts."""
    home = shapely.Polygon([(0, 0), (80, 0), (80, 50), (50, 50), (50, 30), (30, 30), (30, 50), (0, 50)])
    pieces = shapely.MultiPolygon([shapely.box(0, 0, 8, 12), shapely.box(30, 5, 41, 25)])
    left = shifts_left(home, pieces, [])
    grid = np.array([(x + 0.123, y + 0.456) for x in range(-40, 80) for y in range(-20, 50)])
    inside = np.array([home.covers(shapely.affinity.translate(pieces, x, y)) for x, y in grid.tolist()])
    assert inside.any()
    assert (shapely.contains_xy(left, *grid.T) == inside).all()


def test_crossings_are_parallelograms_of_edges():
    """Two crossed strokes' borders; the half turn and the edges that they are made of."""
    assert edges(BAR).shape == (4, 2, 2)
    assert minus(BAR).bounds == (-40, -10, 0, 0)
    sheets = crossing(shapely.box(0, 0, 2, 2), shapely.box(0, 0, 3, 1), shapely.box(-9, -9, 9, 9))
    # of 16 pairs of edges the 8 that are parallel give nothing
    assert len(sheets) == 8
    assert {round(p.area, 6) for p in sheets} == {2.0, 6.0}
    assert crossing(shapely.box(0, 0, 2, 2), shapely.box(0, 0, 3, 1), shapely.box(50, 50, 60, 60)) == []
