"""nestyield fit."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestyield.cli import main


def test_fits(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Both directions of every bed are answered, with spare millimeters."""
    assert main(["fit", str(shop), "--part", "neck"]) == 0
    out = capsys.readouterr().out
    # 300 x 80 and a cutter of 6
    assert "along X: yes. It needs 306 × 86 mm of travel: 594 mm to spare along X, 314 mm along Y." in out
    assert "bed stub" in out


def test_does_not_fit(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A bed that is too small says by how much, and what would do; that needs a person."""
    assert main(["fit", str(shop), "--part", "neck", "--bed", "stub"]) == 1
    out = capsys.readouterr().out
    assert "bench" not in out
    assert "It would need 306 × 86 mm of travel." in out


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--part", "nek"], "nestyield: the shop file has no part 'nek'; did you mean 'neck'?"),
        (["--part", "neck", "--bed", "zzz"], "nestyield: the shop file has no bed 'zzz'; known: bench, stub"),
    ],
)
def test_unknown_names(shop: Path, args: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown part or bed is one line with the nearest known name."""
    assert main(["fit", str(shop), *args]) == 2
    captured = capsys.readouterr()
    assert captured.err.strip() == says
    assert captured.out == ""
