"""The stock of a glue-up is the pieces taken, worked out from the rack and read from terminal, table and report."""

from __future__ import annotations

import re

import pytest

SHOP = """\
[shop]
name = "Small shop"
units = "mm"
rack = "rack.csv"

[cutter]
diameter = 6

[bed.bench]
travel_x = 900
travel_y = 500

[part.body]
drawing = "body.dxf"
thickness = 40
species = "sugar maple"

[part.body.layers]
EDGE = "outline"

[[order]]
name = "spring"
part = "body"
"""
RACK = [
    "piece,species,thickness_mm,length_mm,width_mm",
    "B-1,sugar maple,44,400,100",
    "B-2,sugar maple,46,380,120",
]
BOARD_FOOT_MM3 = 144 * 25.4**3  # NIST Handbook 44: 144 cubic inches


def body(space):
    """A body of 300 x 160 mm."""
    space.add_lwpolyline([(0, 0), (300, 0), (300, 160), (0, 160)], close=True, dxfattribs={"layer": "EDGE"})


def test_a_glue_up_counts_the_pieces_that_it_takes(maker):
    """Board feet are those of both boards at their own thickness, the yield is of their area."""
    maker.drawing("body.dxf", body)
    written = maker.plan(SHOP, RACK)
    assert re.search(r"1 of 1 body, from glue-up 1 \(B-\d \+ B-\d\)", written.out)
    area = 400 * 100 + 380 * 120
    feet = (400 * 100 * 44 + 380 * 120 * 46) / BOARD_FOOT_MM3
    (row,) = written.rows("cuts.csv")
    assert float(row["board_feet_of_blank"]) == pytest.approx(feet, abs=0.006)
    assert re.search(r"([\d.]+) board feet used", written.out)[1] == f"{feet:.2f}"
    assert int(re.search(r"yield (\d+) %", written.out)[1]) == round(100 * 300 * 160 / area)
    assert f"{feet:.2f} board feet" in written.html()
