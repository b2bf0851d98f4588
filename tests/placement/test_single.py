import pytest

from nestyield.model import Blank, Defect, Outline, Part, Settings, Shape, Zone
from nestyield.model.facts import NoPlaceForBed, TooMuchFiller
from nestyield.placement.single import SinglePart, place_part

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, between_parts_mm=9.0)


def plank(length, width, thickness=44.0, **more):
    return Blank(
        name="plank",
        members=(),
        species="sugar maple",
        thickness_mm=thickness,
        shape=Shape(outer=Outline.rectangle(0, 0, length, width), holes=more.pop("holes", ())),
        grain_deg=more.pop("grain_deg", 0.0),
        **more,
    )


def block(length, width, **more):
    return Part(
        name="block",
        drawing="",
        outline=Outline.rectangle(0, 0, length, width),
        thickness_mm=more.pop("thickness_mm", 40.0),
        **more,
    )


def test_a_block_that_just_fits_its_margin():
    """Zero play: 200 x 80 with 5 mm all round needs exactly 210 x 90."""
    got = place_part(block(200, 80), plank(210, 90), SETTINGS)
    assert got.placement is not None
    assert (got.placement.x_um, got.placement.y_um) == (5000, 5000)
    assert place_part(block(200, 80), plank(209.99, 90), SETTINGS).placement is None


def test_a_second_block_keeps_the_gap():
    """Two blocks of 100 need 5 + 100 + 9 + 100 + 5 mm of length."""
    part = block(100, 80)
    first = place_part(part, plank(219, 90), SETTINGS)
    assert first.placement is not None
    second = place_part(part, plank(219, 90), SETTINGS, taken=[(part, first.placement)], copy=2)
    assert second.placement is not None
    assert sorted((first.placement.x_um, second.placement.x_um)) == [5000, 114000]
    assert place_part(part, plank(218.9, 90), SETTINGS, taken=[(part, first.placement)]).placement is None


def test_accept_decides_among_places():
    """A place that the caller refuses is not returned; the next one is."""
    part, blank = block(100, 80), plank(400, 120)
    seen = []

    def second(at):
        seen.append(at)
        return len(seen) == 2

    got = place_part(part, blank, SETTINGS, accept=second)
    assert got.placement == seen[1] != seen[0]
    none = place_part(part, blank, SETTINGS, accept=lambda at: False)
    assert none.placement is None
    assert none.refusal == NoPlaceForBed(piece=blank.name)


def test_an_angle_without_hope_is_asked_about_once():
    """Of places at an angle at which none will be accepted one is asked about, and the answer is the same."""
    # a bar of 262 on a disc of 300 less 5 mm of margin all round (290) has play at every angle
    disc = Blank(
        name="disc",
        members=(),
        species="maple",
        thickness_mm=44,
        shape=Shape(outer=Outline.circle(0, 0, 300)),
        grain_deg=0.0,
    )
    bar = block(262, 40, grain_tolerance_deg=90.0)
    asked = {}
    for hope in (True, False):
        seen = asked[hope] = []

        def accept(at, seen=seen):
            seen.append((at.angle_deg, at.mirrored))
            return 40.0 < at.angle_deg % 180.0 < 60.0

        got = place_part(
            bar, disc, SETTINGS, accept=accept, allowed=None if hope else lambda at: [], limit=200
        )
        asked[hope, "found"] = got.placement
    assert asked[True, "found"] == asked[False, "found"]
    assert len(asked[False]) == len(set(asked[False])) == len(set(asked[True])) < len(asked[True])


def test_a_knot_lies_in_a_pocket_deep_enough():
    """Worked by hand: 44 mm wood for a 40 mm part leaves 4 mm to plane, at least 0.8 mm off each face, so at
    most 3.2 mm off the top. Of a knot 10 mm deep from the top, 6.8 mm are left at least: a front pocket of
    6.9 mm swallows it and one of 6.7 mm does not; a pocket from the back never does."""
    knot = Defect(
        name="knot", kind="knot", shape=Shape(outer=Outline.circle(105, 45, 10)), face="top", depth_mm=10.0
    )
    for face, depth, fits in (("front", 6.9, True), ("front", 6.7, False), ("back", 6.7, False)):
        pocket = Zone(
            name="P",
            role="pocket",
            shape=Shape(outer=Outline.rectangle(80, 20, 120, 60)),
            depth_mm=depth,
            face=face,
        )
        blank = plank(210, 90, defects=(knot,))
        got = place_part(block(200, 80, zones=(pocket,)), blank, SETTINGS)
        assert (got.placement is not None) == fits
        if got.placement is not None:
            assert got.placement.top_off_mm == pytest.approx(3.1)
            assert got.placement.front_up
        else:
            assert got.certificate is not None
            assert got.verdict == "infeasible"


def test_a_back_pocket_swallows_a_top_knot_when_the_back_is_up():
    """With its back up the part is seen mirrored, and a pocket from the back opens to the blank's top."""
    knot = Defect(
        name="knot", kind="knot", shape=Shape(outer=Outline.circle(55, 45, 10)), face="top", depth_mm=10.0
    )
    pocket = Zone(
        name="P",
        role="pocket",
        shape=Shape(outer=Outline.rectangle(130, 20, 170, 60)),
        depth_mm=12.0,
        face="back",
    )
    got = place_part(block(200, 80, zones=(pocket,)), plank(210, 90, defects=(knot,)), SETTINGS)
    assert got.placement is not None
    assert not got.placement.front_up
    assert got.placement.mirrored


def test_the_limit_of_filler_is_kept_by_leaving_a_knot_out():
    """Through knots of pi 10^2 x 40 mm3 = 12.6 ml and pi 5^2 x 40 = 3.1 ml: a limit of 4 ml bears the small one."""
    wide = Defect(name="wide", kind="knot", shape=Shape(outer=Outline.circle(10, 45, 10)))
    small = Defect(name="small", kind="knot", shape=Shape(outer=Outline.circle(120, 45, 5)))
    fills = {"knot": "filled"}
    # 16 mm of play: from x = 20 on the part misses the wide knot; it always holds the small one
    blank = plank(226, 90, defects=(wide, small))
    got = place_part(block(200, 80, tolerates=fills, fill_limit_ml=4.0), blank, SETTINGS)
    assert got.placement is not None
    assert got.filled == ("small",)
    assert got.filled_ml == pytest.approx(3.14159 * 25 * 40 / 1000, rel=0.01)
    assert got.placement.x_um >= 20_000
    asked = SinglePart(block(200, 80, tolerates=fills, fill_limit_ml=4.0), blank, SETTINGS, (), "", 1, None)
    assert asked.left_unfilled() == [frozenset({"wide"})]
    # a limit below the small knot leaves no place at all
    none = place_part(block(200, 80, tolerates=fills, fill_limit_ml=3.0), blank, SETTINGS)
    assert none.placement is None
    assert none.verdict == "undecided"
    assert none.refusal == TooMuchFiller(piece=blank.name, limit_ml=3.0)
    # without a limit it goes where the leftover is largest, wherever the knots are
    free = place_part(block(200, 80, tolerates=fills), blank, SETTINGS)
    assert free.placement is not None
