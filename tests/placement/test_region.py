from __future__ import annotations

import math
from dataclasses import replace

import pytest
from things import BARE, block, disc, knot, plank, pocket, rect

from nestyield.geometry.boolean import combine
from nestyield.geometry.grid import SUBGRID, area_um2, bounds
from nestyield.geometry.minkowski import window_ring
from nestyield.model import Outline, Zone
from nestyield.model.pose import Pose
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.problem import build
from nestyield.placement.region import feasible_region, window_of

EVEN = ThicknessSplit(front_up=True, top_off_mm=2.0)
SMALL = block(60, 20)


def area_mm2(paths):
    return area_um2(paths) / SUBGRID**2 / 1e6


def allowed(part, blank, angle=0.0, mirrored=False, settings=BARE, window=None):
    return feasible_region(build(part, blank, settings, EVEN), angle, mirrored, window)


@pytest.mark.outside(
    source="inner fit of a rectangle in a rectangle; area of a rectangle plus a disc", mark="D"
)
def test_areas_by_formula():
    """(L - l)(W - w) for the bare piece; a round knot takes l w + 2 (l + w) r + pi r^2 of it."""
    assert area_mm2(allowed(SMALL, plank())) == pytest.approx((210 - 60) * (90 - 20), abs=0.01)
    r = 5.0
    less = 60 * 20 + 2 * (60 + 20) * r + math.pi * r**2
    got = area_mm2(allowed(SMALL, plank(defects=(knot(disc(105, 45, r)),))))
    assert got == pytest.approx(150 * 70 - less, rel=1e-3)
    assert got <= 150 * 70 - less + 0.01


@pytest.mark.outside(source="box of a turned rectangle: l cos a + w sin a", mark="D")
@pytest.mark.parametrize("angle", [0.0, 7.0, 30.0, 90.0, 181.5])
@pytest.mark.parametrize("mirrored", [False, True])
def test_turned_areas_by_formula(angle, mirrored):
    """A turned rectangle needs its box."""
    c, s = abs(math.cos(math.radians(angle))), abs(math.sin(math.radians(angle)))
    want = (210 - (60 * c + 20 * s)) * (90 - (60 * s + 20 * c))
    # vertices are rounded: up to 1 um on either side of 150 and 90 mm
    assert area_mm2(allowed(SMALL, plank(), angle, mirrored)) == pytest.approx(want, abs=0.25)


def test_a_knot_in_a_pocket_gives_a_place_of_its_own():
    """The knot of 10 x 10 may lie anywhere in a pocket of 40 x 20: 30 x 10 mm2 of shifts, and nowhere else."""
    part = block(200, 80, zones=(pocket(rect(80, 30, 120, 50), 9.0),))
    wide = knot(rect(95, 0, 105, 10), "top", 10.0)
    blank = plank(240, 120, defects=(replace(wide, shape=rect(115, 55, 125, 65)),))
    assert area_mm2(allowed(part, blank)) == pytest.approx(30 * 10, rel=1e-4)


def test_an_island_in_a_pocket_is_wood_that_stays():
    """A pocket of 40 x 40 with an island of 20 x 20: a knot of 4 x 4 lies in the frame around it."""
    ring = replace(rect(80, 20, 120, 60), holes=(Outline.rectangle(90, 30, 110, 50),))
    part = block(200, 80, zones=(pocket(ring, 9.0),))
    blank = plank(300, 140, defects=(knot(rect(150, 70, 154, 74), "top", 10.0),))
    # shifts of the knot in 40 x 40 less those at which it meets the island, grown to 24 x 24
    assert area_mm2(allowed(part, blank)) == pytest.approx(36**2 - 24**2, rel=1e-3)


def test_a_hole_of_the_blank_may_lie_in_a_window():
    """Hole 10 x 10 with a margin of 2, window 40 x 30: it may lie in 40 - 14 by 30 - 14, apart from elsewhere."""
    settings = replace(BARE, blank_margin_mm=2.0)
    window = Zone(name="W", role="cutout", shape=rect(80, 25, 120, 55), face="through")
    hole = Outline.rectangle(115, 55, 125, 65)
    part = block(200, 80, zones=(window,))
    got = area_mm2(allowed(part, plank(240, 120, holes=(hole,)), settings=settings))
    assert got == pytest.approx((40 - 14) * (30 - 14), rel=1e-2)
    assert allowed(block(200, 80), plank(240, 120, holes=(hole,)), settings=settings) == []


@pytest.mark.parametrize(("turn", "x", "y"), [(90.0, 0.0, 0.0), (180.0, 31.0, -7.0), (270.0, -500.0, 40.0)])
def test_turning_everything_by_quarters_changes_no_area(turn, x, y):
    """Part and blank turned and shifted together keep the area of the region to the grid."""
    holes = (Outline.circle(60, 60, 8),)
    blank = plank(holes=holes, defects=(knot(disc(120, 30, 6)), knot(rect(160, 50, 170, 80))))
    turned = replace(
        blank,
        shape=Pose(angle_deg=turn, x_mm=x, y_mm=y).shape(blank.shape),
        defects=tuple(
            replace(d, shape=Pose(angle_deg=turn, x_mm=x, y_mm=y).shape(d.shape)) for d in blank.defects
        ),
    )
    want = area_mm2(allowed(SMALL, blank, 11.0))
    assert area_mm2(allowed(SMALL, turned, 11.0 + turn)) == pytest.approx(want, rel=2e-4)


def test_mirroring_everything_changes_no_area():
    """The same for the mirror image."""
    blank = plank(holes=(Outline.circle(60, 60, 8),), defects=(knot(rect(160, 50, 170, 80)),))
    mirror = replace(
        blank,
        shape=Pose(mirrored=True).shape(blank.shape),
        defects=tuple(replace(d, shape=Pose(mirrored=True).shape(d.shape)) for d in blank.defects),
    )
    want = area_mm2(allowed(SMALL, blank, 11.0))
    assert area_mm2(allowed(SMALL, mirror, -11.0, True)) == pytest.approx(want, rel=2e-4)


def test_a_window_gives_what_lies_in_it():
    """Asked only in a window, the region is the whole one cut to it."""
    blank = plank(holes=(Outline.circle(60, 60, 8),), defects=(knot(disc(120, 30, 6)),))
    whole = allowed(SMALL, blank, 5.0)
    window = (20_000, 10_000, 90_000, 60_000)
    part = allowed(SMALL, blank, 5.0, window=window)
    want = combine("intersection", whole, [window_ring(window)])
    both = combine("intersection", part, want)
    assert area_mm2(part) == pytest.approx(area_mm2(want), rel=1e-6)
    assert area_mm2(both) == pytest.approx(area_mm2(want), rel=1e-6)


def test_the_window_of_paths_is_rounded_outwards():
    """One unit of the subgrid is enough for a whole micrometer."""
    ring = allowed(SMALL, plank())[0] + 1
    assert window_of([ring]) == (0, 0, 150_001, 70_001)
    assert bounds([ring]) == (1, 1, 150_000 * SUBGRID + 1, 70_000 * SUBGRID + 1)
