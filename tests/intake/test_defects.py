"""The defect table."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from nestyield.intake.defects import DefectRow, read_defects
from nestyield.intake.problems import Problems
from nestyield.intake.rack import Rack
from nestyield.intake.sampling import sampled
from nestyield.model import Finding, Outline, Piece, Shape

Read = Callable[..., tuple[list[DefectRow], list[Finding]]]
RACK = Rack(
    pieces=(
        Piece(
            name="M1",
            species="sugar maple",
            thickness_mm=44.5,
            shape=Shape(outer=Outline.rectangle(0, 0, 500, 300), holes=(Outline.circle(250, 150, 40),)),
        ),
    ),
    names=frozenset({"M1", "M2"}),
)


@pytest.fixture
def read() -> Read:
    def run(text: str, units: str = "mm", rack: Rack = RACK) -> tuple[list[DefectRow], list[Finding]]:
        problems = Problems()
        return read_defects(text.encode(), "defects.csv", units, rack, problems), problems.findings

    return run


def test_round_defect(read: Read) -> None:
    """x, y is the middle, diameter the size."""
    rows, findings = read("piece,kind,x,y,diameter,face,depth\nM1,Screw Hole,40,60,5,bottom,30\n")
    assert findings == []
    (row,) = rows
    assert row.piece == "M1"
    assert (row.defect.kind, row.defect.face, row.defect.depth_mm) == ("screw hole", "bottom", 30)
    assert row.defect.name == "defects.csv row 2"
    assert sampled(row.defect.shape.outer).bounds == pytest.approx((37.5, 57.5, 42.5, 62.5), abs=2e-3)


def test_turned_defect(read: Read) -> None:
    """Length and width lie about the middle, turned counter-clockwise."""
    rows, _ = read("piece,kind,x,y,length,width,angle\nM1,check,100,100,60,4,90\nM1,split,100,100,60,4,30\n")
    upright, slanted = (sampled(r.defect.shape.outer) for r in rows)
    assert upright.bounds == pytest.approx((98, 70, 102, 130))
    assert slanted.area == pytest.approx(240)
    reach = 30 * math.cos(math.pi / 6) + 2 * math.sin(math.pi / 6)
    assert slanted.bounds[2] == pytest.approx(100 + reach)


def test_outline_and_units(read: Read) -> None:
    """An outline as well-known text; columns in inches."""
    rows, _ = read('piece,kind,outline_in\nM1,bark,"POLYGON ((0 0, 4 0, 4 1, 0 1))"\n')
    assert rows[0].defect.shape.area_mm2 == pytest.approx(4 * 25.4**2)
    rows, _ = read("piece,kind,x_in,y_in,diameter_in\nM1,knot,2,2,1 1/8\n")
    assert rows[0].defect.shape.area_mm2 == pytest.approx(math.pi * (1.125 * 25.4 / 2) ** 2)


@pytest.mark.parametrize("word", ["knots", "Knot", "KNOTS"])
def test_kinds_whatever_the_spelling(word: str, read: Read) -> None:
    """Plural and capitals do not matter."""
    assert read(f"piece,kind,x,y,diameter\nM1,{word},9,9,3\n")[0][0].defect.kind == "knot"
    assert read("piece,kind,x,y,diameter\nM1,nail_holes,9,9,3\n")[0][0].defect.kind == "nail hole"
    assert read("piece,kind,x,y,diameter\nM1,loose-knot,9,9,3\n")[0][0].defect.kind == "loose knot"


@pytest.mark.parametrize(
    ("row", "code", "told"),
    [
        ("M1,knot,40,60,5,,,,,,", None, ""),
        ("M3,knot,40,60,5,,,,,,", "F006", "'M3'"),
        ("M2,knot,4000,60,5,,,,,,", None, ""),  # M2 has errors of its own: its shape is not known
        ("M1,knot,-40,60,5,,,,,,", "F009", "the knot lies outside M1 (500 × 300 mm)"),
        ("M1,knot,250,150,5,,,,,,", "F009", "the knot lies outside M1 (500 × 300 mm)"),  # in the hole
        ("M1,knot,0,0,5,,,,,,", None, ""),  # at the corner
        ("M1,knot,40,60,,,,,,,", "F007", "has no size"),
        ("M1,knot,40,60,5,4,4,,,,", "F007", "keep one"),
        ("M1,knot,40,60,,4,,,,,", "F005", "width"),
        ("M1,knot,,60,5,,,,,,", "F005", "column x"),
        ("M1,knot,40,60,-5,,,,,,", "F005", "write the true"),
        ("M1,knot,40,60,5,,,,,upside,", "F005", "'upside'"),
        ("M1,knot,40,60,5,,,,,,12", "F005", "one face"),
        ("M1,knot,40,60,5,,,,,top,0", "F005", "write the true"),
        ("M1,knot,40,60,5,,,400,,,", "F005", "angle"),
        ('M1,knot,40,60,5,,,,"POLYGON ((0 0, 4 0, 4 1))",,', "F007", "keep one"),
        ('M1,knot,,,,,,,"POLYGON ((0 0, 4 4, 4 0, 0 4))",,', "F008", "cross"),
        ("M1,gnarl,40,60,5,,,,,,", "F005", "known kinds are"),
        ("M1,,40,60,5,,,,,,", "F005", "kind"),
        ("M1,knot,nan,60,5,,,,,,", "F005", "column x"),
        ("M1,knot,40,60,5,,,,,,,9", "F004", "has 12 cells, the header 11"),
    ],
)
def test_rows(row: str, code: str | None, told: str, read: Read) -> None:
    """Each wrong row is one error that names row, column and rule."""
    _, findings = read(f"piece,kind,x,y,diameter,length,width,angle,outline,face,depth\n{row}\n")
    assert [f.code for f in findings] == ([code] if code else [])
    if code:
        assert "row 2" in findings[0].where
        assert told in str(findings[0])


def test_depth_beyond_the_thickness_is_a_warning(read: Read) -> None:
    """A screw hole deeper than the piece goes right through; a person should look."""
    rows, findings = read("piece,kind,x,y,diameter,face,depth\nM1,screw hole,40,60,5,top,60\n")
    assert len(rows) == 1
    assert [(f.code, f.severity) for f in findings] == [("F009", "warning")]


def test_unread_rack_gives_no_flood(read: Read) -> None:
    """When the rack could not be read, defects are not told as belonging to nothing."""
    _, findings = read("piece,kind,x,y,diameter\nM1,knot,9,9,3\n", rack=Rack())
    assert findings == []
