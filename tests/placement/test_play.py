from __future__ import annotations

import math
from dataclasses import replace

import pytest
from things import BARE, at, block, disc, knot, plank, pocket, rect

from nestyield.geometry.grid import area_um2
from nestyield.model.pose import Pose
from nestyield.placement.check import Checker
from nestyield.placement.play import MOST_DEG, play_of, problem_of

FIVE = replace(BARE, blank_margin_mm=5.0, between_parts_mm=9.0)


def test_play_is_what_the_piece_has_more():
    """230 x 100 for 200 x 80 and 5 mm all round: 20 along, 10 across."""
    room = play_of(block(), plank(230, 100), FIVE, at(5, 5))
    assert (room.along_mm, room.across_mm) == pytest.approx((20.0, 10.0), abs=0.001)
    assert area_um2(room.shifts) / 1e6 == pytest.approx(200.0, rel=1e-4)


def test_no_play_is_told_as_none():
    """A piece of the part's own size and margins."""
    room = play_of(block(), plank(210, 90), FIVE, at(5, 5))
    assert room.shifts == []
    assert (room.along_mm, room.across_mm, room.from_deg, room.to_deg) == (0.0, 0.0, 0.0, 0.0)


@pytest.mark.outside(source="a bar turned in a strip: q cos a + p sin a = b", mark="D")
def test_a_bar_turns_until_it_touches_both_sides_of_a_strip():
    """With room along, a bar of 200 x 80 in a strip of 90 turns to where 80 cos a + 200 sin a = 90."""
    p, q, b = 200.0, 80.0, 90.0
    most = math.degrees(math.asin(b / math.hypot(p, q)) - math.atan2(q, p))
    room = play_of(block(p, q, grain_tolerance_deg=45.0), plank(400, b), BARE, at(50, 5))
    assert room.to_deg == pytest.approx(most, abs=1 / 64)
    assert room.from_deg == pytest.approx(-most, abs=1 / 64)
    assert room.to_deg <= most + 1e-3


def test_the_grain_tolerance_ends_the_turn():
    """Plenty of room: just the tolerance either way, counted from the grain and not from where it lies."""
    room = play_of(block(50, 20, grain_tolerance_deg=4.25), plank(400, 300), BARE, at(150, 100, 1.0))
    assert (room.from_deg, room.to_deg) == pytest.approx((-4.25, 4.25))
    free = play_of(replace(block(50, 20), grain_deg=None), plank(400, 300), BARE, at(150, 100))
    assert (free.from_deg, free.to_deg) == (-MOST_DEG, MOST_DEG)


def test_a_part_does_not_jump_over_a_wall():
    """Two rooms with a knot between them: only the one that the part lies in is its own."""
    wall = knot(rect(250, 0, 260, 90))
    blank = plank(600, 90, defects=(wall,))
    room = play_of(block(200, 80, grain_tolerance_deg=45.0), blank, BARE, at(10, 5))
    assert room.along_mm == pytest.approx(50.0, abs=0.001)
    # shut in by a wall at 202 it turns to where 200 cos a + 80 sin a = 202, though the room beyond is free
    shut = plank(600, 200, defects=(knot(rect(202, 0, 260, 200)),))
    most = math.degrees(math.atan2(80, 200) - math.acos(202 / math.hypot(200, 80)))
    tight = play_of(block(200, 80, grain_tolerance_deg=45.0), shut, BARE, at(1, 60))
    assert tight.to_deg == pytest.approx(most, abs=1 / 64)
    assert tight.from_deg == pytest.approx(-most, abs=1 / 64)


def test_every_corner_of_the_room_holds():
    """The part laid at each corner passes the check of placements."""
    part = block(120, 50, zones=(pocket(rect(30, 10, 80, 40), 9.0),))
    blank = plank(260, 120, defects=(knot(disc(60, 60, 4), "top", 10.0), knot(disc(200, 20, 6))))
    here = at(10, 40)
    problem = problem_of(part, blank, BARE, here)
    checker = Checker(problem)
    assert checker.clash(Pose.of(here)) == ""
    room = play_of(part, blank, BARE, here)
    corners = [tuple(p) for ring in room.shifts for p in ring.tolist()]
    assert len(corners) >= 4
    assert all(checker.clash(Pose(x_mm=x / 1000, y_mm=y / 1000)) == "" for x, y in corners)


def test_other_parts_end_the_room():
    """Of 400 mm, 100 + 9 lie to the right of the first block."""
    part = block(100, 80)
    room = play_of(part, plank(400, 100), FIVE, at(10, 10), [(part, at(200, 10))])
    assert room.along_mm == pytest.approx(200 - 9 - 100 - 5, abs=0.001)


@pytest.mark.parametrize("turn", [0.0, 33.0, 90.0, 200.0])
def test_turning_everything_changes_no_room(turn):
    """Along and across go with the grain, angles with the turn."""
    blank = plank(260, 120, defects=(knot(disc(200, 20, 6)),))
    part = block(120, 50, grain_tolerance_deg=5.0)
    want = play_of(part, blank, BARE, at(10, 40))
    turned = replace(
        blank,
        shape=Pose(angle_deg=turn).shape(blank.shape),
        grain_deg=turn,
        defects=tuple(replace(d, shape=Pose(angle_deg=turn).shape(d.shape)) for d in blank.defects),
    )
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    got = play_of(part, turned, BARE, at(10 * c - 40 * s, 10 * s + 40 * c, turn))
    assert (got.along_mm, got.across_mm) == pytest.approx((want.along_mm, want.across_mm), abs=0.01)
    assert (got.from_deg - turn, got.to_deg - turn) == pytest.approx((want.from_deg, want.to_deg), abs=1 / 32)
