"""What two strangers stumbled on, who wrote shops from the README alone."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

from nestyield.api import check_shop, plan, take, write_plan
from nestyield.cli import main
from nestyield.starter import starter_files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shop = tmp_path / "shop"
    shop.mkdir()
    for name, data in starter_files("mm").items():
        (shop / name).write_bytes(data)
    return shop


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_decimal_commas(folder: Path) -> None:
    """With decimal = "comma" tables may write 44,5; points and fractions are read as well, two commas never."""
    rows = "piece;species;thickness;length;width;moisture\nA;ash;44,5;600.5;1 3/4 in;7,5\n"
    (folder / "rack.csv").write_text(rows)
    (folder / "defects.csv").write_text("piece;kind;x;y;diameter\nA;knot;100,25;20;5,5\n")
    assert check_shop(folder)[0] is None
    change(folder / "shop.toml", "[shop]\n", '[shop]\ndecimal = "comma"\n')
    shop, _ = check_shop(folder)
    assert shop is not None
    piece = shop.piece("A")
    assert (piece.thickness_mm, piece.moisture_pct) == (44.5, 7.5)
    assert piece.shape.area_mm2 == pytest.approx(600.5 * 44.45)
    (x0, _), (x1, _) = piece.defects[0].shape.outer.points_mm
    assert ((x0 + x1) / 2, x1 - x0) == pytest.approx((100.25, 5.5))
    (folder / "rack.csv").write_text(rows.replace("600.5", "1,600,5"))
    assert check_shop(folder)[0] is None


def test_a_part_by_its_size(folder: Path) -> None:
    """A part with length and width is told that its drawing has its size."""
    change(folder / "shop.toml", "thickness = 38 ", "length = 700\nthickness = 38 ")
    _, findings = check_shop(folder)
    (told,) = [f for f in findings if f.severity == "error"]
    assert "a part has no length: its drawing has its size" in told.message


def test_square_corners_of_pockets(folder: Path) -> None:
    """A pocket with square corners is noted with the radius that the cutter leaves; a round one is not."""
    for square in (True, False):
        doc = ezdxf.new(units=4)
        space = doc.modelspace()
        space.add_lwpolyline(
            [(0, 0), (300, 0), (300, 150), (0, 150)], close=True, dxfattribs={"layer": "OUTLINE"}
        )
        if square:
            corners = [(50, 50), (100, 50), (100, 90), (50, 90)]
            space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "PICKUP"})
        else:
            space.add_circle((100, 75), 30, dxfattribs={"layer": "PICKUP"})
        for layer, at in (("POSTS", (200, 75)), ("CENTER", (150, 75))):
            if layer == "POSTS":
                space.add_circle(at, 5, dxfattribs={"layer": layer})
            else:
                space.add_line((10, 75), (290, 75), dxfattribs={"layer": layer})
        doc.saveas(folder / "lap-steel.dxf")
        _, findings = check_shop(folder)
        told = [f for f in findings if "sharper than the cutter" in f.message]
        assert bool(told) == square
        if square:
            assert "PICKUP of lap steel" in told[0].message
            assert "round by 3 mm" in told[0].message
            assert told[0].severity == "note"


def test_take_leaves_cells_as_they_are_written(folder: Path, tmp_path: Path) -> None:
    """Cells that take does not change keep their inch marks and quotes."""
    change(folder / "rack.csv", "B-1,A1,sugar maple,44.5,640,180,", 'B-1,"A1",sugar maple,1 3/4",640,180,')
    write_plan(plan(folder, workers=1), tmp_path / "plan")
    take(tmp_path / "plan", folder, ["B-1"])
    (row,) = [r for r in (folder / "rack.csv").read_text().splitlines() if r.startswith("B-1,")]
    assert row.startswith('B-1,"A1",sugar maple,1 3/4",640,180,')
    assert ",taken," in row


def test_a_changed_thickness_is_told_in_inches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """take in a shop in inches names the thickness before and after in inches."""
    shop = tmp_path / "shop"
    assert main(["new", str(shop), "--units", "in", "--quiet"]) == 0
    assert main(["plan", str(shop), "--out", str(tmp_path / "plan"), "--workers", "1", "--quiet"]) in (0, 1)
    change(shop / "rack.csv", "B-1,A1,sugar maple,1 3/4,", "B-1,A1,sugar maple,1 11/16,")
    capsys.readouterr()
    assert main(["take", str(tmp_path / "plan"), "--shop", str(shop), "--blank", "B-1"]) == 2
    told = capsys.readouterr().err.replace("\u00a0", " ").replace("\u202f", " ")
    assert "the thickness was changed from 1 3/4 in to 1 11/16 in" in told


def test_a_sheet_that_is_too_thick_names_the_setting(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """fit says how thick the sheet is, by how much that is too much, and which setting decides."""
    change(folder / "rack.csv", "S-1,sheets,MDF,12,", "S-1,sheets,MDF,12.2,")
    assert main(["fit", str(folder), "--part", "body template", "--piece", "S-1"]) == 1
    told = capsys.readouterr().out.replace("\u00a0", " ").replace("\u202f", " ")
    assert "12.2 mm thick, 0.05 mm more than the part and [allowance] thickness_tolerance" in told


def test_the_count_of_the_rack_says_where_to_ask_on(folder: Path, tmp_path: Path) -> None:
    """Where pieces have no place for a part of an order that is short, the report names the question that tells more."""
    narrow = "B-9,A1,sugar maple,44.5,640,100,,0,8,1,ready,,too narrow\n"
    with (folder / "rack.csv").open("a", encoding="utf-8") as file:
        file.write(narrow)
    change(folder / "shop.toml", "count = 2", "count = 9")
    out = tmp_path / "plan"
    assert main(["plan", str(folder), "--out", str(out), "--workers", "1", "--quiet"]) == 1
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "without a place for the part" in page
    assert "nestyield fit with --piece shows how near one of those is" in page
