"""The room around placements and the edges to watch, as a layout tells them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.model import (
    Blank,
    Defect,
    HoldDown,
    Member,
    Outline,
    Part,
    Pin,
    Placement,
    Preferences,
    Settings,
    Shape,
    Zone,
)
from nestyield.model.facts import NarrowPoint
from nestyield.planning.slack import fills_of, rooms_of, watch_of

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, between_parts_mm=9.0)
BLOCK = Part(name="block", drawing="", outline=Outline.rectangle(0, 0, 100, 80), thickness_mm=40.0)
# a kite: edges at 45 degrees to its length, all four convex
KITE = Part(
    name="kite",
    drawing="",
    outline=Outline.polygon([(0, 0), (50, -50), (100, 0), (50, 50)]),
    thickness_mm=40.0,
)


def plank(length: float, width: float, grain_deg: float | None = 0.0) -> Blank:
    return Blank(
        name="plank",
        members=(Member(piece="plank", copy=1),),
        species="sugar maple",
        thickness_mm=40.0,
        shape=Shape(outer=Outline.rectangle(0, 0, length, width)),
        grain_deg=grain_deg,
    )


def at(part: Part, x: float, y: float, copy: int = 1) -> tuple[Part, Placement]:
    place = Placement(
        part=part.name,
        order="order 1",
        copy=copy,
        angle_deg=0.0,
        mirrored=False,
        x_um=round(x * 1000),
        y_um=round(y * 1000),
    )
    return part, place


def test_two_blocks_share_what_is_left():
    """229 x 90 holds two blocks of 100 with 5 + 9 + 5 mm between: 10 mm are left, each may have all of it."""
    rooms = rooms_of(plank(229, 90), [at(BLOCK, 5, 5), at(BLOCK, 124, 5, 2)], SETTINGS)
    assert [(r.placement, r.along_mm, r.across_mm) for r in rooms] == [(0, 0.0, 0.0), (1, 0.0, 0.0)]
    # 1 mm wider, so that the room has an area
    one, two = rooms_of(plank(229, 91), [at(BLOCK, 5, 5), at(BLOCK, 124, 5, 2)], SETTINGS)
    assert (one.along_mm, one.across_mm) == pytest.approx((10.0, 1.0), abs=0.002)
    assert one.slide is not None
    assert max(x for x, _ in one.slide.outer.points_mm) == pytest.approx(10.0, abs=0.002)
    assert two.slide is not None
    assert min(x for x, _ in two.slide.outer.points_mm) == pytest.approx(-10.0, abs=0.002)


def test_along_is_along_the_grain():
    """With the grain along Y the 30 mm of play in X are across."""
    wide = replace(BLOCK, grain_deg=90.0)
    (room,) = rooms_of(plank(140, 100, 90.0), [at(wide, 10, 10)], SETTINGS)
    assert (room.along_mm, room.across_mm) == pytest.approx((10.0, 30.0), abs=0.002)


def test_the_edges_of_a_kite_that_face_the_feed():
    """Counter-clockwise, the edges that fall at 45 degrees rise against a conventional feed; climb, the others."""
    (first, second) = watch_of(plank(200, 200), [at(KITE, 20, 80)], SETTINGS)
    assert {first.line_mm, second.line_mm} == {((20.0, 80.0), (70.0, 30.0)), ((120.0, 80.0), (70.0, 130.0))}
    assert first.angle_deg == second.angle_deg == 45.0
    climb = replace(SETTINGS, prefer=Preferences(feed="climb"))
    lines = {w.line_mm for w in watch_of(plank(200, 200), [at(KITE, 20, 80)], climb)}
    assert lines == {((70.0, 30.0), (120.0, 80.0)), ((70.0, 130.0), (20.0, 80.0))}
    assert watch_of(plank(200, 200, None), [at(KITE, 20, 80)], SETTINGS) == ()


def test_narrow_points_follow_the_setting():
    """A right angle is 0.77 of its reach wide at 45 degrees to each side: narrow for any setting."""
    sharp = replace(KITE, outline=Outline.polygon([(0, 0), (50, -10), (100, 0), (50, 10)]), grain_deg=90.0)
    laid = [at(sharp, 20, 80)]
    inch = replace(SETTINGS, prefer=Preferences(narrow_point_mm=25.4))
    points = [w for w in watch_of(plank(200, 200, 90.0), laid, inch) if w.kind == "narrow point"]
    assert len(points) == 2
    assert all(w.rule == NarrowPoint(width_um=25_400, off_grain_deg=11.0) for w in points)
    none = replace(SETTINGS, prefer=Preferences(narrow_point_mm=0.0))
    assert all(w.kind != "narrow point" for w in watch_of(plank(200, 200, 90.0), laid, none))


def test_fillings_leave_out_what_a_pocket_takes():
    """A dent 10 x 10 x 8 mm, half of it over a pocket of 5 mm: 400 + 150 cubic mm are filled, 0.55 ml."""
    pocket = Zone(
        name="POCKET", role="pocket", shape=Shape(outer=Outline.rectangle(0, 0, 50, 80)), depth_mm=5.0
    )
    part = replace(BLOCK, zones=(pocket,), tolerates={"dent": "filled"})
    dent = Defect(
        name="row 2",
        kind="dent",
        shape=Shape(outer=Outline.rectangle(50, 20, 60, 30)),
        face="top",
        depth_mm=8,
    )
    far = replace(dent, name="row 3", shape=Shape(outer=Outline.rectangle(120, 20, 130, 30)))
    blank = replace(plank(140, 100), defects=(dent, far))
    (fill,) = fills_of(blank, [at(part, 5, 5)], SETTINGS)
    assert (fill.placement, fill.defect) == (0, "row 2")
    assert fill.volume_ml == pytest.approx(0.55, abs=0.001)
    # back up, the pocket lies below the dent and takes nothing of it
    over = replace(at(part, 5, 5)[1], front_up=False, mirrored=True, x_um=105_000)
    (fill,) = fills_of(blank, [(part, over)], SETTINGS)
    assert fill.volume_ml == pytest.approx(0.8, abs=0.001)
    assert fills_of(plank(140, 100), [at(part, 5, 5)], SETTINGS) == ()


def test_a_nail_hole_ends_the_slide_before_the_cutter_reaches_it():
    """From 105 the end may go to 200 - 2 - 3 of clearance - 6 of cutter = 189: 84 mm; nothing bars it without."""
    ring = Outline.polygon([(198, 48), (202, 48), (202, 52), (198, 52)])
    nail = Defect(name="n", kind="nail hole", shape=Shape(outer=ring), depth_mm=None, face="through")
    rules = replace(SETTINGS, prefer=Preferences(hole_clearance_mm=3.0))
    bare = plank(240, 100)
    (free,) = rooms_of(bare, [at(BLOCK, 5, 5)], rules)
    assert (free.along_mm, free.across_mm) == pytest.approx((130, 10), abs=0.01)
    (held,) = rooms_of(replace(bare, defects=(nail,)), [at(BLOCK, 5, 5)], rules)
    assert held.along_mm == pytest.approx(84, abs=0.05)
    assert held.across_mm == pytest.approx(10, abs=0.01)


def test_what_lies_nearer_keeps_the_next_quarter_of_the_clearance():
    """With 2.5 of 3 mm kept, 2.25 stay: from 5 the end may go to 198 - 2.25 - 6 = 189.75, so 84.75 mm."""
    ring = Outline.polygon([(198, 48), (202, 48), (202, 52), (198, 52)])
    nail = Defect(name="n", kind="nail hole", shape=Shape(outer=ring), depth_mm=None, face="through")
    rules = replace(SETTINGS, prefer=Preferences(hole_clearance_mm=3.0))
    (held,) = rooms_of(replace(plank(240, 100), defects=(nail,)), [at(BLOCK, 89.5, 5)], rules)
    assert held.along_mm == pytest.approx(84.75, abs=0.05)


def test_a_screw_ends_the_slide():
    """A head of 10 mm at 220 keeps 9 mm (6 beside the cutter's radius, or its groove and 3): 105 + 101 = 206."""
    screw = HoldDown(name="screw 1", x_mm=220.0, y_mm=50.0, diameter_mm=10.0)
    (held,) = rooms_of(plank(240, 100), [at(BLOCK, 5, 5)], SETTINGS, [screw])
    assert held.along_mm == pytest.approx(101, abs=0.06)
    pin = Pin(name="pin 1", x_mm=20.0, y_mm=150.0, diameter_mm=6.0)
    (free,) = rooms_of(plank(240, 100), [at(BLOCK, 5, 5)], SETTINGS, [pin])
    assert free.along_mm == pytest.approx(130, abs=0.01)


def test_the_edges_change_where_the_bottom_is_up():
    """Cut with the bottom up, the cutter goes round the other way as seen from the top: the other edges tear."""
    part, placement = at(KITE, 20, 80)
    back = Zone(
        name="BACK",
        role="pocket",
        shape=Shape(outer=Outline.rectangle(40, 40, 50, 50)),
        face="back",
        depth_mm=5.0,
    )
    # front up with a pocket in its back alone: all is cut with the bottom up
    turned = (replace(part, zones=(back,)), placement)
    climb = replace(SETTINGS, prefer=replace(SETTINGS.prefer, feed="climb"))
    lines = {w.line_mm for w in watch_of(plank(200, 200), [turned], SETTINGS)}
    assert lines == {w.line_mm for w in watch_of(plank(200, 200), [(part, placement)], climb)}
    assert lines.isdisjoint({w.line_mm for w in watch_of(plank(200, 200), [(part, placement)], SETTINGS)})
