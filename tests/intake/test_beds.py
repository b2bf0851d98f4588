"""Beds of the shop file."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestyield.intake.beds import read_beds
from nestyield.intake.problems import Problems
from nestyield.intake.toml import parse_toml
from nestyield.intake.values import Values
from nestyield.model import Bed


def read(text: str, units: str = "mm") -> tuple[list[Bed], Problems]:
    data, lines, why = parse_toml("[bed.bench]\ntravel_x = 600\ntravel_y = 400\n" + text)
    assert data is not None, why
    values = Values(data=data, path=(), lines=lines, file="shop.toml", units=units, problems=Problems())
    return read_beds(values), values.problems


def test_everything_of_a_bed() -> None:
    """Travel, table, open ends, pins and keep-outs, as rectangle in any order of corners or as polygon."""
    (bed,), problems = read(
        "travel_z = 90\ntable_x = [-20, 620]\nopen_ends = ['x-', 'x+']\npin_diameter = 6\n"
        "[[bed.bench.keep_out]]\nname = 'clamp'\nrectangle = [60, 400, 0, 380]\nblocks = 'cutter'\n"
        "[[bed.bench.keep_out]]\npolygon = [[0, 0], [18, 0], [0, 18], [0, 0]]\n"
    )
    assert problems.findings == []
    assert (bed.travel_x_mm, bed.travel_z_mm, bed.table_x_mm, bed.table_y_mm) == (
        600,
        90,
        (-20, 620),
        (0, 400),
    )
    assert bed.open_ends == ("x-", "x+")
    clamp, corner = bed.keep_outs
    assert (clamp.name, clamp.blocks, clamp.outline.signed_area_mm2) == ("clamp", "cutter", 1200)
    assert (corner.name, corner.blocks, corner.outline.signed_area_mm2) == ("keep-out 2", "both", 162)
    assert len(corner.outline.points_mm) == 3


def test_lengths_in_inches_and_as_text() -> None:
    """Shop units and texts serve in keep-outs and table, too."""
    (bed,), _ = read(
        "table_y = ['-10 mm', 17]\n[[bed.bench.keep_out]]\nrectangle = [0, 0, '1/2 in', 1]\n", "in"
    )
    assert bed.table_y_mm == (-10, 431.8)
    assert bed.keep_outs[0].outline.signed_area_mm2 == pytest.approx(12.7 * 25.4)


@pytest.mark.parametrize(
    ("text", "code", "told"),
    [
        ("table_x = 5", "S006", "write table_x = [0, 5]"),
        ("table_x = [1, 2, 3]", "S006", "two lengths"),
        ("table_x = [5, 5]", "S007", "begin below its end"),
        ("table_x = ['a', 5]", "S006", "'a'"),
        ("[[bed.bench.keep_out]]\nrectangle = [0, 0, 5]", "S006", "3 numbers and needs 4"),
        ("[[bed.bench.keep_out]]\nrectangle = [0, 0, 0, 5]", "S013", "length and width"),
        ("[[bed.bench.keep_out]]\nrectangle = [0, 0, nan, 5]", "S006", "nan"),
        (
            "[[bed.bench.keep_out]]\nrectangle = [0, 0, 5, 5]\npolygon = [[0, 0], [1, 0], [1, 1]]",
            "S005",
            "either",
        ),
        ("[[bed.bench.keep_out]]\npolygon = [[0, 0], [1, 0]]", "S006", "at least 3"),
        ("[[bed.bench.keep_out]]\npolygon = [[0, 0], [1, 0], [1]]", "S006", "[x, y]"),
        ("[[bed.bench.keep_out]]\npolygon = [[0, 0], [1, 0], [2, 0]]", "S013", ""),
        ("[[bed.bench.keep_out]]\nrectangle = [0, 0, 5, 5]\nblocks = 'all'", "S006", "cutter, blank, both"),
        ("keep_out = 3", "S006", "[[bed.bench.keep_out]]"),
    ],
)
def test_mistakes(text: str, code: str, told: str) -> None:
    """Each mistake is one error with its rule."""
    _, problems = read(text)
    assert [f.code for f in problems.findings] == [code]
    assert told in str(problems.findings[0])


def test_bed_that_is_no_table(good_shop: Path) -> None:
    """A value where a bed should be is told."""
    data, lines, _ = parse_toml("[bed]\nbench = 3\n")
    assert data is not None
    values = Values(data=data, path=(), lines=lines, file="shop.toml", units="mm", problems=Problems())
    assert read_beds(values) == []
    assert [f.code for f in values.problems.findings] == ["S006"]
