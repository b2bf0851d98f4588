"""What a rack says by the way: metal in a note, money in some rows only."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from nestyield.intake.shop import read_shop
from nestyield.starter import starter_files

HEAD = "piece,species,thickness,length,width,flaws,value,note\n"


def told(folder: Path, *rows: str, units: Any = "mm", more: str = "") -> list[Any]:
    """Return warnings about a rack of these rows in the starter shop, without its prices."""
    files = {k: v.decode() for k, v in starter_files(units).items()}
    files["shop.toml"] = re.sub(r"\n\[value\][^\[]*", "\n", files["shop.toml"]) + more
    files["shop.toml"] = files["shop.toml"].replace('defects = "', '# defects = "')
    files["rack.csv"] = HEAD + "".join(f"{row}\n" for row in rows)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    found = read_shop(folder)[1]
    assert not [f for f in found if f.severity == "error"]
    return [f for f in found if f.code in ("R015", "R016", "R018")]


@pytest.mark.parametrize(
    ("row", "warned"),
    [
        ("B-1,sugar maple,44.5,900,300,,,tread with nails at the ends", True),
        ("B-1,sugar maple,44.5,900,300,,,one SCREW left in", True),
        ('B-1,sugar maple,44.5,900,300,"3 mm nail hole at 30, 145",,nail at one end', False),
        ("B-1,sugar maple,44.5,900,300,,,no nails", False),
        ("B-1,sugar maple,44.5,900,300,,,nails pulled", False),
        ("B-1,sugar maple,44.5,900,300,,,from the snail and tackle shop", False),
    ],
)
def test_metal_in_a_note_is_asked_for(tmp_path: Path, row: str, warned: bool) -> None:
    """A note is not planned with: nails in it, and none entered, are a warning that names row and column."""
    found = [f for f in told(tmp_path, row) if f.code == "R015"]
    assert [f.where for f in found] == (["row 2, column note"] if warned else [])


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_example_of_the_warning_can_be_written(tmp_path: Path, units: str) -> None:
    """What the message says to write under flaws is read as a nail hole, in shops of either unit."""
    sizes = "44.5,900,300" if units == "mm" else "1 3/4,36,12"
    (finding,) = told(tmp_path, f"B-1,sugar maple,{sizes},,,nails", units=units)
    example = finding.message.split('as "')[1].split('"')[0]
    assert told(tmp_path, f'B-1,sugar maple,{sizes},"{example}",,nails', units=units) == []
    shop, _ = read_shop(tmp_path)
    assert shop is not None
    assert [d.kind for d in shop.pieces[0].defects] == ["nail hole"]


def test_money_in_some_rows_only(tmp_path: Path) -> None:
    """Two of three rows without a value in a shop without prices are a warning; all, none or a price are not."""
    rows = [f"B-{k},sugar maple,44.5,900,300,,{value}," for k, value in enumerate(("8", "", ""), start=1)]
    (finding,) = told(tmp_path, *rows)
    assert (finding.code, finding.file, finding.where) == ("R016", "rack.csv", "column value")
    assert finding.message.startswith("2 of 3 rows have no value")
    assert told(tmp_path, *rows[:1]) == []
    assert told(tmp_path, *rows[1:]) == []
    assert told(tmp_path, *rows, more="\n[value]\nother = 6\n") == []


@pytest.mark.parametrize(
    ("row", "warned"),
    [
        ("B-1,sugar maple,44.5,900,300,,,bowed 1/4 in over the length", True),
        ("B-1,sugar maple,44.5,900,300,,,Cupped a little", True),
        ("B-1,sugar maple,44.5,900,300,,,bowed 6 mm: 44.5 flat", False),
        ("B-1,sugar maple,44.5,900,300,,,from the bow window and the cupboard", True),
        ("B-1,sugar maple,44.5,900,300,,,from the cupboard", False),
        ("B-1,MDF,19,900,300,,,bowed", False),
    ],
)
def test_a_bow_that_only_the_note_knows(tmp_path: Path, row: str, warned: bool) -> None:
    """A board that is not flat loses thickness: asked where only the note says so, not once it says flat."""
    found = [f for f in told(tmp_path, row) if f.code == "R018"]
    assert bool(found) == warned
    if found:
        assert found[0].where == "row 2, column thickness"
