"""What is told of a glue-up is measured again: each figure set wrong is found."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from nestyield.audit.glueups import check_glueups
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import GlueUpRules, Outline, Shape

_PATH = Path(__file__).parents[1] / "glueup" / "boards.py"
_SPEC = importlib.util.spec_from_file_location("boards", _PATH)
boards = importlib.util.module_from_spec(_SPEC)
sys.modules.setdefault("boards", boards)
_SPEC.loader.exec_module(boards)

POCKET = boards.pocket("POCKET", (150, 50, 200, 110), 19.0)
SPLINES = {"glueup": GlueUpRules(reinforce="spline")}


def codes(fault=lambda told: told, **more):
    """Codes found after a fault in what is told."""
    plan = boards.plan(POCKET, **{**SPLINES, **more})
    layout = replace(plan.layouts[0], glueup=fault(plan.layouts[0].glueup))
    sheet = CheckedSheet(replace(plan, layouts=(layout,)))
    check_glueups(CheckedBlank(sheet, layout))
    return [f.code for f in sheet.findings]


def member(told, k=0, **changes):
    members = list(told.members)
    members[k] = replace(members[k], **changes)
    return replace(told, members=tuple(members))


def edge(told, **changes):
    return member(told, edges=(replace(told.members[0].edges[0], **changes),))


def seam(told, **changes):
    return replace(told, seams=(replace(told.seams[0], **changes),))


def moved(points, dx=0.0, dy=0.0):
    return tuple((x + dx, y + dy) for x, y in points)


def test_sound():
    """What is told of sound glue-ups passes, splines, dowels and none, mm and inches."""
    assert codes() == []
    assert codes(glueup=GlueUpRules(reinforce="dowel")) == []
    assert codes(glueup=GlueUpRules(reinforce="none"), units="in") == []
    assert codes(jointing_mm=0.0) == []


FAULTS = [
    ("a member left out", lambda t: replace(t, members=t.members[:1])),
    ("wood outside the blank", lambda t: member(t, wood=(Shape(outer=Outline.rectangle(0, 0, 500, 97)),))),
    ("area lost", lambda t: member(t, loses_mm2=2000.0)),
    ("rough thickness", lambda t: member(t, 1, rough_mm=46.0)),
    ("planed thickness", lambda t: member(t, 1, planed_mm=44.0)),
    ("wrong face up", lambda t: member(t, top_up=False)),
    ("wrong size", lambda t: member(t, size_mm=(500.0, 99.0))),
    ("measured as it lies", lambda t: member(t, 1, as_on_rack=False)),
    ("wrong corner", lambda t: member(t, corner_mm=(500.0, 0.0))),
    ("joint line off the seam", lambda t: edge(t, line_mm=moved(t.members[0].edges[0].line_mm, dy=0.1))),
    ("line on the piece", lambda t: edge(t, on_piece_mm=moved(t.members[0].edges[0].on_piece_mm, dy=0.1))),
    ("ends swapped", lambda t: edge(t, on_piece_mm=t.members[0].edges[0].on_piece_mm[::-1])),
    (
        "saw on the line",
        lambda t: edge(t, rip_on_piece_mm=t.members[0].edges[0].on_piece_mm),
    ),
    ("mark elsewhere", lambda t: edge(t, mark_at_mm=(266.0, 95.0))),
    ("mark measured wrong", lambda t: edge(t, mark_mm=266.0)),
    ("too little off", lambda t: edge(t, off_mm=(5.0, 4.9))),
    ("seam of another name", lambda t: edge(t, seam="seam 9")),
    ("edge too short", lambda t: edge(t, line_mm=((1.0, 95.0), (500.0, 95.0)))),
    ("strip that stays", lambda t: member(t, 1, strips=t.members[0].strips)),
    ("seam length", lambda t: seam(t, length_mm=480.0)),
    ("seam from the edge", lambda t: seam(t, from_edge_mm=(96.0, 95.0))),
    ("slide", lambda t: seam(t, slide_mm=-30.0)),
    ("sides changed over", lambda t: seam(t, lower="B", upper="A")),
    ("wood left", lambda t: seam(t, crossings=(replace(t.seams[0].crossings[0], wood_left_mm=22.0),))),
    ("zone that is not there", lambda t: seam(t, crossings=(replace(t.seams[0].crossings[0], zone="X"),))),
    ("unknown seam", lambda t: seam(t, seam="seam 9")),
    ("clamps for another seam", lambda t: replace(t, clamps=replace(t.clamps, seam="seam 9"))),
    ("a clamp elsewhere", lambda t: replace(t, clamps=replace(t.clamps, at_mm=(80.0, *t.clamps.at_mm[1:])))),
    ("a clamp that slips", lambda t: replace(t, clamps=replace(t.clamps, slips_mm=t.clamps.at_mm[1:2]))),
    ("too few clamps", lambda t: replace(t, clamps=replace(t.clamps, at_mm=t.clamps.at_mm[:-1]))),
    ("fewer clamps needed", lambda t: replace(t, clamps=replace(t.clamps, needed=6))),
    ("stronger clamps", lambda t: replace(t, clamps=replace(t.clamps, clamp_n=5000.0))),
    ("each too hard", lambda t: replace(t, clamps=replace(t.clamps, each_n=(4120.0, 6180.0)))),
    ("more pressure", lambda t: replace(t, clamps=replace(t.clamps, reached_psi=300.0))),
    ("limited by nothing", lambda t: replace(t, clamps=replace(t.clamps, limit="room"))),
    ("clamping force", lambda t: replace(t, clamps=replace(t.clamps, force_n=(1.0, 2.0)))),
    ("more planed off the top", lambda t: replace(t, top_off_mm=t.top_off_mm + 0.1)),
    ("more planed off the bottom", lambda t: replace(t, bottom_off_mm=t.bottom_off_mm + 0.1)),
    ("crossing too short", lambda t: seam(t, crossings=(replace(t.seams[0].crossings[0], length_mm=49.0),))),
    (
        "cut from the other face",
        lambda t: seam(t, crossings=(replace(t.seams[0].crossings[0], face="down"),)),
    ),
    ("a crossing left out", lambda t: seam(t, crossings=())),
    ("laid end for end", lambda t: member(t, 1, end_for_end=not t.members[1].end_for_end)),
    ("turned a little", lambda t: member(t, 1, turned_deg=t.members[1].turned_deg + 0.1)),
    ("measured at other ends", lambda t: edge(t, off_at_mm=(25.0, 400.0))),
    ("seen nowhere", lambda t: seam(t, visible=())),
]
#: Of the wood: told elsewhere with code A121.
OF_THE_WOOD = [
    ("a board's width", lambda t: row(t, width_mm=t.movement[0].width_mm + 0.1)),
    ("the blank's width", lambda t: row(t, -1, width_mm=t.movement[-1].width_mm + 0.1)),
    ("the blank's movement", lambda t: row(t, -1, flatsawn_mm=t.movement[-1].flatsawn_mm + 0.1)),
    ("another board", lambda t: row(t, what="B")),
    ("another wood", lambda t: row(t, species="basswood")),
    ("no figures for the blank", lambda t: row(t, -1, marks=())),
    ("warmer air", lambda t: replace(t, temperature_c=24.0)),
]


def row(told, k=0, **changes):
    rows = list(told.movement)
    rows[k] = replace(rows[k], **changes)
    return replace(told, movement=tuple(rows))


@pytest.mark.parametrize(("name", "fault"), OF_THE_WOOD, ids=[f[0] for f in OF_THE_WOOD])
def test_each_fault_of_the_wood_is_found(name, fault):
    """Widths that move, their woods and the air are worked out again."""
    assert "A121" in codes(fault)


@pytest.mark.parametrize(("name", "fault"), FAULTS, ids=[f[0] for f in FAULTS])
def test_each_fault_is_found(name, fault):
    """A figure that is told wrong, by a tenth of a millimeter where it is a length, is found."""
    assert "A119" in codes(fault)


def test_nothing_told():
    """A plan made before glue-ups were told has nothing to check."""
    assert codes(lambda told: None) == []
