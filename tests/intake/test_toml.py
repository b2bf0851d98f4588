"""TOML with line numbers."""

from __future__ import annotations

import tomllib

import pytest

from nestyield.intake.toml import line_numbers, parse_toml

TEXT = '''# a comment with [brackets] and = signs
title = "x"
[shop]
name = """
[not.a.table]
key = 1
"""
units = 'mm' # comment
list = [
  1,
  "]",
  [2, 3],
]
after = 1
[part."lap steel"]
thickness = 40
layers.BODY = "outline"
[[order]]
part = "a"
[[order]]
part = "b"
[bed.bench]
[[bed.bench.keep_out]]
name = "one"
[[bed.bench.keep_out]]
name = "two"
'''


def test_lines_of_keys_and_tables() -> None:
    """Keys, tables, tables of arrays and dotted keys have the line where they stand."""
    lines = line_numbers(TEXT)
    assert lines["title",] == 2
    assert lines["shop",] == 3
    assert lines["shop", "name"] == 4
    assert lines["shop", "units"] == 8
    assert lines["shop", "list"] == 9
    assert lines["shop", "after"] == 14
    assert lines["part", "lap steel"] == 15
    assert lines["part", "lap steel", "layers", "BODY"] == 17
    assert lines["order", 1, "part"] == 21
    assert lines["bed", "bench", "keep_out", 0, "name"] == 24
    assert lines["bed", "bench", "keep_out", 1, "name"] == 26
    assert ("not", "a", "table") not in lines
    assert ("shop", "key") not in lines


def test_every_line_leads_to_a_value() -> None:
    """Each path that has a line leads to something in what the TOML library read."""
    data = tomllib.loads(TEXT)
    for path in line_numbers(TEXT):
        value = data
        for key in path:
            value = value[key]  # type: ignore[index]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a = ", "line 1"),
        ("a = 1\na = 2", "line 2"),
        ("[a]\n[a]", "line 2"),
        ("a = " + "9" * 5000, "cannot be read"),
    ],
)
def test_invalid_toml_is_told(text: str, told: str) -> None:
    """The reason names the line."""
    data, _, why = parse_toml(text)
    assert data is None
    assert told in why


def test_deep_nesting_is_no_traceback() -> None:
    """A text nested a thousand times deep is refused or read, not a crash."""
    data, _, why = parse_toml("a = " + "[" * 5000 + "]" * 5000)
    assert data is None
    assert why
