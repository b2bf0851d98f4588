"""Faults set into what holds each outline, each found by cutting the wood again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from nestyield.audit.held import check_held
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.model import (
    Bed,
    Blank,
    Layout,
    Member,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
    WorkPlan,
)
from nestyield.planning.work.stages import with_stages

PART = Part(
    name="plate", drawing="", outline=Outline.rectangle(0, 0, 150, 150), thickness_mm=12.0, grain_deg=None
)
BED = Bed(
    name="bench", travel_x_mm=900, travel_y_mm=400, table_x_mm=(-20, 920), table_y_mm=(-20, 420), open_ends=()
)


def bench() -> CheckedBlank:
    """Two plates in a strip as wide as plate and cutter: the groove of each parts the waste on its sides."""
    blank = Blank(
        name="F",
        members=(Member(piece="F", copy=1),),
        species="mdf",
        thickness_mm=12.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 660, 160)),
        grain_deg=None,
    )
    settings = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0)
    shop = Shop(name="", units="mm", settings=settings, beds=(BED,), parts=(PART,), pieces=(), orders=())
    laid = tuple(
        Placement(part="plate", order="o", copy=k + 1, angle_deg=0.0, mirrored=False, x_um=x, y_um=5_000)
        for k, x in enumerate((5_000, 330_000))
    )
    layout = Layout(
        blank=blank,
        placements=laid,
        setups=setups(blank, [(PART, p) for p in laid], (BED,), settings, "mm"),
        chosen=0,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    layout = with_stages(replace(layout, work=work_plan(layout, shop)), shop)
    plan = Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())
    return CheckedBlank(CheckedSheet(plan), layout)


def codes(of: CheckedBlank) -> set[str]:
    check_held(of)
    return {f.code for f in of.sheet.findings}


def work(of: CheckedBlank) -> WorkPlan:
    assert of.layout.work is not None
    return of.layout.work


def test_a_sound_plan_passes_and_knows_which_screws_are_left() -> None:
    """The strip between the plates holds both; what lies beyond a plate would come loose with it."""
    of = bench()
    assert codes(of) == set()
    held = work(of).outlines
    assert len(held) == 2
    assert all(len(cut.holds) >= 2 for cut in held)
    by_name = {h.name: h.x_mm for h in work(of).hold_downs}
    assert all(161.0 < by_name[name] < 324.0 for name in held[-1].holds) or held[-1].placement == 1


FAULTS: list[tuple[str, Callable[[WorkPlan], WorkPlan]]] = [
    ("backwards", lambda w: replace(w, outlines=w.outlines[::-1])),
    ("an outline left out", lambda w: replace(w, outlines=w.outlines[1:])),
    ("a screw dropped", lambda w: replace(w, outlines=(replace(w.outlines[0], holds=()), w.outlines[1]))),
    (
        "a screw moved to the far side of the plate cut first",
        lambda w: replace(
            w,
            hold_downs=tuple(
                replace(h, x_mm=2.0 if w.outlines[0].placement == 0 else 650.0) for h in w.hold_downs
            ),
        ),
    ),
]


@pytest.mark.parametrize(("name", "fault"), FAULTS, ids=[f[0] for f in FAULTS])
def test_each_fault_is_found(name: str, fault: Callable[[WorkPlan], WorkPlan]) -> None:
    """Each fault gives a finding of A530."""
    of = bench()
    layout = replace(of.layout, work=fault(work(of)))
    plan = replace(of.sheet.plan, layouts=(layout,))
    assert codes(CheckedBlank(CheckedSheet(plan), layout)) == {"A530"}, name
