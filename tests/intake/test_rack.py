"""The rack table."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from nestyield.intake.drawings import Drawings
from nestyield.intake.files import ShopFiles
from nestyield.intake.problems import Problems
from nestyield.intake.rack import Rack, read_rack
from nestyield.model import Finding, Piece

Read = Callable[..., tuple[Rack, list[Finding]]]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def run(text: str | bytes, units: str = "mm") -> tuple[Rack, list[Finding]]:
        problems = Problems()
        drawings = Drawings(files=ShopFiles(folder=tmp_path, problems=problems), chaining_mm=0.1)
        data = text.encode() if isinstance(text, str) else text
        return read_rack(data, "rack.csv", units, drawings, None), problems.findings

    return run


def one(read: Read, text: str | bytes, units: str = "mm") -> Piece:
    rack, findings = read(text, units)
    assert [str(f) for f in findings] == []
    (piece,) = rack.pieces
    return piece


def test_every_column(read: Read) -> None:
    """All columns arrive in the piece; unknown ones do not matter."""
    piece = one(
        read,
        "piece,shelf,species,thickness,length,width,grain,moisture,count,value,status,parent,note,seams,color\n"
        'M1,A2,sugar maple,44.5,500,300,2.5,7.5%,3,12.50,Hold,M0,tea room,"LINESTRING (0 95, 500 95)",warm\n',
    )
    assert (piece.shelf, piece.species, piece.thickness_mm) == ("A2", "sugar maple", 44.5)
    assert piece.shape.area_mm2 == 150_000
    assert (piece.grain_deg, piece.moisture_pct, piece.count, piece.value) == (2.5, 7.5, 3, 12.5)
    assert (piece.status, piece.parent, piece.note, piece.row) == ("hold", "M0", "tea room", 2)
    assert piece.seams[0].name == "seam 1"


def test_defaults(read: Read) -> None:
    """Empty cells mean the defaults that README gives."""
    piece = one(
        read, "piece,species,thickness,length,width,grain,count,status\nM1,sugar maple,40,500,300,,,\n"
    )
    assert (piece.grain_deg, piece.moisture_pct, piece.count, piece.value) == (0.0, None, 1, None)
    assert piece.status == "ready"
    assert piece.seams == ()


@pytest.mark.parametrize(
    ("header", "cells", "units"),
    [
        ("thickness_in,length_in,width_in", "1 3/4,20,12", "mm"),
        ("thickness,length,width", "1 3/4,20,12", "in"),
        ("thickness,length,width", '1 3/4",20 in,12″', "mm"),
        ("Thickness_MM,LENGTH_mm,Width_mm", "44.45,508,304.8", "in"),
        ("thickness (mm),length [mm],width mm", "44.45,508,304.8", "in"),
        ("thickness_cm,length_ft,width_in", "4.445,1 2/3,12", "in"),
    ],
)
def test_units_of_columns_and_cells(header: str, cells: str, units: str, read: Read) -> None:
    """A unit in the column's name, a cell's own unit and the shop's units all lead to the same piece."""
    piece = one(read, f"piece,species,{header}\nM1,sugar maple,{cells}\n", units)
    assert piece.thickness_mm == pytest.approx(44.45)
    assert piece.shape.area_mm2 == pytest.approx(508 * 304.8)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_spreadsheets_of_other_countries(delimiter: str, read: Read) -> None:
    """Semicolons, tabs, a byte order mark and CR LF are read; a decimal comma is told, not guessed."""
    text = "piece,species,thickness,length,width\r\nM1,sugar maple,44.5,500,300\r\n".replace(",", delimiter)
    assert one(read, b"\xef\xbb\xbf" + text.encode()).thickness_mm == 44.5
    _, findings = read(text.replace("44.5", "44,5"))
    (finding,) = findings
    assert finding.code == "R005"
    assert "write 44.5" in finding.message


def test_grain_none(read: Read) -> None:
    """A sheet without grain."""
    piece = one(read, "piece,species,thickness,length,width,grain\nF1,mdf,12,500,300,None\n")
    assert piece.grain_deg is None


def test_comments_and_empty_rows_are_skipped(read: Read) -> None:
    """Row numbers count lines of the file, comments and empty ones too."""
    piece = one(
        read, "# rack\npiece,species,thickness,length,width\n\n# top shelf\n,,,,\nM1,sugar maple,40,90,80\n"
    )
    assert piece.row == 6


def test_outline_in_inches_with_a_hole(read: Read) -> None:
    """A column outline_in is in inches, holes and all."""
    piece = one(
        read,
        "piece,species,thickness,outline_in\n"
        'M1,sugar maple,40,"POLYGON ((0 0, 20 0, 20 10, 0 10, 0 0), (5 5, 6 5, 6 6, 5 6, 5 5))"\n',
    )
    assert piece.shape.area_mm2 == pytest.approx(199 * 25.4**2)
    assert len(piece.shape.holes) == 1


def test_two_seams_are_numbered(read: Read) -> None:
    """Lines of a MULTILINESTRING are seam 1, seam 2."""
    piece = one(
        read,
        "piece,species,thickness,length,width,seams\n"
        'C1,black cherry,40,430,312,"MULTILINESTRING ((0 92, 430 92), (0 220, 430 220))"\n',
    )
    assert [s.name for s in piece.seams] == ["seam 1", "seam 2"]


def test_misspelt_column_is_told_and_kept(read: Read) -> None:
    """A column that looks like a known one is a warning; one of the maker's own is not."""
    _, findings = read(
        "piece,species,thickness,length,width,moisure,found at\nM1,sugar maple,40,90,80,7,attic\n"
    )
    (finding,) = findings
    assert (finding.code, finding.severity) == ("R003", "warning")
    assert "rename it moisture" in finding.message


def test_rows_with_errors_do_not_hide_others(read: Read) -> None:
    """Every wrong row is told, with its line, and good rows are read."""
    rack, findings = read(
        "piece,species,thickness,length,width\nA,sugar maple,x,90,80\nB,sugar maple,40,90,80\nC,,40,90,\n"
    )
    assert [p.name for p in rack.pieces] == ["B"]
    assert rack.names == frozenset("ABC")
    assert [(f.code, f.where) for f in findings] == [
        ("R005", "row 2, column thickness"),
        ("R005", "row 4, column species"),
        ("R007", "row 4, column width"),
    ]


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ("40,7000,300", "7000 mm long"),
        ("40,300,3", "3 mm wide"),
        ("400,600,500", "400 mm thick"),
        ("60,300,50", "60 mm thick but only 50 mm wide"),
    ],
)
def test_absurd_sizes_are_asked_about(cells: str, told: str, read: Read) -> None:
    """Sizes that hint at a wrong unit are warnings."""
    rack, findings = read(f"piece,species,thickness,length,width\nA,sugar maple,{cells}\n")
    assert len(rack.pieces) == 1
    (finding,) = findings
    assert (finding.code, finding.severity) == ("R010", "warning")
    assert told in finding.message


def test_name_of_a_copy_is_refused(read: Read) -> None:
    """M1/2 is the second of two M1, so no other piece may be called so."""
    header = "piece,species,thickness,length,width,count\n"
    rows = header + "M1/2,sugar maple,40,90,80,1\nM1,sugar maple,40,90,80,%d\n"
    assert read(rows % 1)[1] == []
    assert [f.code for f in read(rows % 2)[1]] == ["R006"]


def test_unreadable_rack_is_told_apart_from_an_empty_one(read: Read) -> None:
    """Names are None when the table could not be read, empty when it has no rows."""
    assert read("")[0].names is None
    assert read("piece,species,thickness,length,width\n")[0].names == frozenset()
