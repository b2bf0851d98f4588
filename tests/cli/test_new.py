"""nestyield new."""

from __future__ import annotations

import csv
import re
import subprocess
import sys
from pathlib import Path

import ezdxf
import pytest

from nestyield.cli import main
from nestyield.starter import starter_files

FIXTURES = Path(__file__).parents[2] / "fixtures"
#: Files of a new shop.
NAMES = ["defects.csv", "first-steps.txt", "lap-steel.dxf", "offcut.dxf", "rack.csv", "shop.toml"]


@pytest.mark.parametrize(
    ("units", "thickness", "spare"),
    [
        ("mm", "44.5 mm", ("334", "304")),
        pytest.param("in", "1 3/4 in", ("13 3/4", "12 1/4"), marks=pytest.mark.study),
    ],
)
def test_a_new_shop_checks_clean_and_plans_at_once(
    units: str, thickness: str, spare: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The folder as written has nothing to tell, fills all its orders, and its papers name what was cut."""
    folder, out = tmp_path / "my shop", tmp_path / "plan"
    assert main(["new", str(folder), "--units", units]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert sorted(p.name for p in folder.iterdir()) == NAMES
    assert all(name in told.out for name in NAMES)
    assert f"nestyield check '{folder}'" in told.out

    assert main(["check", str(folder)]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert "good to plan" in told.out

    assert main(["plan", str(folder), "--out", str(out), "--workers", "1", "--verbose"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert "two steels: lap steel, 2 of 2\n" in told.out
    assert "template: body template, 1 of 1\n" in told.out
    # travel less the outline less the cutter: 900 - 560 - 6 and 450 - 140 - 6 mm; 36 - 22 - 1/4, 18 - 5 1/2 - 1/4 in
    plain = re.sub(r"[\u00a0\u202f]", " ", told.out)
    for piece in ("B-1", "B-5"):
        assert f"{piece} (sugar maple, {thickness}) -> lap steel" in plain
    assert "S-1 (" in plain
    assert f"{spare[0]} {units} to spare along X, {spare[1]} {units} along Y" in plain
    rows = list(csv.DictReader((out / "cuts.csv").read_text(encoding="utf-8").splitlines()))
    assert sorted(row["part"] for row in rows) == ["body template", "lap steel", "lap steel"]
    for drawing in out.glob("drawings/*.dxf"):
        assert ezdxf.readfile(drawing).header["$INSUNITS"] == {"mm": 4, "in": 1}[units]
    assert main(["verify", str(out), "--shop", str(folder)]) == 0


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_rack_shows_each_way_to_describe_a_piece(units: str) -> None:
    """One row each: length and width, a count, corners, a drawing, a seam, on hold, a sheet without grain."""
    text = starter_files(units)["rack.csv"].decode()  # type: ignore[arg-type]
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    u = units
    assert any(r[f"length_{u}"] and r["count"] == "1" for r in rows)
    assert any(int(r["count"]) > 1 for r in rows)
    assert any(r[f"outline_{u}"].startswith("POLYGON") for r in rows)
    assert any(r[f"outline_{u}"].endswith(".dxf") for r in rows)
    assert any(r[f"seams_{u}"].startswith("LINESTRING") for r in rows)
    assert any(r["status"] == "hold" for r in rows)
    assert any(r["grain"] == "none" for r in rows)
    assert all(r["note"] for r in rows)


@pytest.mark.parametrize(("units", "fixture"), [("mm", "demo-shop"), ("in", "inch-shop")])
def test_the_example_is_the_larger_shop(units: str, fixture: str, tmp_path: Path) -> None:
    """--example writes the shop of the fixtures, byte for byte, and the wheel is told to carry it."""
    assert main(["new", str(tmp_path / "big"), "--example", "--units", units]) == 0
    written = {p.name: p.read_bytes() for p in (tmp_path / "big").iterdir()}
    assert written == {p.name: p.read_bytes() for p in (FIXTURES / fixture).iterdir() if p.is_file()}
    assert "shop.toml" in written
    project = (FIXTURES.parent / "pyproject.toml").read_text(encoding="utf-8")
    assert f'"fixtures/{fixture}" = "nestyield/starter/example/{units}"' in project


def test_never_over_a_file_that_is_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder with a file of one of the names, or a link in its place, is left as it is; others may be there."""
    (tmp_path / "rack.csv").write_text("mine")
    (tmp_path / "shop.toml").symlink_to("nowhere")
    assert main(["new", str(tmp_path)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == (
        f"nestyield: rack.csv, shop.toml are already in {tmp_path}, nothing was written; choose a new folder\n"
    )
    assert sorted(p.name for p in tmp_path.iterdir()) == ["rack.csv", "shop.toml"]
    (tmp_path / "rack.csv").unlink()
    (tmp_path / "shop.toml").unlink()
    (tmp_path / "diary.txt").write_text("mine")
    assert main(["new", str(tmp_path)]) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([*NAMES, "diary.txt"])
    assert main(["new", str(tmp_path / "diary.txt")]) == 2
    assert "is a file; expected a new folder" in capsys.readouterr().err


def test_a_full_disk_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """When a file cannot be written, those before it and the new folders are gone again."""
    opened = Path.open

    def full(path: Path, *args: object, **named: object) -> object:
        if path.name == "rack.csv":
            raise OSError(28, "No space left on device", str(path))
        return opened(path, *args, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "open", full)
    assert main(["new", str(tmp_path / "a" / "b")]) == 2
    assert "No space left on device" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_drawings_are_those_of_the_script(tmp_path: Path) -> None:
    """The drawings of a new shop are what fixtures/make_starter.py draws."""
    subprocess.run([sys.executable, FIXTURES / "make_starter.py", tmp_path], check=True)
    for units in ("mm", "in"):
        for name in ("lap-steel.dxf", "offcut.dxf"):
            assert (tmp_path / units / name).read_bytes() == starter_files(units)[name]
