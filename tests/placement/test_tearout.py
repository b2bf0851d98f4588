from __future__ import annotations

import math

import numpy as np
import pytest
from things import at, block

from nestyield.model import Outline, Part
from nestyield.placement.tearout import LEAST_MM, short_grain_share, tear_out

ROUND = Part(name="round", drawing="", outline=Outline.circle(0, 0, 60), thickness_mm=20)


def part_of(*points):
    return Part(name="p", drawing="", outline=Outline.polygon(points), thickness_mm=20)


@pytest.mark.outside(source="length of a 60 degree arc, r pi / 3", mark="D")
@pytest.mark.parametrize("feed", ["conventional", "climb"])
def test_a_round_part_has_two_stretches_of_sixty_degrees(feed):
    """Edges 15 to 75 degrees off the grain on the side that the feed lifts: a sixth of the circle, twice."""
    found = tear_out(ROUND, at(0, 0), 0.0, feed=feed)
    assert [s.kind for s in found] == ["rising grain"] * 2
    for s in found:
        assert s.length_mm == pytest.approx(60 * math.pi / 3, rel=0.05)
        assert 70 <= s.angle_deg <= 75
        assert all(math.hypot(x, y) == pytest.approx(60.0, abs=0.06) for x, y in s.line_mm)


def test_conventional_and_climb_are_mirror_images():
    """Counter-clockwise around a disc the fibers rise where the edge falls across the grain; climb, elsewhere."""

    def middles(feed):
        found = tear_out(ROUND, at(0, 0), 0.0, feed=feed)
        return sorted(round(math.degrees(math.atan2(*np.mean(s.line_mm, axis=0)[::-1]))) % 360 for s in found)

    # an edge at polar angle p runs at p + 90; it leaves the grain clockwise by 15 to 75 degrees at p = 15..75
    assert middles("conventional") == pytest.approx([45, 225], abs=2)
    assert middles("climb") == pytest.approx([135, 315], abs=2)


@pytest.mark.outside(
    source="edges along and across the grain are safe (common practice, no source)", mark="P"
)
def test_a_block_along_the_grain_has_nothing_to_watch():
    """Nor has one across it; at 45 degrees two of its four edges rise."""
    assert tear_out(block(), at(0, 0), 0.0) == ()
    assert tear_out(block(), at(0, 0), 90.0) == ()
    slanted = tear_out(block(), at(0, 0), 45.0)
    assert sorted(s.length_mm for s in slanted) in ([80, 80], [200, 200])
    assert tear_out(block(), at(0, 0), None) == ()


@pytest.mark.parametrize("turn", [0.0, 20.0, 135.0])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (300.0, -20.0)])
def test_turning_part_and_wood_together_changes_nothing(turn, shift):
    """Lengths and angles of all stretches stay."""
    part = part_of((0, 0), (100, -30), (160, 10), (90, 60), (20, 50))
    want = [(s.kind, s.length_mm, s.angle_deg) for s in tear_out(part, at(0, 0), 0.0)]
    got = [(s.kind, s.length_mm, s.angle_deg) for s in tear_out(part, at(*shift, turn), turn)]
    assert len(want) >= 1
    assert [g[0] for g in got] == [w[0] for w in want]
    for g, w in zip(got, want):
        assert g[1:] == pytest.approx(w[1:], abs=0.01)


def test_turned_over_the_other_edges_rise():
    """Mirrored in X, what rose falls: the stretches are those of a climb cut, mirrored."""
    part = part_of((0, 0), (100, -30), (160, 10), (90, 60), (20, 50))
    over = tear_out(part, at(0, 0, mirrored=True), 0.0)
    climb = tear_out(part, at(0, 0), 0.0, feed="climb")
    assert sorted(s.length_mm for s in over) == pytest.approx(sorted(s.length_mm for s in climb), abs=0.01)


@pytest.mark.parametrize(("tip_deg", "narrow"), [(40.0, True), (58.0, True), (62.0, False), (90.0, False)])
def test_a_point_is_narrow_below_sixty_degrees(tip_deg, narrow):
    """At a reach r a tip of angle t is 2 r sin(t / 2) wide: less than r below 60 degrees, whatever r is."""
    half = math.radians(tip_deg / 2)
    long = 80.0
    tip = part_of(
        (0, 0),
        (long * math.cos(half), -long * math.sin(half)),
        (long * math.cos(half), long * math.sin(half)),
    )
    kinds = [s.kind for s in tear_out(tip, at(0, 0), 90.0)]
    at_tip = [
        s for s in tear_out(tip, at(0, 0), 90.0) if s.kind == "narrow point" and (0.0, 0.0) in s.line_mm
    ]
    assert bool(at_tip) == narrow, kinds
    # pointing along the grain it is not short grain
    along = [s for s in tear_out(tip, at(0, 0), 0.0) if s.kind == "narrow point" and (0.0, 0.0) in s.line_mm]
    assert along == []


def test_short_stretches_are_not_told():
    """A chamfer of 2 x 2 mm is 2.8 mm long, below 3; one of 3 x 3 is told."""

    def chamfered(c):
        return part_of((0, 0), (100, 0), (100, 50 - c), (100 - c, 50), (0, 50))

    assert LEAST_MM == 3.0
    assert tear_out(chamfered(2.0), at(0, 0), 0.0) == ()
    assert [round(s.length_mm, 2) for s in tear_out(chamfered(3.0), at(0, 0), 0.0)] == [4.24]


def test_the_share_of_slanting_edge():
    """Of a block none, of one at 45 degrees all; of a disc what lies between 11 and 79 degrees: 68 of 90."""
    ring = np.array([(0, 0), (200, 0), (200, 80), (0, 80)], dtype=float)
    assert short_grain_share(ring, 0.0) == 0.0
    assert short_grain_share(ring, 45.0) == 1.0
    assert short_grain_share(ring, None) == 0.0
    turns = np.arange(3600) * 2 * np.pi / 3600
    disc = np.column_stack([np.cos(turns), np.sin(turns)])
    assert short_grain_share(disc, 12.3) == pytest.approx(68 / 90, abs=0.01)


def test_a_grain_of_half_a_turn_more_is_the_same():
    """Grain is a line, not an arrow."""
    for grain in (0.0, 33.0):
        one, other = (tear_out(ROUND, at(0, 0), g) for g in (grain, grain + 180.0))
        assert [s.length_mm for s in one] == pytest.approx([s.length_mm for s in other], rel=0.1)
        assert len(one) == len(other) == 2
