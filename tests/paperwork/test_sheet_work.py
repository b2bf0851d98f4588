"""The order of work: before the bed, each face and section, which hole goes to which pin."""

import dataclasses
import io
import re

import pytest
import shapely
from ezdxf import recover
from shapely.affinity import rotate, scale, translate

from nestyield.bed.fit import setup as lay_on
from nestyield.bed.positions import table_pins
from nestyield.bed.work import work_plan
from nestyield.model import Bed, Blank, Layout, Member, Outline, Part, Pin, Placement, Shape, Zone
from nestyield.paperwork import dxf, features, sheet, sheet_work
from nestyield.paperwork.canvas import Text
from nestyield.planning.work.inspect import with_inspection
from nestyield.planning.work.stages import with_stages


def said(pages):
    return " ".join(t.text for page in pages for t in page.items if isinstance(t, Text))


def long_layout(plan, pocket_behind, along_both=False):
    """A stick 900 mm long on a bed of 600 mm: cut in sections, from one face or from both."""
    zones = [
        Zone(name="SLOT", role="pocket", depth_mm=9.0, shape=Shape(outer=Outline.rectangle(100, 20, 300, 40)))
    ]
    if pocket_behind:
        zones.append(
            Zone(
                name="BOX",
                role="pocket",
                face="back",
                depth_mm=9.0,
                shape=Shape(outer=Outline.rectangle(500, 20, 600, 40)),
            )
        )
    if along_both:
        shape = Shape(outer=Outline.rectangle(120, 22, 780, 38))
        zones.append(Zone(name="GROOVE", role="pocket", depth_mm=12.7, shape=shape))
    part = Part(
        name="stick",
        drawing="stick.dxf",
        outline=Outline.rectangle(0, 0, 900, 60),
        zones=tuple(zones),
        thickness_mm=20.0,
        species=("black cherry",),
    )
    shop = dataclasses.replace(plan.shop, parts=(*plan.shop.parts, part))
    bed = Bed(
        name="bench",
        travel_x_mm=600,
        travel_y_mm=400,
        table_x_mm=(-20, 620),
        table_y_mm=(-20, 420),
        open_ends=("x-", "x+"),
        pin_diameter_mm=6,
    )
    shop = dataclasses.replace(shop, beds=(bed,))
    blank = Blank(
        name="LONG",
        members=(Member(piece="T-3", copy=1),),
        species="black cherry",
        thickness_mm=22.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 960, 140)),
        grain_deg=0.0,
    )
    placement = Placement(
        part="stick", order="order 2", copy=1, angle_deg=0.0, mirrored=False, x_um=30_000, y_um=15_000
    )
    found = lay_on(blank, [(part, placement)], bed, "x", shop.settings, shop.units)
    assert found.sections
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=(found,),
        chosen=0,
        part_area_mm2=54_000.0,
        stock_area_mm2=134_400.0,
        usable_area_mm2=0.0,
        board_feet=1.0,
        value=1.0,
    )
    layout = with_stages(dataclasses.replace(layout, work=work_plan(layout, shop)), shop)
    return dataclasses.replace(plan, shop=shop, layouts=(layout,)), layout


def test_before_the_bed_comes_the_plane(plan):
    """The search for metal, what is planed off, and that the top face is marked, come before the bed."""
    told = sheet_work.steps(plan, plan.layouts[0])
    assert told[0] == (
        "Before the bed",
        [
            "Search the wood for metal (screw hole) and take it out, before any blade or cutter touches it.",
            "Plane it to 44.5 mm first: 1.25 mm off each face.",
            "Write TOP on the top face and BOTTOM on the other, and mark the datum corner on both.",
        ],
    )


def test_a_sheet_is_not_planed(plan):
    """Wood without grain is a sheet, and keeps its thickness."""
    layout = plan.layouts[0]
    assert sheet_work.planing(plan, layout)
    bare = dataclasses.replace(layout, blank=dataclasses.replace(layout.blank, grain_deg=None))
    assert sheet_work.planing(plan, with_inspection(bare, plan.shop)) == ""


def test_uneven_planing_says_which_face(plan):
    """Where more comes off one face than off the other, both are told."""
    layout = plan.layouts[0]
    tilted = dataclasses.replace(
        layout, placements=tuple(dataclasses.replace(p, top_off_mm=0.5) for p in layout.placements)
    )
    told = sheet_work.planing(plan, with_inspection(tilted, plan.shop))
    assert told.endswith("0.5 mm off the top face, 2 mm off the bottom face.")


def test_one_part_needs_no_name_and_several_are_numbered(plan):
    """A cut of the only part starts with what is cut; those of several parts name their numbers."""
    told = sheet_work.steps(plan, plan.layouts[0])
    assert "Pocket CONTROLS, 32 mm deep" in told[1][1]
    second = plan.layouts[1]
    layout = with_stages(dataclasses.replace(second, work=work_plan(second, plan.shop)), plan.shop)
    lines = [line for _, lines in sheet_work.steps(plan, layout) for line in lines]
    assert "Part 1: pocket DOTS, 3 mm deep" in lines
    assert "Part 2: pocket DOTS, 3 mm deep" in lines
    (last,) = [line for line in lines if "outline" in line]
    # two strips of 60 x 30 in 10 mm of waste: tabs may find no room there; those there are, are told
    named = "; leave tab" in last
    assert last.startswith("Parts 1 and 2: outline, through cut, last, in this order")
    assert named == bool(layout.work.tabs)


def with_pins(plan, *pins):
    """The first blank with these pins, its stages made again."""
    layout = plan.layouts[0]
    work = dataclasses.replace(layout.work, pins=pins)
    bed = plan.shop.bed(layout.setups[layout.chosen].bed)
    work = dataclasses.replace(work, table_pins=table_pins(bed, work.positions, pins))
    return with_stages(dataclasses.replace(layout, work=work), plan.shop)


def test_holes_change_pins_across_the_axis(plan):
    """Holes in pairs across the flip axis go on each other's pins, one on it stays on its own."""
    layout = with_pins(
        plan,
        Pin(name="pin 1", x_mm=18.0, y_mm=25.0, diameter_mm=6.0),
        Pin(name="pin 2", x_mm=18.0, y_mm=225.0, diameter_mm=6.0),
        Pin(name="pin 3", x_mm=400.0, y_mm=125.0, diameter_mm=6.0),
    )
    going_in, turning = sheet_work.steps(plan, layout)[2][1][:2]
    # 12 mm in the table, 44.5 mm of wood, 2 mm below its face: 54.5
    assert "Fit 6 mm dowel pins P1, P2 and P3, 54 mm long at most, below the surface" in going_in
    assert "Put hole H2 on pin P1, hole H1 on pin P2 and hole H3 on pin P3." in turning


def test_holes_beyond_reach_are_drilled_by_hand(plan):
    """A hole where the machine does not come is told as one for the hand, with its depth."""
    first, *rest = plan.layouts[0].work.pins
    lines = sheet_work.steps(plan, with_pins(plan, dataclasses.replace(first, by_hand=True), *rest))[1][1]
    assert any(
        line.startswith("Drill hole H1, 6 mm, by hand, beyond the travel: square through the blank and 12 mm")
        for line in lines
    )
    assert any(line.startswith("Drill hole H2, 6 mm, with the machine") for line in lines)


def test_planing_adds_up_with_the_thickness_that_is_shown(plan):
    """26.98 is shown as 27: about 2.5 off each face to 22, not 2.49."""
    layout = plan.layouts[0]
    thick = plan.shop.part(layout.placements[0].part).thickness_mm
    blank = dataclasses.replace(layout.blank, thickness_mm=thick + 4.98)
    told = sheet_work.planing(plan, with_inspection(dataclasses.replace(layout, blank=blank), plan.shop))
    assert told.endswith("first: about 2.5 mm off each face.")


def section_of(shapes, placement, position, section):
    """Return the names of shapes whose boxes touch a section, with shapely alone."""
    out = set()
    for name, shape in shapes.items():
        laid = translate(shape, placement.x_um / 1000, placement.y_um / 1000)
        if position.mirrored:
            laid = scale(laid, -1.0, 1.0, origin=(0, 0))
        laid = rotate(laid, position.angle_deg, origin=(0, 0))
        x0, _, x1, _ = translate(laid, position.x_mm, position.y_mm).bounds
        if x0 < section.to_mm and x1 > section.from_mm:
            out.add(name)
    return out


@pytest.mark.parametrize(("units", "deep"), [("mm", ("9 mm", "12.7 mm")), ("in", ("23/64 in", "1/2 in"))])
def test_the_sheet_tells_what_is_cut_in_each_section_from_each_face(build, units, deep):
    """Each stage of the printed sheet names the pockets whose boxes touch its section, with their depths."""
    plan, layout = long_layout(build.plan(units=units), True, along_both=True)
    placement, section_of_position = layout.placements[0], layout.setups[0].sections
    part = plan.shop.part("stick")
    shapes = {z.name: shapely.Polygon(z.shape.outer.points_mm) for z in part.zones}
    depths = {"SLOT": deep[0], "BOX": deep[0], "GROOVE": deep[1]}
    words = said(sheet.sheet(plan, layout, "a4")).replace("\xa0", " ")
    order = words.split("Order of work", 1)[1].split("After the bed")[0]
    stages = re.split(r"(?<![0-9.])[0-9]+\. Setup ", order)
    both = set()
    for position in layout.work.positions:
        (told,) = (
            x
            for x in stages
            if x.startswith(f"{position.name}: {position.up} face up, section {position.section} ")
        )
        here = section_of(shapes, placement, position, section_of_position[position.section - 1])
        # the part lies front up: pockets of its front are cut with the top up
        here &= {"BOX"} if position.up == "bottom" else {"SLOT", "GROOVE"}
        assert {n for n in shapes if f"Pocket {n}, {depths[n]} deep" in told} == here
        assert ("leave this setup out" in told) == (not here and position.up == "bottom")
        both |= {(n, position.name) for n in here}
    assert len([1 for n, _ in both if n == "GROOVE"]) == 2, "the groove straddles the sections"
    assert units == "mm" or " mm" not in words


@pytest.mark.parametrize(("units", "scale_mm", "unit"), [("mm", 1.0, 4), ("in", 25.4, 1)])
def test_the_drawings_say_from_which_face_and_how_deep(build, units, scale_mm, unit):
    """Both DXF files have each pocket where its drawing lies, on a layer of the wood's own face, and its depth."""
    plan, layout = long_layout(build.plan(units=units), True, along_both=True)
    part = plan.shop.part("stick")
    (_, axis_y), _ = layout.work.flip_axis_mm
    for over in (False, True):
        doc, auditor = recover.read(io.BytesIO(dxf.drawing(plan, layout, over)))
        assert not auditor.errors
        assert doc.header["$INSUNITS"] == unit
        for zone in part.zones:
            face = "TOP" if zone.face == "front" else "BOTTOM"
            found = [
                e
                for e in doc.modelspace().query("LWPOLYLINE")
                if e.dxf.layer.startswith(f"POCKET {face} ")
                and (1000, f"name={zone.name}") in [tuple(t) for t in e.get_xdata("NESTYIELD")]
            ]
            assert len(found) == 1, (zone.name, over)
            (depth,) = (v for c, v in found[0].get_xdata("NESTYIELD") if c == 1040)
            assert depth * scale_mm == pytest.approx(zone.depth_mm, abs=1e-4)
            laid = translate(shapely.Polygon(zone.shape.outer.points_mm), 30.0, 15.0)
            if over:
                laid = scale(laid, 1.0, -1.0, origin=(0.0, axis_y))
            drawn = shapely.Polygon([(x * scale_mm, y * scale_mm) for x, y in found[0].get_points("xy")])
            assert drawn.symmetric_difference(laid).area < 0.1


@pytest.mark.parametrize("both", [False, True], ids=["one face", "both faces"])
def test_sections_say_which_holes_go_on_the_pins(plan, both):
    """Each section has a heading, the holes on the two pins, and from where to where it cuts."""
    longer, layout = long_layout(plan, both)
    told = sheet_work.steps(longer, layout)
    sections = len(layout.setups[0].sections)
    assert len(told) == 2 + sections * (2 if both else 1)
    assert any("before it goes on the bed" in line for line in told[0][1])
    lines = [line for _, lines in told for line in lines]
    drilled = [line for line in lines if line.startswith("Drill the table for pins ")]
    assert len(drilled) == 1
    assert "with the machine: 6 mm, 12 mm deep" in drilled[0]
    for heading, lines in told[1:-1]:
        left_out = lines == ["Nothing is cut here: leave this setup out."]
        assert left_out or any(line.startswith("Cut only what is drawn from X ") for line in lines), heading
        assert left_out or any(" on pin P" in line for line in lines), heading
    for paper in ("a4", "letter"):
        words = said(sheet.sheet(longer, layout, paper))
        assert "index hole" in words
        assert "section 2" in words


@pytest.mark.parametrize("both", [False, True], ids=["one face", "both faces"])
def test_the_drawing_has_the_line_where_sections_meet(plan, both):
    """A line of layer SECTION across the blank, at the same place of the wood seen from either section."""
    longer, layout = long_layout(plan, both)
    first, second = layout.setups[0].sections
    lines = [f.line_mm for f in features.features(longer, layout) if f.layer == "SECTION"]
    assert len(lines) == 1
    ends = {round(x, 3) for x, _ in lines[0]}
    assert ends <= {round(first.to_mm - first.x_mm, 3), round(first.from_mm - first.x_mm, 3)}
    places = {round(abs(v - second.x_mm), 3) for v in (second.from_mm, second.to_mm)}
    assert ends <= places
    assert b"SECTION" in dxf.drawing(longer, layout)


@pytest.mark.parametrize(("units", "scale_mm", "places"), [("mm", 1.0, 2), ("in", 25.4, 3)])
def test_places_on_the_bed_are_decimals(build, units, scale_mm, places):
    """Pins of the table and limits of sections are typed into a control: decimals in both units."""
    plan, layout = long_layout(build.plan(units=units), False)
    words = said(sheet.sheet(plan, layout, "a4")).replace("\xa0", " ")
    for value in (
        *(v for pin in layout.work.table_pins for v in (pin.x_mm, pin.y_mm)),
        *(v for s in layout.setups[0].sections for v in (s.from_mm, s.to_mm)),
    ):
        assert f"{round(value / scale_mm, places):g}" in words.split(), value
