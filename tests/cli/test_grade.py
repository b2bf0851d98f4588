"""The command that grades the rack's boards."""

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from nestyield.cli import main

INCH_SHOP = Path(__file__).parents[2] / "fixtures" / "inch-shop"

RACK = """\
piece,species,thickness,length,width,grain,status
B-1,northern red oak,1,96,6,0,
B-2,northern red oak,1,96,8,0,hold
B-3,sugar maple,1,30,8,0,
B-4,sugar maple,1,96,8,0,taken
S-1,MDF,0.75,97,49,none,
"""
DEFECTS = """\
piece,kind,x,y,length,width,face,depth
B-2,knot,14.5,4,5,5,bottom,0.5
"""


@pytest.fixture
def shop(tmp_path):
    folder = tmp_path / "shop"
    shutil.copytree(INCH_SHOP, folder)
    (folder / "rack.csv").write_text(RACK)
    (folder / "defects.csv").write_text(DEFECTS)
    return folder


def test_table(shop, capsys):
    """The table has a line a board, why it is no better, unlike faces, and what is not modeled."""
    assert main(["grade", str(shop)]) == 0
    out = capsys.readouterr().out
    rows = {line.split()[0]: line for line in out.splitlines() if line.startswith("B-")}
    assert set(rows) == {"B-1", "B-2", "B-3"}
    assert "FAS" in rows["B-1"]
    assert "96 × 6 " in rows["B-1"]
    assert "No. 1 Common" in rows["B-2"]
    assert "B-3: No. 3A Common needs a board of at least 3 in × 4 ft." in out
    # a third of 5 in, rounded down to a 64th
    assert "B-2: FAS allows a knot of up to 1 21/32 in, a third of surface measure 5 in inches" in out
    assert "defects.csv row 2 is 5 in." in out
    assert " mm" not in out
    assert "B-2: top FAS, bottom No. 1 Common" in out
    assert "Not modeled" in out


def test_json_and_csv(shop, capsys):
    """JSON holds each cutting in millimeters, CSV one row a board."""
    assert main(["grade", str(shop), "--json", "--piece", "B-2"]) == 0
    (board,) = json.loads(capsys.readouterr().out)
    assert (board["piece"], board["grade"], board["surface_measure"]) == ("B-2", "No. 1 Common", 5)
    assert board["bottom"]["cuttings_mm"] == [pytest.approx([17 * 25.4, 0, 96 * 25.4, 8 * 25.4])]
    assert main(["grade", str(shop), "--csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert (rows[0]["length_in"], rows[0]["width_in"]) == ("96", "6")
    assert rows[2]["why_not_better"] == "No. 3A Common needs a board of at least 3 in × 4 ft."
    assert [(r["piece"], r["grade"]) for r in rows] == [
        ("B-1", "FAS"),
        ("B-2", "No. 1 Common"),
        ("B-3", "below grade"),
    ]


def test_unknown_piece(shop, capsys):
    """A piece that is not on the rack is told on stderr with the nearest name, and nothing is printed."""
    assert main(["grade", str(shop), "--piece", "B-11"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "'B-11'" in captured.err
    assert "B-1" in captured.err


def test_nothing_to_grade(shop, capsys):
    """A sheet alone leaves nothing to grade, and the page says what would be."""
    assert main(["grade", str(shop), "--piece", "S-1"]) == 0
    assert "no boards to grade" in capsys.readouterr().out
