from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.audit.blanks import check_blank, check_stock
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import (
    Blank,
    Defect,
    Layout,
    Member,
    Outline,
    Part,
    Piece,
    Placement,
    Plan,
    Seam,
    Settings,
    Shape,
    Shop,
)

BOARD = Shape(outer=Outline.rectangle(0, 0, 500, 100))
KNOT = Defect(
    name="defects.csv row 2",
    kind="knot",
    shape=Shape(outer=Outline.circle(60, 30, 8)),
    face="top",
    depth_mm=9.0,
)

PLATE = Part(
    name="plate",
    drawing="",
    thickness_mm=40.0,
    outline=Outline.rectangle(0, 0, 300, 120),
    species=("sugar maple",),
)
OVER_THE_SEAM = Placement(
    part="plate", order="o", copy=1, angle_deg=0.0, mirrored=False, x_um=100_000, y_um=40_000
)


def codes(
    *,
    shift_mm: float = 98.4,
    seam_mm: float = 99.2,
    mirrored: bool = False,
    defects: tuple[Defect, ...] = (),
    placements: tuple[Placement, ...] = (),
    **more,
) -> list[str]:
    """Two boards glued edge to edge, jointed 0.8 mm each, the second with a knot."""
    pieces = (
        Piece(name="A", species="sugar maple", thickness_mm=44.0, shape=BOARD),
        Piece(name="B", species="sugar maple", thickness_mm=44.0, shape=BOARD, defects=(KNOT,)),
    )
    # mirrored in x (bottom face up) the second runs from 500 back to 0
    second = Member(
        piece="B",
        copy=1,
        mirrored=mirrored,
        x_um=500_000 if mirrored else 0,
        y_um=round(shift_mm * 1000),
    )
    blank = Blank(
        name="glue-up 1",
        members=(Member(piece="A", copy=1), second),
        species="sugar maple",
        thickness_mm=44.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 500, 198.4)),
        grain_deg=0.0,
        defects=defects,
        seams=(Seam(name="seam 1", line_mm=((0.0, seam_mm), (500.0, seam_mm))),),
    )
    blank = replace(blank, **more)
    layout = Layout(
        blank=blank,
        placements=placements,
        setups=(),
        chosen=None,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    shop = Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0),
        beds=(),
        parts=(PLATE,),
        pieces=pieces,
        orders=(),
    )
    sheet = CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=()))
    check_stock(sheet)
    check_blank(CheckedBlank(sheet, layout))
    return [f.code for f in sheet.findings]


def knot_at(x: float, y: float, face: str = "top") -> Defect:
    return replace(KNOT, shape=Shape(outer=Outline.circle(x, y, 8)), face=face)


def test_sound_glue_up():
    """Boards that overlap by both jointing allowances and carry the knot along are sound."""
    assert codes(defects=(knot_at(60, 128.4),)) == []


def test_gap_and_overlap():
    """A gap between the boards and an overlap beyond the jointing are found."""
    assert "A109" in codes(shift_mm=100.1, defects=(knot_at(60, 130.1),))
    assert codes(shift_mm=98.3, defects=(knot_at(60, 128.3),)) == ["A109", "A113"]


def test_ripped_pieces():
    """A piece may overlap its neighbor by as much as is ripped off it, and reaches past the seam either way."""
    knot = (knot_at(60, 100.0),)
    assert (
        codes(shift_mm=70, defects=knot, shape=Shape(outer=Outline.rectangle(0, 0, 500, 170)), seam_mm=85)
        == []
    )
    assert codes(
        shift_mm=70,
        defects=knot,
        shape=Shape(outer=Outline.rectangle(0, 0, 500, 170)),
        seam_mm=85,
        placements=(OVER_THE_SEAM,),
    ) == []  # fmt: skip


def test_contact_under_parts():
    """A seam too near an edge lacks the jointing allowance, beyond the edge it is a gap, too short it is told."""
    knot = (knot_at(60, 128.4),)
    over = (OVER_THE_SEAM,)
    assert codes(defects=knot, placements=over) == []
    assert codes(defects=knot, placements=over, seam_mm=99.4) == ["A115"]
    assert "A113" in codes(defects=knot, placements=over, seam_mm=100.2)
    short = (Seam(name="seam 1", line_mm=((0.0, 99.2), (300.0, 99.2))),)
    assert codes(defects=knot, placements=over, seams=short) == ["A113"]
    assert codes(defects=knot, seams=()) == ["A113"]


def test_knots_come_along():
    """A member's knot must be in the blank, where the member lies, on the face that comes up."""
    assert codes() == ["A111"]
    assert codes(defects=(knot_at(61, 128.4),)) == ["A111"]
    assert codes(mirrored=True, defects=(knot_at(440, 128.4, "bottom"),)) == []
    assert codes(mirrored=True, defects=(knot_at(440, 128.4, "top"),)) == ["A111"]


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"thickness_mm": 45.0}, "A110"),
        ({"members": (Member(piece="A", copy=1), Member(piece="A", copy=1, y_um=98_400))}, "A102"),
        ({"members": (Member(piece="A", copy=1), Member(piece="C", copy=1, y_um=98_400))}, "A101"),
    ],
)
def test_glue_up_of_what_is_not_there(more, code):
    """A blank thicker than its boards, of one board twice, or of a board that is not there is found."""
    assert code in codes(defects=(knot_at(60, 128.4),), **more)
