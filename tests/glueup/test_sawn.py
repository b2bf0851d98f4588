"""Pieces that are sawn apart because two members come out of one, worked by hand."""

from dataclasses import replace

import boards
import pytest

from nestyield.audit.glueups import check_glueups
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import Blank, Member, Outline, Piece, Seam, Shape
from nestyield.model.facts import SawApart
from nestyield.paperwork import glue_sheet
from nestyield.paperwork.canvas import Text

LONG = Piece(
    name="L-1",
    species="sugar maple",
    thickness_mm=44.5,
    moisture_pct=8.0,
    shape=Shape(outer=Outline.rectangle(0, 0, 1003.2, 110)),
)
WIDE = replace(LONG, shape=Shape(outer=Outline.rectangle(0, 0, 500, 223.2)))


def halves(piece, first, second, shift):
    """A blank of two parts of one piece, the second lying so that 1 mm of each is jointed off at y = 109."""
    members = (
        Member(piece="L-1", copy=1, cut=first),
        Member(piece="L-1", copy=1, cut=second, x_um=shift[0], y_um=shift[1]),
    )
    blank = Blank(
        name="glue-up 1",
        members=members,
        species="sugar maple",
        thickness_mm=44.5,
        shape=Shape(outer=Outline.rectangle(0, 0, 500, 218)),
        grain_deg=0.0,
        seams=(Seam(name="seam 1", line_mm=((0.0, 109.0), (500.0, 109.0))),),
    )
    return boards.plan(blank=blank, pieces=(piece,))


def crosscut():
    first = Shape(outer=Outline.rectangle(0, 0, 500, 110))
    second = Shape(outer=Outline.rectangle(503.2, 0, 1003.2, 110))
    return halves(LONG, first, second, (-503_200, 108_000))


def ripped():
    first = Shape(outer=Outline.rectangle(0, 0, 500, 110))
    second = Shape(outer=Outline.rectangle(0, 113.2, 500, 223.2))
    return halves(WIDE, first, second, (0, -5_200))


def test_crosscut():
    """Two halves of one long board, 3.2 mm apart: cut across at 501.6, A towards the corner."""
    (cut,) = crosscut().layouts[0].glueup.cuts
    assert (cut.before, cut.after, cut.across) == ("A", "B", True)
    assert cut.line_mm == (pytest.approx((501.6, 0)), pytest.approx((501.6, 110))) or cut.line_mm == (
        pytest.approx((501.6, 110)),
        pytest.approx((501.6, 0)),
    )
    assert cut.kerf_mm == pytest.approx(3.2)


def test_ripped():
    """Two strips of one wide board: cut along at 111.6 of its width."""
    (cut,) = ripped().layouts[0].glueup.cuts
    assert (cut.before, cut.after, cut.across) == ("A", "B", False)
    assert {round(y, 3) for _, y in cut.line_mm} == {111.6}


@pytest.mark.parametrize("make", [crosscut, ripped])
def test_the_parts_are_measured_from_their_own_corner(make):
    """Lines, losses and corners are those of what was sawn, and the audit finds the same."""
    plan = make()
    a, b = plan.layouts[0].glueup.members
    assert b.edges[0].on_piece_mm == (pytest.approx((0, 1), abs=1e-3), pytest.approx((500, 1), abs=1e-3))
    assert (a.loses_mm2, b.loses_mm2) == (pytest.approx(500, abs=1), pytest.approx(500, abs=1))
    assert b.corner_mm == pytest.approx((0, 108))
    sheet = CheckedSheet(plan)
    check_glueups(CheckedBlank(sheet, plan.layouts[0]))
    assert sheet.findings == []


def test_steps_and_sheet():
    """The first saw cut is the first step, and is drawn in a picture of its own."""
    plan = crosscut()
    assert plan.layouts[0].glueup.steps[0] == SawApart(
        way="crosscut",
        piece="L-1",
        length_um=1_003_200,
        width_um=110_000,
        at_um=501_600,
        kerf_um=3200,
        before="A",
        after="B",
    )
    pages = glue_sheet.glue_sheet(plan, plan.layouts[0], "a4")
    said = [t.text for page in pages for t in page.items if isinstance(t, Text)]
    assert "part of L-1" in said
    whole = " ".join(said)
    assert "Saw L-1 (1003.2 × 110 mm, picture 3) across the grain." in whole
    assert "The middle of the kerf is at 501.6 mm from corner 0" in whole
    assert "the kerf is 3.2 mm. A is the part towards corner 0, B the part beyond." in whole
    assert any(t.startswith("Picture 3: sawn apart first") for t in said)


def test_grain_the_other_way_round():
    """With the grain noted as 180 degrees the first part is still the one towards the corner."""
    piece = replace(LONG, grain_deg=180.0)
    first = Shape(outer=Outline.rectangle(0, 0, 500, 110))
    second = Shape(outer=Outline.rectangle(503.2, 0, 1003.2, 110))
    (cut,) = halves(piece, first, second, (-503_200, 108_000)).layouts[0].glueup.cuts
    assert (cut.before, cut.after) == ("A", "B")


def test_whole_pieces_are_not_sawn_apart():
    """Members of whole pieces have no such cut."""
    assert boards.layout().glueup.cuts == ()


@pytest.mark.parametrize("make", [crosscut, ripped])
@pytest.mark.parametrize(
    "fault",
    [
        {"line_mm": ((500.0, 50.0), (501.0, 60.0))},
        {"before": "B", "after": "A"},
        {"copy": 2},
        {"piece": "K-1"},
        {"kerf_mm": 3.0},
    ],
    ids=["line", "sides", "copy", "piece", "kerf"],
)
def test_the_audit_measures_the_cut(make, fault):
    """A cut that is told elsewhere, too narrow, or of another piece is found."""
    plan = make()
    told = plan.layouts[0].glueup
    told = replace(told, cuts=(replace(told.cuts[0], **fault),))
    layout = replace(plan.layouts[0], glueup=told)
    sheet = CheckedSheet(replace(plan, layouts=(layout,)))
    check_glueups(CheckedBlank(sheet, layout))
    assert "A119" in {f.code for f in sheet.findings}
