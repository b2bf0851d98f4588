from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from things import BARE, block, disc, knot, plank, pocket, rect

from nestyield.geometry.grid import CONTACT_TOL_UM, SUBGRID, area_um2, bounds
from nestyield.placement.contact import contact_subgrid, giving, square, thinned
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.problem import build
from nestyield.placement.region import feasible_region

EVEN = ThicknessSplit(front_up=True, top_off_mm=2.0)


def reach(paths):
    """How far the region reaches from the origin, micrometers."""
    return max(abs(v) for v in bounds(paths)) / SUBGRID


def test_a_fit_with_no_play_is_a_point():
    """A block in a piece of its own size has no region with area; contact finds the point to a fraction of 1 um."""
    problem = build(block(200, 80), plank(200, 80), BARE, EVEN)
    assert feasible_region(problem, 0.0, False) == []
    assert reach(contact_subgrid(problem, 0.0, False)) <= 0.2


def test_a_fit_with_play_one_way_is_a_line():
    """3 mm longer: a strip from 0 to 3 mm, thinner than 1 um."""
    problem = build(block(200, 80), plank(203, 80), BARE, EVEN)
    x0, y0, x1, y1 = (v / SUBGRID for v in bounds(contact_subgrid(problem, 0.0, False)))
    assert (x0, x1) == (pytest.approx(0, abs=0.2), pytest.approx(3000, abs=0.2))
    assert -0.2 <= y0 <= y1 <= 0.2


@pytest.mark.parametrize(("short_um", "fits"), [(0, True), (3, True), (5, False), (20, False)])
def test_nothing_exceeds_an_edge_by_more_than_the_tolerance(short_um, fits):
    """Shared by both sides, up to twice the tolerance of 2 um is missing at most."""
    problem = build(block(200, 80), plank(200 - short_um / 1000, 80), BARE, EVEN)
    found = contact_subgrid(problem, 0.0, False)
    assert bool(found) == fits
    if found:
        assert reach(found) <= CONTACT_TOL_UM


def test_a_knot_as_large_as_its_pocket_is_found():
    """In a piece with room, the pocket lies on the knot at one place."""
    part = block(200, 80, zones=(pocket(rect(80, 30, 110, 50), 9.0),))
    blank = plank(240, 120, defects=(knot(rect(100, 47, 130, 67), "top", 10.0),))
    problem = build(part, blank, BARE, EVEN)
    assert feasible_region(problem, 0.0, False) == []
    (ring,) = contact_subgrid(problem, 0.0, False)
    assert np.abs(ring / SUBGRID - (20_000, 17_000)).max() <= 0.5


def test_everything_fixed_gives_way_by_a_square():
    """The container grows by as much in x and y, obstacles shrink; a hole of a defect widens."""
    ring = replace(rect(20, 20, 60, 60), holes=(rect(30, 30, 50, 50).outer,))
    problem = build(block(200, 80), plank(defects=(knot(ring),)), BARE, EVEN)
    more = giving(problem, 100)
    assert bounds(more.container) == (-100, -100, 210_100, 90_100)
    assert area_um2(more.obstacles[0].fixed) == 39_800**2 - 20_200**2
    assert giving(problem, 0) is problem
    assert giving(problem, 100) is more


def test_what_gives_way_too_much_vanishes():
    """A defect of 0.15 mm is gone when 0.1 mm is taken off each side."""
    problem = build(block(200, 80), plank(defects=(knot(disc(20, 20, 0.075)),)), BARE, EVEN)
    assert giving(problem, 100).obstacles[0].fixed == []


def test_thinning_keeps_the_middle():
    """A square of 10 um thinned by 2 has 6 left, by 5 nothing."""
    paths = [square(5 * SUBGRID)]
    assert bounds(thinned(paths, 2.0)) == (-3 * SUBGRID, -3 * SUBGRID, 3 * SUBGRID, 3 * SUBGRID)
    assert thinned(paths, 5.0) == []
    assert thinned(paths, 0.0) is paths
