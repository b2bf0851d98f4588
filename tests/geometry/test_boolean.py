import itertools

import numpy as np
import pytest
import shapely
from geometry_zoo import REGIONS

from nestyield.geometry.boolean import (
    clean,
    combine,
    components,
    difference,
    fine,
    intersection,
    to_grid,
    union,
)
from nestyield.geometry.grid import area_um2, ring_area_um2
from nestyield.geometry.shape import to_shapely

PAIRS = list(itertools.combinations(sorted(REGIONS), 2))


@pytest.mark.outside(source="shapely 2 (GEOS) overlay", mark="D")
@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_overlays_agree_with_shapely(a, b):
    """Union, difference and intersection have shapely's areas, rounding along the edges aside."""
    p, q = REGIONS[a], REGIONS[b]
    s, t = to_shapely(p), to_shapely(q)
    off = 1.5e-3 * (s.length + t.length)
    assert abs(area_um2(union(p, q)) / 1e6 - shapely.union(s, t).area) < off
    assert abs(area_um2(difference(p, q)) / 1e6 - shapely.difference(s, t).area) < off
    assert abs(area_um2(intersection(p, q)) / 1e6 - shapely.intersection(s, t).area) < off


@pytest.mark.parametrize("name", sorted(REGIONS))
def test_with_itself(name):
    """A region joined with itself is itself, and less itself is nothing."""
    region = REGIONS[name]
    assert area_um2(union(region, region)) == pytest.approx(area_um2(region), abs=2)
    assert difference(region, region) == []
    assert area_um2(clean(region)) == pytest.approx(area_um2(region), abs=2)


def test_components_put_holes_where_they_belong():
    """An island inside a hole is a piece of its own, and holes go with the ring around them."""
    big = [np.array([[0, 0], [100, 0], [100, 100], [0, 100]]) * 1000]
    hole = [np.array([[10, 10], [90, 10], [90, 90], [10, 90]]) * 1000]
    island = [np.array([[30, 30], [60, 30], [60, 60], [30, 60]]) * 1000]
    pit = [np.array([[40, 40], [50, 40], [50, 50], [40, 50]]) * 1000]
    region = union(difference(big, hole), difference(island, pit))
    pieces = sorted(components(region), key=lambda c: ring_area_um2(c[0]))
    assert [len(h) for _, h in pieces] == [1, 1]
    assert ring_area_um2(pieces[0][0]) == 30_000**2
    assert ring_area_um2(pieces[0][1][0]) == -(10_000**2)


def test_nothing_with_nothing():
    """Empty regions and paths without area are borne."""
    flat = [np.array([[0, 0], [5, 0], [9, 0]])]
    assert union([], []) == []
    assert combine("union", flat) == []
    assert difference(REGIONS["square"], flat) != []
    assert intersection(REGIONS["square"], []) == []
    assert to_grid(fine(REGIONS["ell"]))[0].tolist() == REGIONS["ell"][0].tolist()
