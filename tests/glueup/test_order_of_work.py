"""The order of work asks for what these boards need, and nothing else."""

from dataclasses import replace

import boards
import pytest

from nestyield.model import GlueUpRules, MachineLimits, Outline, Shape
from nestyield.model.facts import (
    BlankRefused,
    BoardEdge,
    BoreHoles,
    CutSlots,
    DryFit,
    GlueAndClamp,
    GuardsInPlace,
    JointEdges,
    JointOff,
    KeepOffcuts,
    LabelBoards,
    LayBoards,
    LeaveInClamps,
    LevelAfterGluing,
    ManualsFirst,
    MoistureDiffers,
    MoistureUnknown,
    NotOverJointer,
    PlaneBlank,
    PlaneBoards,
    PlanedBoard,
    RipBoards,
    ScrapeGlue,
    SearchForMetal,
    SetMarks,
    ThickBoard,
    ThinAtSeam,
)


def told(*zones, **more):
    return boards.layout(*zones, **more).glueup


def of(steps, kind):
    return [step for step in steps if isinstance(step, kind)]


def test_all_steps_in_their_order():
    """Laying, planing, sawing, jointing, marking, slots, dry fit, gluing and planing, with worked figures.

    A spline of 6.35 mm in the middle of a part of 40 mm, 2.5 mm below the upper face of the blank.
    """
    assert told(glueup=GlueUpRules(reinforce="spline")).steps == (
        LayBoards(),
        LabelBoards(),
        PlaneBoards(to_um=44_500, boards=(PlanedBoard(board="B", off_um=2000, face="lower"),)),
        RipBoards(leave_um=800),
        JointOff(edges=(BoardEdge(board="B", seam="seam 1"),)),
        JointEdges(),
        SetMarks(),
        CutSlots(seams=("seam 1",), width_um=6350, depth_um=9500, below_um=(22_500,)),
        DryFit(),
        GlueAndClamp(seams=1, splines=1, dowels=0),
        LeaveInClamps(),
        ScrapeGlue(),
        PlaneBlank(to_um=40_000),
    )


def test_nothing_to_plane_or_slot():
    """Boards of one thickness are not planed before, and no slots are cut where none are asked for."""
    steps = told(pieces=(boards.A, replace(boards.B, thickness_mm=44.5))).steps
    assert not of(steps, PlaneBoards | LevelAfterGluing | CutSlots | BoreHoles)


def test_dowels():
    """Dowels ask for holes of their own diameter and depth."""
    steps = told(glueup=GlueUpRules(reinforce="dowel")).steps
    assert of(steps, BoreHoles) == [
        BoreHoles(seams=("seam 1",), diameter_um=8000, depth_um=19_000, below_um=(22_500,))
    ]
    (glue,) = of(steps, GlueAndClamp)
    assert (glue.splines, glue.dowels) == (0, 4)


@pytest.mark.outside(
    source="trade-facts: planer at least roller spacing + 2 in; jointer 12 in; glue before planing", mark="P"
)
def test_safe_order_for_short_boards():
    """A board too short for the planer is glued first and leveled after; one too short for the jointer is named."""
    short = told(machines=MachineLimits(planer_rollers_mm=440.0))
    assert of(short.steps, LevelAfterGluing) == [
        LevelAfterGluing(to_um=44_500, boards=(ThickBoard(board="B", thickness_um=46_500),))
    ]
    assert not of(short.steps, PlaneBoards)
    (wide,) = of(told(machines=MachineLimits(planer_widest_mm=200.0)).cautions, BlankRefused)
    assert (wide.rule.dimension, wide.rule.value_um, wide.rule.most_um) == ("width", 212_000, 200_000)
    assert not of(short.cautions, BlankRefused)  # 510 mm long, and 490.8 asked for
    hand = told(machines=MachineLimits(jointer_shortest_mm=490.0))
    assert of(hand.steps, NotOverJointer) == [NotOverJointer(board="B", remedy="joint while longer")]
    (rule,) = [r for r in hand.members[1].machine_rules if r.refused]
    assert (rule.machine, rule.value_um, rule.least_um) == ("jointer", 480_000, 490_000)


def test_offcuts_worth_keeping():
    """An offcut as large as the shop's least leftover goes back to the rack."""
    wide = replace(boards.A, shape=Shape(outer=Outline.rectangle(0, 0, 500, 160)))
    keep = KeepOffcuts(edges=(BoardEdge(board="A", seam="seam 1"),))
    assert of(told(pieces=(wide, boards.B)).steps, KeepOffcuts) == [keep]
    assert not of(told().steps, KeepOffcuts)


def test_cautions():
    """Moisture apart and not known, thin wood at a seam, and the usual ones last."""
    usual = (SearchForMetal(), GuardsInPlace(), ManualsFirst())
    assert told().cautions == (MoistureDiffers(difference_points=2.0, limit_points=2.0), *usual)
    unknown = told(pieces=(boards.A, replace(boards.B, moisture_pct=None)))
    assert unknown.cautions == (MoistureUnknown(boards=("B",)), *usual)
    thin = told(boards.pocket("BOX", (150, 50, 200, 110), 36.0))
    assert thin.cautions[0] == ThinAtSeam(seam="seam 1", zone="BOX", left_um=4000)
