"""Faults set into tabs and clearances of pins, each found."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.audit.tabs import check_tabs
from nestyield.audit.work import check_work
from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.model import (
    Bed,
    Blank,
    Defect,
    Layout,
    Member,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
)
from nestyield.model.facts import CutOutline
from nestyield.planning.work.stages import with_stages

PART = Part(name="plate", drawing="", outline=Outline.rectangle(0, 0, 200, 100), thickness_mm=12.0)
BED = Bed(
    name="b", travel_x_mm=900, travel_y_mm=400, table_x_mm=(-20, 920), table_y_mm=(-20, 420), open_ends=()
)


def bench() -> CheckedBlank:
    """One plate with 60 mm of waste all round."""
    blank = Blank(
        name="F",
        members=(Member(piece="F", copy=1),),
        species="maple",
        thickness_mm=12.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 320, 220)),
        grain_deg=0.0,
    )
    settings = Settings(cutter_diameter_mm=6.0)
    shop = Shop(name="", units="mm", settings=settings, beds=(BED,), parts=(PART,), pieces=(), orders=())
    laid = Placement(part="plate", order="o", copy=1, angle_deg=0.0, mirrored=False, x_um=60_000, y_um=60_000)
    layout = Layout(
        blank=blank,
        placements=(laid,),
        setups=setups(blank, [(PART, laid)], (BED,), settings, "mm"),
        chosen=0,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    layout = with_stages(replace(layout, work=work_plan(layout, shop)), shop)
    return CheckedBlank(CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())), layout)


def codes(layout: Layout, plan: Plan) -> set[str]:
    one = CheckedBlank(CheckedSheet(replace(plan, layouts=(layout,))), layout)
    check_tabs(one)
    check_work(one)
    return {f.code for f in one.sheet.findings}


def told_without(layout: Layout) -> Layout:
    """The outline's step forgets its last tab."""
    stages = tuple(
        replace(
            stage,
            steps=tuple(
                replace(s, tabs=s.tabs[:-1]) if isinstance(s, CutOutline) else s for s in stage.steps
            ),
        )
        for stage in layout.work.stages
    )
    return replace(layout, work=replace(layout.work, stages=stages))


def with_tab(layout: Layout, **more: object) -> Layout:
    first, *rest = layout.work.tabs
    return replace(layout, work=replace(layout.work, tabs=(replace(first, **more), *rest)))


def with_defect(layout: Layout, x: float, y: float, kind: str = "check") -> Layout:
    shape = Shape(outer=Outline.rectangle(x, y, x + 2, y + 2))
    return replace(layout, blank=replace(layout.blank, defects=(Defect(name="d", kind=kind, shape=shape),)))


FAULTS = {
    "off its outline": lambda one: with_tab(
        one, x_mm=one.work.tabs[0].x_mm + 0.3, y_mm=one.work.tabs[0].y_mm + 0.3
    ),
    "inwards": lambda one: with_tab(one, angle_deg=one.work.tabs[0].angle_deg + 180.0),
    "too wide": lambda one: with_tab(one, width_mm=20.0),
    "of no part": lambda one: with_tab(one, placement=3),
    "a name twice": lambda one: with_tab(one, name="tab 2"),
    "not told": told_without,
}


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_of_a_tab_is_found(name: str) -> None:
    """A tab that is off, points inwards, is of no part or is not told in its step is found."""
    one = bench()
    assert codes(one.layout, one.sheet.plan) == set()
    assert "A532" in codes(FAULTS[name](one.layout), one.sheet.plan), name


def test_a_pin_or_screw_beside_a_defect_or_edge_is_found() -> None:
    """A screw 3 mm from a check, or 2 mm from the edge, is found; 3 mm from a stain is not."""
    one = bench()
    screw = one.layout.work.hold_downs[0]
    x, y, r = screw.x_mm, screw.y_mm, screw.diameter_mm / 2
    assert codes(with_defect(one.layout, x + r + 3.0, y - 1.0), one.sheet.plan) == {"A510"}
    assert codes(with_defect(one.layout, x + r + 3.0, y - 1.0, "stain"), one.sheet.plan) == set()
    near = replace(screw, x_mm=r + 2.0)
    work = replace(one.layout.work, hold_downs=(near, *one.layout.work.hold_downs[1:]))
    assert "A510" in codes(replace(one.layout, work=work), one.sheet.plan)
