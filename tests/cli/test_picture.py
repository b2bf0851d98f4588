"""The picture of a part on a piece, read as a maker reads it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from nestyield.cli import main

SVG = "{http://www.w3.org/2000/svg}"


def texts(path: Path) -> list[str]:
    if path.suffix == ".pdf":
        words = "\n".join(page.extract_text() for page in PdfReader(path).pages)
        return words.replace("\u00a0", " ").splitlines()
    return [(e.text or "").replace("\u00a0", " ") for e in ElementTree.parse(path).iter(f"{SVG}text")]


@pytest.fixture
def board(porch: Path) -> Path:
    (porch / "shop.toml").write_text(
        (porch / "shop.toml")
        .read_text()
        .replace('rack = "rack.csv"', 'rack = "rack.csv"\ndefects = "defects.csv"')
    )
    rack = porch / "rack.csv"
    rack.write_text(rack.read_text().replace("hard maple,7/8,26,", "hard maple,7/8,29,"))
    (porch / "defects.csv").write_text("piece,kind,x,y,diameter,face\nM2,knot,13,5 1/2,1,through\n")
    return porch


@pytest.mark.parametrize("suffix", [".svg", ".pdf"])
def test_what_a_picture_shows(
    suffix: str, board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Size of the piece, place of the part, room to move and defects stand on it, in inches alone."""
    file = tmp_path / f"neck{suffix}"
    ask = ["fit", str(board), "--part", "neck", "--piece", "M2", "--picture", str(file)]
    assert main([*ask, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["picture"] == str(file)
    x0, y0, x1, y1 = (v / 25.4 for v in answer["how"]["box_mm"])
    assert (x1 - x0, y1 - y0) == pytest.approx((25.0, 2.5), abs=1e-3)
    found = texts(file)
    assert "neck on M2" in found
    # length and width of the piece; the PDF writes them twice, with a rim
    assert ({"29", "6 1/2"} if suffix == ".svg" else {"6 1/26 1/2"}) <= set(found)
    measures = [m for t in found if (m := re.fullmatch(r"([0-9 /]+) part", t))]
    assert len(measures) == 4

    def inches(text: str) -> float:
        return sum(float(a) / float(b or 1) for a, b in re.findall(r"(\d+)(?:/(\d+))?", text))

    told = sorted(inches(m[1]) for m in measures)
    assert told == pytest.approx(sorted((x0, x1, y0, y1)), abs=1 / 128 + 1e-3)
    assert any("K: knot" in t for t in found)
    assert {"datum corner", "path of the cutter"} <= set(found)
    whole = " ".join(found)
    assert "sugar maple, 7/8 in thick" in whole
    assert "The part can be shifted straight, up to" in whole
    assert not re.search(r"\d ?mm\b", whole)


def test_a_picture_never_costs_a_file(
    board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An earlier picture is replaced; a file of the maker, another kind and a folder that is not there are refused."""
    ask = ["fit", str(board), "--part", "neck", "--piece", "M2", "--picture"]
    mine = tmp_path / "mine.svg"
    mine.write_text("<svg>my own drawing</svg>")
    assert main([*ask, str(mine)]) == 2
    assert "is there and is no picture of nestyield" in capsys.readouterr().err
    assert mine.read_text() == "<svg>my own drawing</svg>"
    assert main([*ask, str(tmp_path / "neck.png")]) == 2
    assert "expected a picture .svg or .pdf, got 'neck.png'" in capsys.readouterr().err
    assert main([*ask, str(tmp_path / "nowhere" / "neck.svg")]) == 2
    assert "does not exist" in capsys.readouterr().err
    good = tmp_path / "neck.svg"
    assert main([*ask, str(good), "--quiet"]) == 0
    first = good.read_bytes()
    assert main([*ask, str(good), "--quiet"]) == 0
    assert good.read_bytes() == first
    assert main([*ask, str(good), "--quiet", "--margin", "3/8"]) == 0
    assert good.read_bytes() != first
    assert sorted(p.name for p in tmp_path.iterdir()) == ["mine.svg", "neck.svg", "porch"]


def test_no_place_no_picture(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where the part does not go nothing is drawn; a picture is of a part on a piece."""
    file = tmp_path / "no.svg"
    assert main(["fit", str(board), "--part", "body", "--piece", "M2", "--picture", str(file)]) == 1
    assert "picture" not in capsys.readouterr().out
    assert not file.exists()
    assert main(["fit", str(board), "--part", "neck", "--picture", str(file)]) == 2
    assert "expected --piece beside --picture" in capsys.readouterr().err
