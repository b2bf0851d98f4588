"""Realiztic mistakes, one at a time, in a folder as `nestyield new` writes it."""

from __future__ import annotations

from pathlib import Path

import mistakes
import pytest

from nestyield.api import check_shop
from nestyield.starter import starter_files


@pytest.mark.parametrize("mistake", mistakes.MISTAKES, ids=lambda m: f"{m.file} {m.what}")
def test_a_mistake_is_told_with_its_place_and_what_to_do(mistake: mistakes.Mistake, tmp_path: Path) -> None:
    """One printed line names file, place and remedy; no more than four lines for one mistake."""
    code, lines = mistakes.told(mistake, tmp_path)
    assert mistakes.is_told(mistake, code, lines), lines
    assert len(lines) <= 4


def test_the_page_is_of_these_mistakes() -> None:
    """tests/MISTAKES.md has a row for each (scripts/mistakes.py)."""
    page = mistakes.PAGE.read_text(encoding="utf-8")
    assert len(mistakes.MISTAKES) >= 100
    for number, mistake in enumerate(mistakes.MISTAKES, start=1):
        assert f"| {number} | {mistake.what} |" in page


def test_slips_and_other_errors_come_at_once(tmp_path: Path) -> None:
    """A shop file with ten slips, a rack with two and a defect table with one are told in one run."""
    files = starter_files("mm")
    text = files["shop.toml"].decode()
    slips = {
        'name = "My workshop"': "name = “My workshop”",
        'rack = "rack.csv"': "rack = rack.csv",
        "diameter = 6 ": "diameter = 1/4 ",
        "[bed.bench]": "[bed.my bench]",
        "travel_x = 900": "travel_x = 900 mm",
        '[part."lap steel"]': "[part.lap steel]",
        "thickness = 38": "thickness: 38",
        "grain = 0 ": "grian = 0 ",
        'face = "front", depth': 'face = "front" depth',
        "priority = 1": "hold = no",
    }
    for old, new in slips.items():
        assert old in text
        text = text.replace(old, new, 1)
    rack = (
        files["rack.csv"]
        .decode()
        .replace("44.5,640", "3-Aug,640")
        .replace(",ready,,a plain", ",sold,,a plain")
    )
    defects = files["defects.csv"].decode().replace("B-1,knot", "B-1,knott")
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    (tmp_path / "rack.csv").write_text(rack)
    (tmp_path / "defects.csv").write_text(defects)
    shop, findings = check_shop(tmp_path)
    assert shop is None
    told = [(f.file, f.code) for f in findings if f.severity == "error"]
    assert told.count(("shop.toml", "S002")) == 9
    assert told.count(("shop.toml", "S004")) == 1
    assert told.count(("rack.csv", "R005")) == 2
    assert told.count(("defects.csv", "F005")) == 1
    assert len(told) == 13
