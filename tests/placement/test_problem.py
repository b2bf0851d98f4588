from __future__ import annotations

import math
from dataclasses import replace

import pytest
from things import BARE, at, block, disc, knot, plank, pocket, rect

from nestyield.geometry.grid import area_um2, bounds
from nestyield.model import Zone
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.problem import FlattenedInputs, build, with_openings

EVEN = ThicknessSplit(front_up=True, top_off_mm=2.0)
FIVE = replace(BARE, blank_margin_mm=5.0, between_parts_mm=9.0)


def area_mm2(region):
    return area_um2(region) / 1e6


def test_the_container_is_the_blank_less_its_margin():
    """210 x 90 less 5 mm all round."""
    problem = build(block(), plank(), FIVE, EVEN)
    assert bounds(problem.container) == (5000, 5000, 205000, 85000)
    assert problem.obstacles == ()


def test_holes_and_metal_are_grown_by_what_must_stay():
    """A hole of radius 10 by the margin of 5, metal of radius 2 by the cutter's diameter of 6."""
    blank = plank(
        holes=(disc(50, 45, 10).outer,), defects=(knot(disc(150, 45, 2), kind="metal"),), grain_deg=None
    )
    hole, metal = build(block(), blank, FIVE, EVEN).obstacles
    assert (hole.names, metal.names) == (("hole",), ("metal 1",))
    assert area_mm2(hole.fixed) == pytest.approx(math.pi * 15**2, rel=0.003)
    assert area_mm2(metal.fixed) == pytest.approx(math.pi * 8**2, rel=0.006)
    # never too small
    assert area_mm2(hole.fixed) >= math.pi * 15**2 - 0.1
    assert area_mm2(metal.fixed) >= math.pi * 8**2 - 0.1


def test_other_parts_keep_their_gap():
    """A block grown by 9 mm: 118 x 98 less its rounded corners, 4 x 81 (1 - pi / 4)."""
    part = block(100, 80)
    (other,) = build(part, plank(400, 200), FIVE, EVEN, [(part, at(10, 10))]).obstacles
    assert area_mm2(other.fixed) == pytest.approx(118 * 98 - 4 * 81 * (1 - math.pi / 4), abs=1.0)


def test_defects_of_one_kind_and_span_are_one_obstacle():
    """Two through knots together, a shallow one apart; wood that takes it away is not in its way."""
    part = block(zones=(pocket(rect(80, 20, 120, 60), 12.0),))
    shallow = replace(knot(disc(100, 40, 4), "top", 10.0), name="shallow")
    through = [replace(knot(disc(x, 40, 4)), name=f"k{x}") for x in (30, 60)]
    problem = build(part, plank(defects=(*through, shallow)), BARE, EVEN)
    assert {o.names for o in problem.obstacles} == {("k30", "k60"), ("shallow",)}
    moving = {o.names: area_mm2(o.moving) for o in problem.obstacles}
    assert moving[("k30", "k60")] == pytest.approx(16000)
    assert moving[("shallow",)] == pytest.approx(16000 - 1600)


def test_a_defect_left_out_is_no_obstacle():
    """As if it were filled."""
    inputs = FlattenedInputs(block(), plank(defects=(knot(disc(30, 40, 4)),)), BARE)
    assert len(inputs.problem(EVEN).obstacles) == 1
    assert inputs.problem(EVEN, but=("knot 1",)).obstacles == ()


def test_what_may_be_filled_is_no_obstacle_but_is_counted():
    """Filled knots have the wood they lie in and the depth that is left of them."""
    part = block(tolerates={"knot": "filled"})
    problem = build(part, plank(defects=(knot(disc(30, 40, 4), "top", 10.0),)), BARE, EVEN)
    assert problem.obstacles == ()
    (filling,) = problem.fillings
    assert filling.depth_mm == pytest.approx(8.0)
    assert area_mm2(filling.moving) == pytest.approx(16000)


def test_room_asked_for_on_top_narrows_everything():
    """1 mm more: the container loses 2 mm each way, a defect of radius 4 becomes 5."""
    blank = plank(defects=(knot(disc(30, 40, 4)),))
    problem = FlattenedInputs(block(), blank, FIVE, tighter_mm=1.0).problem(EVEN)
    assert bounds(problem.container) == (6000, 6000, 204000, 84000)
    assert area_mm2(problem.obstacles[0].fixed) == pytest.approx(math.pi * 25, rel=0.01)


def test_lenient_errs_the_other_way():
    """The safe container is within the lenient one, the safe obstacle around the lenient one."""
    blank = replace(
        plank(defects=(knot(disc(30, 40, 4)),)),
        shape=replace(disc(100, 100, 90), holes=(disc(100, 100, 9).outer,)),
    )
    safe, lenient = (
        FlattenedInputs(block(), blank, FIVE, (), rounding).problem(EVEN) for rounding in ("safe", "lenient")
    )
    assert area_mm2(safe.container) < math.pi * 85**2 < area_mm2(lenient.container)
    for a, b in zip(safe.obstacles, lenient.obstacles):
        assert area_mm2(a.fixed) > area_mm2(b.fixed)


def test_openings_become_holes_of_the_outline():
    """A window inside is one; one that runs out over the edge is not."""
    inside = Zone(name="W", role="cutout", shape=rect(50, 20, 100, 60), face="through")
    over = Zone(name="V", role="cutout", shape=rect(150, 20, 250, 60), face="through")
    rings = with_openings(FlattenedInputs(block(zones=(inside, over)), plank(), BARE).shape)
    assert len(rings) == 2
    assert area_mm2(rings) == pytest.approx(16000 - 2000)
