"""Columns by meaning."""

from __future__ import annotations

import pytest

from nestyield.intake.columns import Codes, Columns
from nestyield.intake.problems import Problems
from nestyield.intake.table import Line, parse_table

KNOWN = {"piece": False, "length": True, "status": False, "count": False}
CODES = Codes(missing="R002", misspelt="R003", long_row="R004", cell="R005", size="R010")


def columns(
    text: str, units: str = "mm", required: tuple[str, ...] = ("piece",)
) -> tuple[Columns, Line, bool]:
    table, why = parse_table(text.encode())
    assert table is not None, why
    c = Columns(table=table, file="t.csv", units=units, codes=CODES, problems=Problems())
    found = c.find(KNOWN, required)
    return c, table.rows[0], found


@pytest.mark.parametrize(
    ("heading", "unit"),
    [
        ("length", "in"),
        ("Length", "in"),
        ("length_mm", "mm"),
        ("length mm", "mm"),
        ("length (cm)", "cm"),
        ("LENGTH[ft]", "ft"),
        ("length_m", "m"),
    ],
)
def test_units_in_headings(heading: str, unit: str) -> None:
    """A heading may carry its unit in several spellings; without it the shop's counts."""
    c, row, _ = columns(f"piece,{heading}\nA,1\n", "in")
    assert c.has("length")
    assert c.unit("length") == unit
    assert c.heading("length") == heading
    assert c.where(row, "length") == f"row 2, column {heading}"


@pytest.mark.parametrize("heading", ["lengthmm", "length_mm_old", "my length", "count_mm", "lengthy"])
def test_other_headings_are_the_makers(heading: str) -> None:
    """Headings that only resemble a known one are not read."""
    c, _, _ = columns(f"piece,{heading}\nA,1\n")
    assert not c.has("length")
    assert not c.has("count")


def test_missing_and_doubled_columns() -> None:
    """A missing required column names the nearest; two of one meaning are refused."""
    c, _, found = columns("peice,length,length_mm\nA,1,2\n")
    assert not found
    assert [f.code for f in c.problems.findings if f.severity == "error"] == ["R002", "R002"]
    assert "'peice'" in c.problems.findings[1].message


def test_misspelt_optional_column() -> None:
    """A column like a known one is a warning, unless the known one is there, too."""
    c, _, _ = columns("piece,lenght_mm\nA,1\n")
    assert [(f.code, f.severity) for f in c.problems.findings] == [("R003", "warning")]
    c, _, _ = columns("piece,length,length2\nA,1,1\n")
    assert c.problems.findings == []


@pytest.mark.parametrize(
    ("cell", "value"), [("3", 3), ("", 1), ("2.0", 2), ("2.5", 1), ("0", 1), ("x", 1), ("1e9", 1), ("inf", 1)]
)
def test_whole_numbers(cell: str, value: int) -> None:
    """Whole numbers in range; the default with an error otherwise."""
    c, row, _ = columns(f"piece,count\nA,{cell}\n")
    assert c.integer(row, "count", 1, 1000, 1) == value
    assert bool(c.problems.errors) == (cell in ("2.5", "0", "x", "1e9", "inf"))


def test_numbers_and_words() -> None:
    """Percent and degree signs are taken off; words are matched whatever their case."""
    c, row, _ = columns("piece,count,status\nA,7.5 %,HOLD\n")
    assert c.number(row, "count") == 7.5
    assert c.choice(row, "status", ("ready", "hold"), "ready") == "hold"
    c, row, _ = columns('piece,count\nA,"7,5"\n')
    assert c.number(row, "count") is None
    assert "write 7.5" in c.problems.findings[0].message


def test_short_and_long_rows() -> None:
    """Missing cells are empty; filled cells beyond the header are an error, empty ones are not."""
    c, row, _ = columns("piece,count,status\nA\n")
    assert c.text(row, "status") == ""
    assert c.check_width(row)
    c, row, _ = columns("piece,count\nA,1,,\n")
    assert c.check_width(row)
    c, row, _ = columns("piece,count\nA,1,x\n")
    assert not c.check_width(row)
