from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest

from nestyield.bed.fit import setups
from nestyield.bed.sections import plan_sections
from nestyield.model import Bed, KeepOut, Outline, Section
from nestyield.model.facts import BothAxesShort, NoHoleLine, NoIndexPins, NoOpenEnd


def long_bed(make_bed, ends, **more) -> Bed:
    bed = make_bed(600, 400, table=(-20.0, -20.0, 620.0, 420.0), open_ends=ends, **more)
    return replace(bed, pin_diameter_mm=6.0)


@pytest.fixture
def bar(make_part, make_blank, at):
    """A part of 900 x 80 in a blank of 1000 x 160, with 40 mm of waste on either side."""
    pair = ((make_part(Outline.rectangle(0, 0, 900, 80)), at(20, 40)),)
    return make_blank(Outline.rectangle(0, 0, 1000, 160)), pair


def on_bed(section: Section, point: tuple[float, float]) -> tuple[float, float]:
    t = math.radians(section.turned_deg)
    return (
        section.x_mm + point[0] * math.cos(t) - point[1] * math.sin(t),
        section.y_mm + point[0] * math.sin(t) + point[1] * math.cos(t),
    )


def shared_places(plan) -> int:
    """Places of the bed that carry a hole in every section."""
    sets = [{tuple(round(v, 2) for v in on_bed(s, h)) for h in plan.holes_mm} for s in plan.sections]
    return len(set.intersection(*sets))


def test_both_ends_open(bar, settings, make_bed):
    """Slid by one hole: two sections share two pins, and together cut from 20 to 920 of the blank."""
    blank, pairs = bar
    plan = plan_sections(blank, pairs, long_bed(make_bed, ("x-", "x+")), "x", settings)
    assert len(plan.sections) == 2
    assert shared_places(plan) == 2
    first, second = plan.sections
    assert first.from_mm - first.x_mm == pytest.approx(20.0, abs=0.01)
    assert second.to_mm - second.x_mm == pytest.approx(920.0, abs=0.01)
    assert first.to_mm - first.x_mm >= second.from_mm - second.x_mm - 0.01
    for section in plan.sections:
        assert section.from_mm >= 3.0 - 0.002
        assert section.to_mm <= 597.002
    for x, y in plan.holes_mm:
        assert 9.0 <= y <= 40 - 12.0 or 132.0 <= y <= 151.0, (x, y)


@pytest.mark.parametrize("end", ["x-", "x+"])
def test_one_open_end_turns_the_blank(bar, settings, make_bed, end):
    """With one open end the blank is turned end for end on the same two pins, and hangs over that end."""
    blank, pairs = bar
    plan = plan_sections(blank, pairs, long_bed(make_bed, (end,)), "x", settings)
    assert [s.turned_deg for s in plan.sections] == [0.0, 180.0]
    assert shared_places(plan) == 2
    for section in plan.sections:
        xs = [on_bed(section, p)[0] for p in ((0, 0), (1000, 0), (1000, 160), (0, 160))]
        if end == "x+":
            assert min(xs) >= -20.002
        else:
            assert max(xs) <= 620.002


def test_refusals_say_why(bar, settings, make_bed, make_blank, make_part, at):
    """No open end, no pins, no waste for them, and both axes too short are each refused by their own fact."""
    blank, pairs = bar
    closed = long_bed(make_bed, ())
    assert plan_sections(blank, pairs, closed, "x", settings).refusal == NoOpenEnd(axis="x")
    no_pins = make_bed(600, 400, table=(-20.0, -20.0, 620.0, 420.0), open_ends=("x-", "x+"))
    assert plan_sections(blank, pairs, no_pins, "x", settings).refusal == NoIndexPins()
    tight = make_blank(Outline.rectangle(0, 0, 1000, 93))
    narrow = ((make_part(Outline.rectangle(0, 0, 900, 80)), at(20, 6.5)),)
    refused = plan_sections(tight, narrow, long_bed(make_bed, ("x-", "x+")), "x", settings)
    assert not refused.sections
    assert isinstance(refused.refusal, NoHoleLine)
    big = ((make_part(Outline.rectangle(0, 0, 900, 500)), at(20, 40)),)
    wide = make_blank(Outline.rectangle(0, 0, 1000, 600))
    assert plan_sections(wide, big, closed, "x", settings).refusal == BothAxesShort()
    (along_x, _) = setups(blank, pairs, (closed,), settings)
    assert along_x.in_sections == NoOpenEnd(axis="x")


def test_three_sections_and_a_keep_out(settings, make_bed, make_part, make_blank, at):
    """A bar of 1,500 on 600 of travel takes three sections, past a block in the bed's corner."""
    pair = ((make_part(Outline.rectangle(0, 0, 1500, 80)), at(50, 60)),)
    blank = make_blank(Outline.rectangle(0, 0, 1600, 200))
    block = KeepOut(name="block", outline=Outline.rectangle(0, 180, 60, 400))
    plan = plan_sections(blank, pair, long_bed(make_bed, ("x-", "x+"), keep_outs=(block,)), "x", settings)
    assert len(plan.sections) >= 3
    assert shared_places(plan) == 2
    for section in plan.sections:
        assert section.y_mm + 200 <= 180.002 or section.x_mm >= 60 or section.x_mm + 1600 <= 0


def test_sections_along_the_beds_y(settings, make_bed, make_part, make_blank, at):
    """A bed whose long axis is Y gives the same sections with the axes exchanged."""
    pair = ((make_part(Outline.rectangle(0, 0, 900, 80)), at(20, 40)),)
    blank = make_blank(Outline.rectangle(0, 0, 1000, 160))
    bed = replace(
        make_bed(400, 600, table=(-20.0, -20.0, 420.0, 620.0), open_ends=("y-", "y+")), pin_diameter_mm=6.0
    )
    plan = plan_sections(blank, pair, bed, "y", settings)
    assert len(plan.sections) == 2
    assert all(s.turned_deg == 90.0 for s in plan.sections)
    assert shared_places(plan) == 2
    (_, along_y) = setups(blank, pair, (bed,), settings)
    assert not along_y.fits
    assert len(along_y.sections) == 2


def test_no_waste_at_all_is_a_reason(settings, make_bed, make_blank, make_part, at):
    """A blank without any waste for index pins is refused with a reason, not with an error."""
    part = make_part(Outline.rectangle(0, 0, 900, 100))
    blank = make_blank(Outline.rectangle(-6.35, -6.35, 906.35, 106.35))
    bed = replace(make_bed(open_ends=("x-", "x+")), pin_diameter_mm=6.0)
    found = plan_sections(blank, ((part, at(0, 0)),), bed, "x", settings)
    assert not found.sections
    assert isinstance(found.refusal, NoHoleLine)


def test_each_section_cuts_something(settings, make_bed, make_part, make_blank, at):
    """Where few sections find no place for their pins, more of them are no way if some would cut nothing.

    Part and bed are those of a random shop in which six sections of 71 mm were told for a part of 194.6 mm.
    """
    blank = make_blank(Outline.rectangle(0, 0, 481.77, 224.58))
    pairs = ((make_part(Outline.rectangle(0, 0, 194.56, 100.0)), at(6.35, 6.35)),)
    small = replace(settings, cutter_diameter_mm=1.0)
    planned = 0
    for travel, over in itertools.product(range(118, 190, 6), (-10.0, 60.0)):
        table = (-over, 10.0, travel + over, 428.2)
        bed = make_bed(travel, 438.2, table=table, open_ends=("x-", "x+"))
        plan = plan_sections(blank, pairs, replace(bed, pin_diameter_mm=3.0), "x", small)
        assert all(section.to_mm - section.from_mm > 0.4 for section in plan.sections)
        if plan.sections:
            planned += 1
            runs = sorted(
                sorted((v - s.x_mm) * math.cos(math.radians(s.turned_deg)) for v in (s.from_mm, s.to_mm))
                for s in plan.sections
            )
            assert (runs[0][0], runs[-1][1]) == pytest.approx((6.35, 200.91), abs=0.01)
            assert [run[1] for run in runs[:-1]] == pytest.approx([run[0] for run in runs[1:]], abs=0.01)
    assert planned
