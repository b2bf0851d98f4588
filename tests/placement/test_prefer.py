from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from things import BARE, block, disc, knot, plank

from nestyield.geometry.grid import SUBGRID
from nestyield.model import Preferences
from nestyield.placement.prefer import Wishes, places
from nestyield.placement.single import place_part

BOX = (0, 0, 400_000, 100_000)
SMALL = np.array([[0, 0], [100_000, 0], [100_000, 40_000], [0, 40_000]], dtype=np.int64)
RIGHT_ONLY = [np.array([[100, 0], [300, 0], [300, 60], [100, 60]], dtype=np.int64) * 1000 * SUBGRID]


def wishes(used=(), **weights):
    return Wishes(Preferences(**weights), SMALL, BOX, used, 0.0, 0.0)


def test_the_largest_leftover_is_kept_by_a_corner():
    """In the corner 300 of 400 mm are left beyond; in the middle only 150."""
    score = wishes().score
    assert score(0, 0) < score(150_000, 0)
    assert score(0, 0)[0] == pytest.approx(-0.75)
    assert score(150_000, 30_000)[0] == pytest.approx(-0.375)
    # beside a part at the left end, the next one goes on beside it, not to the far end
    beside = wishes(used=[(0, 0, 100_000, 40_000)]).score
    assert beside(110_000, 0) < beside(300_000, 0)


def test_the_figure_is_centered_across_the_grain_only():
    """The middle of the width counts, where along the grain does not."""
    score = wishes(center_figure=1.0, largest_leftover=0.0).score
    assert score(0, 30_000)[0] == score(200_000, 30_000)[0] == 0.0
    assert score(0, 0)[0] == pytest.approx(30 / 400)


def test_places_lie_in_the_region_and_the_best_comes_first():
    """Corners, a lattice inside and improved ones; of equal strips the place that hugs an end of the blank."""
    found = places(RIGHT_ONLY, wishes().score, 500)
    assert all(100_000 <= x <= 300_000 and 0 <= y <= 60_000 for _, x, y in found)
    assert found[0][1:] == (300_000, 0)
    assert [f[0] for f in found] == sorted(f[0] for f in found)
    assert len(places(RIGHT_ONLY, wishes().score, 3)) == 3


def test_the_inside_of_a_region_is_searched():
    """The best centered place lies on no corner: y = 30 mm, found to a sixteenth of the lattice."""
    best = places(RIGHT_ONLY, wishes(center_figure=1.0, largest_leftover=0.0).score, 1)[0]
    assert best[2] == pytest.approx(30_000, abs=300)


def test_holes_of_a_region_hold_no_place():
    """A region with a hole about its best place gives the hole's edge."""
    hole = np.array([[150, 20], [150, 40], [250, 40], [250, 20]], dtype=np.int64) * 1000 * SUBGRID
    ring = [RIGHT_ONLY[0], hole]
    for _, x, y in places(ring, wishes(center_figure=1.0, largest_leftover=0.0).score, 500):
        assert not (150_000 < x < 250_000 and 20_000 < y < 40_000)


def test_wishes_move_the_part_that_is_placed():
    """Centered instead of in the corner, and turned off short grain when that counts."""
    corner = place_part(block(100, 40), plank(400, 100), BARE).placement
    assert (corner.x_um, corner.y_um) == (0, 0)
    centered = replace(BARE, prefer=Preferences(center_figure=1.0, largest_leftover=0.0))
    assert place_part(block(100, 40), plank(400, 100), centered).placement.y_um == pytest.approx(
        30_000, abs=300
    )
    # drawn 4 degrees off its grain, its long edges run along the wood when it is turned back
    slanted = replace(block(200, 40, grain_tolerance_deg=15.0), grain_deg=15.0)
    short = replace(BARE, prefer=Preferences(short_grain=1.0, largest_leftover=0.0))
    plain = place_part(slanted, plank(400, 200), BARE).placement
    turned = place_part(slanted, plank(400, 200), short).placement
    assert abs(plain.angle_deg % 180 - 165) < 1e-9 or abs(plain.angle_deg % 180 - 15) < 1e-9
    assert turned.angle_deg % 90 == 0.0


def test_a_wish_never_overrides_a_rule():
    """The center is taken by a knot: the part goes as near as it may."""
    centered = replace(BARE, prefer=Preferences(center_figure=1.0, largest_leftover=0.0))
    blank = plank(400, 100, defects=(knot(disc(200, 50, 5)),))
    got = place_part(block(390, 30), blank, centered).placement
    assert got.y_um >= 55_000 - 2 or got.y_um + 30_000 <= 45_000 + 2
