"""One leftover: what the sheet saws off is what is booked, valued and counted, read from sheet, tables and rack."""

from __future__ import annotations

import csv
import re

import pytest
import shapely

from nestyield.cli import main

SHOP = """\
[shop]
name = "Small shop"
units = "mm"
rack = "rack.csv"
defects = "defects.csv"

[cutter]
diameter = 6

[leftover]
shortest = 150
narrowest = 50

[value]
"sugar maple" = 10

[bed.bench]
travel_x = 900
travel_y = 500

[part.round]
drawing = "round.dxf"
thickness = 40
species = "sugar maple"
grain_tolerance = 0

[part.round.layers]
EDGE = "outline"

[[order]]
name = "spring"
part = "round"
"""
RACK = ["piece,shelf,species,thickness,length,width,outline", "B-1,A2,Sugar Maple,44,700,313,"]
DEFECTS = ["piece,kind,x,y,diameter", "B-1,knot,560,200,20"]


def round_(space):
    """A disc of 300 mm: what the cutter leaves beside it is curved."""
    points = [(0, 150, 1.0), (300, 150, 1.0)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": "EDGE"})


def rack_rows(folder):
    with (folder / "rack.csv").open(newline="", encoding="utf-8-sig") as file:
        return {row["piece"]: row for row in csv.DictReader(file)}


@pytest.fixture
def written(maker):
    """The shop planned."""
    maker.drawing("round.dxf", round_)
    return maker.plan(SHOP, RACK, DEFECTS)


def test_sheet_book_value_and_yield_have_one_leftover(maker, written, capsys):
    """Lines of the sheet, row of the rack, area of the table, value and yield are the same rectangle."""
    sheet = written.pdf("B-1")
    table = {row["leftover"]: row for row in written.rows("leftovers.csv") if row["keep"] == "yes"}
    assert table
    lines = {
        name: [float(v) for v in re.findall(r"-?\d+(?:\.\d+)?", found)]
        for name, found in re.findall(
            r"(B-1-[a-z]) [\d.]+ × [\d.]+ mm ([\d.]+ to [\d.]+ [\d.]+ to [\d.]+)", sheet
        )
    }
    assert lines.keys() == table.keys()
    sawn = {n: shapely.box(x0, y0, x1, y1) for n, (x0, x1, y0, y1) in lines.items()}
    for name, box in sawn.items():
        row = table[name]
        assert box.area / 100 == pytest.approx(float(row["area_cm2"]), rel=2e-3)
        x0, y0, x1, y1 = box.bounds
        assert (x1 - x0, y1 - y0) == pytest.approx(
            (float(row["length_mm"]), float(row["width_mm"])), abs=0.11
        )
    kept = sum(box.area for box in sawn.values())
    disc = 3.14159265 * 150**2
    shown = re.search(r"yield (\d+) %, (\d+) % counting leftovers kept", written.out)
    assert int(shown[1]) == round(100 * disc / (700 * 313))
    assert int(shown[2]) == pytest.approx(100 * (disc + kept) / (700 * 313), abs=0.6)
    assert main(["take", str(written.folder), "--shop", str(maker.folder)]) == 0
    told = capsys.readouterr().out
    assert "write the shelf of B-1-a" in told
    rows = rack_rows(maker.folder)
    for name, box in sawn.items():
        row = rows[name]
        x0, y0, x1, y1 = box.bounds
        assert row["outline"] == ""  # a rectangle needs none
        assert (float(row["length"]), float(row["width"])) == pytest.approx((x1 - x0, y1 - y0), abs=0.11)
        assert row["species"] == "Sugar Maple"  # as the maker wrote it
        assert row["parent"] == "B-1"


def test_defects_of_a_leftover_move_with_it(maker, written):
    """A knot at 560, 200 of the board is booked from the leftover's own corner."""
    sheet = written.pdf("B-1")
    found = re.findall(r"(B-1-[a-z]) [\d.]+ × [\d.]+ mm ([\d.]+) to ([\d.]+) ([\d.]+) to ([\d.]+)", sheet)
    assert main(["take", str(written.folder), "--shop", str(maker.folder)]) == 0
    with (maker.folder / "defects.csv").open(newline="") as file:
        booked = {r["piece"]: r for r in csv.DictReader(file) if r["piece"] != "B-1"}
    holding = {
        n: (float(a), float(c))
        for n, a, b, c, d in found
        if float(a) < 560 < float(b) and float(c) < 200 < float(d)
    }
    assert booked.keys() == holding.keys()
    for name, (x, y) in holding.items():
        assert float(booked[name]["x"]) == pytest.approx(560 - x, abs=0.06)
        assert float(booked[name]["y"]) == pytest.approx(200 - y, abs=0.06)


def test_the_exact_outline_on_request(maker, capsys):
    """With cut = "outline" the sheet asks for the drawn outline, and that is what is booked."""
    maker.drawing("round.dxf", round_)
    written = maker.plan(SHOP.replace("[leftover]", '[leftover]\ncut = "outline"'), RACK, DEFECTS)
    sheet = written.pdf("B-1")
    assert "along their drawn outlines" in sheet
    assert "Saw lines" not in sheet
    drawn = [
        shapely.Polygon([(x, y) for x, y, *_ in e.get_points()])
        for e in written.dxf("B-1").modelspace().query("LWPOLYLINE")
        if e.dxf.layer == "LEFTOVER"
    ]
    assert main(["take", str(written.folder), "--shop", str(maker.folder)]) == 0
    rows = rack_rows(maker.folder)
    areas = sorted(shapely.from_wkt(r["outline"]).area for n, r in rows.items() if n != "B-1")
    assert areas == pytest.approx(sorted(d.area for d in drawn), rel=1e-3)


def test_the_clear_rectangle_leaves_the_knot_out(written):
    """What is clear of the knot is the largest strip beside it, worked out from the leftover's lines."""
    found = re.findall(
        r"(B-1-[a-z]) [\d.]+ × [\d.]+ mm ([\d.]+) to ([\d.]+) ([\d.]+) to ([\d.]+)", written.pdf("B-1")
    )
    table = {row["leftover"]: row for row in written.rows("leftovers.csv")}
    holding = 0
    for name, *ends in found:
        x0, x1, y0, y1 = map(float, ends)
        clear = float(table[name]["clear_length_mm"]), float(table[name]["clear_width_mm"])
        if not (x0 < 560 < x1 and y0 < 200 < y1):
            size = re.search(rf"{name} ([\d.]+ × [\d.]+) mm", written.pdf("B-1"))[1]
            assert f"none {size} mm" in written.pdf("B-1")  # one rounding: clear of nothing is all of it
            assert clear == pytest.approx((x1 - x0, y1 - y0), abs=0.11)
            continue
        holding += 1
        assert table[name]["defects"] == "knot"
        strips = [(550 - x0, y1 - y0), (x1 - 570, y1 - y0), (x1 - x0, 190 - y0), (x1 - x0, y1 - 210)]
        best = max(strips, key=lambda s: s[0] * s[1])
        assert clear[0] * clear[1] == pytest.approx(best[0] * best[1], rel=0.01)
    assert holding == 1
