from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, CheckedSheet
from nestyield.audit.slack import check_rooms, check_watch
from nestyield.audit.turned_ends import COARSE_MM, Question
from nestyield.model import (
    Blank,
    Defect,
    HoldDown,
    Layout,
    Member,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
    Slack,
    TearOutRisk,
    WorkPlan,
)
from nestyield.model.facts import RisingGrain

BLOCK = Part(name="block", drawing="", outline=Outline.rectangle(0, 0, 100, 40), thickness_mm=20)
KNOT = Defect(name="knot", kind="knot", shape=Shape(outer=Outline.rectangle(150, 0, 160, 80)))


def bench(
    *rooms: Slack, defects: tuple[Defect, ...] = (), watch: tuple[TearOutRisk, ...] = ()
) -> CheckedBlank:
    """A block with 10 mm to spare in both directions in a blank of 120 x 60, margin 5."""
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="m",
        thickness_mm=20,
        shape=Shape(outer=Outline.rectangle(0, 0, 200 if defects else 120, 60)),
        grain_deg=0.0,
        defects=defects,
    )
    at = Placement(part="block", order="o", copy=1, angle_deg=0.0, mirrored=False, x_um=5000, y_um=5000)
    layout = Layout(
        blank=blank,
        placements=(at,),
        setups=(),
        chosen=None,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
        rooms=rooms,
        watch=watch,
    )
    settings = Settings(cutter_diameter_mm=5.0, blank_margin_mm=5.0, planing_mm=0.0)
    shop = Shop(name="", units="mm", settings=settings, beds=(), parts=(BLOCK,), pieces=(), orders=())
    return CheckedBlank(CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())), layout)


def room(x0: float, y0: float, x1: float, y1: float, **more: object) -> Slack:
    found = Slack(
        placement=0,
        along_mm=x1 - x0,
        across_mm=y1 - y0,
        slide=Shape(outer=Outline.rectangle(x0, y0, x1, y1)),
        from_deg=0.0,
        to_deg=0.0,
    )
    return replace(found, **more)  # type: ignore[arg-type]


def said(made: CheckedBlank) -> list[str]:
    check_rooms(made)
    check_watch(made)
    return [f"{f.code} {f.message}" for f in made.sheet.findings]


def test_room_to_the_margins_is_right_and_a_hair_more_is_not():
    """120 - 2 x 5 - 100 = 10 mm along, 60 - 2 x 5 - 40 = 10 mm across."""
    assert said(bench(room(0, 0, 10, 10))) == []
    assert any("A408" in t and "edge of the blank" in t for t in said(bench(room(0, 0, 10.01, 10))))
    assert any("A408" in t and "edge of the blank" in t for t in said(bench(room(0, -0.01, 10, 10))))


def test_a_knot_ends_the_room():
    """From x = 5 + 100 the block may slide 45 mm to a knot that begins at 150."""
    assert said(bench(room(0, 0, 45, 10), defects=(KNOT,))) == []
    assert any("knot" in t for t in said(bench(room(0, 0, 45.01, 10), defects=(KNOT,))))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"along_mm": 9.9}, "as measured"),
        ({"slide": None}, "but no shifts"),
        ({"to_deg": 5.1}, "off the grain"),
        ({"to_deg": 10.5}, "looked at"),
        ({"from_deg": 1.0, "to_deg": 2.0}, "its room is from"),
        ({"slide": Shape(outer=Outline.rectangle(1, 1, 11, 11))}, "does not hold the place"),
        ({"placement": 1}, "one for each placement"),
    ],
)
def test_rooms_that_are_wrong_in_other_ways(changes: dict[str, object], words: str):
    """Box, angles, place and index of a room are measured again."""
    assert any(words in t for t in said(bench(room(0, 0, 10, 10, **changes))))


@pytest.mark.parametrize("wall", ["edge", "neighbor", "knot", "screw"])
@pytest.mark.outside(source="a turned rectangle in a strip: 100 sin a + 40 cos a = 50", mark="D")
def test_the_block_turns_as_far_as_there_is_wood(wall: str):
    """100 x 40 mm in a strip of 50 mm turn by 5.860 degrees; above it are a margin, a neighbor, a knot, screws."""
    turn = math.degrees(math.asin(50 / math.hypot(100, 40)) - math.atan2(40, 100))
    assert turn == pytest.approx(5.860, abs=0.001)
    past = 0.3 if wall == "screw" else 0.05  # circles leave some room between them
    for to_deg, fits in ((turn - 0.02, True), (turn + past, False)):
        for way in ({"to_deg": to_deg}, {"from_deg": -to_deg}):
            made = bench(room(0, 0, 10, 10, **way))
            plan, layout = made.sheet.plan, made.layout
            bar = replace(BLOCK, name="bar", outline=Outline.rectangle(0, 0, 110, 40))
            shop = replace(plan.shop, parts=(replace(BLOCK, grain_tolerance_deg=10.0), bar))
            if wall == "knot":
                knot = replace(KNOT, shape=Shape(outer=Outline.rectangle(0, 55, 120, 200)))
                wood = Shape(outer=Outline.rectangle(0, 0, 120, 200))
                layout = replace(layout, blank=replace(layout.blank, shape=wood, defects=(knot,)))
            if wall == "screw":
                # 9 mm screws, 6 mm and the cutter's radius away; there is nothing to slide to beside them
                far = 55 + 2.5 + 6.0 + 4.5
                screws = tuple(
                    HoldDown(name=f"screw {k}", diameter_mm=9.0, x_mm=3.0 * k, y_mm=far) for k in range(41)
                )
                wood = Shape(outer=Outline.rectangle(0, 0, 120, 90))
                work = WorkPlan(hold_downs=screws)
                layout = replace(layout, blank=replace(layout.blank, shape=wood), work=work)
            if wall == "neighbor":
                (at,) = layout.placements
                low = 5 + 50 + shop.settings.gap_mm
                above = replace(at, part="bar", y_um=round(1000 * low))
                wood = Shape(outer=Outline.rectangle(0, 0, 120, low + 40 + 5))
                blank = replace(layout.blank, shape=wood)
                still = room(0, 0, 0, 0, placement=1)
                rooms = (*layout.rooms, still)
                layout = replace(layout, blank=blank, placements=(at, above), rooms=rooms)
            made = CheckedBlank(CheckedSheet(replace(plan, shop=shop, layouts=(layout,))), layout)
            assert any("A408" in t and "has no place" in t for t in said(made)) is not fits


def test_a_stretch_lies_on_the_outline_and_has_its_length():
    """The block's lower edge runs from (5, 5) to (105, 5)."""
    good = TearOutRisk(
        placement=0,
        line_mm=((10.0, 5.0), (60.0, 5.0)),
        length_mm=50.0,
        angle_deg=20.0,
        rule=RisingGrain(from_deg=15.0, to_deg=75.0),
    )
    assert said(bench(watch=(good,))) == []
    off = replace(good, line_mm=((10.0, 5.2), (60.0, 5.2)))
    assert any("does not lie" in t for t in said(bench(watch=(off,))))
    assert any("long by the plan" in t for t in said(bench(watch=(replace(good, length_mm=60.0),))))
    assert any("no placement" in t for t in said(bench(watch=(replace(good, placement=2),))))


def test_the_cutter_may_touch_a_hole_that_it_lies_too_near_to_and_no_more():
    """0.4 mm beyond the cutter's path no step of the clearance of 3 mm is kept: a slide may end at the hole."""
    cutter = bench(room(0, 0, 0, 0)).sheet.plan.shop.settings.cutter_diameter_mm
    x = 105 + cutter + 0.4
    nail = replace(KNOT, kind="nail hole", shape=Shape(outer=Outline.rectangle(x, 20, x + 2, 22)))
    assert said(bench(room(0, 0, 0.4, 10), defects=(nail,))) == []
    assert any("kept" in t for t in said(bench(room(0, 0, 0.5, 10), defects=(nail,))))


def test_a_margin_is_round_about_a_corner_that_juts_in():
    """Wood ends at a corner (0, 0) that juts into it: an edge aslant has room to 5 mm from it, not to a sharp corner.

    Turned by -45 degrees the block's long edge lies along x + y = c, from its own corner on; 5 mm off is c = 5 sqrt 2.
    """
    wood = shapely.Polygon([(0, 0), (0, -200), (300, -200), (300, 200), (-200, 200), (-200, 0)])
    at = Placement(part="block", order="o", copy=1, angle_deg=-45.0, mirrored=False, x_um=0, y_um=0)
    question = Question(CheckedPlacement(0, BLOCK, at).outline, wood, 5.0, [])
    for off, fits in ((5.0, True), (4.97, False)):
        along = math.sqrt(0.5)
        x, y = off * along - 50 * along, off * along + 50 * along
        window = shapely.box(x - 0.005, y - 0.005, x + 0.005, y + 0.005)
        assert question.any_left(window, COARSE_MM[-1:]) is fits
