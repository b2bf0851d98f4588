"""What is said about mistakes in the shop file: one message, at its line, with the line to write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from nestyield.api import check_shop
from nestyield.starter import starter_files

Said = Callable[..., list[tuple[str, str, str]]]


@pytest.fixture
def said(tmp_path: Path) -> Said:
    """Check a new shop in which texts of the shop file are exchanged; notes are left out."""

    def check(*changes: tuple[str, str], units: str = "mm") -> list[tuple[str, str, str]]:
        for name, data in starter_files(units).items():  # type: ignore[arg-type]
            (tmp_path / name).write_bytes(data)
        path = tmp_path / "shop.toml"
        text = path.read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        path.write_text(text, encoding="utf-8")
        _, findings = check_shop(tmp_path)
        plain = str.maketrans({"\u00a0": " ", "\u202f": " "})
        told = [f for f in findings if f.severity != "note"]
        return [(f.severity, f"{f.file}, {f.where}", f.message.translate(plain)) for f in told]

    return check


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("thickness = 38 ", "thickness = 1 1/2 ", 40, ['thickness = "1 1/2 in"']),
        ("travel_y = 450 ", "# ", 28, ["travel_y is missing", "along Y, in mm", "travel_y = 450"]),
        ('units = "mm" ', "# ", 5, ['units = "mm" or units = "in"']),
        ('units = "mm" ', 'units = "millimetres" ', 7, ['write units = "mm"']),
        ("diameter = 6 ", 'diameter = "6,35" ', 12, ["decimal point", "write diameter = 6.35"]),
        ("diameter = 6 ", 'diameter = "6,35 mm" ', 12, ['write diameter = "6.35 mm"']),
        ("thickness = 38 ", 'thickness = "38 mn" ', 40, ["'mn' is not a unit", '"38 mm"']),
        ('POSTS = "hole"', 'POST = "hole"', 49, ["lap-steel.dxf", "'POST'", "write POSTS"]),
        ('POSTS = "hole"', 'POSTS = "holes"', 49, ['write POSTS = "hole"']),
        (", depth = 19", "", 48, ["pocket PICKUP has no depth", "depth = 12"]),
        ("depth = 19", "depth = 190", 48, ["190 mm deep", "38 mm thick", "below 38 mm"]),
        ("depth = 19", "depth = 38", 48, ["38 mm deep", 'PICKUP = "cutout"']),
        ('face = "front"', 'face = "top"', 48, ['write face = "front"']),
        ('face = "front"', 'face = "bottom"', 48, ['write face = "back"']),
        ('face = "front"', 'face = "through"', 48, ["front or back, not through"]),
        ("count = 2", "count = 0", 69, ["count is 0", "hold = true"]),
        ("count = 2", 'count = "two"', 69, ["write count = 2"]),
        ("count = 2", 'count = "2"', 69, ["write count = 2"]),
        ("count = 2", "count = 2.5", 69, ["write 2 or 3"]),
        ("priority = 1 ", 'priority = "high" ', 70, ["1 is first", "write priority = 1"]),
        ("blank_margin = 6 ", "blank_margin = -6 ", 15, ["negative", "write blank_margin = 6"]),
        ("blank_margin = 6 ", 'blank_margin = "-6 mm" ', 15, ['write blank_margin = "6 mm"']),
        ("thickness = 38 ", "thickness = 0 ", 40, ["thickness is 0 mm", "thickness = 38"]),
        ('name = "template"', 'name = "two steels"', 74, ["'two steels'", "lines 67 and 74", "rename one"]),
        ('name = "template"', 'name = "Two Steels"', 74, ["differ only in capitals", "rename one"]),
        ("grain = 0 ", 'grain = "along" ', 42, ["degrees", "write grain = 0"]),
        ("grain = 0 ", 'grain = "across" ', 42, ["write grain = 90"]),
        ("grain = 0 ", 'grain = "0°" ', 42, ["write grain = 0"]),
        ("due = 2027-03-01", 'due = "1 March 2027"', 71, ["year-month-day", "write due = 2027-03-01"]),
        ("thickness = 38 ", "thickness = 38\nmirrored = true ", 41, ['write mirrored = "allowed"']),
        ("pin_diameter = 6", "table_x = 940", 31, ["two ends", "table_x = [0, 940]"]),
        ("pin_diameter = 6", 'open_ends = "left"', 31, ['open_ends = ["x-"] for left']),
        ("pin_diameter = 6", 'open_ends = ["x"]', 31, ['"x-" (left) or "x+" (right)']),
        (
            "pin_diameter = 6",
            "keep_out = [{ rectangle = [0, 1, 2] }]",
            31,
            ["3 numbers and needs 4", "left, front, right, back"],
        ),
        ('"rack.csv"  ', '"tables\\rack.csv"  ', 8, ["backslash", '"tables/rack.csv"']),
        ('"lap-steel.dxf"  ', '"C:/me/lap-steel.dxf"  ', 39, ["copy it there", 'write "lap-steel.dxf"']),
        ("thickness = 38 ", 'drawing_units = "in"\nthickness = 38 ', 40, ["millimeters", "remove drawing_units"]),
        ('part = "lap steel"', 'part = ["lap steel", "body template"]', 68, ["[[order]] for 'body template'"]),
        ("MDF = 1.5", 'MDF = "$1.50"', 24, ["write MDF = 1.50"]),
        (
            '["sugar maple", "black cherry", "black walnut"]',
            '"sugar maple or black cherry"',
            41,
            ["2 woods", 'write species = ["sugar maple", "black cherry"]'],
        ),
        ('[part."lap steel".layers]', "[layers]", 46, ["lacks its part", '[part."lap steel".layers]']),
        ('[part."lap steel".layers]', "# ", 47, ["heading", '[part."lap steel".layers] above this line']),
        ("pin_diameter = 6", "[[keep_out]]\nrectangle = [0, 430, 60, 450]", 31, ["[[bed.bench.keep_out]]"]),
        ('[shop]\nname = "My workshop"', 'name = "My workshop"\n[shop]', 5, ["name", "move it below [shop]"]),
        ("[shop]\n", "", 5, ["name", "write [shop] above this line"]),
        ("[bed.bench]", "[bed.bench.1]", 28, ["dot", '[bed."bench.1"]']),
        ('PICKUP = "cutout"', 'PICKUP = { role = "cutout", depth = 12 }', 61, ["goes right through", "remove depth"]),
    ],
)  # fmt: skip
def test_one_error_with_what_to_write(said: Said, old: str, new: str, line: int, words: list[str]) -> None:
    """A mistake is one error: at its line, with what is wrong and what to write; nothing that only follows."""
    ((severity, where, message),) = said((old, new))
    assert severity == "error"
    assert where.startswith("shop.toml, ")
    assert where.endswith(f"line {line}")
    for word in words:
        assert word in message


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("diameter = 6 ", 'diameter = "1/4" ', 12, ["0.25 mm", '"1/4 in"']),
        ("pin_diameter = 6", 'pin_diameter = "1/4"', 31, ["0.25 mm", '"1/4 in"']),
        ("diameter = 6 ", "diameter = 0.25 ", 12, ["0.25 mm", 'diameter = "0.25 in"']),
        ("travel_x = 900 ", "travel_x = 36 ", 29, ["36 mm along X", 'travel_x = "36 in"']),
        ("diameter = 6 ", "diameter = 36 ", 12, ["36 mm cutter", "pocket PICKUP", "35 mm wide"]),
    ],
)
def test_a_size_that_may_be_of_inches(said: Said, old: str, new: str, line: int, words: list[str]) -> None:
    """A size out of proportion is one warning with the text to write if inches are meant."""
    ((severity, where, message),) = said((old, new))
    assert (severity, where.rpartition(", ")[2]) == ("warning", f"line {line}")
    for word in words:
        assert word in message


@pytest.mark.parametrize("thickness", ["0.25", '"1 1/2"'])
def test_a_doubtful_thickness_is_told_alone(said: Said, thickness: str) -> None:
    """A thickness that is less than a pocket's depth because of its unit stops the run; the sound depth is not blamed."""
    ((severity, where, message),) = said(("thickness = 38 ", f"thickness = {thickness} "))
    assert severity == "error"
    assert "thickness, line 40" in where
    assert f'"{thickness.strip(chr(34))} in"' in message


def test_fractions_in_a_shop_in_inches(said: Said) -> None:
    """There a fraction in quotes is of inches, and nothing is asked."""
    assert said(('diameter = "1/4 in"', 'diameter = "1/4"'), units="in") == []


def test_the_layer_that_is_the_outline_is_named(said: Said) -> None:
    """Where no layer is the outline, the largest one that is not named is proposed."""
    ((_, where, message),) = said(('OUTLINE = "outline"\nPICKUP = {', "PICKUP = {"))
    assert where.endswith("layers, line 46")
    assert 'add OUTLINE = "outline"' in message


def test_examples_are_in_the_units_of_the_shop(said: Said) -> None:
    """In a shop in inches the line to write is in inches."""
    ((_, _, message),) = said(("travel_y = 18 ", "# "), units="in")
    assert "in inches, such as travel_y = 18" in message
    ((_, _, message),) = said((', depth = "3/4 in"', ""), units="in")
    assert 'add depth = "1/2 in"' in message


def test_a_dot_in_the_name_of_a_part(said: Said) -> None:
    """A name with a dot is one error, beside a part of the name before the dot, too; its layers are read with it."""
    body = [
        ('[part."body template"]', "[part.T1.2]"),
        ('[part."body template".layers]', "[part.T1.2.layers]"),
        ('part = "body template"', 'part = "T1.2"'),
    ]
    steel = [
        ('[part."lap steel"]', "[part.T1]"),
        ('[part."lap steel".layers]', "[part.T1.layers]"),
        ('part = "lap steel"', 'part = "T1"'),
    ]
    for changes in (body, steel + body):
        ((severity, where, message),) = said(*changes)
        assert (severity, where.rpartition(", ")[2]) == ("error", "line 53")
        assert '[part."T1.2"] and [part."T1.2".layers]' in message


def test_layers_beside_their_heading(said: Said) -> None:
    """A layer above its heading is told by its name, and read where it belongs."""
    ((_, where, message),) = said(
        ('[part."lap steel".layers]', ""), ("PICKUP = { role", '[part."lap steel".layers]\nPICKUP = { role')
    )
    assert where.endswith("line 47")
    assert "OUTLINE" in message
    assert 'below [part."lap steel".layers]' in message


def test_the_unit_that_is_left_out(said: Said) -> None:
    """Without a unit nothing else is asked in either kind of shop: what the file is written in shows."""
    for units, key in (("mm", 'units = "mm" '), ("in", 'units = "in" ')):
        ((severity, where, _),) = said((key, "# "), units=units)
        assert (severity, "shop, line" in where) == ("error", True)


def test_a_wood_that_may_be_several(said: Said) -> None:
    """One warning at the line of the part, with the wood that the rack has."""
    ((severity, where, message),) = said(('["sugar maple", "black cherry", "black walnut"]', '["maple"]'))
    assert (severity, where.rpartition(", ")[2]) == ("warning", "line 41")
    assert 'write "sugar maple"' in message


def test_a_keep_out_off_the_bed(said: Said) -> None:
    """A keep-out that touches nothing of the bed, which is 900 by 450 mm, is asked about."""
    bed = "pin_diameter = 6"
    ((severity, where, message),) = said((bed, "keep_out = [{ rectangle = [0, 900, 60, 950] }]"))
    assert (severity, where[-7:]) == ("warning", "line 31")
    assert "Y 900 mm to 950 mm" in message
    assert "0 mm to 450 mm" in message
    assert said((bed, "keep_out = [{ rectangle = [0, 440, 60, 950] }]")) == []
    assert said((bed, "table_y = [0, 1000]\nkeep_out = [{ rectangle = [0, 900, 60, 950] }]")) == []


def test_a_keep_out_as_place_and_size(said: Said) -> None:
    """A keep-out over nearly all of the bed is asked about: (850 - 60) x (430 - 20) of 900 x 450 are 80 %."""
    ((severity, _, message),) = said(("pin_diameter = 6", "keep_out = [{ rectangle = [850, 430, 60, 20] }]"))
    assert severity == "warning"
    assert "80 %" in message
    assert "[850, 430, 910, 450]" in message
    assert said(("pin_diameter = 6", "keep_out = [{ rectangle = [60, 20, 0, 0] }]")) == []


def test_a_dwg_drawing(said: Said, tmp_path: Path) -> None:
    """A DWG drawing is told with the name that it has as DXF."""
    (tmp_path / "neck.dwg").write_bytes(b"AC1032" + bytes(200))
    ((_, where, message),) = said(('"lap-steel.dxf"  ', '"neck.dwg"  '))
    assert where.startswith("neck.dwg")
    assert "DWG" in message
    assert '"neck.dxf"' in message


def test_a_shop_file_with_txt_behind_its_name(tmp_path: Path) -> None:
    """shop.toml.txt is seen, and the name that it needs told."""
    (tmp_path / "shop.toml.txt").write_text("[shop]\n")
    _, (finding,) = check_shop(tmp_path)
    assert "shop.toml.txt" in finding.message
    assert "rename it shop.toml" in finding.message
