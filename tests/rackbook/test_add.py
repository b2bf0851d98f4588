"""New pieces in the rack: its own headings, units and decimal mark, whole or not at all."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
import shapely

from nestyield.geometry.shape import to_shapely
from nestyield.intake.shop import read_shop
from nestyield.model import Outline, Shape
from nestyield.rackbook.add import AddedPiece, add_pieces
from nestyield.rackbook.errors import RackbookError
from nestyield.rackbook.undo import undo

SHOP = """\
[shop]
units = "mm"
rack = "rack.csv"
{more}
[cutter]
diameter = 6
[bed.bench]
travel_x = 900
travel_y = 600
[part.plate]
drawing = "plate.dxf"
thickness = 12
[part.plate.layers]
EDGE = "outline"
[[order]]
part = "plate"
"""
CORNERS = [(0.0, 0.0), (203.2, 0.0), (203.2, 101.6), (0.0, 127.0)]
RING = [(50.8, 50.8), (76.2, 50.8), (76.2, 63.5)]


def piece(name: str = "W-7", **more) -> AddedPiece:
    shape = Shape(outer=Outline.polygon(CORNERS))
    given = {"name": name, "species": "cherry", "thickness_mm": 19.05, "shape": shape, "grain_deg": 2.5}
    return AddedPiece(**given | more)


@pytest.fixture
def shop(tmp_path: Path):
    import ezdxf

    def make(rack: str, more: str = "", defects: str = "") -> Path:
        drawing = ezdxf.new(units=4)
        drawing.modelspace().add_lwpolyline(
            [(0, 0), (90, 0), (90, 60), (0, 60)], close=True, dxfattribs={"layer": "EDGE"}
        )
        drawing.saveas(tmp_path / "plate.dxf")
        (tmp_path / "shop.toml").write_text(SHOP.format(more=more))
        (tmp_path / "rack.csv").write_bytes(rack.encode())
        if defects:
            (tmp_path / "defects.csv").write_bytes(defects.encode())
        return tmp_path

    return make


INCHES = "\ufeffnote;piece;thickness_in;species;outline_in;grain;status;color\r\n"
COMMAS = "piece;species;thickness;length;width;outline;grain;price\r\nA;cherry;22,5;400,5;200;;0;3,50\r\n"


def test_rows_stand_under_the_headings_of_the_rack(shop) -> None:
    """Columns in the rack's order, inches where it says so, its separators, line ends and byte order mark."""
    folder = shop(INCHES + 'mine;A;1 3/4;cherry;"POLYGON ((0 0, 8 0, 8 4, 0 4, 0 0))";0;ready;red\r\n')
    before = (folder / "rack.csv").read_bytes()
    entry = add_pieces(folder, [piece(note="by picture")])
    after = (folder / "rack.csv").read_bytes()
    assert after.startswith(before)
    assert after.endswith(b"\r\n")
    row = list(csv.DictReader(after.decode("utf-8-sig").splitlines(), delimiter=";"))[-1]
    assert (row["piece"], row["note"], row["thickness_in"], row["color"]) == ("W-7", "by picture", "0.75", "")
    assert shapely.from_wkt(row["outline_in"]).equals(
        shapely.Polygon([(x / 25.4, y / 25.4) for x, y in CORNERS])
    )
    read, findings = read_shop(folder)
    assert read is not None, findings
    new = read.piece("W-7")
    assert new.thickness_mm == pytest.approx(19.05)
    assert new.grain_deg == 2.5
    assert to_shapely(new.shape).area == pytest.approx(shapely.Polygon(CORNERS).area, rel=1e-6)
    assert undo(folder).entry == entry.entry
    assert (folder / "rack.csv").read_bytes() == before


def test_decimal_commas_stay_commas(shop) -> None:
    """In a shop of decimal commas new cells have them as well; outlines, whose commas part points, have points."""
    folder = shop(COMMAS, 'decimal = "comma"')
    add_pieces(folder, [piece()])
    row = (folder / "rack.csv").read_text().splitlines()[-1].split(";")
    assert row[2] == "19,05"
    assert row[6] == "2,5"
    assert "203.2 101.6" in row[5]
    read, _ = read_shop(folder)
    assert read is not None
    assert read.piece("W-7").thickness_mm == pytest.approx(19.05)


def test_defects_go_with_it_or_nothing_does(shop) -> None:
    """A piece with a flaw needs a defect table: with it both files change, without it none does."""
    flawed = piece(defects=(("knot", Shape(outer=Outline.polygon(RING))),))
    folder = shop(COMMAS, 'decimal = "comma"')
    before = (folder / "rack.csv").read_bytes()
    with pytest.raises(RackbookError, match="no defect table"):
        add_pieces(folder, [flawed])
    assert (folder / "rack.csv").read_bytes() == before
    folder = shop(COMMAS, 'decimal = "comma"\ndefects = "defects.csv"', "kind,piece,face,x,y,diameter\n")
    add_pieces(folder, [flawed])
    read, findings = read_shop(folder)
    assert read is not None, findings
    (defect,) = read.piece("W-7").defects
    assert defect.kind == "knot"
    assert to_shapely(defect.shape).area == pytest.approx(shapely.Polygon(RING).area, rel=1e-6)


def test_a_name_in_use_is_refused(shop) -> None:
    """A piece that the rack has already is never written over, nor are the others beside it added."""
    folder = shop(COMMAS, 'decimal = "comma"')
    before = (folder / "rack.csv").read_bytes()
    with pytest.raises(RackbookError, match="'A' is in the rack already"):
        add_pieces(folder, [piece(), piece("A")])
    assert (folder / "rack.csv").read_bytes() == before


def test_a_piece_whose_grain_is_not_known_is_on_hold(shop) -> None:
    """A row without grain is not planned: a column for its status is made where there is none."""
    folder = shop(COMMAS, 'decimal = "comma"')
    add_pieces(folder, [piece(grain_deg=None)])
    read, _ = read_shop(folder)
    assert read is not None
    assert read.piece("W-7").status == "hold"
