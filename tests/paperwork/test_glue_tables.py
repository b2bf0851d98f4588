"""The tables of a glue-up: on the sheet, for a spreadsheet, and splines in the drawings."""

import csv
import dataclasses
import importlib.util
import io
import sys
import xml.etree.ElementTree
from pathlib import Path

import ezdxf
import pytest

from nestyield.model import GlueUpRules, MachineLimits
from nestyield.paperwork import dxf, glue_sheet, glue_tables, pdf, svg
from nestyield.paperwork.canvas import Text
from nestyield.paperwork.write import render_all

_PATH = Path(__file__).parents[1] / "glueup" / "boards.py"
_SPEC = importlib.util.spec_from_file_location("boards", _PATH)
boards = importlib.util.module_from_spec(_SPEC)
sys.modules.setdefault("boards", boards)
_SPEC.loader.exec_module(boards)


def rows(plan):
    text = glue_tables.csv_rows(plan).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def said(plan, paper="a4"):
    pages = glue_sheet.glue_sheet(plan, plan.layouts[-1], paper)
    return [t.text for page in pages for t in page.items if isinstance(t, Text)]


def test_one_row_an_edge():
    """The spreadsheet has a row a jointed edge with the figures worked by hand."""
    a, b = rows(boards.plan())
    assert (a["letter"], a["piece"], a["edge"], a["face_up"], a["end_for_end"]) == (
        "A",
        "K-1",
        "upper",
        "top",
        "no",
    )
    assert (a["off_left_mm"], a["off_right_mm"], a["mark_from_left_end_mm"]) == ("5", "5", "265")
    assert (a["strip_length_mm"], a["strip_width_mm"], a["keep_strip"]) == ("500", "1", "no")
    assert (b["end_for_end"], b["planed_to_mm"], b["planed_from_face"]) == ("yes", "44.5", "down")
    line = [b[f"line_{end}_{to}_mm"] for end in ("left", "right") for to in ("along", "across")]
    assert line == ["480", "117", "0", "117"]
    assert b["strip_length_mm"] == ""


def test_inches_and_names_that_could_run():
    """Inches have their fractions with the whole inch before them; a name cannot run as a formula."""
    pieces = (dataclasses.replace(boards.A, shelf="=1+1"), boards.B)
    a, _ = rows(boards.plan(units="in", pieces=pieces))
    assert a["off_left_in"] == "0 13/64"
    assert a["shelf"] == "'=1+1"


def test_only_where_something_is_glued(plan):
    """The table is written when there is a glue-up, and only then."""
    assert "glueups.csv" in render_all(boards.plan())
    assert "glueups.csv" not in render_all(plan)


@pytest.mark.parametrize("kind", ["spline", "dowel"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_drawing_has_them_on_a_layer_of_their_own(kind, units):
    """Splines and dowels stand in the DXF on SPLINE or DOWEL, where the plan says, in the shop's unit."""
    plan = boards.plan(units=units, glueup=GlueUpRules(reinforce=kind))
    layout = plan.layouts[0]
    read = ezdxf.read(io.StringIO(dxf.drawing(plan, layout).decode("utf-8")))
    drawn = read.modelspace().query(f'LWPOLYLINE[layer=="{kind.upper()}"]')
    assert len(drawn) == len(layout.glueup.keys) > 0
    scale = 1.0 if units == "mm" else 1 / 25.4
    for entity, key in zip(drawn, layout.glueup.keys):
        assert entity.closed
        for (x, y, *_), (a, b) in zip(entity.get_points(), key.outline.points_mm):
            assert (x, y) == pytest.approx((a * scale, b * scale), abs=1e-6)
    assert not read.audit().has_errors


def test_splines_told_from_the_mark():
    """A spline from 72 to 448 with the mark at 265: 193 left to 183 right."""
    told = said(boards.plan(glueup=GlueUpRules(reinforce="spline")))
    assert "193.0 left to 183.0 right" in told
    assert "376.0" in told


def test_pressure_in_the_shops_unit():
    """200 and 300 psi of 6895 Pa are 1.4 and 2.1 MPa; an inch shop reads psi."""
    assert "1.4 MPa to 2.1 MPa" in " ".join(said(boards.plan()))
    assert "200 psi to 300 psi" in " ".join(said(boards.plan(units="in")))


def test_slide_and_kind_of_joint():
    """The slide is told with its direction, and the kind of joint with its source."""
    told = " ".join(said(boards.plan()))
    assert "B 30.0 right of A" in told
    assert "long grain, nearly as strong as the wood (GTR-190 ch. 10)" in told


def test_a_piece_that_must_not_be_planed():
    """Where the planer takes no piece so short, the table does not ask for it."""
    told = said(boards.plan(machines=MachineLimits(planer_rollers_mm=440.0)))
    assert "no: see order of work" in told


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_nothing_in_the_other_unit(paper, units):
    """A sheet reads in the shop's unit throughout."""
    text = " ".join(said(boards.plan(units=units, glueup=GlueUpRules(reinforce="dowel")), paper))
    for word in ("mm", "kN") if units == "in" else ("in.", "lbf", "inch"):
        assert f" {word} " not in text


def test_a_piece_that_lies_askew_is_starred():
    """Pieces that are measured as they lie carry a star that is explained."""
    odd = dataclasses.replace(
        boards.A,
        shape=dataclasses.replace(
            boards.A.shape,
            outer=boards.A.shape.outer.polygon([(60, 0), (500, 0), (500, 100), (0, 100), (0, 60)]),
        ),
    )
    told = said(boards.plan(pieces=(odd, boards.B)))
    assert "A*" in told
    assert any(t.startswith("* Lies askew") for t in told)
    assert not any("*" in t for t in said(boards.plan()))


def test_names_that_could_do_harm(nasty):
    """Names of pieces, shelves, parts and zones do no harm on sheets and in the table, and bytes repeat."""
    piece = dataclasses.replace(boards.A, name=nasty, shelf=nasty, species=nasty)
    members = (dataclasses.replace(boards.MEMBERS[0], piece=nasty), boards.MEMBERS[1])
    plan = boards.plan(
        boards.pocket(nasty, (150, 50, 200, 110), 36.0),
        blank=dataclasses.replace(boards.BLANK, members=members, name=nasty, species=nasty),
        pieces=(piece, boards.B),
        part=dataclasses.replace(boards.PART, name=nasty),
        at=dataclasses.replace(boards.AT, part=nasty),
        glueup=GlueUpRules(reinforce="dowel"),
    )
    layout = plan.layouts[0]
    pages = glue_sheet.glue_sheet(plan, layout, "letter")
    drawn = [svg.document(page) for page in pages]
    for page in drawn:
        assert xml.etree.ElementTree.fromstring(page).tag.endswith("svg")
        assert "<script" not in page
    assert pdf.document(pages, "t", "s") == pdf.document(pages, "t", "s")
    assert not any(
        value.startswith(("=", "+", "-", "@", "\t", "\r")) for row in rows(plan) for value in row.values()
    )
    assert not ezdxf.read(io.StringIO(dxf.drawing(plan, layout).decode("utf-8"))).audit().has_errors


def test_clamps_that_slip_are_named():
    """Places where a clamp finds no straight edge stand on the sheet in the shop's unit."""
    plan = boards.plan(units="in")
    told = plan.layouts[0].glueup
    told = dataclasses.replace(
        told, clamps=dataclasses.replace(told.clamps, slips_mm=(told.clamps.at_mm[0],))
    )
    plan = dataclasses.replace(plan, layouts=(dataclasses.replace(plan.layouts[0], glueup=told),))
    whole = " ".join(said(plan))
    # 74.45 mm are 2 59.6/64 in
    assert "At 2 15/16 in an edge of the blank runs at more than 15° to the seam" in whole
    assert "a clamp slips there" not in " ".join(said(boards.plan(units="in")))
