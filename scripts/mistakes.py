"""Realistic mistakes, one at a time, each in a folder as `nestyield new` writes it, with what `check` says.

python scripts/mistakes.py          writes tests/MISTAKES.md from real runs; ends with 1 when one is not told

A mistake exchanges one text of one file for another. ``place`` is what the message names as the place, ``remedy``
what it says to do; both must stand in one line of what is printed.
"""

from __future__ import annotations

import contextlib
import io
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import mistakes_in_inches
import mistakes_of_stock

from nestyield.cli import main as nestyield
from nestyield.starter import starter_files

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "tests" / "MISTAKES.md"


#: The place is the line of the change.
AT = "@"
#: Texts that are exchanged everywhere in their file.
ALL = ("[[order]]\n", "body template")


@dataclass(frozen=True)
class Mistake:
    """One mistake: in ``file`` of a new shop, ``old`` becomes ``new``."""

    what: str
    file: str
    old: str
    new: str
    place: str
    remedy: str
    units: str = "mm"
    also: Callable[[Path], None] | None = None  # changes the folder after that
    written: str = ""  # what that does


def shop(what: str, old: str, new: str, place: str, remedy: str, units: str = "mm") -> Mistake:
    return Mistake(what, "shop.toml", old, new, place, remedy, units)


def as_dwg(folder: Path) -> None:
    (folder / "lap-steel.dwg").write_bytes(b"AC1032" + bytes(200))


def without_quotes(folder: Path) -> None:
    text = (folder / "shop.toml").read_text(encoding="utf-8")
    text = text.replace('[part."T1.2"', "[part.T1.2")
    (folder / "shop.toml").write_text(text, encoding="utf-8")


def with_txt(folder: Path) -> None:
    (folder / "shop.toml").rename(folder / "shop.toml.txt")


def rack(what: str, old: str, new: str, place: str, remedy: str, units: str = "mm") -> Mistake:
    return Mistake(what, "rack.csv", old, new, place, remedy, units)


def flaw(what: str, old: str, new: str, place: str, remedy: str, units: str = "mm") -> Mistake:
    return Mistake(what, "defects.csv", old, new, place, remedy, units)


B1 = "B-1,A1,sugar maple,44.5,640,180,"
B5 = "B-5,A3,sugar maple,44.5,600,200,"
HEAD = (
    "piece,shelf,species,thickness_mm,length_mm,width_mm,outline_mm,grain,moisture,count,status,seams_mm,note"
)
TAPER = '"POLYGON ((0 0, 700 0, 660 170, 0 210))"'
SEAM = '"LINESTRING (0 100, 600 100)"'
KNOT = "B-1,knot,600,150,22,"

MISTAKES: tuple[Mistake, ...] = (
    # the shop file as text
    shop("fraction without quotes", "thickness = 38 ", "thickness = 1 1/2 ", AT, '"1 1/2 in"'),
    shop("fraction of an inch without quotes", "diameter = 6 ", "diameter = 1/4 ", AT, '"1/4 in"'),
    shop("inch mark", "diameter = 6 ", 'diameter = 1/4" ', AT, '"1/4 in"'),
    shop("unit without quotes", "travel_x = 900 ", "travel_x = 900 mm ", AT, '"900 mm"'),
    shop("curly quotes", 'name = "My workshop"', "name = “My workshop”", AT, "straight"),
    shop("text without quotes", 'rack = "rack.csv"  ', "rack = rack.csv  ", AT, '"rack.csv"'),
    shop("species without quotes", 'species = "MDF"', "species = MDF", AT, '"MDF"'),
    shop("name with a space", '[part."lap steel"]', "[part.lap steel]", AT, '[part."lap steel"]'),
    shop(
        "name with a space, layers",
        '[part."lap steel".layers]',
        "[part.lap steel.layers]",
        AT,
        '[part."lap steel".layers]',
    ),
    shop(
        "layer with a space",
        'OUTLINE = "outline"\nPICKUP = {',
        'OUT LINE = "outline"\nPICKUP = {',
        AT,
        '"OUT LINE"',
    ),
    shop("single brackets around orders", "[[order]]\n", "[order]\n", "[order]", "[[order]]"),
    shop("bracket left open", "[cutter]", "[cutter", AT, "[cutter]"),
    shop("list left open", '"black walnut"] ', '"black walnut" ', AT, '"black walnut"]'),
    shop("quote left open", 'grain = "none"', 'grain = "none', AT, '"none"'),
    shop("colon instead of =", "diameter = 6 ", "diameter: 6 ", AT, "diameter = 6"),
    shop("= left out", "diameter = 6 ", "diameter 6 ", AT, "diameter = 6"),
    shop("decimal comma", "diameter = 6 ", "diameter = 6,35 ", AT, "6.35"),
    shop("decimal comma in quotes", "diameter = 6 ", 'diameter = "6,35" ', AT, "6.35"),
    shop("no digit before the point", "diameter = 6 ", "diameter = .25 ", AT, "0.25"),
    shop("true with a capital", "priority = 1 ", "hold = True ", AT, "true"),
    shop("yes instead of true", "priority = 1 ", "hold = yes ", AT, "true"),
    shop("date of a calendar", "due = 2027-03-01", "due = 3/1/2027", AT, "year-month-day"),
    shop("comma left out of a table", 'face = "front", depth', 'face = "front" depth', AT, '"front", depth'),
    shop(
        "defect kind without quotes",
        '"nail hole" = "filled"',
        "nail hole = filled",
        AT,
        '"nail hole" = "filled"',
    ),
    shop("comment with //", "# The same drawing", "// The same drawing", AT, "#"),
    shop("backslash in a file name", '"rack.csv"  ', '"tables\\rack.csv"  ', AT, "/"),
    shop("a key twice", "diameter = 6 ", "diameter = 6\ndiameter = 8 ", AT, "keep one"),
    shop("a part twice", '[part."body template"]', '[part."lap steel"]', AT, "another name"),
    shop("no quotes around a word", 'role = "pocket"', "role = pocket", AT, 'role = "pocket"'),
    # the shop file by its meaning
    shop("section misspelt", "[cutter]", "[cuter]", "cuter", "did you mean 'cutter'"),
    shop("key misspelt", "blank_margin", "blank_magrin", "blank_magrin", "did you mean 'blank_margin'"),
    shop("required key misspelt", "diameter = 6 ", "diametre = 6 ", "diametre", "'diameter'"),
    shop("required key left out", "travel_y = 450 ", "# ", "bed.bench", "travel_y"),
    shop("no unit", 'units = "mm" ', "# ", "shop", "units"),
    shop("unknown unit", 'units = "mm" ', 'units = "millimeters" ', AT, 'write units = "mm"'),
    shop(
        "part of an order misspelt",
        'part = "lap steel"  ',
        'part = "lapsteel"  ',
        AT,
        "did you mean 'lap steel'",
    ),
    shop("bed of an order misspelt", "priority = 1 ", 'bed = "bnech" ', AT, "did you mean 'bench'"),
    shop(
        "drawing misspelt",
        'drawing = "lap-steel.dxf"  ',
        'drawing = "lapsteel.dxf"  ',
        AT,
        "did you mean 'lap-steel.dxf'",
    ),
    shop("rack misspelt", '"rack.csv"  ', '"racks.csv"  ', AT, "did you mean 'rack.csv'"),
    shop("layer misspelt", 'POSTS = "hole"', 'POST = "hole"', AT, "write POSTS"),
    shop("role misspelt", 'POSTS = "hole"', 'POSTS = "holes"', AT, 'write POSTS = "hole"'),
    shop(
        "role of the outline left out",
        'OUTLINE = "outline"\nPICKUP = {',
        "PICKUP = {",
        "layers",
        'add OUTLINE = "outline"',
    ),
    shop("pocket without depth", ", depth = 19", "", "PICKUP", "add depth = 12"),
    shop("pocket deeper than the part", "depth = 19", "depth = 190", AT, "write a depth below 38 mm"),
    shop(
        "defect kind misspelt", '"nail hole" = "filled"', '"nale hole" = "filled"', "tolerates", "'nail hole'"
    ),
    shop(
        "species misspelt",
        '"sugar maple", "black',
        '"suger maple", "black',
        "species",
        "did you mean 'sugar maple'",
    ),
    shop("count of none", "count = 2", "count = 0", AT, "write hold = true"),
    shop("count in words", "count = 2", 'count = "two"', AT, "write count = 2"),
    shop("negative length", "blank_margin = 6 ", "blank_margin = -6 ", AT, "write blank_margin = 6"),
    shop("a thickness of nothing", "thickness = 38 ", "thickness = 0 ", AT, "such as thickness = 38"),
    shop("unit misspelt", "thickness = 38 ", 'thickness = "38 mn" ', AT, 'write thickness = "38 mm"'),
    shop(
        "two orders of one name",
        'name = "template"',
        'name = "two steels"',
        "line 74",
        "(lines 67 and 74); rename one",
    ),
    shop("orders that differ by case", 'name = "template"', 'name = "Two Steels"', "order", "rename"),
    shop("parts that differ by case", "body template", "Lap Steel", "Lap Steel", "rename"),
    shop("grain as a word", "grain = 0 ", 'grain = "along" ', AT, "write grain = 0"),
    shop(
        "open end misspelt", "pin_diameter = 6", 'open_ends = ["x"]', AT, 'write "x-" (left) or "x+" (right)'
    ),
    shop(
        "keep-out with three numbers",
        "pin_diameter = 6",
        "keep_out = [{ rectangle = [0, 1, 2] }]",
        "keep_out",
        "such as [0, 430, 60, 450]",
    ),
    shop("a word of one's own: wood", 'species = "MDF"', 'wood = "MDF"', "wood", "did you mean 'species'"),
    shop(
        "a word of one's own: file",
        'drawing = "lap-steel.dxf"  ',
        'file = "lap-steel.dxf"  ',
        "file",
        "did you mean 'drawing'",
    ),
    shop("a word of one's own: qty", "count = 2", "qty = 2", "qty", "did you mean 'count'"),
    shop("a word of one's own: inches", 'units = "mm" ', 'units = "inches" ', AT, 'write units = "in"'),
    shop("a bed without a name", "[bed.bench]", "[bed]", "bed", "[bed.NAME]"),
    shop("orders in the plural", "[[order]]\n", "[[orders]]\n", "orders", "did you mean 'order'"),
    # wrong unit
    shop(
        "cutter in mm in a shop in inches",
        'diameter = "1/4 in" ',
        "diameter = 6.35 ",
        "diameter",
        '"6.35 mm"',
        "in",
    ),
    shop("cutter in inches in a shop in mm", "diameter = 6 ", "diameter = 0.25 ", "diameter", '"0.25 in"'),
    shop(
        "gap in mm in a shop in inches",
        "[allowance]  ",
        "[allowance]\nbetween_parts = 9.5  ",
        "between_parts",
        '"9.5 mm"',
        "in",
    ),
    shop(
        "cutter wider than a pocket",
        "diameter = 6 ",
        "diameter = 36 ",
        "lap steel",
        "35 mm wide",
    ),
    shop(
        "thickness in inches in a shop in mm",
        "thickness = 38 ",
        "thickness = 0.25 ",
        AT,
        'write thickness = "0.25 in"',
    ),
    shop(
        "travel in inches in a shop in mm",
        "travel_x = 900 ",
        "travel_x = 36 ",
        AT,
        'write travel_x = "36 in"',
    ),
    shop(
        "drawing in mm read as inches",
        "thickness = 38 ",
        'drawing_units = "in"\nthickness = 38 ',
        AT,
        "remove drawing_units",
    ),
    rack(
        "length and width exchanged",
        "B-6,A3,black walnut,45,620,190,,0,",
        "B-6,A3,black walnut,45,190,620,,,",
        "row 9",
        "if length and width are exchanged, change them",
    ),
    rack(
        "piece in inches in a column of mm",
        B1,
        "B-1,A1,sugar maple,1.75,25.25,7.125,",
        "row 4",
        "write 25.25 in",
    ),
    rack(
        "piece in mm in a column of inches",
        "B-1,A1,sugar maple,1 3/4,25 1/4,7 1/8,",
        "B-1,A1,sugar maple,44.5,640,180,",
        "row 4",
        "write 640 mm",
        "in",
    ),
    # the rack as a table
    rack("column misspelt: legnth", "length_mm", "legnth_mm", "rack.csv", "rename it length_mm"),
    rack("column misspelt: widht", "width_mm", "widht_mm", "rack.csv", "rename it width_mm"),
    rack("column misspelt: thicknes", "thickness_mm", "thicknes_mm", "rack.csv", "rename it thickness_mm"),
    rack("column misspelt: moistre", "moisture", "moistre", "moistre", "rename it moisture"),
    rack(
        "no line of names",
        HEAD + "\n",
        "",
        "rack.csv",
        "above it, one for each cell: piece,shelf,species,thickness_mm,length_mm,width_mm,outline_mm,,,,status,seams_mm,",
    ),
    rack("a column twice", "shelf,species", "species,species", "rack.csv", "delete or rename one"),
    rack("status sold", B1 + ",0,8,1,ready", B1 + ",0,8,1,sold", "row 4, column status", "write taken"),
    rack(
        "status reserved",
        B1 + ",0,8,1,ready",
        B1 + ",0,8,1,reserved",
        "row 4, column status",
        "write hold",
    ),
    rack("mahagony", B1, "B-1,A1,mahagony,44.5,640,180,", "row 4, column species", "did you mean 'mahogany'"),
    rack(
        "shuger maple",
        B1,
        "B-1,A1,shugar maple,44.5,640,180,",
        "row 4, column species",
        "did you mean 'sugar maple'",
    ),
    rack("name twice", B5, B5.replace("B-5", "B-1"), "row 8", "give one another name"),
    rack("names that differ by case", B5, B5.replace("B-5", "b-1"), "row 8", "rename"),
    rack("no name", B1, B1.replace("B-1", ""), "row 4, column piece", "name"),
    rack("no species", B1, B1.replace("sugar maple", ""), "row 4, column species", "species"),
    rack("no thickness", B1, B1.replace("44.5", ""), "row 4, column thickness_mm", "write it in mm"),
    rack("no width", B1, B1.replace("180", ""), "row 4, column width_mm", "outline"),
    rack("spreadsheet: 3-Aug", B1, B1.replace("44.5", "3-Aug"), "row 4, column thickness_mm", "3/8"),
    rack("spreadsheet: 8-Mar", B1, B1.replace("44.5", "8-Mar"), "row 4, column thickness_mm", "8.3"),
    rack(
        "spreadsheet: 03/04/2026",
        B1,
        B1.replace("44.5", "03/04/2026"),
        "row 4, column thickness_mm",
        "as text",
    ),
    rack(
        "spreadsheet: 2026-05-08", B1, B1.replace("44.5", "2026-05-08"), "row 4, column thickness_mm", "5/8"
    ),
    rack("spreadsheet: #REF!", B1, B1.replace("640", "#REF!"), "row 4, column length_mm", "#REF!"),
    rack("spreadsheet: ####", B1, B1.replace("640", "####"), "row 4, column length_mm", "###"),
    rack(
        "decimal comma splits a cell",
        B1 + ",0,8,1,ready,,a plain board: length along the grain and width across it",
        B1.replace("44.5", "44,5") + ",0,8,1,ready,,",
        "row 4",
        "write 44.5",
    ),
    rack(
        "comma in a note",
        "a plain board: length",
        "a plain board, length",
        "row 4",
        'around "a plain board, length',
    ),
    rack("thickness in words", B1, B1.replace("44.5", "thick"), "row 4, column thickness_mm", "1 3/4 in"),
    rack(
        "two numbers in a cell",
        B1,
        B1.replace("640", "640 x 180"),
        "row 4, column length_mm",
        "180 under width_mm",
    ),
    rack(
        "fraction over nothing",
        B1,
        B1.replace("44.5", "1 3/0"),
        "row 4, column thickness_mm",
        "such as 1 3/8",
    ),
    rack(
        "length of 0", B1, B1.replace("640", "0"), "row 4, column length_mm", "write the true length, in mm"
    ),
    rack("count of 2.5", B1 + ",0,8,1", B1 + ",0,8,2.5", "row 4, column count", "whole number"),
    rack("moisture of 800", B1 + ",0,8,", B1 + ",0,800,", "row 4, column moisture", "from 0 to 100"),
    rack("grain as a word", B1 + ",0,", B1 + ",lengthwise,", "row 4, column grain", "for along it write 0"),
    rack("size and outline", TAPER, "x", "row 6", "outline"),
    rack(
        "outline crosses itself",
        TAPER,
        '"POLYGON ((0 0, 700 170, 700 0, 0 210))"',
        "row 6, column outline_mm",
        "corners in order",
    ),
    rack(
        "outline without brackets",
        TAPER,
        '"POLYGON 0 0, 700 0, 660 170"',
        "row 6, column outline_mm",
        "POLYGON ((",
    ),
    rack(
        "outline of an odd number of numbers",
        TAPER,
        '"0,0 700,0 660"',
        "row 6, column outline_mm",
        "perhaps after the last, 660",
    ),
    rack(
        "a diagonal left out",
        TAPER,
        '"sides 700, 172, 660, 210"',
        "row 6, column outline_mm",
        "sides 700, 172, 660, 210, 1-3",
    ),
    rack(
        "taper of two lengths",
        TAPER,
        '"taper 700, 210"',
        "row 6, column outline_mm",
        "such as taper 700, 210, 1",
    ),
    rack(
        "a diagonal misread",
        TAPER,
        '"sides 700, 170, 700, 210, 1-3 720.3, 2-4 760.8"',
        "row 6, column outline_mm",
        "31 mm too long for them; measure 2-4 again",
    ),
    rack("drawing of a piece misspelt", "offcut.dxf", "ofcut.dxf", "row 7", "did you mean 'offcut.dxf'"),
    rack(
        "seam outside the piece",
        SEAM,
        '"LINESTRING (0 100, 900 100)"',
        "row 8",
        "300 mm past the piece; write LINESTRING (0 100, 600 100)",
    ),
    rack("seam as one number", SEAM, "100", "row 8", "LINESTRING (0 100, 600 100)"),
    rack("a word of one's own: wood", "shelf,species", "shelf,wood", "rack.csv", "rename it species"),
    rack("a word of one's own: qty", ",count,", ",qty,", "qty", "rename it count"),
    # defects
    flaw("piece misspelt", KNOT, KNOT.replace("B-1", "B1"), "row 4, column piece", "did you mean 'B-1'"),
    flaw("kind misspelt", KNOT, KNOT.replace("knot", "knott"), "row 4, column kind", "did you mean 'knot'"),
    flaw("outside of its piece", KNOT, KNOT.replace("600,150", "150,600"), "row 4", "are x and y exchanged"),
    flaw("no size", KNOT, "B-1,knot,600,150,,", "row 4", "diameter"),
    flaw("no place", KNOT, "B-1,knot,,,22,", "row 4, column x_mm", "corner 0,0"),
    flaw("depth without a face", "bottom,30,", ",30,", "row 6, column face", "top or bottom"),
    flaw("face misspelt", "bottom,30,", "botom,30,", "row 6, column face", "write bottom"),
    flaw("deeper than the piece", "bottom,30,", "bottom,80,", "row 6, column depth_mm", "correct the depth"),
    flaw("diameter as a date", KNOT, KNOT.replace(",22,", ",7-Aug,"), "row 4, column diameter_mm", "7/8"),
    # found by two strangers and after them
    rack("spreadsheet: 3. Aug", B1, "B-1,A1,sugar maple,3. Aug,640,180,", "row 4", "as text"),
    rack("spreadsheet: number of a date", B1, "B-1,A1,sugar maple,46237,640,180,", "row 4", "as text"),
    rack(
        "headings of a spreadsheet",
        HEAD,
        HEAD.replace("piece,shelf,species,thickness_mm", "Name,shelf,Wood,T"),
        "row 3",
        "'Wood' is not known; rename it species",
    ),
    rack(
        "headings of one letter",
        HEAD,
        HEAD.replace("length_mm,width_mm", "L,W"),
        "row 3",
        "rename it length_mm",
    ),
    rack(
        "heading depth for thickness",
        HEAD,
        HEAD.replace("thickness_mm", "depth_mm"),
        "row 3",
        "rename it thickness_mm",
    ),
    rack(
        "a row of totals", "S-1,sheets", "Total,,,267,2560,842,,,,8,,,\nS-1,sheets", "row 10", "take it out"
    ),
    rack(
        "two woods in a cell",
        "B-1,A1,sugar maple,",
        "B-1,A1,maple / cherry,",
        "row 4",
        "write the one that this piece is of",
    ),
    rack("Mahagoni", "B-1,A1,sugar maple,", "B-1,A1,Mahagoni,", "row 4", "'mahogany'"),
    rack("a unit in the count", "0,8,1,ready,,a plain", "0,8,1 pc,ready,,a plain", "row 4", "write 1"),
    rack("grain along", "0,8,1,ready,,a plain", "along,8,1,ready,,a plain", "row 4", "for along it write 0"),
    rack(
        "length and width in a cell", B1, "B-1,A1,sugar maple,44.5,640x180,,", "row 4", "180 under width_mm"
    ),
    rack("thickness and width exchanged", B1, "B-1,A1,sugar maple,180,640,44.5,", "row 4", "exchanged"),
    rack(
        "curly quotes around an outline",
        TAPER,
        TAPER.replace('"', "“", 1).replace('"', "”"),
        "row 6",
        "write straight ones",
    ),
    flaw("x and y exchanged", KNOT, "B-1,knot,150,600,22,", "row 4", "exchanged"),
    shop(
        "several woods in a text",
        '["sugar maple", "black cherry", "black walnut"]',
        '"sugar maple, black cherry"',
        AT,
        'write species = ["sugar maple", "black cherry"]',
    ),
    shop(
        "a wood that may be several",
        '["sugar maple", "black cherry", "black walnut"]',
        '["maple"]',
        AT,
        'the rack has sugar maple: write "sugar maple"',
    ),
    shop(
        "an order by name",
        '[[order]]\nname = "two steels"',
        '[[order."two steels"]]',
        "line 66",
        "write [[order]]",
    ),
    shop("one bracket of an order missing", "[[order]]\nname", "[[order]\nname", AT, "[[order]]"),
    shop("a count in quotes", "count = 2", 'count = "2"', AT, "write count = 2"),
    shop("a priority in words", "priority = 1 ", 'priority = "high" ', AT, "write priority = 1"),
    shop(
        "an order of two parts",
        'part = "lap steel"',
        'part = ["lap steel", "body template"]',
        AT,
        "write a second [[order]] for 'body template'",
    ),
    # found by a third stranger, in the shop file
    shop(
        "path of the whole computer",
        'drawing = "lap-steel.dxf"  ',
        'drawing = "C:\\Users\\me\\lap-steel.dxf"  ',
        AT,
        'copy it there; write drawing = "lap-steel.dxf"',
    ),
    shop(
        "second [[order]] forgotten",
        '[[order]]\nname = "template"',
        'name = "template"',
        "line 73",
        "write [[order]] above this line",
    ),
    shop("either of two woods", '"MDF"', '"MDF" or "plywood"', AT, 'write species = ["MDF", "plywood"]'),
    shop("money sign", "MDF = 1.5", "MDF = $1.50", AT, "write MDF = 1.50"),
    Mistake(
        "DWG in place of DXF",
        "shop.toml",
        '"lap-steel.dxf"  ',
        '"lap-steel.dwg"  ',
        "lap-steel.dwg",
        'save it as DXF, and write "lap-steel.dxf"',
        also=as_dwg,
    ),
    Mistake(
        "Notepad added .txt",
        "shop.toml",
        "[shop]",
        "[shop]",
        "shop.toml",
        "rename it shop.toml",
        also=with_txt,
    ),
    shop("face top for a pocket", 'face = "front"', 'face = "top"', AT, 'write face = "front"'),
    shop("date in words", "due = 2027-03-01", 'due = "1 March 2027"', AT, "write due = 2027-03-01"),
    shop(
        "mirrored = true",
        "thickness = 38 ",
        "mirrored = true\nthickness = 38 ",
        AT,
        'write mirrored = "allowed"',
    ),
    shop("table as one length", "pin_diameter = 6", "table_x = 940", AT, "write table_x = [0, 940]"),
    shop(
        "open end in words", "pin_diameter = 6", 'open_ends = "left"', AT, 'write open_ends = ["x-"] for left'
    ),
    shop(
        "pins in quarter inches in a shop in mm",
        "pin_diameter = 6",
        'pin_diameter = "1/4"',
        AT,
        'write "1/4 in"',
    ),
    shop(
        "keep-out outside the bed",
        "pin_diameter = 6",
        "keep_out = [{ rectangle = [0, 900, 60, 950] }]",
        AT,
        "lies off the bed: Y 900 mm to 950 mm",
    ),
    shop(
        "keep-out as place and size",
        "pin_diameter = 6",
        "keep_out = [{ rectangle = [850, 430, 60, 20] }]",
        AT,
        "[850, 430, 910, 450]",
    ),
    shop(
        "depth for a through cutout",
        'PICKUP = "cutout"',
        'PICKUP = { role = "cutout", depth = 12 }',
        AT,
        "goes right through; remove depth",
    ),
    shop(
        "[layers] without its part",
        '[part."lap steel".layers]',
        "[layers]",
        AT,
        'write [part."lap steel".layers]',
    ),
    shop(
        "heading of layers left out",
        '[part."lap steel".layers]',
        "# ",
        "line 47",
        'write [part."lap steel".layers] above this line',
    ),
    Mistake(
        "dot in the name of a part",
        "shop.toml",
        "body template",
        "T1.2",
        "line 53",
        'write [part."T1.2"] and [part."T1.2".layers]',
        also=without_quotes,
    ),
    shop(
        "name above [shop]",
        '[shop]\nname = "My workshop"',
        'name = "My workshop"\n[shop]',
        AT,
        "move it below [shop]",
    ),
    Mistake(
        "no piece of the wood that the part needs",
        "rack.csv",
        "MDF",
        "plywood",
        "shop.toml, part.'body template'.species, line 56",
        "no piece on the rack is MDF, so order 'template' cannot be filled",
    ),
)


MISTAKES += tuple(
    Mistake(*row) for row in (*mistakes_of_stock.TABLES, *mistakes_of_stock.SHOP, *mistakes_in_inches.ROWS)
)
MISTAKES += tuple(
    Mistake(what, file, "", "", place, remedy, also=how, written=written)
    for what, written, file, place, remedy, how in mistakes_of_stock.CHANGED
)


def told(mistake: Mistake, folder: Path) -> tuple[int, list[str]]:
    """Return the exit code of `check` on a new shop with the mistake, and the lines that it prints."""
    for name, data in starter_files(mistake.units).items():  # type: ignore[arg-type]
        if name == mistake.file:
            text = data.decode()
            if mistake.old not in text:
                raise SystemExit(f"{mistake.what}: {mistake.old!r} is not in {name}")
            count = -1 if mistake.old in ALL else 1
            data = text.replace(mistake.old, mistake.new, count).encode()
        (folder / name).write_bytes(data)
    if mistake.also is not None:
        mistake.also(folder)
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = nestyield(["check", str(folder)])
    lines = [line for line in err.getvalue().splitlines() if not line.endswith("nothing can be planned")]
    return code, lines


def place_of(mistake: Mistake) -> str:
    """Return what names the place: the line of the change, or the words given."""
    if mistake.place != AT:
        return mistake.place
    text = starter_files(mistake.units)[mistake.file].decode()  # type: ignore[index]
    before = text[: text.index(mistake.old)]
    return f"line {before.count(chr(10)) + 1 + (mistake.what == 'a key twice')}"


def is_told(mistake: Mistake, code: int, lines: list[str]) -> bool:
    """Tell whether one printed line names file, place and remedy, and nothing is planned in silence."""
    place = place_of(mistake)
    return code > 0 and any(
        place in line
        and mistake.remedy in line
        and any(file in line for file in (mistake.file, ".dxf", "shop.toml"))
        for line in lines
    )


def main() -> int:
    """Write the page; return 1 when a mistake is not told."""
    rows, bad = [], 0
    for number, mistake in enumerate(MISTAKES, start=1):
        with tempfile.TemporaryDirectory() as name:
            code, lines = told(mistake, Path(name))
        good = is_told(mistake, code, lines)
        if not good:
            bad += 1
            print(
                f"{number} {mistake.what}: not told ({place_of(mistake)!r}, {mistake.remedy!r}):",
                *lines,
                sep="\n    ",
            )
        if len(lines) > 1 and good:
            print(f"{number} {mistake.what}: {len(lines)} lines", *lines, sep="\n    ")
        shown = "<br>".join(line.replace("|", "\\|") for line in lines[:4]) or "nothing"
        changed = mistake.written or " ".join(mistake.new.split()) or "(left out)"
        rows.append(
            f"| {number} | {mistake.what} | {mistake.file}: `{changed[:60]}` | {shown} | {len(lines)} |"
        )
    head = (
        "# Mistakes and what is said about them\n\nMade by `scripts/mistakes.py` from real runs of `nestyield "
        "check`, each on a new shop folder with one mistake in it.\n\n"
        "| | mistake | written | what is printed (at most four lines) | lines |\n|---|---|---|---|---|\n"
    )
    PAGE.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    print(f"{len(MISTAKES)} mistakes, {len(MISTAKES) - bad} told with place and remedy")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
