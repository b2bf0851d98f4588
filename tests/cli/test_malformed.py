"""Malformed shops through the command line: one clear error, exit code 2, nothing written."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import pytest

from nestyield.cli import main


def _cases() -> dict[str, Any]:
    path = Path(__file__).parents[1] / "intake" / "malformed.py"
    spec = importlib.util.spec_from_file_location("cases_for_the_command_line", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return dict(module.CASES)


CASES = _cases()

#: Wrong in several places at once.
SEVERAL = ("piece twice", "piece without a name", "shop file empty")


def test_there_are_enough() -> None:
    """The corpus holds at least the twenty that were asked for."""
    assert len(CASES) >= 20


@pytest.mark.parametrize("name", sorted(CASES))
def test_one_clear_error(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The error is told on stderr in a line that names code and place; nothing is written, nothing thrown."""
    folder = tmp_path / "shop"
    CASES[name].make(folder)
    before = sorted(p.name for p in folder.rglob("*")) if folder.is_dir() else []
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    captured = capsys.readouterr()
    lines = captured.err.splitlines()
    errors = [line for line in lines if line.startswith("error ")]
    assert all(line.startswith(("error ", "warning ", "note ")) for line in lines)
    assert any(f"error {CASES[name].code}: " in line for line in errors)
    assert all(word in captured.err for word in CASES[name].names)
    assert len(errors) == 1 or name in SEVERAL
    assert captured.out == ""
    assert not (tmp_path / "out").exists()
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".out")]
    after = sorted(p.name for p in folder.rglob("*")) if folder.is_dir() else []
    assert after == before
