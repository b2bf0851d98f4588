"""Each face of the wood has one name on sheet and in both drawings, and every zero is found on the wood or at a pin."""

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
pin_diameter = 6

[part.body]
drawing = "body.dxf"
thickness = 40
species = "sugar maple"
show_face = "top"

[part.body.layers]
EDGE = "outline"
NECK = { role = "pocket", face = "front", depth = 15 }
WIRES = { role = "pocket", face = "back", depth = 21 }

[[order]]
name = "spring"
part = "body"
"""


def body(space):
    """A body with one pocket in each face."""

    def box(layer, x0, y0, x1, y1):
        space.add_lwpolyline(
            [(x0, y0), (x1, y0), (x1, y1), (x0, y1)], close=True, dxfattribs={"layer": layer}
        )

    box("EDGE", 0, 0, 300, 160)
    box("NECK", 20, 50, 80, 110)
    box("WIRES", 150, 30, 210, 70)


def test_one_name_for_each_face_and_a_zero_that_is_found(maker):
    """Layers name the wood's faces in both drawings; the zero of each is drawn, and a pin tells where it is."""
    maker.drawing("body.dxf", body)
    written = maker.plan(
        SHOP, ["piece,species,thickness_mm,length_mm,width_mm", "B-1,sugar maple,44,460,230"]
    )
    sheet = written.pdf("B-1")
    assert "Write TOP on the top face and BOTTOM on the other" in sheet
    for stem in ("B-1", "B-1.bottom"):
        doc = written.dxf(stem)
        space = doc.modelspace()
        pockets = {e.dxf.layer for e in space.query("LWPOLYLINE") if e.dxf.layer.startswith("POCKET")}
        assert pockets == {"POCKET TOP 15 MM", "POCKET BOTTOM 21 MM"}, stem
        hidden = "POCKET TOP 15 MM" if "bottom" in stem else "POCKET BOTTOM 21 MM"
        assert {n for n in pockets if doc.layers.get(n).dxf.linetype == "UNDER"} == {hidden}
        arms = [list(e.get_points("xy")) for e in space.query('LWPOLYLINE[layer=="ZERO"]')]
        assert len(arms) == 2
        assert all(x == 0 for x, _ in arms[1])
        assert all(y == 0 for _, y in arms[0])
    # the sheet gives the place of a pin, or before pins are drilled of the datum corner, in the drawing for the
    # bottom face: there the drawing has that hole, or a corner of the blank
    found = re.search(
        r"In that drawing (pin P\d|the datum corner) is at X\s?(-?[\d.]+)(?: mm)?, Y\s?(-?[\d.]+)",
        sheet.replace("−", "-").replace("\u00a0", " ").replace("\u202f", " "),
    )
    assert found is not None
    space = written.dxf("B-1.bottom").modelspace()
    if found[1].startswith("pin"):
        at = [(p.dxf.center.x, p.dxf.center.y) for p in space.query('CIRCLE[layer=="PIN"]')]
    else:
        assert re.search(r"Setup A: bottom face up", sheet)
        (blank,) = space.query('LWPOLYLINE[layer=="BLANK"]')
        at = list(blank.get_points("xy"))
    told = (float(found[2]), float(found[3]))
    assert any(told == pytest.approx(p, abs=0.006) for p in at)
    assert "(both faces)" not in sheet


def test_a_datum_corner_without_wood(maker):
    """Sheet and drawing say where the zero is, and how it is found, when the wood has no such corner."""
    maker.drawing("body.dxf", body)
    front = SHOP.replace("WIRES = {", "# WIRES = {")
    rack = [
        "piece,species,thickness_mm,outline",
        'B-1,sugar maple,44,"POLYGON ((60 0, 460 0, 460 230, 0 230, 0 60, 60 0))"',
    ]
    written = maker.plan(front, rack)
    sheet = written.pdf("B-1")
    assert (
        "There is no sound wood at the datum corner: lay a straightedge along each datum edge. It is where they meet, at "
        "X 0, Y 0 mm of the drawing."
    ) in sheet
    texts = [t.dxf.text for t in written.dxf("B-1").modelspace().query("TEXT")]
    assert any("where the datum edges meet beyond the wood, is at X 0, Y 0." in t for t in texts)


def test_a_zero_is_found_from_sound_edges(maker):
    """With the bottom face up first and no corner of wood there, the sheet tells where sound edges lie in that drawing.

    The blank is 460 x 230 mm and is turned over about the line half way up: its upper edge comes to Y 0.
    """
    maker.drawing("body.dxf", body)
    rack = [
        "piece,species,thickness_mm,outline",
        'B-1,sugar maple,44,"POLYGON ((60 0, 460 0, 460 230, 0 230, 0 60, 60 0))"',
    ]
    written = maker.plan(SHOP, rack)
    sheet = written.pdf("B-1").replace("\u00a0", " ").replace("\u202f", " ")
    found = re.search(
        r"In that drawing the blank's (left|right) edge is at X (-?[\d.]+) and its (upper|lower) edge at Y (-?[\d.]+)",
        sheet.replace("−", "-"),
    )
    assert found is not None
    box = written.dxf("B-1.bottom").modelspace().query('LWPOLYLINE[layer=="BLANK"]')[0].get_points("xy")
    xs, ys = [x for x, _ in box], [y for _, y in box]
    assert float(found[2]) == pytest.approx(min(xs) if found[1] == "left" else max(xs), abs=0.006)
    # turned over about a line along X: what was the upper edge is the lower one now
    assert float(found[4]) == pytest.approx(min(ys) if found[3] == "upper" else max(ys), abs=0.006)


def test_turns_are_the_smallest(maker):
    """Table and sheet tell a turn within half a turn either way, and slides under half a millimeter not at all."""
    maker.drawing("body.dxf", body)
    grain = SHOP.replace('show_face = "top"', 'show_face = "top"\ngrain_tolerance = 0')
    rack = [
        "piece,species,thickness_mm,outline,grain",
        'B-1,sugar maple,44,"POLYGON ((0 0, 293 -107, 352 54, 59 161, 0 0))",-20.0617',
    ]
    written = maker.plan(grain.replace("[cutter]", "[allowance]\nblank_margin = 4\n\n[cutter]"), rack)
    (row,) = written.rows("cuts.csv")
    turned = float(row["turned_deg"])
    assert -180.0 < turned <= 180.0
    sheet = written.pdf("B-1").replace("−", "-")
    assert f"{turned:.1f}°" in sheet
    assert not re.search(r"shifted up to 0\.[0-4]", sheet)
