"""The command for a repair: its words, its data, its picture and its sheet."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import ezdxf
import pytest

from nestyield.cli import main

SHOP = """
[shop]
name = "Mend"
units = "mm"
rack = "rack.csv"
[cutter]
diameter = 6
[bed.bench]
travel_x = 900
travel_y = 600
travel_z = 90
[part.plank]
drawing = "plank.dxf"
thickness = 20
[part.plank.layers]
EDGE = "outline"
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (200, 0), (200, 100), (0, 100)], close=True, dxfattribs={"layer": "EDGE"}
    )
    drawing.saveas(folder / "plank.dxf")
    (folder / "shop.toml").write_text(SHOP)
    (folder / "rack.csv").write_text(
        "piece,species,thickness,length,width\nbig,limba,23,700,200\nleft-1,limba,23,230,30\n"
    )
    return folder


def test_words_and_data(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A strip of 200 x 9 = 18 cm2; the leftover is told before the board that is worth more."""
    ask = ["patch", str(shop), "--part", "plank", "--damage", "100,4 20x8"]
    assert main(ask) == 0
    said = capsys.readouterr().out.replace("\u00a0", " ")
    assert "9 mm from below" in said
    assert "it takes off 18 cm², 200 × 9 mm and 20 mm thick" in said
    assert said.index("patch from left-1") < said.index("patch from big")
    assert main([*ask, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["cut"]["area_mm2"] == pytest.approx(1800, abs=0.5)
    assert [m["pieces"] for m in data["wood"]] == [["left-1"], ["big"]]
    (shop / "rack.csv").write_text("piece,species,thickness,length,width\nsmall,limba,23,100,30\n")
    assert main(ask) == 1
    assert "no piece gives the patch" in capsys.readouterr().out
    assert main(["patch", str(shop), "--part", "plank", "--damage", "100,50 8"]) == 1
    assert "no straight cut takes the damage off" in capsys.readouterr().out


def test_picture_and_sheet(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The figure is an SVG; the sheet a PDF of one page with the cut's ends and the piece."""
    ask = ["patch", str(shop), "--part", "plank", "--damage", "100,4 20x8", "--picture"]
    assert main([*ask, str(tmp_path / "cut.txt")]) == 2
    assert main([*ask, str(tmp_path / "cut.svg")]) == 0
    assert "<svg" in (tmp_path / "cut.svg").read_text(encoding="utf-8")
    assert main([*ask, str(tmp_path / "cut.pdf")]) == 0
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed; the sheet was not read")
    text = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "cut.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout
    assert text.count("\f") == 1
    assert "Patch from: left-1" in text
    assert "Saw the patch from piece left-1" in text
    rows = [line.split() for line in text.splitlines() if line.split()[:1] in (["A"], ["B"])]
    assert sorted(r[1:] for r in rows if len(r) == 3) == [["0.0", "9.0"], ["200.0", "9.0"]]
