"""Collecting findings."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import nestyield.intake
from nestyield.intake.problems import CODES, Problems, did_you_mean, nearest, shown


def test_findings_are_one_line_and_told_once() -> None:
    """Line ends in a message become spaces; the same finding is kept once."""
    problems = Problems()
    for _ in range(2):
        problems.error("S001", "first\n  second", "shop.toml", "line 1")
    problems.warning("S012", "x")
    problems.note("D014", "y")
    assert [f.message for f in problems.findings] == ["first second", "x", "y"]
    assert problems.errors == 1


def test_unknown_code_is_a_fault_of_the_program() -> None:
    """A code that is not in the table is refused."""
    with pytest.raises(KeyError):
        Problems().error("X999", "x")


def test_every_code_is_used() -> None:
    """No code of the table is dead, and no code is used that is not there."""
    folder = Path(nestyield.intake.__file__).parent
    text = "".join(p.read_text(encoding="utf-8") for p in folder.glob("*.py") if p.name != "problems.py")
    used = set(re.findall(r'["( ]([SRFD]\d{3})["  ]', text))
    assert used == set(CODES)


def test_nearest_name() -> None:
    """The most alike name whatever its case, or none."""
    assert nearest("PICKUP", ["pickups", "BODY"]) == "pickups"
    assert nearest("xyz", ["pickups", "BODY"]) is None
    assert did_you_mean("bnch", ["bench", "long"]) == "did you mean 'bench'?"
    assert did_you_mean("xyz", ["bench", "long"], "beds") == "known beds are bench, long"
    assert did_you_mean("xyz", [], "beds") == "there are no beds"
    assert did_you_mean("xyz", []) == "none is known"


def test_shown_is_short_and_printable() -> None:
    """Values in messages are quoted, cut and free of control characters."""
    assert shown("a\x07b") == "'a\\x07b'"
    assert len(shown("x" * 500)) == 60
    assert shown(3.5) == "3.5"
    assert "\n" not in shown(["x\ny"])
    assert shown({"a": 1}) == "a table"
