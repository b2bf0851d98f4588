"""Bodies moved and turned until they are clear, and polygons cut into convex pieces."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon, box

from nestyield.nesting.convex import convex_pieces
from nestyield.nesting.settling import Body, Settling


def star(seed: int) -> Polygon:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 25))
    turn = (np.arange(n) + rng.uniform(0.2, 0.8, n)) * 2 * math.pi / n
    reach = rng.uniform(20, 100, n)
    return Polygon(np.column_stack([reach * np.cos(turn), reach * np.sin(turn)]))


@pytest.mark.parametrize("seed", range(12))
def test_convex_pieces_make_up_the_polygon(seed: int) -> None:
    """Pieces are convex, cover the polygon without overlap, and their outer edges are its boundary."""
    polygon = star(seed)
    if seed % 3 == 0:
        polygon = polygon.difference(Polygon(np.array(polygon.exterior.coords) * 0.3))
    pieces = convex_pieces(polygon)
    shapes = [Polygon(p.points) for p in pieces]
    assert all(s.convex_hull.area == pytest.approx(s.area) for s in shapes)
    assert sum(s.area for s in shapes) == pytest.approx(polygon.area)
    assert shapely.unary_union(shapes).symmetric_difference(polygon).area < 1e-6 * polygon.area
    length = 0.0
    for p in pieces:
        step = np.roll(p.points, -1, axis=0) - p.points
        length += float(np.hypot(step[:, 0], step[:, 1])[p.outer].sum())
    assert length == pytest.approx(polygon.length)


def body(polygon: Polygon, low: float = -math.inf, high: float = math.inf) -> Body:
    far = np.hypot(*np.array(polygon.exterior.coords).T).max()
    return Body(groups=(convex_pieces(polygon),), radius_mm=float(far), low_deg=low, high_deg=high)


def around(room: Polygon) -> Polygon:
    return room.buffer(500, join_style="mitre").difference(room)


def laid(polygon: Polygon, pose: np.ndarray) -> Polygon:
    return translate(rotate(polygon, pose[2], origin=(0, 0)), pose[0], pose[1])


def test_two_bars_turn_into_a_slot(needs_jit: None) -> None:
    """Two 200 x 40 bars, thrown askew into a slot of 202 x 82, come to lie side by side along it."""
    bar, slot = box(-100, -20, 100, 20), box(0, 0, 202, 82)
    tests = [((0, 0), (1, 0)), ((0, 0), (-1, 0)), ((1, 0), (-1, 0))]
    settling = Settling([body(bar), body(bar)], [convex_pieces(around(slot))], tests)
    done = settling.settle(np.array([(98.0, 25.0, 7.0), (104.0, 55.0, -5.0)]), 12.0)
    a, b = laid(bar, done.poses[0]), laid(bar, done.poses[1])
    assert done.overlap_mm == pytest.approx(0.0, abs=1e-4)
    assert slot.buffer(1e-3).covers(a)
    assert slot.buffer(1e-3).covers(b)
    assert a.intersection(b).area < 1e-3
    assert done.room_mm > 0.2
    assert min(a.distance(b), slot.exterior.distance(a), slot.exterior.distance(b)) > 0.2


def test_angles_stay_in_their_range(needs_jit: None) -> None:
    """A bar that may not turn back to the slot's direction never becomes clear, and keeps its range."""
    bar, slot = box(-100, -20, 100, 20), box(0, 0, 202, 44)
    settling = Settling([body(bar, 4.0, 9.0)], [convex_pieces(around(slot))], [((0, 0), (-1, 0))])
    done = settling.settle(np.array([(101.0, 22.0, 7.0)]), 12.0)
    assert 4.0 <= done.poses[0, 2] <= 9.0
    assert done.overlap_mm > 0.5
    free = Settling([body(bar)], [convex_pieces(around(slot))], [((0, 0), (-1, 0))])
    assert free.settle(np.array([(101.0, 22.0, 7.0)]), 12.0).overlap_mm < 1e-4


def test_a_part_that_turns_off_a_knot(needs_jit: None) -> None:
    """A region that stands still, met by a corner only, is cleared by a small move."""
    part, knot = box(-60, -30, 60, 30), Polygon([(58, 28), (70, 28), (70, 40), (58, 40)])
    settling = Settling([body(part)], [convex_pieces(knot)], [((0, 0), (-1, 0))])
    done = settling.settle(np.array([(0.0, 0.0, 0.0)]), 12.0)
    assert laid(part, done.poses[0]).distance(knot) > 0.2
    assert np.hypot(*done.poses[0, :2]) < 20.0
