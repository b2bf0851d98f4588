"""Running dimensions."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from nestyield.paperwork import ordinates
from nestyield.paperwork.canvas import Canvas, Text
from nestyield.paperwork.ordinates import Ordinate
from nestyield.words import Words


@given(st.lists(st.floats(0, 100), max_size=20))
def test_figures_keep_apart_and_in_order(at):
    """Figures stand at least a step apart, in the order of what they measure."""
    places = ordinates.spread(sorted(at), 3.0, -50.0, 150.0)
    assert all(b - a >= 3.0 - 1e-6 for a, b in itertools.pairwise(places))
    assert all(-50.0 - 1e-6 <= p <= 150.0 + 1e-6 for p in places)


@given(st.lists(st.floats(0, 1000), min_size=1, max_size=12))
def test_those_apart_stay_where_they_are(at):
    """A figure that has room is not moved."""
    lonely = sorted({round(a / 50) * 50.0 for a in at})
    assert ordinates.spread(lonely, 3.0, -100.0, 1100.0) == lonely


def test_equal_readings_become_one():
    """What reads the same is written once, with all that lies there."""
    listed = ordinates.merge(
        [
            Ordinate(value_mm=10.01, at=1, what="pin 1"),
            Ordinate(value_mm=10.02, at=1, what="pin 2"),
            Ordinate(value_mm=4.0, at=0, what="part"),
        ],
        Words("mm"),
    )
    assert [(o.value_mm, o.what) for o in listed] == [(4.0, "part"), (10.01, "pin 1, pin 2")]


def test_texts_carry_value_and_what():
    """Each figure says how far and what."""
    canvas = Canvas(width_mm=100, height_mm=100)
    ordinates.below(canvas, [Ordinate(value_mm=44.45, at=20, what="part")], 50, Words("in"), (0, 100))
    assert [t.text for t in canvas.items if isinstance(t, Text)] == ["1 3/4 part"]
