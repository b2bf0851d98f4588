"""Linear programs that take small overlaps out and shorten a layout."""

import math

import numpy as np
import pytest

from nestyield.nesting import linear
from nestyield.nesting.compaction import shorten
from nestyield.nesting.moves import fresh_state
from nestyield.nesting.shapes import build_tables

SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]
KITE = [(3, 0), (10, 2), (8, 9), (0, 7)]
WEDGE = [(0, 0), (10, 0), (0, 10)]
#: Grid units a millimeter.
UNIT = 1000.0


@pytest.fixture
def layout(shapes_of):
    """Return a maker of tables and a state from rings with their angles, and places."""

    def make(rings, places, length, width):
        shapes = shapes_of([(ring, (angle,)) for ring, angle in rings])
        tab = build_tables(shapes, len(rings))
        kinds = np.arange(len(rings), dtype=np.int32)
        st = fresh_state(kinds, 0, np.array([[0.0, 0.0, length, width]]) * UNIT)
        st.shape[:] = np.arange(len(rings))
        st.pos[:] = np.array(places) * UNIT
        return tab, st, UNIT

    return make


def test_overlapping_squares_come_to_touch(layout):
    """Guards separation and compaction in one: three squares in a row are 30 long."""
    tab, st, unit = layout([(SQUARE, 0.0)] * 3, [(0, 0), (9, 0), (24, 0)], 40.0, 10.0)
    assert shorten(tab, st, reach=8.0 * unit) == pytest.approx(30.0 * unit)
    np.testing.assert_allclose(np.sort(st.pos[:, 0]), np.array([0, 10, 20]) * unit, atol=1e-3 * unit)


def test_wedges_close_along_their_slant(layout):
    """Guards contacts along slanted edges: two wedges, one turned by half, make one square."""
    tab, st, unit = layout([(WEDGE, 0.0), (WEDGE, 180.0)], [(0, 0), (4, 0)], 20.0, 10.0)
    assert shorten(tab, st, reach=8.0 * unit) == pytest.approx(10.0 * unit)


def test_an_overlap_too_deep_for_its_reach(layout):
    """Guards the two ways to fail: give up at once, or leave the overlap and shorten the rest."""
    places = [(0, 0), (1, 0), (30, 0)]
    tab, st, unit = layout([(SQUARE, 0.0)] * 3, places, 60.0, 10.0)
    assert shorten(tab, st, reach=2.0 * unit, strict=True) == math.inf
    np.testing.assert_array_equal(st.pos, np.array(places) * unit)
    assert shorten(tab, st, reach=2.0 * unit) < 40.0 * unit


def test_a_program_that_does_not_end(monkeypatch, layout):
    """Guards against a linear program that goes round in a circle: it is cut off and the parts stay."""
    monkeypatch.setattr(linear, "MOST_STEPS", 3)
    places = [(12 * (k // 3), 10.5 * (k % 3)) for k in range(12)]
    tab, st, unit = layout([(KITE, 90.0 * (k % 4)) for k in range(12)], places, 60.0, 32.0)
    assert shorten(tab, st, reach=8.0 * unit, strict=True) == math.inf
    np.testing.assert_array_equal(st.pos, np.array(places) * unit)
    monkeypatch.undo()
    assert shorten(tab, st, reach=8.0 * unit, strict=True) < 45.0 * unit
