"""What a message about the tables says to do, done: the shop is good after it. One line for one mistake."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from nestyield.api import check_shop
from nestyield.model import Finding
from nestyield.starter import starter_files

B1 = "B-1,A1,sugar maple,44.5,640,180,,0,8,1,ready,,"
TAPER = '"POLYGON ((0 0, 700 0, 660 170, 0 210))"'
NOTE = "a plain board: length along the grain and width across it"
SEAM = '"LINESTRING (0 100, 600 100)"'
HEAD = (
    "piece,shelf,species,thickness_mm,length_mm,width_mm,outline_mm,grain,moisture,count,status,seams_mm,note"
)


def told(folder: Path, *edits: tuple[str, str, str], units: str = "mm") -> list[Finding]:
    """Errors and warnings of a new shop with texts of its files exchanged: (file, old, new)."""
    files = {k: v.decode() for k, v in starter_files(units).items()}  # type: ignore[arg-type]
    for file, old, new in edits:
        assert old in files[file], old
        files[file] = files[file].replace(old, new, 1)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [f for f in check_shop(folder)[1] if f.severity != "note"]


@pytest.mark.parametrize(
    ("right", "wrong", "pattern", "remedy"),
    [
        ("length_mm", "legnth_mm", "rename it (.+)", "{0}"),
        ("length_mm", "L", "rename it (.+)", "{0}"),
        ("thickness_mm", "depth_mm", "rename it (.+)", "{0}"),
        ("species", "wood", "rename it (.+)", "{0}"),
        ("moisture", "moistre", "rename it (.+)", "{0}"),
        (HEAD + "\n", "", "for each cell: (.+)", "{0}\n"),
        ("44.5,640", '"44,5",640', "write (.+)", "{0},640"),
        (B1, B1.replace("44.5", "44,5"), "is one number, write (.+)", B1.replace("44.5", "{0}")),
        (
            NOTE,
            NOTE.replace(":", ","),
            "put straight quotes around (.)a plain board, length",
            "{0}a plain board, length along{0}",
        ),
        ("44.5,640,180", "44.5,640 x 180,180", "write (.+) here and (.+) under width", "44.5,{0},{1}"),
        ("44.5,640,180", "44.5,640x180,", "write (.+) here and (.+) under width", "44.5,{0},{1}"),
        ("44.5,640,", "44.5,ca. 640,", "write (.+) alone", "44.5,{0},"),
        (TAPER, '"POLYGON 0 0, 700 0, 660 170, 0 210"', "write (.+)", '"{0}"'),
        (TAPER, '"taper 700, 210"', "such as (.+)", '"{0}"'),
        (TAPER, '"sides 700, 172, 660, 210"', "such as (.+)", '"{0}"'),
        (TAPER, '"sides 700 172 660 210 1-3 720"', "write (.+)", '"{0}"'),
        (TAPER, '"widths 210, 200, 170"', "such as (.+)", '"{0}"'),
        (SEAM, '"LINESTRING (0 100, 900 100)"', "write (.+)", '"{0}"'),
        (SEAM, "100", "write (.+)", '"{0}"'),
        ("ready,,a plain", "sold,,a plain", "write ([a-z]+)", "{0},,a plain"),
        ("0,8,1,ready", "0,8,1 pc,ready", "write (.+)", "0,8,{0},ready"),
        ("0,8,1,ready", "along,8,1,ready", "for along it write (.+),", "{0},8,1,ready"),
        (",,,offcut.dxf", ",,,offcut", "is a DXF file, write (.+)", ",,,{0}"),
        (
            "B-6,A3,black walnut",
            "B-1,A3,black walnut",
            "(give one another name)",
            "B-6,A3,black walnut",
        ),
    ],
)
def test_done_as_told(right: str, wrong: str, pattern: str, remedy: str, tmp_path: Path) -> None:
    """One line is printed for the mistake; what it says to write makes the shop good."""
    (finding,) = told(tmp_path, ("rack.csv", right, wrong))
    assert finding.file == "rack.csv"
    match = re.search(pattern, finding.message)
    assert match is not None, finding.message
    text = remedy.format(*match.groups())
    assert told(tmp_path, ("rack.csv", right, text)) == []


KNOT = "B-1,knot,600,150,22,"


@pytest.mark.parametrize(
    ("wrong", "pattern", "remedy"),
    [
        ("B-1,knot,40 from right,150,22,", r"write (.+) \(640 less 40\)", "B-1,knot,{0},150,22,"),
        ("B-1,knot,600,30 mm from far edge,22,", r"write (.+) \(180 less 30 mm\)", "B-1,knot,600,{0},22,"),
        (
            "B-1,hole,600,150,22,",
            "may be several kinds of defect; write .*(drilled hole)",
            "B-1,{0},600,150,22,",
        ),
        ("B-1,knot,150,600,22,", "are (x) and (y) exchanged", KNOT),
        ("B-1,knot,,,22,", r"write (x).* and (y).* of its middle", KNOT),
        ("B-1,knot,600,,22,", r"has no y; write (y) \(across\)", KNOT),
        ("B-1,knot,600,150,,", "has no size; write its (diameter)", KNOT),
        ("B-1,,600,150,22,", "such as (knot)", "B-1,{0},600,150,22,"),
    ],
)
def test_done_as_told_of_a_defect(wrong: str, pattern: str, remedy: str, tmp_path: Path) -> None:
    """As above, for the defect table; 600 is 640 less 40, the length of the board less what was measured."""
    (finding,) = told(tmp_path, ("defects.csv", KNOT, wrong))
    assert (finding.file, finding.severity) == ("defects.csv", "error")
    match = re.search(pattern, finding.message)
    assert match is not None, finding.message
    assert told(tmp_path, ("defects.csv", KNOT, remedy.format(*match.groups()))) == []


@pytest.mark.parametrize(
    ("right", "wrong", "words"),
    [
        ("B-5,A3", "B-1,A3", ("'B-1' is there twice (also in row 4)", "another name")),
        ("B-5,A3", "b-1,A3", ("'b-1' and 'B-1' (row 4) differ only in capitals",)),
        ("B-1,A1", ",A1", ("row has no name",)),
        ("44.5,640,180", "1.75,25.25,7.125", ("25.25 mm long", "write 25.25 in", "defects.csv, row 4")),
        ("44.5,640,180", "180,640,44.5", ("180 mm thick but only 44.5 mm wide", "change places")),
        ("44.5,640,180", "44.5,,", ("are empty",)),
    ],
)
def test_what_follows_is_not_told(right: str, wrong: str, words: tuple[str, ...], tmp_path: Path) -> None:
    """Defects of a row that lost its name, or of a piece whose size is doubtful, give no error of their own."""
    findings = told(tmp_path, ("rack.csv", right, wrong))
    assert {f.file for f in findings} == {"rack.csv"}
    assert [f.severity for f in findings if f.severity == "error"]
    assert len(findings) == 1
    for word in words:
        assert word in findings[0].message


def test_a_defect_of_no_piece_is_told_beside_other_errors(tmp_path: Path) -> None:
    """A wrong cell of another row keeps its name known, so a name that is nowhere is told at once."""
    findings = told(
        tmp_path, ("rack.csv", "44.5,640", "thick,640"), ("defects.csv", KNOT, KNOT.replace("B-1", "B1"))
    )
    assert [(f.file, f.code) for f in findings] == [("rack.csv", "R005"), ("defects.csv", "F006")]
    assert "did you mean 'B-1'?" in findings[1].message


def test_decimal_commas_are_told_once(tmp_path: Path) -> None:
    """A table of a European spreadsheet gives one line with the key that reads it; the key makes it good."""
    rows = starter_files("mm")["rack.csv"].decode()
    before, _, table = rows.partition("piece,")
    quoted = re.compile(r'"[^"]*"')
    table = table.replace("; ", " - ")
    kept = quoted.findall(table)
    table = quoted.sub("@", table).replace(",", ";").replace("44.5", "44,5").replace(";45;", ";45,0;")
    for text in kept:
        table = table.replace("@", text, 1)
    semicolons = ("rack.csv", rows, f"{before}piece;{table.removeprefix('piece;')}")
    (finding,) = told(tmp_path, semicolons)
    assert finding.where == "row 4, column thickness_mm"
    assert '(44,5); under [shop] write decimal = "comma"' in finding.message
    assert told(tmp_path, semicolons, ("shop.toml", "[shop]", '[shop]\ndecimal = "comma"')) == []


@pytest.mark.parametrize(
    ("heading", "renamed"),
    [("length inches", "length_in"), ("length (in.)", "length_in"), ("length [millimeters]", "length_mm")],
)
def test_a_column_keeps_the_unit_of_its_name(heading: str, renamed: str, tmp_path: Path) -> None:
    """A unit written out in the heading of a column stays in the name that it is to have; no cell is told."""
    units = renamed.removeprefix("length_")
    (finding,) = told(tmp_path, ("rack.csv", renamed, heading), units=units)
    assert finding.message == f"column {heading!r} is not known; rename it {renamed}"
    assert finding.where == "row 3"


def test_a_size_in_the_outline_column(tmp_path: Path) -> None:
    """A size goes under its own columns: named as the table names them."""
    (finding,) = told(tmp_path, ("rack.csv", TAPER, "700 x 210"))
    assert "write 700 under length_mm and 210 under width_mm, and clear this cell" in finding.message
    assert told(tmp_path, ("rack.csv", f",,,{TAPER},", ",700,210,,")) == []


def test_cells_that_slipped_are_told_once(tmp_path: Path) -> None:
    """A column put into the header and one row only: one line names the rows that lack its cell."""
    text = starter_files("mm")["rack.csv"].decode()
    lines = text.replace("outline_mm,", "outline_mm,edges,").splitlines()
    lines[3] = lines[3].replace("180,,0", "180,,live far,0")
    (finding,) = told(tmp_path, ("rack.csv", text, "\n".join(lines) + "\n"))
    assert (finding.code, finding.where) == ("R004", "row 5")
    assert "down to row 10" in finding.message
    assert finding.message.endswith("put an empty cell under edges")


def test_a_row_may_leave_out_its_last_cells(tmp_path: Path) -> None:
    """A row that ends early has empty cells there, and nothing is told."""
    assert (
        told(tmp_path, ("rack.csv", "600,400,,none,,1,ready,,a sheet has no grain: none", "600,400,,none"))
        == []
    )


@pytest.mark.parametrize(
    ("cell", "read"), [("8/4", "2 mm"), ("3/4", "0.75 mm"), ("1 3/4", "1.75 mm"), ("7/8", "0.875 mm")]
)
def test_fractions_in_a_shop_in_mm_are_asked_about(cell: str, read: str, tmp_path: Path) -> None:
    """A bare fraction is nearly always inches (common practice, no source): the text for that is given."""
    findings = told(tmp_path, ("rack.csv", "44.5,640", f"{cell},640"))
    assert [f.severity for f in findings] == ["warning"]
    assert f"{cell} is read as {read}; if inches are meant, write {cell} in" in findings[0].message
    assert told(tmp_path, ("rack.csv", "44.5,640", f"{cell} in,640")) == []


@pytest.mark.parametrize("mark", ["″", "ditto", "do.", '""""'])
def test_ditto_marks(mark: str, tmp_path: Path) -> None:
    """A mark for "as above" is refused with the words of the row above, never read as a wood."""
    (finding,) = told(tmp_path, ("rack.csv", "A1,black cherry", f"A1,{mark}"))
    assert (finding.severity, finding.where) == ("error", "row 5, column species")
    assert "write the cell out: sugar maple" in finding.message


def test_a_ditto_mark_as_a_single_quote(tmp_path: Path) -> None:
    """A quote alone in a cell opens a text for the reader; the message speaks of the mark and its line."""
    (finding,) = told(tmp_path, ("rack.csv", "A1,black cherry", 'A1,"'))
    assert "line 5" in finding.message
    assert "ditto" in finding.message


def test_flaws_that_commas_part(tmp_path: Path) -> None:
    """Semicolons go between flaws; the cell is given as it is to be."""
    edits = [
        ("rack.csv", HEAD, f"{HEAD},flaws"),
        ("rack.csv", "and width across it", 'and width across it,"small knot at 120, 50, check at 300, 20"'),
    ]
    (finding,) = told(tmp_path, *edits)
    cell = "small knot at 120, 50; small check at 300, 20"
    assert finding.message == f"part the flaws with semicolons: {cell}"
    edits[1] = (*edits[1][:2], f'and width across it,"{cell}"')
    assert told(tmp_path, *edits) == []


@pytest.mark.parametrize(
    ("sides", "wanted"),
    [
        # two triangles over 2-4 are closed by 1-3: the true 2-4 is worked out here
        (
            "700, 170, 700, 210, 1-3 720.3, 2-4 {far}",
            "2-4 does not fit the others, it is about 31 mm too long",
        ),
        ("700, 172, 660, 210, 1-3 1720", "1-3 (1720 mm) is longer than the sides allow (870 mm at most)"),
        ("700, 172, 660, 210, 1-3 300", "1-3 (300 mm) is shorter than the sides allow (528 mm at least)"),
    ],
)
def test_by_how_much_a_diagonal_is_off(sides: str, wanted: str, tmp_path: Path) -> None:
    """700 + 172 and 660 + 210 bound 1-3 above, 700 - 172 below; 2-4 is told by how far it is from what it must be."""
    # corner 1 at 0,0 and 2 at 700,0; 3 by 170 from 2 and 720.3 from 1; 4 by 700 from 3 and 210 from 1
    x3 = (720.3**2 - 170**2 + 700**2) / 1400
    y3 = math.sqrt(720.3**2 - x3**2)
    along = (210**2 - 700**2 + 720.3**2) / (2 * 720.3)
    off = math.sqrt(210**2 - along**2)
    x4, y4 = (along * x3 - off * y3) / 720.3, (along * y3 + off * x3) / 720.3
    far = math.hypot(x4 - 700.0, y4) + 31.0
    (finding,) = told(tmp_path, ("rack.csv", TAPER, f'"sides {sides.format(far=round(far, 1))}"'))
    assert wanted in finding.message
    assert re.search(r"; measure (1-3|2-4) again$", finding.message)


def test_a_column_in_the_other_unit_is_told_once(tmp_path: Path) -> None:
    """Lengths in mm under a heading of inches: one line for all rows, and the new heading makes the table good."""
    (finding,) = told(tmp_path, ("rack.csv", "length_mm", "length_in"))
    assert (finding.severity, finding.where) == ("error", "row 4, column length_in")
    assert "and 4 more are alike; if column length_in is in mm, rename it length_mm" in finding.message


def test_a_doubtful_size_of_a_column_stops_for_its_defects(tmp_path: Path) -> None:
    """Where many rows are told as one, a defect outside of any of them still makes it an error."""
    rows = starter_files("mm")["rack.csv"].decode()
    small = rows
    for size in ("640,180", "700,92", "600,200", "620,190", "600,400"):
        length, width = size.split(",")
        small = small.replace(f",{size},", f",{int(length) / 20:g},{int(width) / 20:g},", 1)
    findings = told(tmp_path, ("rack.csv", rows, small.replace("0 100, 600 100", "0 5, 30 5")))
    assert [(f.file, f.severity) for f in findings] == [("rack.csv", "error")]
    assert "if column length_mm is in inches, rename it length_in" in findings[0].message
    assert "defects.csv, row" in findings[0].message


def test_a_column_of_fractions_is_told_once(tmp_path: Path) -> None:
    """A table in inches under a heading of mm: one line, and the new heading makes it good."""
    (finding,) = told(tmp_path, ("rack.csv", "thickness_in", "thickness_mm"), units="in")
    assert (finding.severity, finding.where) == ("warning", "row 4, column thickness_mm")
    assert "read as 1.75 mm; if column thickness_mm is in inches, rename it thickness_in" in finding.message


def test_a_name_that_lacks_in_the_header_is_told_once(tmp_path: Path) -> None:
    """All rows have a cell more than the first line names: one error there, none at the rows."""
    (finding,) = told(tmp_path, ("rack.csv", "piece,shelf,", "piece,"))
    assert (finding.code, finding.where) == ("R004", "row 3")
    assert (
        finding.message == "the rows have 13 cells, and this line names 12 columns; write the name that lacks"
    )


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("25 1/4,", "ca. 25 1/4,", "such as 1/4 in"),
        ("1 3/4,25 1/4,7 1/8", "1 3/4,1,200,7 1/8", "if 1,200 is one number, write 1.200"),
        (
            '"POLYGON ((0 0, 27.5 0, 26 6.75, 0 8.25))"',
            '"sides 27 1/2 6 3/4 26 8 1/4 1-3 28"',
            "write sides 28, 7, 27 1/2",
        ),
        ('"POLYGON ((0 0, 27.5 0, 26 6.75, 0 8.25))"', "see drawing", "the corners (0,0 28,0 26,7)"),
        ('"LINESTRING (0 4, 23.625 4)"', "4 in", "write LINESTRING (0 4, 23.625 4)"),
        ("offcut.dxf", "sketch.dwg", "save it as one"),
        ("25 1/4,7 1/8", "1 1/4 x 7 1/8,", "write 1 1/4 here and 7 1/8 under width_in"),
    ],
)
def test_in_a_shop_in_inches(old: str, new: str, wanted: str, tmp_path: Path) -> None:
    """Examples stand in inches, and no line about another row is printed."""
    (finding,) = told(tmp_path, ("rack.csv", old, new), units="in")
    assert wanted in finding.message


def test_marks_in_notes_are_notes(tmp_path: Path) -> None:
    """A ditto mark in free text is text."""
    assert told(tmp_path, ("rack.csv", "a sheet has no grain: none", "ditto")) == []


def rack_of(
    tmp_path: Path, *rows: str, head: str = "piece,species,thickness,length,width,note,value"
) -> list:
    """Return what is told of a rack of these rows in the starter shop."""
    files = starter_files("mm")
    names = "".join(f"{name},sugar maple,50,900,300,,\n" for name in ("B-1", "B-2"))
    return told(tmp_path, ("rack.csv", files["rack.csv"].decode(), f"{head}\n{names}{''.join(rows)}"))


def test_an_empty_cell_too_many_is_no_decimal_comma(tmp_path: Path) -> None:
    """A comma too many before the note: it is to go; 40,980 joined would leave the board without a width."""
    found = rack_of(tmp_path, "T1,red oak,40,980,290,,tread,8\n", "T4,beech,38,5,900,280,painted,\n")
    said = {f.where: f.message for f in found if f.code == "R004"}
    assert said["row 4"].endswith("there is an empty cell too many: take out a comma after 290")
    assert said["row 5"].endswith("if 38,5 is one number, write 38.5")


@pytest.mark.parametrize(
    ("row", "where", "says"),
    [
        (
            "T7,beech,40,,,wedge,\n",
            "row 4, column length",
            "length and width are empty; write both, or for an odd",
        ),
        (
            "T7,beech,40,900,,wedge,\n",
            "row 4, column width",
            "the width is empty; write the width, or for an odd",
        ),
    ],
)
def test_a_size_that_lacks_is_told_once(tmp_path: Path, row: str, where: str, says: str) -> None:
    """One line for a row, with what an odd piece may have in its place, written out and readable as it stands."""
    (finding,) = [f for f in rack_of(tmp_path, row) if f.code == "R007"]
    assert finding.where == where
    assert finding.message.startswith(says)
    example = finding.message.split("as ", 1)[1]
    head = "piece,species,thickness,length,width,outline,value"
    assert not [f for f in rack_of(tmp_path, f"T7,beech,40,,,{example},\n", head=head) if f.code[0] == "R"]


def test_a_drawing_that_is_not_there_yet(tmp_path: Path) -> None:
    """The message says that the file is to be copied, which others are there, and how to go on without it."""
    (finding,) = told(tmp_path, ("shop.toml", '"lap-steel.dxf"', '"headstock.dxf"'))
    assert finding.code == "D001"
    assert "copy it there, or name one that is: lap-steel.dxf, offcut.dxf; or put # before" in finding.message


@pytest.mark.parametrize(
    "flaw", ["1 in knot about 30, 4", "small knot at 30,4", "thumb size knot about 30 in, 4"]
)
def test_an_unquoted_flaw_gets_quotes(flaw: str, tmp_path: Path) -> None:
    """The comma of a flaw's place, without quotes before a count: 4,1 is not told as one number."""
    head = "piece,species,thickness,length,width,flaws,count,note"
    found = rack_of(tmp_path, f"T3,beech,40,900,280,{flaw},1,painted\n", head=head)
    said = [f.message for f in found if f.code == "R004"]
    assert len(said) == 1
    assert said[0].endswith(f'put straight quotes around "{flaw}"')
    assert "one number" not in said[0]


@pytest.mark.parametrize(
    ("cells", "todo"),
    [
        ("rough near, far,small knot about 12, 4,1,worn", ('"rough near, far"', '"small knot about 12, 4"')),
        (",small knot about 12, 4,1,odd, and worn", ('"small knot about 12, 4"', '"odd, and worn"')),
        (",,1,worn, cracked, dirty", ('"worn, cracked, dirty"',)),
    ],
)
def test_two_cells_with_commas_are_both_named(cells: str, todo: tuple[str, ...], tmp_path: Path) -> None:
    """No more of the row is quoted than the cells that were cut apart; quoted so, the row is read."""
    head = "piece,species,thickness,length,width,edges,flaws,count,note"
    row = f"T3,beech,40,900,280,{cells}\n"
    (said,) = [f.message for f in rack_of(tmp_path, row, head=head) if f.code == "R004"]
    assert said.endswith("; put straight quotes around " + ", and around ".join(todo))
    for cell in todo:
        row = row.replace(cell.strip('"'), cell)
    assert not [f for f in rack_of(tmp_path, row, head=head) if f.code == "R004"]


def test_a_comma_in_a_fraction_is_taken_out(tmp_path: Path) -> None:
    """1,1/2 as a thickness makes a cell too many: the message gives 1 1/2."""
    (said,) = [f.message for f in rack_of(tmp_path, "T4,beech,1,1/2,9,28,,\n") if f.code == "R004"]
    assert said.endswith("take out the comma: write 1 1/2")


def test_the_second_number_of_a_place_is_no_decimal(tmp_path: Path) -> None:
    """The same before a column that may hold 4.8; and 1,5 under a count is not told as one number."""
    head = "piece,species,thickness,length,width,flaws,value,note"
    (said,) = rack_of(tmp_path, "T3,beech,40,900,280,small knot about 30, 4,8,painted\n", head=head)[:1]
    assert said.message.endswith('put straight quotes around "small knot about 30, 4"')
    head = "piece,species,thickness,length,width,count,note"
    found = rack_of(tmp_path, "T3,beech,1 1/2,25 1/4,9 1/2,1,5,painted\n", head=head)
    said = next(f for f in found if f.code == "R004")
    assert "one number" not in said.message
    assert "quotes" in said.message


def test_a_decimal_comma_says_what_a_comma_wants(tmp_path: Path) -> None:
    """Where it may be one number, the message says too that a cell with a comma wants quotes."""
    (said,) = [f.message for f in rack_of(tmp_path, "T4,beech,38,5,900,280,painted,\n") if f.code == "R004"]
    assert "a cell with a comma in it needs straight quotes; if 38,5 is one number" in said


def test_an_unquoted_flaw_in_a_row_of_the_right_length(tmp_path: Path) -> None:
    """The row leaves out its last cell, so the comma makes no cell too many: the flaw says what it wants."""
    head = "piece,species,thickness,length,width,flaws,count,note"
    found = rack_of(tmp_path, "T3,beech,40,900,280,small knot about 30, 4,1\n", head=head)
    (said,) = [f.message for f in found if f.code == "R013"]
    assert "put straight quotes around the cell" in said


@pytest.mark.parametrize(
    ("size", "says"),
    [
        ("2' 10", "write 2 ft 10 in"),
        ("2-10", "write 2 ft 10 in"),
        ("25 1/4+", "write 25 1/4 without the +"),
        ("25 1/4?", "write 25 1/4 without the ?"),
        ("24 to 25 1/4", "write the smaller one, 24"),
        ("61/2", "if 6 1/2 is meant, write 6 1/2"),
        ("121/16", "if 12 1/16 is meant, write 12 1/16"),
        ("26", ""),
        ("6-1/2", ""),
        ("6½", ""),
        ("105/4", ""),
    ],
)
def test_sizes_as_they_are_scribbled(tmp_path: Path, size: str, says: str) -> None:
    """What a maker writes on a board in chalk: the message gives it as the table takes it; silence for what is clear."""
    head = "piece,species,thickness,length_in,width,note,value"
    found = rack_of(tmp_path, f"T3,beech,45,{size},280,\n", head=head)
    said = [f.message for f in found if f.where == "row 4, column length_in"]
    assert (says in said[0]) if says else not said


@pytest.mark.parametrize("thick", ["5/4", "6/4", "8/4", "12/4", "16/4"])
def test_lumber_in_quarters_is_no_slip(tmp_path: Path, thick: str) -> None:
    """Thickness in quarters is how lumber is sold (common practice, no source); 13/4 is asked about."""
    for size, asked in ((thick, False), ("13/4", True)):
        head = "piece,species,thickness_in,length,width,note,value"
        found = rack_of(tmp_path, f"T3,beech,{size},900,280,\n", head=head)
        assert any("is meant, write 1 3/4" in f.message for f in found) == asked


def test_the_condition_of_a_wood_is_no_part_of_its_name(tmp_path: Path) -> None:
    """A wood with a remark in brackets would count as one that nobody knows."""
    (said,) = [f for f in rack_of(tmp_path, "T3,beech (wet),40,900,280,\n") if f.code == "R011"]
    assert (said.severity, "'wet' under note" in said.message) == ("error", True)
    (said,) = [f for f in rack_of(tmp_path, "T3,maple (hard),40,900,280,\n") if f.code == "R011"]
    assert said.message.endswith("write hard maple")
