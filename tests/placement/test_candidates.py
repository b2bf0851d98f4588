from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from things import block

from nestyield.model.pose import Pose
from nestyield.placement.candidates import grain_turn_deg, orientations

ANGLE = st.floats(0, 359, allow_nan=False)


@pytest.mark.parametrize(("mirrored", "count"), [("no", 4), ("allowed", 8), ("only", 4)])
def test_faces_ends_and_images(mirrored, count):
    """Front or back up, end for end, and each image that is allowed; a mirrored view shows front and image."""
    found = orientations(block(mirrored=mirrored), 0.0)
    assert len(found) == count
    images = {w.mirrored != (not w.front_up) for w in found}
    assert images == {"no": {False}, "allowed": {False, True}, "only": {True}}[mirrored]


@pytest.mark.parametrize("mirrored", ["no", "allowed", "only"])
def test_a_part_that_shows_one_face_is_never_laid_back_up(mirrored):
    """Half of the ways are left, all front up; seen from the top only the images asked for appear."""
    found = orientations(block(mirrored=mirrored, show_face="top"), 0.0)
    assert 2 * len(found) == len(orientations(block(mirrored=mirrored), 0.0))
    assert all(w.front_up for w in found)
    assert {w.mirrored for w in found} == {"no": {False}, "allowed": {False, True}, "only": {True}}[mirrored]


@given(part_grain=ANGLE, wood=ANGLE)
def test_in_the_middle_grain_lies_along_grain(part_grain, wood):
    """The part's grain, laid as the way says, is parallel to the wood's: no cross product of the two is left."""
    part = block(grain_deg=part_grain)
    a = math.radians(part_grain)
    line = np.array([[0, 0], [round(1e7 * math.cos(a)), round(1e7 * math.sin(a))]])
    for way in orientations(part, wood):
        laid = Pose(angle_deg=way.middle_deg, mirrored=way.mirrored).on_grid(line)
        d = laid[np.abs(laid).sum(axis=1).argmax()]
        w = np.array([math.cos(math.radians(wood)), math.sin(math.radians(wood))])
        assert abs(d[0] * w[1] - d[1] * w[0]) < 5.0


def test_no_grain_and_full_tolerance_leave_one_way_all_round():
    """Without grain on either side, or with 90 degrees of tolerance, one way covers every angle."""
    for part, wood in ((block(grain_deg=None), 0.0), (block(), None), (block(grain_tolerance_deg=90.0), 0.0)):
        found = orientations(part, wood)
        assert len(found) == 2
        assert {w.tolerance_deg for w in found} == {180.0}


def test_angles_begin_with_the_grain_and_end_at_the_tolerance():
    """Nearest first; the last two lie at the ends."""
    (first, *_) = orientations(block(grain_tolerance_deg=6.0), 10.0)
    assert first.angles(2) == (10.0, 13.0, 7.0, 16.0, 4.0)
    assert len(set(orientations(block(), None)[0].angles(3))) == 12


@given(
    part_grain=ANGLE, wood=ANGLE, tolerance=st.floats(0, 89), share=st.floats(-1, 1), mirrored=st.booleans()
)
def test_a_part_may_turn_until_its_tolerance_is_used_up(part_grain, wood, tolerance, share, mirrored):
    """After the whole turn either way the grain is off by just the tolerance."""
    part = block(grain_deg=part_grain, grain_tolerance_deg=tolerance)
    way = next(w for w in orientations(part, wood) if w.mirrored == mirrored)
    angle = way.middle_deg + share * tolerance
    for sign in (1.0, -1.0):
        turn = grain_turn_deg(part, wood, angle, mirrored, sign)
        assert turn == pytest.approx(tolerance * (1.0 - sign * share), abs=1e-6)
        laid = np.exp(1j * np.radians(part_grain))
        laid = (-laid.conjugate() if mirrored else laid) * np.exp(1j * np.radians(angle + sign * turn - wood))
        off = math.degrees(math.atan2(abs(laid.imag), abs(laid.real)))
        assert off == pytest.approx(tolerance, abs=1e-6)
    assert grain_turn_deg(part, None, angle, mirrored, 1.0) == math.inf
