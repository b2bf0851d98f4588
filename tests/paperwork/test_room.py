"""Play to shift and turn, and edges to watch, as they are drawn and told."""

import dataclasses

import pytest
from shapely.geometry import Polygon

from nestyield.model import Outline, Shape, Slack, TearOutRisk
from nestyield.model.facts import NarrowPoint, RisingGrain
from nestyield.paperwork import curves, hatch, room, sheet
from nestyield.paperwork.blank_picture import picture
from nestyield.paperwork.canvas import Area, Lines, Text
from nestyield.planning.work.inspect import with_inspection


def roomy(plan, **changed):
    """The plan's second layout, whose parts have room on some sides."""
    rooms = (
        Slack(
            placement=0,
            along_mm=15.0,
            across_mm=4.0,
            slide=Shape(outer=Outline.rectangle(-3.0, 0.0, 12.0, 4.0)),
            from_deg=-2.0,
            to_deg=1.5,
        ),
        Slack(placement=1, along_mm=0.0, across_mm=0.0, slide=None, from_deg=180.0, to_deg=180.0),
    )
    return dataclasses.replace(plan.layouts[1], **({"rooms": rooms} | changed))


def test_play_and_turn_in_words(plan):
    """The four ways and both turns are told; no room is told as such."""
    layout = roomy(plan)
    words = room.sentence(plan, layout, layout.rooms[0])
    assert words.startswith(
        "The part can be shifted straight, up to 3 mm to the left, 12 mm to the right or 4 mm up, or else turned"
    )
    assert "−2.0° to +1.5° (shifted as that needs): one of these." in words
    assert room.sentence(plan, layout, layout.rooms[1]) == "It has no room to be shifted or turned."
    assert room.rows(plan, layout) == [
        ["1", "3.0", "12.0", "–", "4.0", "−2.0° to +1.5°"],
    ]


def test_play_is_told_straight_from_where_the_part_lies(plan):
    """A part that may go down only after it went right has no play down; a hole in the way ends its play."""
    layout = roomy(plan)
    bent = Outline.polygon([(0, 0), (200, -3), (200, -30), (240, -30), (240, 0)])
    item = dataclasses.replace(layout.rooms[0], slide=Shape(outer=bent))
    assert room.play(item) == pytest.approx((0.0, 240.0, 0.0, 0.0), abs=0.01)
    ring = Shape(outer=Outline.rectangle(-50, -5, 100, 5), holes=(Outline.rectangle(20, -2, 30, 2),))
    item = dataclasses.replace(layout.rooms[0], slide=ring)
    assert room.play(item) == pytest.approx((50.0, 20.0, 5.0, 5.0), abs=0.01)
    layout = dataclasses.replace(layout, rooms=(dataclasses.replace(item, from_deg=0.0, to_deg=0.0),))
    words = room.sentence(plan, layout, layout.rooms[0])
    assert "up to 50 mm to the left, 20 mm to the right, 5 mm down or 5 mm up: one of these." in words


def test_the_reach_is_the_part_in_every_corner(plan):
    """The drawn reach holds the part at every corner of its room, and is no larger than their box."""
    layout = roomy(plan)
    (line,) = room.reach(plan, layout, layout.rooms[0])
    placement = layout.placements[0]
    outline = curves.move_of(placement).outline(plan.shop.part(placement.part).outline)
    x0, y0, x1, y1 = curves.bounds([outline])
    assert curves.bounds([line]) == pytest.approx((x0 - 3, y0, x1 + 12, y1 + 4), abs=0.3)
    whole = hatch.region([line])
    for dx, dy in ((-3, 0), (12, 0), (12, 4), (-3, 4), (0, 0)):
        assert whole.buffer(0.3).contains(hatch.region([curves.Move(dx=dx, dy=dy).outline(outline)]))
    assert room.reach(plan, layout, layout.rooms[1]) == []


def test_a_bent_room_is_not_drawn_straight(plan):
    """Where a part can go right or up but not both, the corner between stays out of its reach."""
    bent = Outline.polygon([(0, 0), (40, 0), (40, 1), (1, 1), (1, 30), (0, 30)])
    layout = roomy(plan)
    item = dataclasses.replace(layout.rooms[0], slide=Shape(outer=bent))
    (line,) = room.reach(plan, layout, item)
    placement = layout.placements[0]
    outline = curves.move_of(placement).outline(plan.shop.part(placement.part).outline)
    _, _, x1, y1 = curves.bounds([outline])
    assert not hatch.region([line]).contains(hatch.ShapelyPoint(x1 + 30, y1 + 20))


def test_teeth_stand_outside():
    """Teeth and the second line lie outside the body, whichever way the stretch runs."""
    body = Polygon([(0, 0), (50, 0), (50, 30), (0, 30)])
    for line in (((5, 30), (45, 30)), ((45, 30), (5, 30)), ((0, 5), (0, 25)), ((50, 5), (50, 25))):
        for draw in (room.teeth, room.beside):
            points = [p for run in draw(line, body) for p in run]
            assert all(not body.buffer(-1e-6).contains(hatch.ShapelyPoint(p)) for p in points)
            assert max(body.distance(hatch.ShapelyPoint(p)) for p in points) > 0.9


def test_all_of_it_is_on_picture_and_sheet(plan):
    """Reach, teeth and second line are drawn with their legend, and cautions say what they mean."""
    watch = (
        TearOutRisk(
            placement=0,
            line_mm=((50, 70), (90, 70)),
            length_mm=40.0,
            angle_deg=30.0,
            rule=RisingGrain(from_deg=15.0, to_deg=75.0),
        ),
        TearOutRisk(
            placement=0,
            line_mm=((300, 10), (330, 12)),
            length_mm=30.0,
            angle_deg=9.0,
            rule=NarrowPoint(width_um=12_000, off_grain_deg=11.0),
        ),
    )
    layout = with_inspection(roomy(plan, watch=watch), plan.shop)
    canvas, shown = picture(plan, layout)
    assert {"room", "rising grain", "narrow point"} <= shown
    assert sum(isinstance(i, Area) and i.style == "room" for i in canvas.items) == 1
    assert sum(isinstance(i, Lines) and i.style == "tear" for i in canvas.items) == 2
    shop = dataclasses.replace(plan, layouts=(layout,))
    said = " ".join(t.text for p in sheet.sheet(shop, layout, "a4") for t in p.items if isinstance(t, Text))
    for words in (
        "Edge likely to tear out, marked red (40 mm total)",
        "with conventional feed",
        "Double edge (1 point)",
        "may tear out",
    ):
        assert words in said
    assert "Play: how far one part may be shifted straight one way, or else turned" in said
