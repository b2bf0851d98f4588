"""Tables, read back as a spreadsheet would."""

import csv
import io

import pytest

from nestyield.paperwork import tables


def rows(data):
    """Read a table back as dictionaries."""
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


@pytest.mark.outside(source="RFC 4180, section 2", mark="S")
@pytest.mark.parametrize("name", ["cuts.csv", "leftovers.csv", "seams.csv", "cautions.csv"])
def test_form(rendered, name):
    """Lines end in CRLF, every row has as many cells as the header, the mark of UTF-8 comes first."""
    data = rendered[name]
    assert data.startswith(b"\xef\xbb\xbf")
    text = data.decode("utf-8-sig")
    assert text.endswith("\r\n")
    assert text.count("\n") == text.count("\r\n")
    table = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in table}) == 1
    assert len(table) > 1


def test_cuts_in_millimeters(rendered):
    """A cut is told from the datum edges, with units in the header and bare numbers in the cells."""
    first, second, third = rows(rendered["cuts.csv"])
    assert first["blank"] == "C07"
    assert (first["left_mm"], first["bottom_mm"]) == ("43.7", "26.2")
    assert (first["bed"], first["along"], first["copy"]) == ("bench", "x", "1")
    assert (second["across_x_mm"], second["across_y_mm"]) == ("320", "60")
    assert (third["face_up"], third["mirror_image"], third["turned_deg"]) == ("back", "no", "180")
    assert not any("_in" in key for key in first)


def test_cuts_in_inches(inch_rendered):
    """The same cut in an inch shop has fractions, whole inches always written."""
    first, *_ = rows(inch_rendered["cuts.csv"])
    assert first["part_thickness_in"] == "1 3/4"
    assert first["blank_thickness_in"] == "1 27/32"
    assert not any("_mm" in key for key in first)


def test_leftovers(rendered):
    """Waste is listed too and says that it is not kept."""
    assert [(r["leftover"], r["keep"], r["length_mm"]) for r in rows(rendered["leftovers.csv"])] == [
        ("C07-a", "yes", "270"),
        ("C07-b", "no", "40"),
        ("T-3-a", "yes", "360"),
    ]


def test_seams(rendered):
    """A seam says under which part it runs, how far, and what it crosses."""
    (row,) = rows(rendered["seams.csv"])
    assert row == {
        "blank": "C07",
        "seam": "seam 1",
        "number": "1",
        "part": "mandolin",
        "length_under_part_mm": "297.4",
        "zones_crossed_mm": "PICKUPS 40.1",
        "wood_left_mm": "PICKUPS 25.5",
        "visible": "front back edge",
        "from_x_mm": "0",
        "from_y_mm": "128",
        "to_x_mm": "634",
        "to_y_mm": "128",
    }


def test_no_cell_runs(build, nasty):
    """No cell of any table begins a formula, and every name reads back as one line."""
    plan = build.plan(blank_name=nasty, part_name=nasty, order_name=nasty, species=nasty, note=nasty)
    for make in (tables.cuts, tables.leftovers, tables.seams, tables.caution_rows):
        for row in csv.reader(io.StringIO(make(plan).decode("utf-8-sig"), newline="")):
            for cell in row:
                assert not cell.startswith(("=", "+", "@", "\t", "\r"))
                assert not (cell.startswith("-") and not cell.lstrip("-").replace(".", "").isdigit())
                assert "\n" not in cell
