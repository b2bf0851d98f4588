"""Seams and holes of the wood: the search keeps them clear of what is cut where there is room, and says where not."""

from __future__ import annotations

import math

import pytest
import shapely

SHOP = """\
[shop]
name = "Small shop"
units = "mm"
rack = "rack.csv"
defects = "defects.csv"

[cutter]
diameter = 6

[bed.bench]
travel_x = 900
travel_y = 400

[part.body]
drawing = "body.dxf"
thickness = 40
species = "sugar maple"
grain_tolerance = 0
tolerates = { "screw hole" = "filled" }

[part.body.layers]
EDGE = "outline"
STUDS = { role = "hole", face = "front", depth = 20 }
CAVITY = { role = "pocket", face = "front", depth = 15, tolerates = { mortise = "allowed" } }

[[order]]
name = "spring"
part = "body"
"""
NO_DEFECTS = ("piece,kind,x_mm,y_mm,diameter_mm",)
STUD = (90.0, 50.0, 5.5)  # x, y, radius in the drawing
SEAM_Y = 58.0


def body(space):
    """A body of 300 x 140 mm with one stud below its middle and a cavity."""
    space.add_lwpolyline([(0, 0), (300, 0), (300, 140), (0, 140)], close=True, dxfattribs={"layer": "EDGE"})
    space.add_circle(STUD[:2], STUD[2], dxfattribs={"layer": "STUDS"})
    space.add_lwpolyline(
        [(180, 40), (240, 40), (240, 100), (180, 100)], close=True, dxfattribs={"layer": "CAVITY"}
    )


def seam_rack(width: float) -> list[str]:
    """A board with a seam, which lies in the stud where the part fits with no more than its margin."""
    return [
        "piece,species,thickness_mm,length_mm,width_mm,seams",
        f'B-1,sugar maple,44,330,{width},"LINESTRING (0 {SEAM_Y}, 330 {SEAM_Y})"',
    ]


def stud_to_seam(written) -> float:
    """Return the wood between the seam and the stud as the drawing has them, millimeters."""
    space = written.dxf("B-1").modelspace()
    (seam,) = space.query('LWPOLYLINE[layer=="SEAM"]')
    line = shapely.LineString([(x, y) for x, y, *_ in seam.get_points()])
    (stud,) = [e for e in space.query("CIRCLE") if math.isclose(e.dxf.radius, STUD[2])]
    return line.distance(shapely.Point(stud.dxf.center.x, stud.dxf.center.y)) - stud.dxf.radius


def test_a_seam_keeps_clear_of_a_stud_where_there_is_room(maker):
    """With 35 mm of room the part moves until 3 mm of wood stand between seam and stud; nothing is to be told."""
    maker.drawing("body.dxf", body)
    written = maker.plan(SHOP, seam_rack(190), NO_DEFECTS)
    assert stud_to_seam(written) >= 3.0 - 0.005
    assert written.code == 0
    assert written.err == ""
    assert "inside the range where no seam should run" not in written.html()


def test_a_seam_that_cannot_keep_clear_is_told_everywhere(maker):
    """With 0.4 mm of room the seam stays in a stud: exit code 1 with the reason, on every paper."""
    maker.drawing("body.dxf", body)
    # the margin is 6.35: the stud's middle lies at 56.4 to 56.75, or at 96.4 turned end for end or over
    shop = SHOP.replace("[part.body]", '[part.body]\nshow_face = "top"')
    rack = [
        seam_rack(0)[0],
        'B-1,sugar maple,44,330,153.1,"MULTILINESTRING ((0 58, 330 58), (0 95, 330 95))"',
    ]
    written = maker.plan(shop, rack, NO_DEFECTS)
    space = written.dxf("B-1").modelspace()
    (stud,) = [e for e in space.query("CIRCLE") if math.isclose(e.dxf.radius, STUD[2])]
    seams = [s.get_points()[0][1] for s in space.query('LWPOLYLINE[layer=="SEAM"]')]
    assert min(abs(y - stud.dxf.center.y) for y in seams) < STUD[2]  # the drawing has a seam in the stud
    assert written.code == 1
    assert "STUDS" in written.err
    assert "warning G720: blank B-1" in written.err
    told = [row["caution"] for row in written.rows("cautions.csv") if row["blank"] == "B-1"]
    assert any("STUDS" in text and text.startswith("Seam") for text in told)
    sheet = written.pdf("B-1")
    assert "within 3 mm of hole STUDS: see Cautions" in sheet
    assert any(text.split(":")[0] in sheet for text in told if "STUDS" in text)
    summary = written.html().partition('id="orders"')[0]
    assert "STUDS" in summary


def cut_ground(written, cutter: float):
    """Return what the drawing cuts: the band around the outline, studs and cavity."""
    space = written.dxf("B-1").modelspace()
    (part,) = space.query('LWPOLYLINE[layer=="PART"]')
    body_ = shapely.Polygon([(x, y) for x, y, *_ in part.get_points()])
    return body_, body_.buffer(cutter, quad_segs=64).difference(body_)


def hole_at(written):
    """Return the defect of the drawing."""
    space = written.dxf("B-1").modelspace()
    (hole,) = space.query('LWPOLYLINE[layer=="DEFECT"]')
    points = [complex(x, y) for x, y, *_ in hole.get_points()]
    middle = sum(points) / len(points)
    return shapely.Point(middle.real, middle.imag).buffer(abs(points[0] - middle), quad_segs=64)


@pytest.mark.parametrize(("clearance", "least"), [("", 3.0), ("\n[prefer]\nhole_clearance = 5\n", 5.0)])
def test_a_screw_hole_keeps_clear_of_the_cutter(maker, clearance, least):
    """With room to spare a screw hole lies the shop's clearance from the cutter's path and the outline."""
    maker.drawing("body.dxf", body)
    rack = ["piece,species,thickness_mm,length_mm,width_mm", "B-1,sugar maple,44,345,156"]
    # in the cutter's path of a part that lies in the lower left corner, 6.35 mm from both edges
    defects = ["piece,kind,x_mm,y_mm,diameter_mm", "B-1,screw hole,309,80,4"]
    written = maker.plan(SHOP + clearance, rack, defects)
    _, band = cut_ground(written, 6.0)
    assert band.distance(hole_at(written)) >= least - 0.01
    assert written.code == 0
    assert "within" not in " ".join(
        r["caution"] for r in written.rows("cautions.csv") if "crew hole" in r["caution"]
    )


def test_a_screw_hole_that_stays_in_the_path_is_told(maker):
    """With 0.3 mm of room a screw hole beside the outline stays within the clearance, and is told."""
    maker.drawing("body.dxf", body)
    rack = ["piece,species,thickness_mm,length_mm,width_mm", "B-1,sugar maple,44,313,153"]
    defects = ["piece,kind,x_mm,y_mm,diameter_mm", "B-1,screw hole,9.5,80,4"]
    written = maker.plan(SHOP, rack, defects)
    body_, band = cut_ground(written, 6.0)
    hole = hole_at(written)
    assert band.distance(hole) < 3.0
    assert body_.boundary.distance(hole) < 3.0
    told = [
        r["caution"]
        for r in written.rows("cautions.csv")
        if r["blank"] == "B-1" and "crew hole" in r["caution"]
    ]
    assert any("part 1: outline" in text for text in told)


def test_a_mortise_belongs_in_the_pocket_that_allows_it(maker):
    """A mortise that a pocket's drawing allows does not drive the part away, and is no caution there."""
    maker.drawing("body.dxf", body)
    rack = ["piece,species,thickness_mm,length_mm,width_mm", "B-1,sugar maple,44,313,153"]
    defects = ["piece,kind,x_mm,y_mm,diameter_mm,face,depth_mm", "B-1,mortise,216.5,76.5,20,top,10"]
    written = maker.plan(SHOP, rack, defects)
    assert written.code == 0
    assert not [r for r in written.rows("cautions.csv") if r["blank"] == "B-1" and "ortise" in r["caution"]]
