from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from nestyield.audit.beds import check_beds
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.audit.work import check_work
from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.model import (
    Bed,
    Blank,
    Finding,
    KeepOut,
    Layout,
    Member,
    Outline,
    Part,
    Pin,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
    Zone,
)


def bench_of(
    size: tuple[float, float], part: Part, ends: tuple[str, ...], index: int | None = None
) -> CheckedBlank:
    """A part at (20, 45) of a blank on a bed with 600 x 400 of travel."""
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="sugar maple",
        thickness_mm=42.0,
        shape=Shape(outer=Outline.rectangle(0, 0, *size)),
        grain_deg=0.0,
    )
    bed = Bed(
        name="bench",
        travel_x_mm=600.0,
        travel_y_mm=400.0,
        table_x_mm=(-20.0, 620.0),
        table_y_mm=(-20.0, 420.0),
        open_ends=ends,  # type: ignore[arg-type]
        pin_diameter_mm=6.0,
        keep_outs=(KeepOut(name="block", outline=Outline.rectangle(0, 380, 60, 400)),),
    )
    placement = Placement(
        part="part", order="order 1", copy=1, angle_deg=0.0, mirrored=False, x_um=20_000, y_um=45_000
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
    tried = setups(blank, ((part, placement),), (bed,), shop.settings)
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=tried,
        chosen=0,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    layout = replace(layout, work=work_plan(layout, shop))
    return CheckedBlank(CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())), layout)


@pytest.fixture
def flipped() -> CheckedBlank:
    """A part worked on both faces, with pins."""
    outline = Outline.rectangle(0, 0, 300, 200)
    pockets = tuple(
        Zone(
            name=name,
            role="pocket",
            shape=Shape(outer=Outline.rectangle(50, 50, 90, 90)),
            face=face,  # type: ignore[arg-type]
            depth_mm=10.0,
        )
        for name, face in (("P", "front"), ("C", "back"))
    )
    part = Part(name="part", drawing="", outline=outline, zones=pockets, thickness_mm=40.0)
    return bench_of((345, 290), part, ())


@pytest.fixture(params=[("x-", "x+"), ("x+",), ("x-",)])
def long(request) -> CheckedBlank:
    """A part that needs two sections."""
    part = Part(name="part", drawing="", outline=Outline.rectangle(0, 0, 900, 80), thickness_mm=40.0)
    return bench_of((1000, 170), part, request.param)


def findings(bench: CheckedBlank, **more: object) -> list[Finding]:
    changed = CheckedBlank(CheckedSheet(bench.sheet.plan), replace(bench.layout, **more))
    check_beds(changed)
    check_work(changed)
    return changed.sheet.findings


def codes(bench: CheckedBlank, **more: object) -> set[str]:
    return {f.code for f in findings(bench, **more)}


def with_pin(bench: CheckedBlank, change: Callable[[Pin], Pin]) -> dict[str, object]:
    work = bench.layout.work
    assert work is not None
    first, *rest = work.pins
    return {"work": replace(work, pins=(change(first), *rest))}


def test_sound_work_passes(flipped, long):
    """What the bed plans holds, for turning over and for sections."""
    assert flipped.layout.work.pins
    assert long.layout.setups[0].sections
    assert findings(flipped) == []
    assert findings(long) == []


def test_pins(flipped):
    """A pin moved towards the part, out of the blank, or off its mirror image is found."""
    assert codes(flipped, **with_pin(flipped, lambda p: replace(p, x_mm=160.0, y_mm=40.0))) == {"A510"}
    assert codes(flipped, **with_pin(flipped, lambda p: replace(p, x_mm=-1.0))) == {"A510"}
    assert codes(flipped, **with_pin(flipped, lambda p: replace(p, x_mm=p.x_mm + 0.1))) == {"A510"}
    assert codes(flipped, **with_pin(flipped, lambda p: replace(p, place="cutout"))) == {"A510"}
    one = replace(flipped.layout.work, pins=flipped.layout.work.pins[:1])
    assert codes(flipped, work=one) == {"A510"}


def test_screws(flipped):
    """A screw in the cutter's way is found."""
    work = flipped.layout.work
    first, *rest = work.hold_downs
    assert codes(flipped, work=replace(work, hold_downs=(replace(first, x_mm=160.0, y_mm=40.0), *rest))) == {
        "A510"
    }


@pytest.mark.parametrize(("cutter", "y"), [(6.0, 45 - 5 - 9.0), (20.0, 45 - 5 - 23.0)])
def test_a_screw_keeps_its_room_to_a_hundredth(flipped, cutter: float, y: float):
    """A head of 10 mm: 6 mm and the cutter's radius to the outline at y = 45, or 3 mm beside the groove; 0.01 less is told."""
    work = flipped.layout.work
    first, *rest = work.hold_downs
    assert first.diameter_mm == 10.0
    plan = flipped.sheet.plan
    shop = replace(plan.shop, settings=replace(plan.shop.settings, cutter_diameter_mm=cutter))
    for more, right in ((0.0, True), (0.01, False)):
        there = replace(work, hold_downs=(replace(first, x_mm=160.0, y_mm=y + more), *rest))
        layout = replace(flipped.layout, work=there)
        bench = CheckedBlank(CheckedSheet(replace(plan, shop=shop)), layout)
        check_work(bench)
        told = [f for f in bench.sheet.findings if f.message.startswith(f"{first.name} lies")]
        assert (told == []) is right


def test_stands(flipped):
    """A pin beyond reach, a screw past the table, and a setup that may not stand so far off are found."""
    work = flipped.layout.work
    assert work.clearance_mm > 1.0
    more = replace(work, clearance_mm=work.clearance_mm + 0.1)
    assert codes(flipped, work=more) == {"A512"}
    bed = flipped.sheet.plan.shop.beds[0]
    beyond = min(p.x_mm for p in work.pins) + flipped.layout.setups[0].x_mm + 1.0
    shop = replace(flipped.sheet.plan.shop, beds=(replace(bed, travel_x_mm=beyond),))
    told = CheckedBlank(CheckedSheet(replace(flipped.sheet.plan, shop=shop)), flipped.layout)
    check_work(told)
    assert "beyond the machine's reach" in " ".join(f.message for f in told.sheet.findings)
    by_hand = replace(work, pins=tuple(replace(p, by_hand=True) for p in work.pins), clearance_mm=0.0)
    told = CheckedBlank(
        CheckedSheet(replace(flipped.sheet.plan, shop=shop)), replace(flipped.layout, work=by_hand)
    )
    check_work(told)
    assert told.sheet.findings == []
    shop = replace(shop, beds=(replace(bed, table_x_mm=(-20.0, beyond - 1.0)),))
    told = CheckedBlank(
        CheckedSheet(replace(flipped.sheet.plan, shop=shop)), replace(flipped.layout, work=by_hand)
    )
    check_work(told)
    assert "past the table's edge" in " ".join(f.message for f in told.sheet.findings)


def test_sections(long):
    """Sections that leave a gap, pass the travel, leave the table, or miss the pins are found."""
    setup = long.layout.setups[0]

    def told(index: int, **more: object) -> set[str]:
        sections = list(setup.sections)
        sections[index] = replace(sections[index], **more)
        return codes(long, setups=(replace(setup, sections=tuple(sections)), *long.layout.setups[1:]))

    first, second = setup.sections
    assert "A511" in told(0, to_mm=first.to_mm - 400.0)
    assert "A511" in told(0, from_mm=2.0)
    assert "A511" in told(1, to_mm=598.0)
    assert "A511" in told(1, x_mm=second.x_mm + 0.5)
    assert "A508" in told(1, y_mm=-1000.0)
    assert "A511" in told(0, turned_deg=10.0)
    assert "A511" in codes(long, setups=(replace(setup, sections=(first,)), *long.layout.setups[1:]))


def test_sections_in_a_keep_out(long):
    """A section that brings blank and cutter into the block in the corner is found."""
    setup = long.layout.setups[0]
    sections = tuple(replace(s, y_mm=s.y_mm + 400.0 - 170.0 - (s.y_mm % 1000)) for s in setup.sections[:1])
    told = codes(long, setups=(replace(setup, sections=(*sections, *setup.sections[1:])),))
    assert "A509" in told
