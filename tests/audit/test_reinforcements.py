"""Splines and dowels that come too near to something are found."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from nestyield.audit.glueups import check_glueups
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import GlueUpRules, JointReinforcement, Outline, Shape, Zone

_PATH = Path(__file__).parents[1] / "glueup" / "boards.py"
_SPEC = importlib.util.spec_from_file_location("boards", _PATH)
boards = importlib.util.module_from_spec(_SPEC)
sys.modules.setdefault("boards", boards)
_SPEC.loader.exec_module(boards)

# The part runs from 60 to 460 along the seam; its face that lies up is 2.5 mm below that of the blank.
POCKET = boards.pocket("POCKET", (150, 50, 200, 110), 19.0)  # x 210 to 260, 19 mm deep from above
HOLE = Zone(name="STUD", role="hole", shape=Shape(outer=Outline.circle(350, 75, 5)), depth_mm=None)


def spline(first, last, below=22.5, **more):
    told = {
        "name": "spline 1",
        "seam": "seam 1",
        "kind": "spline",
        "line_mm": ((first, 95.0), (last, 95.0)),
        "along_mm": (first - 265.0, last - 265.0),
        "depth_mm": 9.5,
        "thick_mm": 6.0,
        "below_top_mm": below,
    }
    told |= more
    (a, y), (b, _) = told["line_mm"]
    half, deep = told["thick_mm"] / 2 if told["kind"] == "dowel" else 0.0, told["depth_mm"]
    drawn = Outline.rectangle(a - half, y - deep, b + half, y + deep)
    return JointReinforcement(**{"outline": drawn, **told})


def found(key, *zones, **settings):
    plan = boards.plan(*zones, **settings)
    layout = replace(plan.layouts[0], glueup=replace(plan.layouts[0].glueup, keys=(key,)))
    sheet = CheckedSheet(replace(plan, layouts=(layout,)))
    check_glueups(CheckedBlank(sheet, layout))
    # steps and conflicts of the plan are those of its own splines: only where these lie counts here
    return [f.code for f in sheet.findings if f.code == "A118"]


@pytest.mark.parametrize(
    ("first", "last", "ok"), [(72.0, 448.0, True), (71.9, 448.0, False), (72.0, 448.1, False)]
)
@pytest.mark.outside(source="trade-facts: hidden splines at least 12 mm from the outline", mark="P")
def test_outline(first, last, ok):
    """12 mm from the ends of a part that runs from 60 to 460: from 72 to 448, and not a tenth more."""
    assert (found(spline(first, last)) == []) is ok


@pytest.mark.parametrize(("last", "ok"), [(198.0, True), (198.1, False)])
def test_pocket(last, ok):
    """A pocket from 210 on keeps a slot back at 198."""
    assert (found(spline(80.0, last), POCKET) == []) is ok


@pytest.mark.parametrize(("depth", "ok"), [(4.9, True), (5.1, False)])
def test_below_a_pocket(depth, ok):
    """A slot from 17 to 23 mm below the part's face passes below a pocket of 4.9 mm, 12.1 mm away."""
    shallow = boards.pocket("SHALLOW", (150, 50, 200, 110), depth)
    assert (found(spline(80.0, 400.0), shallow) == []) is ok


@pytest.mark.parametrize(("last", "ok"), [(392.9, True), (393.1, False)])
def test_hole(last, ok):
    """A hole 5 mm in radius at 410 and on the seam keeps it back at 410 - 5 - 12 = 393."""
    assert (found(spline(330.0, last), HOLE) == []) is ok


def test_hole_beside_the_seam():
    """A hole 30 mm off the seam is 30 - 5 - 9.5 = 15.5 mm from the slot; one 26 mm off only 11.5 mm."""
    far = replace(HOLE, shape=Shape(outer=Outline.circle(350, 105, 5)))
    near = replace(HOLE, shape=Shape(outer=Outline.circle(350, 101, 5)))
    assert found(spline(330.0, 440.0), far) == []
    assert found(spline(330.0, 440.0), near) == ["A118"]


@pytest.mark.parametrize(("below", "ok"), [(11.6, True), (11.4, False), (33.4, True), (33.6, False)])
def test_faces(below, ok):
    """As much wood as the slot is wide stays towards either face: its middle is 2.5 + 9 to 42.5 - 9 deep."""
    assert (found(spline(80.0, 400.0, below)) == []) is ok


def test_off_the_seam_and_outside():
    """A spline off its seam, outside every part, or on a seam that is not there, is found."""
    assert found(spline(80.0, 400.0, outline=Outline.rectangle(80, 85.5, 399, 104.5))) == ["A118"]
    assert "A118" in found(spline(80.0, 400.0, line_mm=((80.0, 95.2), (400.0, 95.2))))
    assert found(spline(470.0, 490.0)) == ["A118"]
    assert found(spline(80.0, 400.0, seam="seam 2")) == ["A118"]


def test_dowels_and_clearance_of_the_shop():
    """A dowel is as wide as it is thick, and the shop's own clearance counts."""
    dowel = {"kind": "dowel", "thick_mm": 8.0, "depth_mm": 19.0}
    assert found(spline(76.0, 76.0, **dowel)) == []
    assert found(spline(75.9, 75.9, **dowel)) == ["A118"]
    assert found(spline(75.9, 75.9, **dowel), glueup=GlueUpRules(reinforce_clearance_mm=11.0)) == []
