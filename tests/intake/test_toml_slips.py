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
        ("thickness = 1 1/2", 'thickness = "1 1/2 in"'),
        ("depth = 3/4  # of the pocket", 'depth = "3/4 in"'),
        ('species = "MDF" or "plywood"', 'species = ["MDF", "plywood"]'),
        ("species = MDF or plywood", 'species = ["MDF", "plywood"]'),
        ("MDF = $1.50", "MDF = 1.50"),
        ("MDF = 1,50 €", "MDF = 1.50"),
        ("due = 1 March 2027", "due = 2027-03-01"),
        ("due = March 1, 2027", "due = 2027-03-01"),
        ("hold = yes", "hold = true"),
        ("[cutter", "[cutter]"),
        ('drawing = "C:\\Users\\me\\neck.dxf"', 'drawing = "neck.dxf"'),
    ],
)
def test_a_slip_is_mended_as_it_was_meant(line: str, meant: str) -> None:
    """The text reads as TOML would with what the message says to write, and the line is named."""
    text = f"# first\n{line}\n[last]\nkey = 1\n"
    mended, (slip,), _ = mend_toml(text)
    assert slip.line == 2
    assert slip.mended
    assert tomllib.loads(mended) == tomllib.loads(f"{meant}\n[last]\nkey = 1\n")
    if not meant.startswith("#"):
        assert meant in slip.message


@pytest.mark.parametrize("units", ["", 'units = "mm"', 'units = "in"', "units: inches"])
def test_a_fraction_is_of_inches(units: str) -> None:
    """A fraction without quotes gets the unit that it needs, and none in a shop that measures in inches."""
    mended, slips, _ = mend_toml(f"{units}\nthickness = 1 1/2\n")
    inches = "in" in units
    assert tomllib.loads(mended)["thickness"] == ("1 1/2" if inches else "1 1/2 in")
    assert [("unit; write" in s.message) for s in slips if s.line == 2] == [not inches]


def test_a_heading_left_out_between_two_orders() -> None:
    """A second order without its heading is one slip; both are read, and lines below keep their numbers."""
    first = "[[order]]\nname = 'a'\npart = 'p'\n"
    for gap in ("", "\n", "# the next one\n"):
        text = f"{first}{gap}name = 'b'\npart = 'q'\ncount = 2\n[search]\neffort = 1,5\n"
        mended, (slip, other), numbers = mend_toml(text)
        orders = tomllib.loads(mended)["order"]
        assert [(o["name"], o["part"]) for o in orders] == [("a", "p"), ("b", "q")]
        begins = text.split("\n").index("name = 'b'") + 1
        assert (slip.line, other.line) == (begins, text.split("\n").index("effort = 1,5") + 1)
        assert "second order begins here" in slip.message
        assert "[[order]]" in slip.message
        at = mended.split("\n").index("count = 2")
        assert text.split("\n")[numbers[at] - 1] == "count = 2"


def test_a_heading_left_out_between_two_keep_outs() -> None:
    """The same holds for tables of a bed; a key that follows itself is one too many, not a new table."""
    table = "[[bed.a.keep_out]]\nrectangle = [0, 1, 2, 3]\nblocks = 'both'\n\nrectangle = [5, 6, 7, 8]\n"
    mended, (slip,), _ = mend_toml(table)
    assert slip.line == 5
    assert "[[bed.a.keep_out]]" in slip.message
    assert len(tomllib.loads(mended)["bed"]["a"]["keep_out"]) == 2
    _, (slip,), _ = mend_toml("[[order]]\npart = 'p'\npart = 'q'\n")
    assert "twice" in slip.message


def test_layers_without_their_part_twice() -> None:
    """A second [layers] goes to the part above it."""
    mended, (slip,), _ = mend_toml(
        "[layers]\nA = 'outline'\n[part.\"my neck\"]\nthickness = 1\n[layers]\nB = 'outline'\n"
    )
    assert slip.line == 5
    assert '[part."my neck".layers]' in slip.message
    assert tomllib.loads(mended)["part"]["my neck"]["layers"] == {"B": "outline"}


def test_orders_in_single_brackets() -> None:
    """Three orders in single brackets are one slip, and all three are read."""
    mended, slips, _ = mend_toml("[order]\ncount = 1\n[order]\ncount = 2\n[order]\ncount = 3\n")
    assert len(slips) == 1
    assert "[[order]]" in slips[0].message
    assert [o["count"] for o in tomllib.loads(mended)["order"]] == [1, 2, 3]


def test_a_good_file_has_no_slips() -> None:
    """Nothing is told about, nor changed in, what reads well."""
    for units in ("mm", "in"):
        text = starter_files(units)["shop.toml"].decode()  # type: ignore[arg-type]
        assert mend_toml(text)[:2] == (text, [])


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
        mended, slips, _ = mend_toml("".join(damaged))
        tomllib.loads(mended)
        assert len(slips) < MOST_SLIPS
        try:
            tomllib.loads("".join(damaged))
        except tomllib.TOMLDecodeError:
            told += 1
            assert slips
    assert told > 60


def test_a_name_with_a_space_beside_its_first_word() -> None:
    """[part.dulcimer template] beside [part.dulcimer]: its name wants quotes, nothing is there twice."""
    text = "[part.dulcimer]\nthickness = 1\n[part.dulcimer.layers]\nOUTLINE = 'outline'\n"
    text += "[part.dulcimer template]\nthickness = 2\n[part.dulcimer template.layers]\nOUTLINE = 'outline'\n"
    mended, slips, _ = mend_toml(text)
    assert [(s.line, s.message) for s in slips] == [
        (5, 'a name with spaces needs quotes; write [part."dulcimer template"]'),
        (7, 'a name with spaces needs quotes; write [part."dulcimer template".layers]'),
    ]
    read = tomllib.loads(mended)["part"]
    assert [(n, p["thickness"], p["layers"]) for n, p in read.items()] == [
        ("dulcimer", 1, {"OUTLINE": "outline"}),
        ("dulcimer template", 2, {"OUTLINE": "outline"}),
    ]
