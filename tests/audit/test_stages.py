"""Faults set into positions and steps of a sound plan, each found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.audit.stages import check_stages
from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.model import (
    Bed,
    Blank,
    Defect,
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
    Stage,
    WorkPlan,
    Zone,
)
from nestyield.model.facts import (
    CutBetween,
    CutNothing,
    CutOutline,
    CutThrough,
    CutZone,
    DrillThrough,
    FitPins,
    FlipOnPins,
    Hold,
    LabelLeftovers,
    MoveOn,
)
from nestyield.planning.work.stages import with_stages


def zone(name: str, role: str, x0: float, x1: float, depth_mm: float | None, face: str) -> Zone:
    shape = Shape(outer=Outline.rectangle(x0, 20, x1, 40))
    return Zone(name=name, role=role, shape=shape, depth_mm=depth_mm, face=face)  # type: ignore[arg-type]


def checked(length_mm: float) -> CheckedBlank:
    """A stick with pockets in both faces, one of them long, and an opening."""
    part = Part(
        name="stick",
        drawing="",
        outline=Outline.rectangle(0, 0, length_mm, 60),
        zones=(
            zone("LONG", "pocket", 60, length_mm - 60, 9.0, "front"),
            zone("END", "pocket", 20, 50, 9.0, "front"),
            zone("BOX", "pocket", 20, 60, 5.0, "back"),
            zone("FAR", "pocket", length_mm - 60, length_mm - 20, 5.0, "back"),
            zone("HOLE", "cutout", length_mm - 50, length_mm - 30, None, "through"),
        ),
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
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0),
        beds=(bed,),
        parts=(part,),
        pieces=(),
        orders=(),
    )
    wood = Outline.rectangle(0, 0, length_mm + 60, 170)
    blank = Blank(
        name="B",
        members=(Member(piece="B", copy=1),),
        species="black cherry",
        thickness_mm=24.0,
        shape=Shape(outer=wood),
        grain_deg=0.0,
    )
    placement = Placement(
        part="stick", order="order 1", copy=1, angle_deg=0.0, mirrored=False, x_um=30_000, y_um=45_000
    )
    shape = Shape(outer=Outline.rectangle(0, 130, 200, 170))
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=setups(blank, ((part, placement),), (bed,), shop.settings, "mm"),
        chosen=0,
        leftovers=(
            Leftover(name="B-a", shape=shape, rectangle_mm=(0, 130, 200, 40), area_mm2=8e3, usable=True),
        ),
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    layout = with_stages(replace(layout, work=work_plan(layout, shop)), shop)
    plan = Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())
    return CheckedBlank(CheckedSheet(plan), layout)


@pytest.fixture(params=[400.0, 900.0], ids=["in one go", "in sections"])
def bench(request: pytest.FixtureRequest) -> CheckedBlank:
    """A stick that is cut in one go, and one in two sections."""
    return checked(request.param)


def codes(bench: CheckedBlank, **changed: object) -> set[str]:
    """Return what the audit says when the work is changed."""
    assert bench.layout.work is not None
    layout = replace(bench.layout, work=replace(bench.layout.work, **changed))  # type: ignore[arg-type]
    again = CheckedBlank(CheckedSheet(bench.sheet.plan), layout)
    check_stages(again)
    return {f.code for f in again.sheet.findings}


def work_of(bench: CheckedBlank) -> WorkPlan:
    assert bench.layout.work is not None
    return bench.layout.work


def first_changed(
    bench: CheckedBlank, kind: Any, change: Callable[[Any], tuple[Any, ...]]
) -> dict[str, object]:
    """Return stages with the first step of a kind replaced."""
    stages: list[Stage] = []
    done = False
    for stage in work_of(bench).stages:
        steps: list[Any] = []
        for step in stage.steps:
            hit = isinstance(step, kind) and not done
            done = done or hit
            steps += change(step) if hit else (step,)
        stages.append(replace(stage, steps=tuple(steps)))
    assert done, kind
    return {"stages": tuple(stages)}


def test_sound_work_passes(bench):
    """What planning writes down holds."""
    assert work_of(bench).positions
    assert codes(bench) == set()


def test_a_shifted_or_turned_pose_is_found(bench):
    """A pose a tenth of a millimeter off, turned, or not mirrored, is found."""
    positions = work_of(bench).positions
    for change in (
        {"x_mm": positions[0].x_mm + 0.1},
        {"angle_deg": positions[0].angle_deg + 180.0},
        {"mirrored": not positions[0].mirrored},
        {"section": positions[0].section + 1},
    ):
        assert "A520" in codes(bench, positions=(replace(positions[0], **change), *positions[1:])), change
    assert "A520" in codes(bench, positions=positions[:-1] if len(positions) > 2 else ())
    assert "A520" in codes(bench, flip_axis_mm=None)


def test_exchanged_faces_are_found(bench):
    """Positions with their faces exchanged, and a pocket told for the face below, are found."""
    other = {"top": "bottom", "bottom": "top"}
    positions = tuple(replace(p, up=other[p.up]) for p in work_of(bench).positions)
    assert "A520" in codes(bench, positions=positions)
    over = first_changed(bench, CutZone, lambda s: (replace(s, face=other[s.face]),))
    assert codes(bench, **over) == {"A524"}


@pytest.mark.parametrize("kind", [CutZone, CutThrough, CutOutline])
def test_a_cut_that_is_left_out_or_told_twice_is_found(bench, kind):
    """A pocket, opening or outline that a position leaves out, or has twice, is found."""
    assert "A524" in codes(bench, **first_changed(bench, kind, lambda s: ()))
    assert "A524" in codes(bench, **first_changed(bench, kind, lambda s: (s, s)))


def test_a_cut_in_another_section_is_found():
    """The pocket at one end, told for the section at the other, is found there."""
    bench = checked(900.0)
    stages = work_of(bench).stages
    ends = [(k, s) for k, stage in enumerate(stages) for s in stage.steps if isinstance(s, CutZone)]
    at, end = next((k, s) for k, s in ends if s.zone == "END")
    other = next(k for k, s in ends if s.zone == "LONG" and k != at)
    steps = list(stages[other].steps)
    where = next(i for i, s in enumerate(steps) if isinstance(s, CutZone))
    steps.insert(where, replace(end, section=work_of(bench).positions[other - 1].section))
    changed = [*stages]
    changed[other] = replace(stages[other], steps=tuple(steps))
    assert codes(bench, stages=tuple(changed)) == {"A524"}


def test_a_long_pocket_is_told_in_both_sections_or_found():
    """The pocket that straddles the sections is missed in either."""
    bench = checked(900.0)
    stages = work_of(bench).stages
    straddling = [
        k for k, x in enumerate(stages) if any(isinstance(s, CutZone) and s.zone == "LONG" for s in x.steps)
    ]
    assert len(straddling) == 2
    for k in straddling:
        steps = tuple(s for s in stages[k].steps if not (isinstance(s, CutZone) and s.zone == "LONG"))
        changed = tuple(replace(x, steps=steps) if i == k else x for i, x in enumerate(stages))
        assert codes(bench, stages=changed) == {"A524"}


def test_a_changed_depth_or_count_is_found(bench):
    """A depth two hundredths of a millimeter off and a wrong count are found."""
    assert codes(
        bench, **first_changed(bench, CutZone, lambda s: (replace(s, depth_um=s.depth_um + 20),))
    ) == {"A525"}
    assert codes(bench, **first_changed(bench, CutZone, lambda s: (replace(s, count=s.count + 1),))) == {
        "A524"
    }


def test_outline_before_the_rest_is_found(bench):
    """An outline that is cut before what is cut to a depth is found."""
    stages = list(work_of(bench).stages)
    outline = next(s for s in stages[-2].steps if isinstance(s, CutOutline))
    steps = [s for s in stages[-2].steps if s != outline]
    first = next(i for i, s in enumerate(steps) if isinstance(s, CutZone | CutThrough))
    stages[-2] = replace(stages[-2], steps=(*steps[:first], outline, *steps[first:]))
    assert codes(bench, stages=tuple(stages)) == {"A526"}


def test_wrong_limits_of_a_section_are_found():
    """Limits a millimeter off, along the other axis, or missing, are found."""
    bench = checked(900.0)
    for change in (
        lambda s: (replace(s, to_um=s.to_um + 1_000),),
        lambda s: (replace(s, axis="y"),),
        lambda s: (),
    ):
        assert codes(bench, **first_changed(bench, CutBetween, change)) == {"A526"}


def test_a_longer_pin_is_found(bench):
    """A pin that may stand above the wood over it is found; the wood is 20 mm after planing."""
    told = next(s for stage in work_of(bench).stages for s in stage.steps if isinstance(s, FitPins))
    assert told.longest_um < 32_000
    for longest_um, found in ((31_990, set()), (32_010, {"A528"}), (36_000, {"A528"})):
        change = first_changed(bench, FitPins, lambda s, um=longest_um: (replace(s, longest_um=um),))
        assert codes(bench, **change) == found, longest_um


def test_pins_of_the_table_off_their_holes_are_found(bench):
    """A pin off its place, with another hole on it, too thin, or left out, is found."""
    first, *rest = work_of(bench).table_pins
    for change in (
        {"x_mm": first.x_mm + 0.1},
        {"holes": rest[0].holes},
        {"diameter_mm": 5.0},
        {"holes": ()},
    ):
        assert "A521" in codes(bench, table_pins=(replace(first, **change), *rest)), change
    assert "A521" in codes(bench, table_pins=(first,))


def test_holes_that_are_not_drilled_or_too_shallow_are_found():
    """A hole for a pin that is left out, or drilled less deep, is found."""
    bench = checked(400.0)
    assert codes(bench, **first_changed(bench, DrillThrough, lambda s: (replace(s, holes=s.holes[1:]),))) == {
        "A528"
    }
    assert codes(bench, **first_changed(bench, DrillThrough, lambda s: (replace(s, depth_um=6_000),))) == {
        "A528"
    }


def test_a_blank_laid_otherwise_than_told_is_found(bench):
    """Holes on the wrong pins, another setup's name, another step and a missing screw are found."""
    for change in (
        lambda s: (replace(s, on=s.on[1:]),),
        lambda s: (replace(s, setup="Z"),),
        lambda s: (replace(s, up="bottom" if s.up == "top" else "top"),),
        lambda s: (),
    ):
        assert codes(bench, **first_changed(bench, FlipOnPins, change)) == {"A527"}
    assert codes(bench, **first_changed(bench, Hold, lambda s: (replace(s, holds=s.holds[1:]),))) == {"A527"}


def test_a_wrong_step_between_sections_is_found():
    """A move of another length is found."""
    bench = checked(900.0)
    change = first_changed(bench, MoveOn, lambda s: (replace(s, step_um=s.step_um + 100),))
    assert codes(bench, **change) == {"A527"}


def test_stages_out_of_order_are_found(bench):
    """Stages exchanged, missing, or left out though something is cut, are found."""
    stages = work_of(bench).stages
    assert codes(bench, stages=stages[1:]) == {"A523"}
    assert codes(bench, stages=(stages[0], *stages[-2:0:-1], stages[-1])) == {"A523"}
    assert codes(bench, stages=()) == {"A523"}
    left_out = replace(stages[1], steps=(CutNothing(),))
    assert "A524" in codes(bench, stages=(stages[0], left_out, *stages[2:]))


def test_a_leftover_that_is_not_labeled_is_found(bench):
    """Leaving the label off a leftover is found."""
    change = first_changed(bench, LabelLeftovers, lambda s: (replace(s, leftovers=()),))
    assert codes(bench, **change) == {"A529"}


def test_an_edge_that_is_not_sound_or_elsewhere_is_found():
    """The edge to lay a blank square by: off its place, the other edge, or with wane along a third of it."""
    bench = checked(400.0)
    square = work_of(bench).square
    assert square is not None
    (x, y) = square.from_mm
    assert codes(bench, square=replace(square, from_mm=(x, y + 0.1))) == {"A522"}
    assert codes(bench, square=replace(square, edge="upper")) == {"A522"}
    wane = Defect(name="d", kind="wane", shape=Shape(outer=Outline.rectangle(100, -1, 260, 4)))
    layout = replace(bench.layout, blank=replace(bench.layout.blank, defects=(wane,)))
    again = CheckedBlank(CheckedSheet(bench.sheet.plan), layout)
    check_stages(again)
    assert {f.code for f in again.sheet.findings} == {"A522"}
    moved = with_stages(layout, bench.sheet.plan.shop)
    assert moved.work is not None
    assert moved.work.square is not None
    assert moved.work.square.edge == "upper"
    sound = CheckedBlank(CheckedSheet(bench.sheet.plan), moved)
    check_stages(sound)
    assert not sound.sheet.findings
