"""Slips of the pen in TOML."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from nestyield.intake.toml_slips import MOST_SLIPS, mend_toml
from nestyield.starter import starter_files


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("name = “My shop”", 'name = "My shop"'),
        ("units = mm  # of the shop", 'units = "mm"'),
        ("diameter = 1 3/4 in", 'diameter = "1 3/4 in"'),
        ('diameter = 3/8"  # of the cutter', 'diameter = "3/8 in"'),
        ("margin = 6,35", "margin = 6.35"),
        ("margin = .5", "margin = 0.5"),
        ("margin: 5", "margin = 5"),
        ("rectangle = [0, 380, 60, 400", "rectangle = [0, 380, 60, 400]"),
        ("ends = [x-, x+]", 'ends = ["x-", "x+"]'),
        ('species = ["a" "b"]', 'species = ["a", "b"]'),
        ("t = { nail hole = filled, stain = allowed }", 't = { "nail hole" = "filled", stain = "allowed" }'),
        (
            'NECK POCKET = { role = "pocket", depth = 3/4" }',
            '"NECK POCKET" = { role = "pocket", depth = "3/4 in" }',
        ),
        ("hold = no", "hold = false"),
        ("mirrored = no", 'mirrored = "no"'),
        ("hold = True", "hold = true"),
        ('rack = "tables\\my.csv"', 'rack = "tables/my.csv"'),
        ("[part.lap steel]", '[part."lap steel"]'),
        ("[[bed.bench.keep_out]", "[[bed.bench.keep_out]]"),
        ("// a remark", "# a remark"),
    ],
)
def test_a_slip_is_mended_as_it_was_meant(line: str, meant: str) -> None:
    """The text reads as TOML would with what the message says to write, and the line is named."""
    text = f"# first\n{line}\n[last]\nkey = 1\n"
    mended, (slip,) = mend_toml(text)
    assert slip.line == 2
    assert slip.mended
    assert tomllib.loads(mended) == tomllib.loads(f"{meant}\n[last]\nkey = 1\n")
    if not meant.startswith("#"):
        assert meant in slip.message


def test_orders_in_single_brackets() -> None:
    """Three orders in single brackets are one slip, and all three are read."""
    mended, slips = mend_toml("[order]\ncount = 1\n[order]\ncount = 2\n[order]\ncount = 3\n")
    assert len(slips) == 1
    assert "[[order]]" in slips[0].message
    assert [o["count"] for o in tomllib.loads(mended)["order"]] == [1, 2, 3]


def test_a_good_file_has_no_slips() -> None:
    """Nothing is told about, nor changed in, what reads well."""
    for units in ("mm", "in"):
        text = starter_files(units)["shop.toml"].decode()  # type: ignore[arg-type]
        assert mend_toml(text) == (text, [])


def test_random_damage_ends_in_something_that_reads() -> None:
    """Whatever characters are damaged, the search ends, tells at least one slip, and leaves text that reads."""
    text = starter_files("mm")["shop.toml"].decode()
    rng = np.random.default_rng(5)
    marks = list("\"'[]{}=#,.\n /\\“1a")
    told = 0
    for _ in range(120):
        damaged = list(text)
        for _ in range(int(rng.integers(1, 12))):
            i = int(rng.integers(len(damaged)))
            damaged[i] = "" if rng.random() < 0.3 else str(rng.choice(marks))
        mended, slips = mend_toml("".join(damaged))
        tomllib.loads(mended)
        assert len(slips) < MOST_SLIPS
        try:
            tomllib.loads("".join(damaged))
        except tomllib.TOMLDecodeError:
            told += 1
            assert slips
    assert told > 60
