"""The order of work: before the bed, each face and section, which hole goes to which pin."""

import dataclasses

import pytest

from nestyield.bed.fit import setup as lay_on
from nestyield.bed.work import work_plan
from nestyield.model import Bed, Blank, Layout, Member, Outline, Part, Pin, Placement, Shape, Zone
from nestyield.paperwork import dxf, features, sheet, sheet_work
from nestyield.paperwork.canvas import Text


def said(pages):
    return " ".join(t.text for page in pages for t in page.items if isinstance(t, Text))


def long_layout(plan, pocket_behind):
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
    found = lay_on(blank, [(part, placement)], bed, "x", shop.settings, "mm")
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
    layout = dataclasses.replace(layout, work=work_plan(layout, shop))
    return dataclasses.replace(plan, shop=shop, layouts=(layout,)), layout


def test_before_the_bed_comes_the_plane(plan):
    """What is planed off, and that the top face is marked, comes before anything on the bed."""
    told = sheet_work.steps(plan, plan.layouts[0])
    assert told[0] == (
        "Before the bed",
        [
            "Plane it to 44.5 mm first: 1.25 mm off each face.",
            "Write TOP on the top face, and mark the datum corner on it.",
        ],
    )


def test_a_sheet_is_not_planed(plan):
    """Wood without grain is a sheet, and keeps its thickness."""
    layout = plan.layouts[0]
    assert sheet_work.planing(plan, layout)
    bare = dataclasses.replace(layout, blank=dataclasses.replace(layout.blank, grain_deg=None))
    assert sheet_work.planing(plan, bare) == ""


def test_uneven_planing_says_which_face(plan):
    """Where more comes off one face than off the other, both are told."""
    layout = plan.layouts[0]
    tilted = dataclasses.replace(
        layout, placements=tuple(dataclasses.replace(p, top_off_mm=0.5) for p in layout.placements)
    )
    assert sheet_work.planing(plan, tilted).endswith("0.5 mm off the top face, 2 mm off the bottom face.")


def test_one_part_needs_no_name_and_several_are_numbered(plan):
    """A cut of the only part starts with what is cut; those of several parts name their numbers."""
    told = sheet_work.steps(plan, plan.layouts[0])
    assert "Pocket CONTROLS, 32 mm deep" in told[1][1]
    second = plan.layouts[1]
    layout = dataclasses.replace(second, work=work_plan(second, plan.shop))
    lines = [line for _, lines in sheet_work.steps(plan, layout) for line in lines]
    assert "Part 1: pocket DOTS, 3 mm deep" in lines
    assert "Part 2: pocket DOTS, 3 mm deep" in lines
    assert "Parts 1 and 2: outline right through, last" in lines


def test_holes_change_pins_across_the_axis(plan):
    """Holes in pairs across the flip axis change pins, one on it stays."""
    layout = plan.layouts[0]
    pins = (
        Pin(name="pin 1", x_mm=18.0, y_mm=25.0, diameter_mm=6.0),
        Pin(name="pin 2", x_mm=18.0, y_mm=225.0, diameter_mm=6.0),
        Pin(name="pin 3", x_mm=400.0, y_mm=125.0, diameter_mm=6.0),
    )
    layout = dataclasses.replace(layout, work=dataclasses.replace(layout.work, pins=pins))
    going_in, turning = sheet_work.steps(plan, layout)[2][1][:2]
    # 12 mm in the table, 44.5 mm of wood, 2 mm below its face: 54.5
    assert "set pins of 6 mm into the holes of the table, at most 54 mm long" in going_in
    assert "P1 and P2 change pins, P3 stays on its pin" in turning
    assert [taken for _, taken in sheet_work.table_pins(layout)] == [["P1", "P2"], ["P2", "P1"], ["P3", "P3"]]


@pytest.mark.parametrize("both", [False, True], ids=["one face", "both faces"])
def test_sections_say_which_holes_stand_on_the_pins(plan, both):
    """Each section has a heading, the holes that stand on the two pins, and from where to where it cuts."""
    longer, layout = long_layout(plan, both)
    told = sheet_work.steps(longer, layout)
    sections = len(layout.setups[0].sections)
    assert len(told) == 2 + sections * (2 if both else 1)
    assert told[-1][0] == "After the bed"
    told = told[:-1]
    slots = [
        heading
        for heading, lines in told
        if any("pocket" in line.lower() and "SLOT" in line for line in lines)
    ]
    assert slots, "the slot is cut somewhere"
    assert len(slots) <= sections
    assert "section 1" in told[1][0]
    assert any("before it goes on the bed" in line for line in told[0][1])
    assert (
        sum(
            line.startswith("Drill the table for 2 pins of 6 mm with the machine, 12 mm deep")
            for _, lines in told
            for line in lines
        )
        == 1
    )
    assert sum("stand on the pins" in lines[0] for _, lines in told) >= sections - 1
    for heading, lines in told[1:]:
        left_out = lines == ["Nothing is cut here: leave this position out."]
        assert left_out or any(line.startswith("Cut only what is drawn from X ") for line in lines), heading
    assert len(sheet_work.table_pins(layout)) == 2
    for paper in ("a4", "letter"):
        words = said(sheet.sheet(longer, layout, paper))
        assert "hole to move along by" in words
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


def test_holes_beyond_reach_are_drilled_by_hand(plan):
    """A hole where the machine does not come is told as one for the hand, with its depth."""
    layout = plan.layouts[0]
    first, *rest = layout.work.pins
    work = dataclasses.replace(layout.work, pins=(dataclasses.replace(first, by_hand=True), *rest))
    lines = sheet_work.steps(plan, dataclasses.replace(layout, work=work))[1][1]
    assert any(line.startswith("P1 lies beyond the travel: drill it by hand, 6 mm, square") for line in lines)
    assert any(line.startswith("Drill P2, 6 mm, with the machine") for line in lines)


def test_planing_adds_up_with_the_thickness_that_is_shown(plan):
    """26.98 is shown as 27: about 2.5 off each face to 22, not 2.49."""
    layout = plan.layouts[0]
    thick = plan.shop.part(layout.placements[0].part).thickness_mm
    blank = dataclasses.replace(layout.blank, thickness_mm=thick + 4.98)
    told = sheet_work.planing(plan, dataclasses.replace(layout, blank=blank))
    assert told.endswith("first: about 2.5 mm off each face.")
