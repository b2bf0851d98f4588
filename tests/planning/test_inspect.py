"""Edges to measure from, what the cutter meets in plan and depth, what leftovers hold, and cautions."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.model import (
    Blank,
    Defect,
    Layout,
    Leftover,
    MachineLimits,
    Member,
    Outline,
    Part,
    Placement,
    Settings,
    Shape,
    Shop,
    TearOutRisk,
    Zone,
)
from nestyield.model.facts import (
    AtOutline,
    EdgeGap,
    FibersRise,
    InZone,
    KnotUnderCutter,
    LittleWoodFromOpposite,
    LooseInWood,
    MdfDust,
    MeasureFromLine,
    MeasureFromOpposite,
    MetalInWood,
    MetalUnderCutter,
    NarrowPoint,
    NoBed,
    NoWoodAtCorner,
    PlaneEvenly,
    PointsBreak,
    PushBlocks,
    PushStick,
    RisingGrain,
    ShortStock,
    SmallParts,
)
from nestyield.planning.work.cautions import general_cautions, narrowest_mm
from nestyield.planning.work.inspect import with_inspection


def zone(name, role, box, **more):
    return Zone(name=name, role=role, shape=Shape(outer=Outline.rectangle(*box)), **more)


STICK = Part(
    name="stick",
    drawing="stick.dxf",
    outline=Outline.rectangle(0, 0, 200, 60),
    thickness_mm=20.0,
    zones=(
        zone("FRONT", "pocket", (20, 20, 50, 40), depth_mm=5.0),
        zone("BACK", "pocket", (60, 20, 90, 40), depth_mm=8.0, face="back"),
        zone("SLOT", "cutout", (100, 20, 130, 40)),
        zone("DEEP", "pocket", (140, 20, 150, 40), depth_mm=20.0),
        zone("DEEP#2", "pocket", (152, 20, 160, 40), depth_mm=20.0),
        zone("SLOPE", "contour", (170, 0, 200, 60), depth_mm=6.0),
        zone("NO GLUE", "no_seam", (0, 0, 15, 60)),
    ),
)


def dot(kind, x, y, r=3.0, face="through", depth_mm=None, name="row 1"):
    return Defect(
        name=name, kind=kind, shape=Shape(outer=Outline.circle(x, y, r)), face=face, depth_mm=depth_mm
    )


def strip(kind, box, name="row 1", **more):
    return Defect(name=name, kind=kind, shape=Shape(outer=Outline.rectangle(*box)), **more)


def made(*defects, outer=None, machines=None, grain=0.0, **more):
    """A stick at (50, 50) in a board of 400 x 300, 24 thick: 2 mm come off each face; the cutter is 6 wide."""
    shop = Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0, machines=MachineLimits(**machines or {})),
        beds=(),
        parts=(STICK,),
        pieces=(),
        orders=(),
    )
    blank = Blank(
        name="B",
        members=(Member(piece="B", copy=1),),
        species="black cherry",
        thickness_mm=24.0,
        shape=Shape(outer=outer or Outline.rectangle(0, 0, 400, 300)),
        grain_deg=grain,
        defects=defects,
    )
    at = Placement(
        part="stick", order="order 1", copy=1, angle_deg=0.0, mirrored=False, x_um=50_000, y_um=50_000
    )
    rest = {"part_area_mm2": 0, "stock_area_mm2": 0, "usable_area_mm2": 0, "board_feet": 0, "value": 0}
    layout = Layout(blank=blank, **{"placements": (at,), "setups": (), "chosen": 0, **rest, **more})
    return with_inspection(layout, shop)


def met(*defects, **more):
    """Names of the zones in which each defect is under the cutter, ``|`` for the outline."""
    found = made(*defects, **more).inspection.under_cutter
    return {one.defect: [p.zone if isinstance(p, InZone) else "|" for p in one.places] for one in found}


@pytest.mark.parametrize(
    ("where", "face", "depth_mm", "places"),
    [
        # FRONT is cut from 2 to 7 below the rack's top face: planing takes what is above
        ((85, 80), "through", None, ["FRONT"]),
        ((85, 80), "top", 1.9, []),
        ((85, 80), "top", 3.0, ["FRONT"]),
        ((85, 80), "bottom", 16.0, []),
        ((85, 80), "bottom", 18.0, ["FRONT"]),
        # BACK is cut from 2 to 10 above the bottom face
        ((125, 80), "bottom", 1.9, []),
        ((125, 80), "bottom", 3.0, ["BACK"]),
        ((125, 80), "top", 13.0, []),
        ((125, 80), "top", 15.0, ["BACK"]),
        # through all that planing leaves, whatever the face: an opening, and a pocket as deep as the part
        ((165, 80), "bottom", 3.0, ["SLOT"]),
        ((165, 80), "bottom", 1.9, []),
        ((195, 80), "bottom", 3.0, ["DEEP"]),
        ((201, 80), "top", 3.0, ["DEEP"]),
        # a slope counts with its depth: 2 to 8 from the top
        ((235, 80), "top", 3.0, ["SLOPE"]),
        ((235, 80), "bottom", 15.0, []),
        # 6 mm around the outline, all that planing leaves; 1 mm further nothing
        ((47, 80), "bottom", 3.0, ["|"]),
        ((47, 80), "top", 1.9, []),
        ((40, 80), "through", None, []),
        # wood that stays, and zones that are not cut
        ((60, 60), "through", None, []),
    ],
)
def test_the_cutter_meets_a_defect_in_plan_and_depth(where, face, depth_mm, places):
    """A knot is under the cutter only where its region and its depths meet those that are cut."""
    wanted = {"row 1": places} if places else {}
    assert met(dot("knot", *where, face=face, depth_mm=depth_mm)) == wanted


def test_the_cutter_takes_its_whole_diameter_around_an_outline():
    """A knot between 4.5 and 5.5 mm from the outline is met by a cutter of 6 mm, beyond its radius."""
    assert met(dot("knot", 45.0, 80, r=0.5)) == {"row 1": ["|"]}


def test_turned_over_the_pockets_change_faces():
    """With the back up FRONT is cut from the wood's bottom face; mirrored about x = 150 it lies at 200 to 230."""
    over = Placement(
        part="stick",
        order="order 1",
        copy=1,
        angle_deg=0.0,
        mirrored=True,
        x_um=250_000,
        y_um=50_000,
        front_up=False,
    )
    low = dot("knot", 215, 80, face="bottom", depth_mm=3.0)
    high = dot("knot", 215, 80, face="top", depth_mm=10.0, name="row 2")
    assert met(low, high, placements=(over,)) == {"row 1": ["FRONT"]}


def test_more_off_one_face_moves_the_cuts():
    """With all 4 mm off the top FRONT is cut from 4 to 9: a knot 3 deep is gone, one from 8.5 down is met."""
    (at,) = made().placements
    tilted = (replace(at, top_off_mm=4.0),)
    high = dot("knot", 85, 80, face="top", depth_mm=3.0)
    low = dot("knot", 85, 80, face="bottom", depth_mm=15.5, name="row 2")
    assert met(high, low, placements=tilted) == {"row 2": ["FRONT"]}


def test_which_kinds_are_sought():
    """Knots, metal and holes of nails and screws are; stain, checks and wane are not."""
    kinds = ("knot", "loose knot", "metal", "nail hole", "screw hole", "stain", "check", "wane")
    found = met(*(dot(k, 165, 80, name=k) for k in kinds))
    assert list(found) == list(kinds[:5])


def edges(*defects, **more):
    found = made(*defects, **more).inspection
    return {e.edge: (e.sound, e.wood_um, [(g.kind, g.from_um, g.to_um) for g in e.gaps]) for e in found.edges}


def test_sound_edges():
    """A bare board of 400 x 300 is wood all around."""
    assert edges() == {
        "lower": (True, 400_000, []),
        "left": (True, 300_000, []),
        "upper": (True, 400_000, []),
        "right": (True, 300_000, []),
    }


@pytest.mark.parametrize(
    ("defect", "edge", "wanted"),
    [
        (strip("wane", (20, 0, 350, 16)), "lower", (False, 70_000, [("wane", 20_000, 350_000)])),
        (strip("bark", (60, 290, 400, 300)), "upper", (False, 60_000, [("bark", 60_000, 400_000)])),
        # 79 of 400 are less than a fifth, 80 are not
        (strip("rot", (20, 0, 99, 16)), "lower", (True, 321_000, [("rot", 20_000, 99_000)])),
        (strip("rot", (20, 0, 100, 16)), "lower", (False, 320_000, [("rot", 20_000, 100_000)])),
        # 1 mm off the edge, 5 mm and less, and kinds that leave the wood
        (strip("wane", (20, 1, 350, 16)), "lower", (True, 400_000, [])),
        (strip("split", (20, 0, 25, 100)), "lower", (True, 400_000, [])),
        (strip("stain", (20, 0, 350, 16)), "lower", (True, 400_000, [])),
        (strip("dent", (380, 100, 400, 200)), "right", (False, 200_000, [("dent", 100_000, 200_000)])),
    ],
)
def test_defects_take_wood_off_an_edge(defect, edge, wanted):
    """What is missing, from where to where, and whether the rest is enough to measure from."""
    assert edges(defect)[edge] == wanted


def test_gaps_that_overlap_count_once():
    """Wane from 0 to 60 and bark from 30 to 79 lack 79 of 400: still sound."""
    found = edges(strip("wane", (0, 0, 60, 9)), strip("bark", (30, 0, 79, 9), "row 2"))
    assert found["lower"] == (True, 321_000, [("wane", 0, 60_000), ("bark", 30_000, 79_000)])


def test_little_wood_at_an_edge():
    """A point reaches the edge with 0.5 mm of height over 2 mm of length: nothing to measure from."""
    outer = Outline.polygon([(0, 100), (200, 0), (400, 100), (400, 300), (0, 300)])
    layout = made(outer=outer)
    assert layout.inspection.edges[0].wood_um == 0
    assert LittleWoodFromOpposite(edge="lower", opposite="upper", size_um=300_000) in layout.cautions
    assert NoWoodAtCorner() in layout.cautions


def test_corner():
    """A clipped corner has no wood, nor one that wane takes right through; wane of 5 mm leaves some."""
    clipped = Outline.polygon([(40, 0), (400, 0), (400, 300), (0, 300), (0, 40)])
    assert not made(outer=clipped).inspection.corner
    assert made().inspection.corner
    assert not made(strip("wane", (0, 0, 30, 9))).inspection.corner
    assert NoWoodAtCorner(kind="") in made(outer=clipped).cautions
    assert NoWoodAtCorner(kind="rough edge") in made(strip("rough edge", (0, 0, 400, 9))).cautions
    assert made(strip("wane", (0, 0, 30, 9), face="top", depth_mm=5.0)).inspection.corner


def test_datum_edges_that_are_not_sound():
    """Measure from the opposite edge while that is sound; from a line when it is not; the left one likewise."""
    low, high = strip("wane", (0, 0, 350, 9)), strip("bark", (0, 290, 390, 300), "row 2")
    left = strip("rot", (0, 50, 9, 250), "row 3")
    gaps = (EdgeGap(kind="wane", from_um=0, to_um=350_000),)
    one = made(low).cautions
    assert one[0] == MeasureFromOpposite(edge="lower", opposite="upper", size_um=300_000, gaps=gaps)
    both = made(low, high).cautions
    assert both[0] == MeasureFromLine(edge="lower", gaps=gaps)
    rot = (EdgeGap(kind="rot", from_um=50_000, to_um=250_000),)
    assert (
        MeasureFromOpposite(edge="left", opposite="right", size_um=400_000, gaps=rot) in made(left).cautions
    )


def test_planing_is_told():
    """24 to 20: 2 off each face; a sheet is not planed."""
    assert made().inspection.planing == PlaneEvenly(to_um=20_000, each_um=2_000)
    assert made(grain=None).inspection.planing is None


def test_leftovers_hold_what_planing_leaves():
    """Of a leftover's defects the one of 0.8 mm is planed off; a scrap is not looked at."""
    shape = Shape(outer=Outline.rectangle(0, 200, 400, 300))
    left = Leftover(name="B-a", shape=shape, rectangle_mm=(0, 200, 400, 100), area_mm2=4e4, usable=True)
    layout = made(
        dot("screw hole", 90, 250, name="in it"),
        dot("screw hole", 90, 198, name="half in it"),
        dot("stain", 200, 250, face="top", depth_mm=0.8, name="planed off"),
        dot("stain", 200, 250, face="top", depth_mm=0.9, name="just not"),
        dot("knot", 90, 150, name="beside it"),
        leftovers=(left, replace(left, name="B-b", usable=False)),
    )
    (held,) = layout.inspection.leftovers
    assert held.leftover == "B-a"
    assert held.defects == ("in it", "half in it", "just not")


def test_metal_in_the_path_and_beside_it():
    """Metal that the cutter meets names its places; kinds that it does not meet are told apart."""
    found = made(
        dot("screw hole", 165, 80, name="row 1"),
        dot("screw hole", 47, 80, name="row 2"),
        dot("screw hole", 350, 250, name="row 3"),
        dot("metal", 350, 200, name="row 4"),
    ).cautions
    assert found[0] == MetalUnderCutter(
        kinds=("screw hole",),
        defects=("row 1", "row 2"),
        places=(InZone(placement=0, zone="SLOT"), AtOutline(placement=0)),
    )
    assert found[1] == MetalInWood(kinds=("metal", "screw hole"))


def test_knots_and_loose_wood():
    """Knots under the cutter are told with their places, and what is loose wherever it is."""
    found = made(
        dot("knot", 85, 80), dot("loose knot", 195, 80, name="row 2"), strip("shake", (300, 250, 380, 255))
    )
    assert found.cautions == (
        KnotUnderCutter(
            knots=("row 1", "row 2"),
            places=(InZone(placement=0, zone="FRONT"), InZone(placement=0, zone="DEEP")),
        ),
        LooseInWood(kinds=("loose knot", "shake")),
        SmallParts(placements=(0,), under_um=76_200),
    )


def test_limits_are_the_shops():
    """Short stock and small parts follow ``[machines]``: a part of 60 mm is small below 76.2, not below 60."""
    short = Outline.rectangle(0, 0, 300, 200)
    assert ShortStock(length_um=300_000, least_um=304_800) in made(outer=short).cautions
    own = {"jointer_shortest_mm": 250.0, "planer_rollers_mm": 240.0, "push_block_width_mm": 60.0}
    assert made(outer=short, machines=own).cautions == ()
    more = {**own, "planer_rollers_mm": 260.0, "push_block_width_mm": 61.0}
    assert made(outer=short, machines=more).cautions == (
        ShortStock(length_um=300_000, least_um=310_800),
        SmallParts(placements=(0,), under_um=61_000),
    )
    assert made(outer=short, grain=None, machines=more).cautions == (
        SmallParts(placements=(0,), under_um=61_000),
    )


def test_every_small_part_is_named():
    """All small parts are told, not the first alone, however they are turned."""
    (first,) = made().placements
    second = replace(first, copy=2, angle_deg=45.0, x_um=200_000, y_um=100_000)
    assert SmallParts(placements=(0, 1), under_um=76_200) in made(placements=(first, second)).cautions


@pytest.mark.parametrize(
    ("outline", "narrow"),
    [
        (Outline.rectangle(0, 0, 200, 60), 60.0),
        (Outline.circle(5, 5, 40), 80.0),
        (Outline.polygon([(0, 0), (30, 0), (0, 40)]), 24.0),  # its height over the long side of 50
        (Outline.polygon([(0, 0), (100, 100), (80, 120), (-20, 20)]), 800**0.5),
    ],
)
def test_how_narrow_a_part_is(outline, narrow):
    """The least width in any direction, not that of the box as drawn."""
    assert narrowest_mm(outline) == pytest.approx(narrow, abs=0.02)


def test_edges_that_may_tear():
    """Stretches of rising grain add up, points are counted, and the feed is the shop's."""
    rising = TearOutRisk(
        placement=0,
        line_mm=((50, 50), (90, 50)),
        length_mm=40.0,
        angle_deg=30.0,
        rule=RisingGrain(from_deg=15.0, to_deg=75.0),
    )
    point = replace(rising, rule=NarrowPoint(width_um=12_000, off_grain_deg=11.0))
    found = made(watch=(rising, point, replace(rising, length_mm=2.5))).cautions
    assert found[:2] == (FibersRise(feed="conventional", total_um=42_500), PointsBreak(count=1))


def test_no_bed():
    """A blank that no bed takes says so, and no other does."""
    assert NoBed() in made(chosen=None).cautions
    assert NoBed() not in made().cautions


def test_general_cautions_follow_the_shop():
    """Push blocks and stick are those of ``[machines]``; MDF is warned of where the plan takes some."""
    layout = made()
    machines = {
        "push_block_length_mm": 600.0,
        "push_block_width_mm": 150.0,
        "push_block_thickness_mm": 100.0,
        "jointer_shortest_mm": 250.0,
        "saw_push_stick_mm": 280.0,
    }
    shop = Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0, machines=MachineLimits(**machines)),
        beds=(),
        parts=(),
        pieces=(),
        orders=(),
    )
    found = general_cautions(shop, [layout])
    assert PushBlocks(length_um=600_000, width_um=150_000, thickness_um=100_000, shortest_um=250_000) in found
    assert PushStick(stick_um=450_000, last_um=280_000) in found
    assert MdfDust() not in found
    sheet = replace(layout, blank=replace(layout.blank, species="MDF"))
    assert MdfDust() in general_cautions(shop, [layout, sheet])
