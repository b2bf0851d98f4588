"""Screws hold the wood around each part until its outline is cut, read from the sheet and the drawing."""

from __future__ import annotations

import re

import shapely

SHOP = """\
[shop]
name = "Small shop"
units = "mm"
rack = "rack.csv"

[cutter]
diameter = 6

[allowance]
blank_margin = 5

[bed.bench]
travel_x = 1200
travel_y = 500

[part.plate]
drawing = "plate.dxf"
thickness = 12
species = "mdf"
grain = "none"

[part.plate.layers]
EDGE = "outline"

[[order]]
name = "plates"
part = "plate"
count = 4
"""


def plate(space):
    """A plate with a wide head, so that four in a row leave waste between them."""
    points = [(0, 0), (240, 0), (240, 80), (150, 120), (150, 226), (90, 226), (90, 120), (0, 80)]
    space.add_lwpolyline(points, close=True, dxfattribs={"layer": "EDGE"})


def test_screws_hold_until_the_last_outline(maker):
    """Cut in the order of the sheet, the wood around every part still has two of the screws of the drawing."""
    maker.drawing("plate.dxf", plate)
    written = maker.plan(
        SHOP, ["piece,species,thickness_mm,length_mm,width_mm,grain", "F-1,mdf,12,1100,237,none"]
    )
    assert written.code == 0
    space = written.dxf("F-1").modelspace()

    def rings(layer):
        return [
            shapely.Polygon([(x, y) for x, y, *_ in e.get_points()])
            for e in space.query("LWPOLYLINE")
            if e.dxf.layer == layer
        ]

    (blank,) = rings("BLANK")
    parts = rings("PART")
    assert len(parts) == 4
    screws = [
        shapely.Point(e.dxf.center.x, e.dxf.center.y)
        for e in space.query("CIRCLE")
        if e.dxf.layer.startswith("HOLD")
    ]
    assert len(screws) >= 2
    told = re.search(r"Parts ([\d, and]+): outline, through cut, last, in this order", written.pdf("F-1"))
    order = [int(n) - 1 for n in re.findall(r"\d+", told[1])]
    assert sorted(order) == [0, 1, 2, 3]
    wood, freed = blank, False
    for k in order:
        pieces = list(shapely.get_parts(wood))
        mine = max(pieces, key=lambda p: p.intersection(parts[k]).area)
        assert sum(mine.covers(s) for s in screws) >= 2
        wood = wood.difference(parts[k].buffer(6.0, quad_segs=64).difference(parts[k]))
        freed = freed or len(shapely.get_parts(wood)) > len(pieces) + 1
    # the margin is narrower than the cutter: some waste does come loose on the way
    assert freed
    assert not [r for r in written.rows("cautions.csv") if "Too few screws" in r["caution"]]
