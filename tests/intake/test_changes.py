"""Keys of the shop file with other values."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path
from typing import Any

import pytest

from nestyield.api import check_shop, load_shop
from nestyield.intake.changes import CHANGED, apply_changes
from nestyield.intake.problems import Problems

FILE = """
[cutter]
diameter = 6
[bed.bench]
travel_x = 900
[part."lap steel"]
thickness = 38
[[order]]
name = "spring"
part = "lap steel"
[[order]]
part = "lap steel"
"""


def changed(*changes: str) -> tuple[dict[str, Any], list[str], dict]:
    data, lines, problems = tomllib.loads(FILE), {}, Problems()
    apply_changes(data, lines, changes, problems)
    return data, [f.message for f in problems.findings], lines


@pytest.mark.parametrize(
    ("change", "as_in_the_file"),
    [
        ("cutter.diameter=8", "[cutter]\ndiameter = 8"),
        ("cutter.diameter = 1/4 in", '[cutter]\ndiameter = "1/4 in"'),
        ('cutter.diameter="1/4 in"', '[cutter]\ndiameter = "1/4 in"'),
        ("allowance.planing=0", "[allowance]\nplaning = 0"),
        ("bed.bench.open_ends=['x+']", "[bed.bench]\nopen_ends = ['x+']"),
        ("part.lap steel.thickness=40", '[part."lap steel"]\nthickness = 40'),
        ('part."lap steel".species=sugar maple', '[part."lap steel"]\nspecies = "sugar maple"'),
        ("value.other=7", "[value]\nother = 7"),
        ("species.bog oak.density=800", '[species."bog oak"]\ndensity = 800'),
    ],
)
def test_a_change_reads_as_the_file_would(change: str, as_in_the_file: str) -> None:
    """A key that is set holds what the same words in the file would hold, and no other key changes."""
    data, problems, lines = changed(change)
    assert problems == []
    expected = tomllib.loads(FILE)

    def merge(into: dict, more: dict) -> None:
        for key, value in more.items():
            if isinstance(value, dict):
                merge(into.setdefault(key, {}), value)
            else:
                into[key] = value

    merge(expected, tomllib.loads(as_in_the_file))
    assert data == expected
    assert list(lines.values()) == [CHANGED]


def test_orders_by_name_and_number() -> None:
    """Tables of an array are found by their name, or counted from 1."""
    data, problems, _ = changed("order.spring.count=3", "order.2.count=4")
    assert problems == []
    assert [o.get("count") for o in data["order"]] == [3, 4]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ("foo", "expected KEY=VALUE such as cutter.diameter=6, got 'foo'"),
        ("", "expected KEY=VALUE"),
        ("=3", "expected KEY=VALUE"),
        ("cutter.diameter=6\n[x]", "expected KEY=VALUE"),
        ("bed.banch.travel_x=3", "the shop file has no bed 'banch'; did you mean 'bench'?"),
        ("order.summer.count=3", "there is no order 'summer'; known names are spring"),
        ("order.3.count=3", "there is no order '3'"),
        ("cutter.diameter.x=3", "cutter.diameter is"),
    ],
)
def test_a_change_that_cannot_be(change: str, message: str) -> None:
    """What is no change, or changes what is not there, is an error and changes nothing."""
    data, problems, _ = changed(change)
    assert len(problems) == 1
    assert message in problems[0]
    assert data == tomllib.loads(FILE)


def test_a_shop_with_changes(good_shop: Path) -> None:
    """The shop has the other values, errors name the key, and the folder stays as it is."""
    before = {p: hashlib.sha256(p.read_bytes()).digest() for p in good_shop.rglob("*") if p.is_file()}
    shop = load_shop(good_shop, ["cutter.diameter=7 mm", "allowance.blank_margin=3.5"])
    assert (shop.settings.cutter_diameter_mm, shop.settings.blank_margin_mm) == (7.0, 3.5)
    wrong, findings = check_shop(good_shop, ["cutter.diameter=0"])
    assert wrong is None
    (error,) = [f for f in findings if f.severity == "error"]
    assert error.where == "cutter.diameter, as asked"
    assert "diameter is 0 mm" in error.message
    assert before == {p: hashlib.sha256(p.read_bytes()).digest() for p in good_shop.rglob("*") if p.is_file()}
