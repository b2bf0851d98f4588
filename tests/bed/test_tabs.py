"""Tabs, screws of each section, and how far pins and screws keep from defects."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from nestyield.bed.fit import setups
from nestyield.bed.waste import free_wood
from nestyield.bed.work import work_plan
from nestyield.model import Defect, Holding, Layout, Outline, Settings, Shape, Shop

CUTTER = 6.0


def laid_out(part, blank, placement, bed, along="x", **holding):
    settings = Settings(cutter_diameter_mm=CUTTER, holding=Holding(**holding))
    shop = Shop(name="", units="mm", settings=settings, beds=(bed,), parts=(part,), pieces=(), orders=())
    found = setups(blank, ((part, placement),), (bed,), settings)
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=found,
        chosen=next(k for k, s in enumerate(found) if s.fits or s.sections),
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    return layout, work_plan(layout, shop)


@pytest.fixture
def boxed(make_part, make_blank, make_bed, at):
    """A part of 200 x 100 at (60, 60) of a blank of 320 x 220: 60 mm of waste all round."""

    def made(defects=(), **holding):
        part = make_part(Outline.rectangle(0, 0, 200, 100))
        blank = replace(make_blank(Outline.rectangle(0, 0, 320, 220)), defects=defects)
        placement = replace(at(60, 60), part=part.name)
        return laid_out(part, blank, placement, make_bed(600, 400), **holding)[1]

    return made


def test_tabs_lie_on_the_outline_and_point_into_the_waste(boxed):
    """Four tabs lie on the sides of a rectangle, clear of its corners, point outwards and are spread round it."""
    tabs = boxed().tabs
    assert [t.name for t in tabs] == ["tab 1", "tab 2", "tab 3", "tab 4"]
    box = shapely.box(60, 60, 260, 160)
    corners = shapely.MultiPoint([(60, 60), (260, 60), (260, 160), (60, 160)])
    along = []
    for tab in tabs:
        at = shapely.Point(tab.x_mm, tab.y_mm)
        assert box.boundary.distance(at) < 0.01
        assert corners.distance(at) >= tab.width_mm / 2
        t = math.radians(tab.angle_deg)
        assert not box.covers(shapely.Point(tab.x_mm + math.cos(t), tab.y_mm + math.sin(t)))
        along.append(box.boundary.project(at))
    along.sort()
    gaps = [b - a for a, b in zip(along, [*along[1:], along[0] + 600.0])]
    assert min(gaps) > 600.0 / 4 * 0.5


@pytest.mark.parametrize("many", [0, 2, 6])
def test_as_many_tabs_as_the_shop_wants(boxed, many):
    """The shop file says how many tabs are listed, and how wide."""
    tabs = boxed(tabs=many, tab_width_mm=12.0).tabs
    assert len(tabs) == many
    assert {t.width_mm for t in tabs} <= {12.0}


def test_no_tab_in_wood_that_no_screw_holds(make_part, make_blank, make_bed, at):
    """Where the groove reaches the edge, the strip beyond it is loose: no tab leans on it."""
    part = make_part(Outline.rectangle(0, 0, 200, 100))
    # 7 mm of wood below the part: 1 mm stays beyond the groove, too little for a tab
    blank = make_blank(Outline.rectangle(0, 0, 320, 167))
    _, work = laid_out(part, blank, replace(at(60, 7), part=part.name), make_bed(600, 400))
    assert work.tabs
    assert all(t.y_mm > 7.0 + 1.0 for t in work.tabs)


def test_tabs_keep_off_defects(boxed):
    """Rot along one side of the part takes no tab, and a stain there does."""
    strip = Shape(outer=Outline.rectangle(60, 160, 260, 200))
    for kind, there in (("rot", False), ("stain", True)):
        work = boxed((Defect(name="d", kind=kind, shape=strip),), tabs=8)
        assert any(t.y_mm > 159.0 for t in work.tabs) == there, kind


def test_no_tab_leads_over_a_hole(boxed):
    """A row of rot some millimeters beyond the groove takes all tabs off that side, although wood follows."""
    # the groove above the part ends at y = 166; rot from 169 to 171 all along, sound wood to 220 behind it
    strip = Shape(outer=Outline.rectangle(30, 169, 290, 171))
    work = boxed((Defect(name="d", kind="rot", shape=strip),), tabs=8)
    assert work.tabs
    assert not any(t.y_mm > 159.0 for t in work.tabs)


@pytest.mark.outside(source="wood between a pin and a check, 5 mm: common practice, no source", mark="P")
@pytest.mark.parametrize(
    ("kind", "least"), [("check", 5.0), ("knot", 5.0), ("split", 5.0), ("stain", 1.0), ("sapwood", 1.0)]
)
def test_pins_and_screws_keep_off_defects(make_part, make_blank, at, kind, least):
    """A pin of 6 mm keeps 5 mm of wood to a check, and 1 mm to what does not weaken the wood."""
    shape = Shape(outer=Outline.rectangle(40, 150, 60, 158))
    blank = replace(
        make_blank(Outline.rectangle(0, 0, 320, 220)), defects=(Defect(name="d", kind=kind, shape=shape),)
    )
    part = make_part(Outline.rectangle(0, 0, 100, 60))
    free = free_wood(blank, ((part, at(120, 20)),), Settings(cutter_diameter_mm=CUTTER), 3.0)["waste"]
    found = free.distance(shapely.box(40, 150, 60, 158))
    assert found == pytest.approx(3.0 + least, abs=0.05)
    assert free.bounds[0] == pytest.approx(9.0, abs=0.05)


def test_a_wider_clearance_is_kept(make_part, make_blank, at):
    """The shop file's clearances are kept."""
    blank = make_blank(Outline.rectangle(0, 0, 320, 220))
    settings = Settings(cutter_diameter_mm=CUTTER, holding=Holding(edge_clearance_mm=15.0))
    free = free_wood(blank, ((make_part(Outline.rectangle(0, 0, 100, 60)), at(120, 60)),), settings, 3.0)
    assert free["waste"].bounds[0] == pytest.approx(18.0, abs=0.05)


def test_each_section_is_held_at_both_ends(make_part, make_blank, make_bed, at):
    """A blank of 1000 on 600 of travel: in each section screws stand near both ends of what is cut there."""
    part = make_part(Outline.rectangle(0, 0, 900, 80))
    blank = make_blank(Outline.rectangle(0, 0, 1000, 160))
    bed = replace(
        make_bed(600, 400, table=(-20.0, -20.0, 620.0, 420.0), open_ends=("x-", "x+")), pin_diameter_mm=6.0
    )
    layout, work = laid_out(part, blank, replace(at(20, 40), part=part.name), bed)
    sections = layout.setups[layout.chosen].sections
    assert len(sections) == 2
    for k, section in enumerate(sections, start=1):
        driven = [h for h in work.hold_downs if h.driven_in(k)]
        xs = [h.x_mm + section.x_mm for h in driven]
        assert all(-20 <= x <= 620 for x in xs), "a screw stands beyond the table"
        assert min(xs) < section.from_mm + 120
        assert max(xs) > section.to_mm - 120
    # what was there before: every screw over the table in both sections, which is 1000 - 2 * 360 at the most
    assert max(h.x_mm for h in work.hold_downs) - min(h.x_mm for h in work.hold_downs) > 700


def test_a_blank_in_one_go_has_one_set_of_screws(boxed):
    """Without sections no screw names one."""
    assert {h.sections for h in boxed().hold_downs} == {()}
