from __future__ import annotations

import math
from dataclasses import replace

import pytest
from things import BARE, at, block, disc, knot, plank, pocket, rect

from nestyield.model import Outline, Zone
from nestyield.model.pose import Pose
from nestyield.placement.check import Checker, filled_ml, reaches_past
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.problem import build

EVEN = ThicknessSplit(front_up=True, top_off_mm=2.0)


def clash(part, blank, x_um, y_um, angle=0.0, settings=BARE):
    return Checker(build(part, blank, settings, EVEN)).clash(
        Pose(angle_deg=angle, x_mm=x_um / 1000, y_mm=y_um / 1000)
    )


def test_two_micrometers_are_borne_and_three_are_not():
    """Contact may exceed an edge by 2 um."""
    assert clash(block(), plank(200, 80), -2, 2) == ""
    assert clash(block(), plank(200, 80), -3, 0) == "outside the blank less its margin"
    assert clash(block(), plank(200, 80), 0, 3) == "outside the blank less its margin"


def test_a_knot_may_be_touched_but_not_entered():
    """A block of 200 reaches a knot that begins at 203."""
    blank = plank(300, 80, defects=(knot(rect(203, 0, 210, 80)),))
    assert clash(block(), blank, 3000, 0) == ""
    assert clash(block(), blank, 3002, 0) == ""
    assert clash(block(), blank, 3004, 0) == "over knot 1"


def test_a_knot_may_fill_its_pocket():
    """No more than 2 um of it may be wood that stays."""
    part = block(zones=(pocket(rect(80, 30, 110, 50), 9.0),))
    blank = plank(240, 120, defects=(knot(rect(100, 47, 130, 67), "top", 10.0),))
    assert clash(part, blank, 20_000, 17_000) == ""
    assert clash(part, blank, 20_004, 17_000) == "over knot 1"


def test_metal_keeps_the_cutter_away_even_in_a_window():
    """A cutter of 6 mm in a window of 40 clears metal of 1 mm in the blank's place only outside the outline."""
    window = Zone(name="W", role="cutout", shape=rect(80, 20, 120, 60), face="through")
    blank = plank(300, 120, defects=(knot(rect(120, 50, 121, 51), kind="metal"),))
    assert clash(block(zones=(window,)), blank, 20_000, 10_000) == "over metal 1"
    assert clash(block(zones=(window,)), blank, 20_000, 40_000) == "over metal 1"
    edge = plank(300, 120, defects=(knot(rect(206, 10, 207, 11), kind="metal"),))
    assert clash(block(), edge, 0, 0) == ""
    assert clash(block(), edge, 4, 0) == "over metal 1"


def test_filler_is_area_times_depth():
    """A knot 10 across and 10 deep, 2 planed away: pi 25 x 8 mm3 = 0.628 ml; half of it over the edge is half."""
    part = block(tolerates={"knot": "filled"})
    problem = build(part, plank(400, 90, defects=(knot(disc(100, 40, 5), "top", 10.0),)), BARE, EVEN)
    ml, names = filled_ml(problem, Pose())
    assert (ml, names) == (pytest.approx(math.pi * 25 * 8 / 1000, rel=0.01), ("knot 1",))
    half, _ = filled_ml(problem, Pose(x_mm=100.0))
    assert half == pytest.approx(ml / 2, rel=1e-6)
    assert filled_ml(problem, Pose(x_mm=150.0)) == (0.0, ())


def test_past_the_edge_by_hand():
    """A rectangle 7 um too far left; with a margin the distance that is missing from it."""
    part, edge = Outline.rectangle(0, 0, 100, 50), Outline.rectangle(0, 0, 100, 50)
    wide = Outline.rectangle(-5, -5, 105, 55)

    def past(edge, margin_mm, where, by_um):
        return reaches_past(part, edge, margin_mm, where, by_um)

    assert not past(edge, 0.0, at(0, 0), 0.001)
    assert past(edge, 0.0, at(-0.007, 0), 6.999)
    assert not past(edge, 0.0, at(-0.007, 0), 7.001)
    assert not past(wide, 5.0, at(0, 0), 0.001)
    assert past(wide, 5.0, at(0.003, 0), 2.999)
    assert not past(wide, 5.0, at(0.003, 0), 3.001)
    assert past(wide, 5.0, at(-5.002, 0), 5001.0)


def test_true_curves_are_compared_not_their_chords():
    """A circle in one of the same radius is off by the shift alone; one 0.01 mm smaller has room."""
    ring = Outline.circle(0, 0, 60)
    assert not reaches_past(ring, ring, 0.0, at(0, 0), 0.15)
    assert reaches_past(ring, ring, 0.0, at(0.003, 0, 30.0), 2.8)
    assert not reaches_past(ring, ring, 0.0, at(0.003, 0, 30.0), 3.2)
    assert not reaches_past(Outline.circle(0, 0, 59.99), ring, 0.0, at(0.009, 0), 1e-6)


def test_an_edge_that_pokes_into_the_part_counts():
    """A notch of the blank that reaches 0.5 mm into a straight edge of the part."""
    edge = Outline.polygon([(0, 0), (40, 0), (50, 0.5), (60, 0), (100, 0), (100, 50), (0, 50)])
    part = Outline.rectangle(0, 0, 100, 50)
    assert reaches_past(part, edge, 0.0, at(0, 0), 499.0)
    assert not reaches_past(part, edge, 0.0, at(0, 0), 501.0)


def test_the_last_checker_is_kept():
    """Only for the same problem and tolerance."""
    problem = build(block(), plank(), replace(BARE), EVEN)
    first = Checker.of(problem)
    assert Checker.of(problem) is first
    assert Checker.of(problem, 1.0) is not first
