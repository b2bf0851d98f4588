"""Faults set into what a bed answers and warns of, each found."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.bed_facts import check_bed_facts
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.model import (
    Bed,
    Blank,
    KeepOut,
    Layout,
    Leftover,
    Member,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
    Zone,
)
from nestyield.model.facts import (
    FewScrews,
    HolesInLeftover,
    KeepOutInTheWay,
    NoIndexPins,
    NoOpenEnd,
    PartsComeLoose,
    SectionsByMoving,
    TravelShort,
)

BED = Bed(
    name="bench",
    travel_x_mm=600,
    travel_y_mm=400,
    travel_z_mm=60,
    table_x_mm=(-20, 620),
    table_y_mm=(-20, 420),
    open_ends=("x-", "x+"),
    pin_diameter_mm=6,
)


def checked(length_mm: float, bed: Bed = BED, kept: bool = True) -> CheckedBlank:
    """A stick with a pocket in its front, in a blank whose upper edge is a leftover."""
    pocket = Zone(
        name="P",
        role="pocket",
        shape=Shape(outer=Outline.rectangle(20, 20, 50, 40)),
        depth_mm=9.0,
        face="front",
    )
    part = Part(
        name="stick",
        drawing="",
        outline=Outline.rectangle(0, 0, length_mm, 60),
        zones=(pocket,),
        thickness_mm=20.0,
    )
    shop = Shop(
        name="",
        units="mm",
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
        part="stick", order="order 1", copy=1, angle_deg=0.0, mirrored=False, x_um=30_000, y_um=45_000
    )
    whole = Shape(outer=Outline.rectangle(0, 0, length_mm + 60, 170))
    left = Leftover(name="B-a", shape=whole, rectangle_mm=(0, 0, 10, 10), area_mm2=8e3, usable=True)
    tried = setups(blank, ((part, placement),), (bed,), shop.settings, "mm")
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=tried,
        chosen=next((k for k, s in enumerate(tried) if s.is_usable), None),
        leftovers=(left,) if kept else (),
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    layout = replace(layout, work=work_plan(layout, shop))
    plan = Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())
    return CheckedBlank(CheckedSheet(plan), layout)


def codes(bench: CheckedBlank, layout: Layout | None = None) -> set[str]:
    again = CheckedBlank(CheckedSheet(bench.sheet.plan), layout or bench.layout)
    check_bed_facts(again)
    return {f.code for f in again.sheet.findings}


BEDS = {
    "open": BED,
    "closed": replace(BED, open_ends=()),
    "one end": replace(BED, open_ends=("x+",)),
    "no pins": replace(BED, pin_diameter_mm=0.0),
    "shallow": replace(BED, travel_z_mm=15.0),
    "narrow": replace(BED, travel_y_mm=60.0),
    "short table": replace(BED, table_x_mm=(100.0, 500.0), open_ends=("x+",)),
}


@pytest.mark.parametrize("bed", BEDS.values(), ids=BEDS.keys())
@pytest.mark.parametrize("length_mm", [300.0, 500.0, 900.0, 1900.0])
@pytest.mark.parametrize("kept", [True, False])
def test_what_the_beds_answer_is_so(bed: Bed, length_mm: float, kept: bool) -> None:
    """Refusals, outcomes of sections and cautions of many setups pass the audit's own arithmetic."""
    assert codes(checked(length_mm, bed, kept)) == set()


def changed(bench: CheckedBlank, **change: Any) -> Layout:
    """The layout with its refused first setup changed."""
    first, *rest = bench.layout.setups
    assert not first.fits
    return replace(bench.layout, setups=(replace(first, **change), *rest))


def test_faults_in_refusals_are_found() -> None:
    """A travel that is short by other numbers, left out, or blamed on a keep-out is found (A513).

    900 of outline and a cutter of 6 need 906 of 600: 306 short.
    """
    bench = checked(900.0)
    right = TravelShort(axis="x", needs_um=906_000, travel_um=600_000, short_um=306_000)
    assert bench.layout.setups[0].refusals == (right,)
    for wrong in (
        replace(right, needs_um=905_000),
        replace(right, short_um=305_000),
        replace(right, axis="y"),
    ):
        assert codes(bench, changed(bench, refusals=(wrong,))) == {"A513"}
    assert codes(bench, changed(bench, refusals=())) == {"A513"}
    assert codes(bench, changed(bench, refusals=(right, KeepOutInTheWay(name="post")))) == {"A513"}
    for name, change in (("closed", "over_um"), ("shallow", "short_um")):
        other = checked(900.0, BEDS[name])
        *_, last = other.layout.setups[0].refusals
        off = replace(last, **{change: getattr(last, change) + 1000})
        assert "A513" in codes(other, changed(other, refusals=(*other.layout.setups[0].refusals[:-1], off)))


def test_faults_in_sections_are_found() -> None:
    """Another step or number of sections, or a refusal where there are sections, is found (A514)."""
    bench = checked(900.0)
    told = bench.layout.setups[0].in_sections
    assert isinstance(told, SectionsByMoving)
    for wrong in (
        replace(told, count=3),
        replace(told, step_um=told.step_um + 1000),
        replace(told, axis="y"),
        NoOpenEnd(axis="x"),
        None,
    ):
        assert codes(bench, changed(bench, in_sections=wrong)) == {"A514"}
    closed = checked(900.0, BEDS["closed"])
    assert closed.layout.setups[0].in_sections == NoOpenEnd(axis="x")
    assert codes(closed, changed(closed, in_sections=NoIndexPins())) == {"A514"}


def test_faults_in_cautions_are_found() -> None:
    """A caution left out, one too many, or one of another screw or leftover is found (A515)."""
    bench = checked(400.0)
    work = bench.layout.work
    assert work is not None
    (holes,) = (c for c in work.cautions if isinstance(c, HolesInLeftover))
    assert PartsComeLoose() in work.cautions
    rest = tuple(c for c in work.cautions if c is not holes)
    for wrong in (
        rest,
        (*rest, replace(holes, leftover="B-b")),
        (*rest, replace(holes, names=holes.names[1:])),
        tuple(c for c in work.cautions if c != PartsComeLoose()),
        (*work.cautions, FewScrews(count=1)),
    ):
        assert codes(bench, replace(bench.layout, work=replace(work, cautions=wrong))) == {"A515"}
    fewer = replace(work, hold_downs=work.hold_downs[:1])
    assert codes(bench, replace(bench.layout, work=fewer)) == {"A515"}


#: The cut of a stick of 300 mm needs 306 x 66 mm: it may be shifted by 14 mm each way, and always covers the post.
POST = KeepOut(name="post", outline=Outline.rectangle(150, 30, 170, 50))
FAR = KeepOut(name="far", outline=Outline.rectangle(900, 900, 920, 920))
TIGHT = replace(BED, travel_x_mm=320, travel_y_mm=80, table_y_mm=(-60, 160), keep_outs=(POST, FAR))


def said(bench: CheckedBlank, layout: Layout, bed: Bed) -> str:
    """What the audit says about keep-outs when the bed is another one than the layout was planned for."""
    shop = replace(bench.sheet.plan.shop, beds=(bed,))
    other = CheckedBlank(CheckedSheet(replace(bench.sheet.plan, shop=shop)), layout)
    check_bed_facts(other)
    return " ".join(f.message for f in other.sheet.findings if f.code == "A513")


def test_a_keep_out_in_the_way_is_one() -> None:
    """A post under the blank wherever it lies is rightly blamed; one beyond the bed, or moved aside, is not."""
    bench = checked(300.0, TIGHT)
    assert bench.layout.setups[0].refusals == (KeepOutInTheWay(name="post"),)
    assert said(bench, bench.layout, TIGHT) == ""
    blamed = changed(bench, refusals=(KeepOutInTheWay(name="far"),))
    assert "blames keep-out far, which nothing comes near" in said(bench, blamed, TIGHT)
    for aside in (
        replace(POST, outline=Outline.rectangle(150, 200, 170, 220)),
        replace(POST, outline=Outline.rectangle(150, -30, 170, -20), blocks="cutter"),
    ):
        bed = replace(TIGHT, keep_outs=(aside, FAR))
        assert "is clear of all of them at" in said(bench, bench.layout, bed)
    # inside the part no cutter runs; over its upper edge, at 63 to 77 mm of the bed, it does
    inside = replace(POST, blocks="cutter")
    assert "is clear of all of them at" in said(bench, bench.layout, replace(TIGHT, keep_outs=(inside, FAR)))
    under_the_cut = replace(inside, outline=Outline.rectangle(150, 30, 170, 79))
    assert said(bench, bench.layout, replace(TIGHT, keep_outs=(under_the_cut, FAR))) == ""
