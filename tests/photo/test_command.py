"""nestyield photo: from picture to plan, and what it never does."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from PIL import Image

from nestyield.cli import main

from .conftest import SAMPLES, TRUTH, true_shape

SHOP = """\
[shop]
units = "mm"
rack = "rack.csv"
defects = "defects.csv"

[cutter]
diameter = 6

[search]
effort = 1
workers = 1

[bed.bench]
travel_x = 900
travel_y = 400

[part.plate]
drawing = "plate.dxf"
thickness = 16
grain_tolerance = 15

[part.plate.layers]
EDGE = "outline"

[[order]]
part = "plate"
"""
READ = ["--species", "cherry", "--line-x", "240", "--line-y", "6 5/16 in"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("photo") / "new" / "pieces"
    code = main(
        ["photo", str(SAMPLES / "two.jpg"), "--thickness", "0.75 in", "--out", str(out), "--name", "C", *READ]
    )
    assert code == 0
    return out


def test_files(folder: Path) -> None:
    """Rows, defects, and a picture to check, which shows the photo."""
    assert [p.name for p in sorted(folder.iterdir())] == ["check-1-two.jpg", "defects.csv", "rack.csv"]
    rows = list(csv.DictReader((folder / "rack.csv").read_text(encoding="utf-8").splitlines()))
    assert [r["piece"] for r in rows] == ["C-1", "C-2"]
    assert {r["thickness_mm"] for r in rows} == {"19.05"}
    assert {r["status"] for r in rows} == {"ready"}
    with Image.open(folder / "check-1-two.jpg") as picture:
        assert picture.size == (2000, 1500)


def test_rows_check_and_plan(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A shop whose rack is what was read checks clean and plans a part on it, clear of the marked knot."""
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "shop.toml").write_text(SHOP)
    for name in ("rack.csv", "defects.csv"):
        (shop / name).write_bytes((folder / name).read_bytes())
    drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (90, 0), (90, 40), (0, 40)], close=True, dxfattribs={"layer": "EDGE"}
    )
    drawing.saveas(shop / "plate.dxf")
    assert main(["check", str(shop), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["rows"], told["defects"]) == (2, 2)
    assert main(["plan", str(shop), "--out", str(tmp_path / "plan"), "--quiet"]) in (0, 1)
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text())
    assert [o["placed"] for o in plan["orders"]] == [1]
    assert main(["verify", str(tmp_path / "plan"), "--quiet"]) == 0


def test_never_over_a_folder(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that holds anything is left alone, before any picture is looked at."""
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    code = main(["photo", "none.jpg", "--thickness", "19", "--out", str(folder), *READ])
    assert code == 2
    assert "choose a new folder" in capsys.readouterr().err
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


def test_refusal_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A picture that is refused leaves no folder behind; with --json its finding is told as such."""
    out = tmp_path / "out"
    code = main(["photo", str(SAMPLES / "few.jpg"), "--thickness", "19", "--out", str(out), *READ, "--json"])
    assert code == 2
    assert [f["code"] for f in json.loads(capsys.readouterr().out)["findings"]] == ["V002"]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("left_out", "names"), [("--thickness", "measure it"), ("--species", "rack"), ("--out", "new folder")]
)
def test_what_is_missing_is_named(left_out: str, names: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Thickness, species and folder are asked for by name."""
    given = {"--thickness": "19", "--species": "ash", "--out": "x"}
    del given[left_out]
    assert main(["photo", "a.jpg", *(w for pair in given.items() for w in pair)]) == 2
    told = capsys.readouterr().err
    assert left_out in told
    assert names in told


def test_unmeasured_print_and_unseen_grain_need_a_person(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the lines of the print the exit code is 1; a row without grain is on hold."""
    out = tmp_path / "out"
    scan = [str(SAMPLES / "scan-plain.jpg"), "--scan", "--thickness", "6", "--species", "ash"]
    assert main(["photo", *scan, "--out", str(out)]) == 1
    assert "V010" in capsys.readouterr().err
    row = next(csv.DictReader((out / "rack.csv").read_text(encoding="utf-8").splitlines()))
    assert (row["status"], row["grain"]) == ("hold", "")
    photo = [
        str(SAMPLES / "two.jpg"),
        "--thickness",
        "19",
        "--species",
        "ash",
        "--out",
        str(tmp_path / "two"),
    ]
    assert main(["photo", *photo]) == 1
    assert "V009" in capsys.readouterr().err


def test_sheets(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sheets are written as a PDF, and never over a file."""
    out = tmp_path / "sheets.pdf"
    assert main(["photo", "--sheets", str(out), "--paper", "letter", "--first", "3", "--count", "2"]) == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert main(["photo", "--sheets", str(out)]) == 2
    assert "already" in capsys.readouterr().err


def test_without_the_extra() -> None:
    """Without OpenCV the command tells how to install it, and other commands do not miss it."""
    code = (
        "import sys; sys.modules['cv2'] = None\n"
        "from nestyield.cli import main\n"
        f"a = main(['photo', {str(SAMPLES / 'two.jpg')!r}, '--thickness', '19', '--species', 'ash', '--out', '/nowhere/x'])\n"
        "b = main(['photo', '--help'])\n"
        "print(a, b)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert "pip install 'nestyield[photo]'" in done.stderr
    assert done.stdout.splitlines()[-1] == "2 0"


def test_other_commands_leave_opencv_alone() -> None:
    """Nothing of OpenCV is imported by the parser, by a check or by a plan's modules."""
    code = (
        "import sys, nestyield.api, nestyield.cli\n"
        "nestyield.cli.make_parser()\n"
        "nestyield.cli.main(['check', 'nowhere'])\n"
        "print('cv2' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.stdout.splitlines()[-1] == "False"


def test_rows_go_into_the_rack_of_a_shop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--into adds the rows to the shop's own tables in its units; a name in use leaves neither rows nor folder."""
    shop, out = tmp_path / "shop", tmp_path / "out"
    assert main(["new", str(shop), "--units", "in", "--quiet"]) == 0
    before = {n: (shop / n).read_bytes() for n in ("rack.csv", "defects.csv")}
    ask = ["photo", str(SAMPLES / "two.jpg"), "--thickness", "3/4", "--species", "cherry", "--name", "C"]
    ask += ["--line-x", "240 mm", "--line-y", "6 5/16", "--into", str(shop), "--out", str(out)]
    assert main(ask) == 0
    assert " in, " in capsys.readouterr().out
    for name, old in before.items():
        assert (shop / name).read_bytes().startswith(old)
    rows = [line for line in (shop / "rack.csv").read_text().splitlines() if line.startswith("C-")]
    assert [row.split(",")[3] for row in rows] == ["0.75", "0.75"]
    assert main(["check", str(shop), "--quiet"]) == 0
    grown = (shop / "rack.csv").read_bytes()
    again = [a if a != str(out) else str(tmp_path / "again") for a in ask]
    assert main(again) == 2
    assert "'C-1' is in the rack already" in capsys.readouterr().err
    assert not (tmp_path / "again").exists()
    assert (shop / "rack.csv").read_bytes() == grown
    assert main(["undo", str(shop), "--quiet"]) == 0
    assert {n: (shop / n).read_bytes() for n in before} == before


def test_limit_and_tape_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A refusal names estimate, limit, cause and the --limit that takes it; then the tape's size is the drawn one."""
    out = tmp_path / "out"
    ask = ["photo", str(SAMPLES / "two.jpg"), "--thickness", "19", "--name", "C", *READ, "--out", str(out)]
    assert main([*ask, "--limit", "0.2"]) == 2
    told = capsys.readouterr().err
    found = re.findall(
        r"may be off by ([\d.]+) mm, the limit is 0\.2 mm; most of it, ([\d.]+) mm, comes from", told
    )
    assert len(found) == 2
    assert all(float(part) <= float(whole) for whole, part in found)
    assert all(
        float(part) > float(whole) / 2 for whole, part in found
    )  # the largest of four squares that add up
    most = max(re.findall(r'--limit "([\d.]+ mm)"', told), key=lambda v: float(v.split()[0]))
    assert not out.exists()
    assert main([*ask, "--limit", most]) == 0
    told = capsys.readouterr().out
    tapes = re.findall(r"drawn in by [\d.]+ mm on every side; a tape reads about (\d+) × (\d+) mm", told)
    for tape, truth in zip(tapes, TRUTH["two"], strict=True):
        corners = shapely.get_coordinates(shapely.oriented_envelope(true_shape(truth)))[:3]
        sides = sorted(np.hypot(*np.diff(corners, axis=0).T), reverse=True)
        assert [float(v) for v in tape] == pytest.approx(sides, abs=1.0)


@pytest.mark.parametrize("wrong", ["25", "12"])
def test_wrong_thickness_stays_out_of_the_rack(
    wrong: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Pieces of 19 mm that are said to be thicker or thinner leave the shop and the folder as they were."""
    shop, out = tmp_path / "shop", tmp_path / "out"
    assert main(["new", str(shop), "--quiet"]) == 0
    before = {p.name: p.read_bytes() for p in shop.iterdir() if p.is_file()}
    ask = ["photo", str(SAMPLES / "two.jpg"), "--thickness", wrong, "--name", "C", "--limit", "5", *READ]
    assert main([*ask, "--into", str(shop), "--out", str(out)]) == 2
    told = capsys.readouterr().err
    assert "error V016" in told
    assert f"not {wrong} mm as --thickness says" in told
    assert {p.name: p.read_bytes() for p in shop.iterdir() if p.is_file()} == before
    assert not out.exists()
