"""Positions, pins of the table and steps of the work on a blank, worked out again by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.model import (
    Bed,
    Blank,
    Layout,
    Leftover,
    Member,
    Outline,
    Part,
    Placement,
    Settings,
    Shape,
    Shop,
    Zone,
)
from nestyield.model.facts import (
    CutBetween,
    CutNothing,
    CutOutline,
    CutThrough,
    CutZone,
    FitPins,
    FlipOnPins,
    FreeParts,
    LabelLeftovers,
    MarkTop,
    MoveOn,
    PlaneEvenly,
    PlaneFaces,
    RemoveBlank,
    SawLeftover,
)
from nestyield.planning.work.stages import with_stages


def box(name, role, x0, x1, depth_mm=None, face="front"):
    shape = Shape(outer=Outline.rectangle(x0, 20, x1, 40))
    return Zone(name=name, role=role, shape=shape, depth_mm=depth_mm, face=face)


def worked(length_mm, zones, *, units="mm", front_up=True, top_off_mm=None, leftovers=()):
    """A stick of a length, 60 mm wide and 20 thick, on a bed with 600 x 400 of travel."""
    part = Part(
        name="stick",
        drawing="",
        outline=Outline.rectangle(0, 0, length_mm, 60),
        zones=tuple(zones),
        thickness_mm=20.0,
    )
    bed = Bed(
        name="bench",
        travel_x_mm=600,
        travel_y_mm=400,
        table_x_mm=(-20, 620),
        table_y_mm=(-20, 420),
        open_ends=("x-", "x+"),
        pin_diameter_mm=6,
    )
    shop = Shop(
        name="",
        units=units,
        settings=Settings(cutter_diameter_mm=6.0),
        beds=(bed,),
        parts=(part,),
        pieces=(),
        orders=(),
    )
    blank = Blank(
        name="B",
        members=(Member(piece="B", copy=1),),
        species="black cherry",
        thickness_mm=24.0,
        shape=Shape(outer=Outline.rectangle(0, 0, length_mm + 60, 170)),
        grain_deg=0.0,
    )
    placement = Placement(
        part="stick",
        order="order 1",
        copy=1,
        angle_deg=0.0,
        mirrored=not front_up,
        x_um=30_000 if front_up else round((length_mm + 30) * 1000),
        y_um=45_000,
        front_up=front_up,
        top_off_mm=top_off_mm,
    )
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=setups(blank, ((part, placement),), (bed,), shop.settings, units),
        chosen=0,
        leftovers=leftovers,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    return with_stages(replace(layout, work=work_plan(layout, shop)), shop)


def cuts(stage):
    return [s for s in stage.steps if isinstance(s, (CutZone, CutThrough, CutOutline))]


ZONES = (
    box("SLOT", "pocket", 100, 150, 9.0),
    box("SLOT#2", "pocket", 200, 250, 9.0),
    box("BOX", "pocket", 100, 140, 5.0, "back"),
    box("HOLE", "cutout", 300, 340, face="through"),
)


def test_back_is_cut_first_and_what_goes_through_last():
    """Pockets of the back come first; alike ones are one step; openings, then the outline, end the work."""
    work = worked(400, ZONES).work
    before, first, second, _ = work.stages
    assert [(p.up, p.mirrored) for p in work.positions] == [("bottom", True), ("top", False)]
    assert before.steps == (PlaneEvenly(to_um=20_000, each_um=2_000), MarkTop())
    assert [(c.zone, c.face, c.depth_um) for c in cuts(first)] == [("BOX", "bottom", 5_000)]
    slot, hole, outline = cuts(second)
    assert (slot.zones, slot.count, slot.face) == (("SLOT", "SLOT#2"), 2, "top")
    assert isinstance(hole, CutThrough)
    assert isinstance(outline, CutOutline)


def test_a_part_that_lies_back_up_is_cut_from_the_other_face():
    """With the back on the blank's top, pockets of the back are cut from the top."""
    work = worked(400, ZONES, front_up=False).work
    faces = {c.zone: c.face for s in work.stages for c in cuts(s) if isinstance(c, CutZone)}
    assert faces == {"SLOT": "bottom", "BOX": "top"}
    assert work.positions[0].up == "top"


def test_a_pose_of_the_turned_blank_is_the_mirror_image_about_the_flip_axis():
    """A point on the flip axis lies at the same place of the bed either way up; others change sides."""
    work = worked(400, ZONES).work
    (x0, y0), (_, y1) = work.flip_axis_mm
    assert y0 == y1
    over, flat = work.positions
    # mirrored in X first, then turned by 180 degrees, then shifted
    assert over.angle_deg == pytest.approx(180.0)
    assert (x0 + over.x_mm, -y0 + over.y_mm) == pytest.approx((x0 + flat.x_mm, y0 + flat.y_mm))


@pytest.mark.parametrize(("units", "longest_um"), [("mm", 30_000), ("in", 30_162)])
def test_pins_end_below_the_face_that_is_up(units, longest_um):
    """12 mm in the table and 20 mm of planed wood, 2 mm or 1/16 in less, in whole steps: 30 mm, 1 3/16 in."""
    work = worked(400, ZONES, units=units).work
    removed, fit, flip = work.stages[2].steps[:3]
    assert removed == RemoveBlank()
    assert isinstance(fit, FitPins)
    # 12 + 20 - 1.5875 = 30.4125 mm, 19 sixteenths of an inch are 30.1625 mm
    assert fit.longest_um == longest_um
    assert isinstance(flip, FlipOnPins)
    assert {h.hole for h in flip.on} == {p.name for p in work.pins}
    for pin in work.table_pins:
        first, second = (next(p for p in work.pins if p.name == name) for name in pin.holes)
        assert first.x_mm == second.x_mm
        assert first.y_mm + second.y_mm == pytest.approx(2 * work.flip_axis_mm[0][1])


def test_zones_that_straddle_two_sections_are_cut_in_both():
    """A zone is cut in every section that its box touches, and in no other."""
    zones = (
        box("LEFT", "pocket", 20, 60, 9.0),
        box("MIDDLE", "pocket", 100, 800, 9.0),
        box("RIGHT", "pocket", 840, 880, 9.0),
        box("RIGHT#2", "pocket", 100, 130, 9.0),
        box("HOLE", "cutout", 850, 870, face="through"),
    )
    layout = worked(900, zones)
    work = layout.work
    sections = layout.setups[0].sections
    assert len(sections) == 2
    for position, stage in zip(work.positions, work.stages[1:-1], strict=True):
        section = sections[position.section - 1]
        expected = set()
        for zone in zones:
            x0, *_, x1 = sorted(x for x, _ in zone.shape.outer.points_mm)
            ends = sorted(
                position.x_mm + (30 + x) * (-1 if position.angle_deg == 180 else 1) for x in (x0, x1)
            )
            if ends[0] < section.to_mm and ends[1] > section.from_mm:
                expected.add(zone.name)
        told = cuts(stage)
        assert {z for c in told if not isinstance(c, CutOutline) for z in c.zones} == expected
        assert all(c.count == len(c.zones) for c in told if isinstance(c, CutZone))
        (between,) = (s for s in stage.steps if isinstance(s, CutBetween))
        assert (between.from_um, between.to_um) == (
            round(section.from_mm * 1000),
            round(section.to_mm * 1000),
        )
    assert isinstance(work.stages[2].steps[0], MoveOn)
    assert abs(work.stages[2].steps[0].step_um) == round(1000 * abs(sections[1].x_mm - sections[0].x_mm))


def test_a_position_with_nothing_to_cut_is_left_out():
    """Where the back has one pocket at an end, the other section of the back is left out."""
    zones = (box("SLOT", "pocket", 100, 150, 9.0), box("BOX", "pocket", 20, 60, 5.0, "back"))
    work = worked(900, zones).work
    backs = [s for p, s in zip(work.positions, work.stages[1:-1], strict=True) if p.up == "bottom"]
    assert [s.steps == (CutNothing(),) for s in backs].count(True) == 1


def test_uneven_planing_tells_each_face():
    """Half a millimeter off the top leaves 3.5 mm for the bottom."""
    first = worked(400, ZONES, top_off_mm=0.5).work.stages[0].steps[0]
    assert first == PlaneFaces(to_um=20_000, top_um=500, bottom_um=3_500)


def test_leftovers_to_keep_are_sawn_off_and_labeled():
    """Each leftover to keep is sawn off, then all are labeled; waste is not."""
    shape = Shape(outer=Outline.rectangle(0, 140, 400, 170))
    kept = Leftover(name="B-a", shape=shape, rectangle_mm=(0, 140, 400, 30), area_mm2=12e3, usable=True)
    waste = replace(kept, name="B-b", usable=False)
    last = worked(400, ZONES, leftovers=(kept, waste)).work.stages[-1]
    assert last.steps == (
        FreeParts(last=False),
        SawLeftover(leftover="B-a", straight=True),
        LabelLeftovers(leftovers=("B-a",)),
    )


def test_a_blank_is_laid_square_by_an_edge_where_its_pose_brings_it():
    """The lower edge, 460 mm long, is where the first position mirrors and shifts it."""
    work = worked(400, ZONES).work
    first = work.positions[0]
    assert work.square.edge == "lower"
    assert work.square.from_mm == pytest.approx((first.x_mm, first.y_mm))
    assert work.square.to_mm == pytest.approx((460 + first.x_mm, first.y_mm))
