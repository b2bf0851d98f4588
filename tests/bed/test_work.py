from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import pytest
import shapely

from nestyield.bed.fit import setups
from nestyield.bed.flip import flipped
from nestyield.bed.pins import only_flip
from nestyield.bed.sweep import outline_polygon
from nestyield.bed.waste import clear_of_outline_mm, free_wood
from nestyield.bed.work import work_plan
from nestyield.model import (
    Defect,
    Layout,
    Outline,
    Settings,
    Shape,
    Shop,
    WorkPlan,
    Zone,
)
from nestyield.model.pose import Pose

BODY = Outline(
    points_mm=((0, 60), (80, 0), (240, 20), (330, 60), (330, 180), (240, 220), (80, 240), (0, 180)),
    bulges=(0.1, -0.1, 0.2, 0.0, 0.2, -0.1, 0.1, 0.2),
)
FRONT = Zone(
    name="PICKUP", role="pocket", shape=Shape(outer=Outline.rectangle(100, 80, 200, 160)), depth_mm=19.0
)
BACK = Zone(
    name="CONTROL",
    role="pocket",
    shape=Shape(outer=Outline.rectangle(220, 80, 280, 160)),
    face="back",
    depth_mm=32.0,
)


def plan_for(make_part, make_blank, make_bed, at, *zones, front_up=True, pins=6.0, defects=(), units="mm"):
    part = replace(make_part(BODY, zones=zones), name="body")
    blank = replace(make_blank(Outline.rectangle(0, 0, 370, 280)), defects=defects)
    placement = replace(
        at(20, 20) if front_up else at(350, 20, mirrored=True), part="body", front_up=front_up
    )
    bed = replace(make_bed(600, 400, table=(-20.0, -20.0, 620.0, 420.0)), pin_diameter_mm=pins)
    settings = Settings(cutter_diameter_mm=6.0)
    shop = Shop(name="", units=units, settings=settings, beds=(bed,), parts=(part,), pieces=(), orders=())
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=setups(blank, ((part, placement),), (bed,), settings, units),
        chosen=0,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    found = work_plan(layout, shop)
    assert isinstance(found, WorkPlan)
    return found, layout, part, placement


def test_back_first_then_flip(make_part, make_blank, make_bed, at):
    """A body with cavities in both faces is cut back first, then from the front."""
    work, *_ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK)
    assert [p.up for p in work.positions] == ["bottom", "top"]
    turned, *_ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK, front_up=False)
    assert [p.up for p in turned.positions] == ["top", "bottom"]


@pytest.mark.parametrize(("units", "step"), [("mm", 0.5), ("in", 25.4 / 32)])
def test_places_are_whole_steps(make_part, make_blank, make_bed, at, units, step):
    """Pins, screws, flip axis and zero stand at half millimeters or 1/32 inches, as a rule reads them."""
    work, layout, *_ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK, units=units)
    setup = layout.setups[0]
    values = [v for x in (*work.pins, *work.hold_downs) for v in (x.x_mm, x.y_mm)]
    values += [work.flip_axis_mm[0][1], setup.x_mm, setup.y_mm]
    assert work.pins
    assert work.hold_downs
    for value in values:
        assert abs(value / step - round(value / step)) * step < 2e-3, value


def test_pins_and_screws_stand_over_the_table(make_part, make_blank, make_bed, at):
    """Where the blank hangs over an open end, neither pin nor screw goes through what hangs out, either way up."""
    part = replace(make_part(BODY, zones=(FRONT, BACK)), name="body")
    blank = make_blank(Outline.rectangle(0, 0, 760, 280))
    placement = replace(at(20, 20), part="body")
    bed = replace(
        make_bed(600, 400, table=(-20.0, -20.0, 620.0, 420.0), open_ends=("x-", "x+")), pin_diameter_mm=6.0
    )
    settings = Settings(cutter_diameter_mm=6.0)
    shop = Shop(name="", units="mm", settings=settings, beds=(bed,), parts=(part,), pieces=(), orders=())
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=setups(blank, ((part, placement),), (bed,), settings),
        chosen=0,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    chosen = layout.setups[0]
    assert chosen.fits
    work = work_plan(layout, shop)
    assert work.pins
    assert len(work.hold_downs) >= 2
    axis_y = work.flip_axis_mm[0][1]
    for item in (*work.pins, *work.hold_downs):
        for y in (item.y_mm, 2 * axis_y - item.y_mm):
            r = item.diameter_mm / 2
            assert -20 + r <= item.x_mm + chosen.x_mm <= 620 - r
            assert -20 + r <= y + chosen.y_mm <= 420 - r


@pytest.mark.parametrize("faces", [("back",), ("front", "back")])
def test_screws_stand_over_the_table_with_the_face_that_is_up(make_part, make_blank, make_bed, at, faces):
    """A narrow part at the edge of a wide blank that is turned over has its screws over the table then, too."""
    shape = Shape(outer=Outline.rectangle(220, 15, 280, 45))
    zones = tuple(
        Zone(name=f"{face} pocket", role="pocket", face=face, shape=shape, depth_mm=5.0) for face in faces
    )
    part = replace(make_part(Outline.rectangle(0, 0, 330, 60), zones=zones), name="body")
    blank = make_blank(Outline.rectangle(0, 0, 760, 460))
    placement = replace(at(20, 20), part="body")
    bed = replace(
        make_bed(900, 300, table=(-20.0, -20.0, 920.0, 620.0), open_ends=("y-", "y+")), pin_diameter_mm=6.0
    )
    settings = Settings(cutter_diameter_mm=6.0)
    shop = Shop(name="", units="mm", settings=settings, beds=(bed,), parts=(part,), pieces=(), orders=())
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=setups(blank, ((part, placement),), (bed,), settings),
        chosen=0,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    assert layout.setups[0].fits
    work = work_plan(layout, shop)
    assert work.hold_downs
    for position in work.positions:
        turn = math.radians(position.angle_deg)
        for hold in work.hold_downs:
            # a blank that is turned over is mirrored left to right, then turned, then shifted
            x = -hold.x_mm if position.mirrored else hold.x_mm
            bed_x = x * math.cos(turn) - hold.y_mm * math.sin(turn) + position.x_mm
            bed_y = x * math.sin(turn) + hold.y_mm * math.cos(turn) + position.y_mm
            r = hold.diameter_mm / 2
            assert -20 + r - 0.01 <= bed_x <= 920 - r + 0.01, (position, hold)
            assert -20 + r - 0.01 <= bed_y <= 620 - r + 0.01, (position, hold)


def test_one_face_needs_no_flip(make_part, make_blank, make_bed, at):
    """A body with front cavities only is cut from one face, without flip pins."""
    work, *_ = plan_for(make_part, make_blank, make_bed, at, FRONT)
    assert [p.up for p in work.positions] == ["top"]
    assert work.flip_axis_mm is None
    assert work.pins == ()


@pytest.mark.outside(
    source="pins at least cutter radius + 6 mm outside the outline: common practice, no source", mark="P"
)
def test_pins_clear_of_outline_and_only_two_ways_down(make_part, make_blank, make_bed, at):
    """Pins stand in the waste, 3 + 6 mm and their own radius from the outline, and tell end from end."""
    work, _, part, _ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK)
    assert len(work.pins) >= 2
    body = outline_polygon(part.outline, Pose(x_mm=20.0, y_mm=20.0))
    blank = shapely.box(0, 0, 370, 280)
    for pin in work.pins:
        spot = shapely.Point(pin.x_mm, pin.y_mm)
        assert spot.distance(body) >= 3.0 + 6.0 + 3.0
        assert blank.covers(spot.buffer(3.0))
    assert only_flip([(p.x_mm, p.y_mm) for p in work.pins])
    (x0, y0), (x1, y1) = work.flip_axis_mm
    assert x0 == x1 or y0 == y1
    for pin in work.pins:
        over = (pin.x_mm, 2 * y0 - pin.y_mm) if y0 == y1 else (2 * x0 - pin.x_mm, pin.y_mm)
        assert any(abs(over[0] - p.x_mm) + abs(over[1] - p.y_mm) < 1e-9 for p in work.pins)


def test_screws_clear_of_cutter_pins_and_flaws(make_part, make_blank, make_bed, at):
    """Screw heads stay clear of the groove, of pins and of a knot in the corner."""
    knot = Defect(name="d", kind="knot", shape=Shape(outer=Outline.circle(20, 20, 12)))
    work, _, part, _ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK, defects=(knot,))
    body = outline_polygon(part.outline, Pose(x_mm=20.0, y_mm=20.0))
    assert len(work.hold_downs) >= 2
    for hold in work.hold_downs:
        head = shapely.Point(hold.x_mm, hold.y_mm).buffer(hold.diameter_mm / 2)
        assert head.distance(body) >= 9.0
        assert head.distance(shapely.Point(20, 20)) >= 12.0
        for pin in work.pins:
            assert head.distance(shapely.Point(pin.x_mm, pin.y_mm)) >= 3.0 + 4.9
    for a, b in combinations(work.hold_downs, 2):
        assert abs(a.x_mm - b.x_mm) + abs(a.y_mm - b.y_mm) >= 60.0
    for pin in work.pins:
        assert shapely.Point(pin.x_mm, pin.y_mm).distance(shapely.Point(20, 20)) >= 12.0 + 3.0


def test_no_pins_on_the_bed_is_a_caution(make_part, make_blank, make_bed, at):
    """A bed without pins gets a flip axis, no pins, and a caution."""
    work, *_ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK, pins=0.0)
    assert work.pins == ()
    assert work.flip_axis_mm is not None
    caution = work.cautions[0]
    assert caution.code == "no flip pins"
    # the axis is the middle of the blank, so the fence stays; its place is the blank's lower side on the bed
    (_, y0), (_, y1) = work.flip_axis_mm
    assert y0 == y1
    assert caution.fence == "x"
    assert caution.at_um == caution.then_um


def test_no_fence_at_an_edge_that_is_not_sound(make_part, make_blank, make_bed, at):
    """Bark along the far edge: no place of a fence is told."""
    bark = Defect(name="d", kind="bark", shape=Shape(outer=Outline.rectangle(100, 272, 200, 280)))
    work, *_ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK, pins=0.0, defects=(bark,))
    (caution,) = [c for c in work.cautions if c.code == "no flip pins"]
    assert (caution.fence, caution.at_um) == (None, 0)


def test_tight_blank_is_a_caution(make_part, make_blank, make_bed, at):
    """A blank with hardly any waste says that there is no room for pins."""
    square = Outline.rectangle(0, 0, 330, 240)
    part = replace(make_part(square, zones=(FRONT, BACK)), name="body")
    _, layout, *_ = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK)
    blank = make_blank(Outline.rectangle(13, 13, 357, 267))
    shop = Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0),
        beds=(replace(make_bed(600, 400), pin_diameter_mm=6.0),),
        parts=(part,),
        pieces=(),
        orders=(),
    )
    work = work_plan(replace(layout, blank=blank), shop)
    assert work is not None
    assert work.pins == ()
    assert [c.code for c in work.cautions] == ["no place for flip pins", "few screws", "parts come loose"]
    assert work.cautions[1].count == len(work.hold_downs)


@pytest.mark.parametrize("axis", ["x", "y"])
@pytest.mark.parametrize("front_up", [True, False])
def test_turning_over_mirrors_the_part_where_it_lies(make_part, make_blank, make_bed, at, axis, front_up):
    """A blank turned over twice is as before, and once it is its mirror image about the axis."""
    _, layout, part, placement = plan_for(make_part, make_blank, make_bed, at, FRONT, BACK, front_up=front_up)
    placement = replace(placement, angle_deg=17.0)
    board, ((_, over),) = flipped(layout.blank, ((part, placement),), axis, 130.0)
    here = outline_polygon(
        part.outline,
        Pose(
            angle_deg=17.0,
            mirrored=placement.mirrored,
            x_mm=placement.x_um / 1000,
            y_mm=placement.y_um / 1000,
        ),
    )
    there = outline_polygon(part.outline, Pose.of(over))
    mirror = shapely.transform(
        here, lambda c: c * (1, -1) + (0, 260) if axis == "x" else c * (-1, 1) + (260, 0)
    )
    assert mirror.symmetric_difference(there).area < 1e-3
    assert over.front_up != placement.front_up
    again, ((_, back),) = flipped(board, ((part, over),), axis, 130.0)
    assert back == replace(placement, angle_deg=back.angle_deg)
    assert (back.angle_deg - placement.angle_deg) % 360.0 == pytest.approx(0.0)
    assert again.shape.area_mm2 == pytest.approx(layout.blank.shape.area_mm2)


def test_openings_keep_a_core_for_pins(make_part, make_blank, at):
    """A large opening keeps a core where the cutter does not come; a small one keeps none."""
    large = Zone(name="C", role="cutout", shape=Shape(outer=Outline.rectangle(50, 50, 130, 130)))
    small = Zone(name="S", role="cutout", shape=Shape(outer=Outline.rectangle(200, 50, 215, 130)))
    part = make_part(Outline.rectangle(0, 0, 300, 200), zones=(large, small))
    settings = Settings(cutter_diameter_mm=6.0)
    free = free_wood(make_blank(Outline.rectangle(-40, -40, 340, 240)), ((part, at(0, 0)),), settings, 3.0)
    x0, y0, x1, y1 = free["cutout"].bounds
    assert (x0, y0, x1, y1) == pytest.approx((62, 62, 118, 118), abs=0.06)


def test_wide_cutters_keep_the_pins_out_of_their_groove():
    """With a 16 mm cutter radius + 6 mm would lie inside the groove, which is 16 wide: 19 mm are kept."""
    assert clear_of_outline_mm(Settings(cutter_diameter_mm=6.0)) == 9.0
    assert clear_of_outline_mm(Settings(cutter_diameter_mm=16.0)) == 19.0
