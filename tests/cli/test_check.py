"""nestyield check."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestyield.cli import main


def test_good_shop(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A good shop ends with 0 and says what was read."""
    assert main(["check", str(shop)]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    assert captured.out.splitlines() == [
        "Small shop: good to plan",
        "  parts   1: neck",
        "  pieces  3 in 3 rows (0 on hold, 0 taken), 0 defects",
        "  beds    2: bench, stub",
        "  orders  1 for 2 parts",
    ]


def test_all_problems_at_once(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Problems in several files are all told, each in a line with its file, and the exit code is 2."""
    rack = shop / "rack.csv"
    rack.write_text(rack.read_text().replace("330", "-5").replace("R3,", "R2,"))
    toml = shop / "shop.toml"
    toml.write_text(toml.read_text().replace("diameter", "diametre"))
    assert main(["check", str(shop)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    errors = [line for line in captured.err.splitlines() if line.startswith("error ")]
    assert len(errors) >= 3
    assert any("shop.toml" in line and "diameter" in line for line in errors)
    assert sum("rack.csv" in line for line in errors) >= 2
    assert "Traceback" not in captured.err
