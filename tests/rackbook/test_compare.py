"""Whether a piece is still the piece of the plan."""

from dataclasses import replace

import pytest

from nestyield.model import Defect, Outline, Piece, Shape
from nestyield.rackbook.compare import differences
from nestyield.words import Words

KNOT = Defect(name="defects.csv row 3", kind="knot", shape=Shape(outer=Outline.circle(5, 5, 2)))
CHECK = replace(KNOT, name="defects.csv row 4", kind="check", face="top", depth_mm=3.0)
MM = Words("mm")
PIECE = Piece(
    name="A",
    species="sugar maple",
    thickness_mm=44.0,
    shape=Shape(outer=Outline.rectangle(0, 0, 100, 50)),
    defects=(KNOT, CHECK),
    row=7,
    count=2,
)


@pytest.mark.parametrize(
    "change",
    [
        {"row": 9, "note": "x", "shelf": "y", "parent": "z", "value": 3.0},
        {"defects": (replace(CHECK, name="row 9"), replace(KNOT, name="row 8"))},
        {"count": 1},
        {"count": 5},
    ],
)
def test_what_does_not_matter(change):
    """Row, note, shelf, value, order and rows of defects, and copies beyond those needed do not matter."""
    assert differences(PIECE, replace(PIECE, **change), 1, MM) == ()


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"count": 1}, "A: 2 wanted, 1 left"),
        ({"status": "hold"}, "A is now on hold"),
        ({"defects": (KNOT,)}, "A: its defects were changed"),
        ({"defects": (KNOT, replace(CHECK, depth_mm=4.0))}, "A: its defects were changed"),
        ({"measured_mm": 1.5}, "A: the measuring error was changed from 0 mm to 1.5 mm"),
        ({"grain_deg": None}, "A: the grain was changed from 0 to none"),
    ],
)
def test_what_matters(change, why):
    """Every change that the plan rests on is told in a few words."""
    assert differences(PIECE, replace(PIECE, **change), 2, MM) == (why,)


def test_all_reasons_at_once():
    """A piece with several changes tells them all."""
    assert (
        len(differences(PIECE, replace(PIECE, species="limba", thickness_mm=40.0, status="taken"), 2, MM))
        == 3
    )
