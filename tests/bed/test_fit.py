from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nestyield.bed.fit import part_fit, setups
from nestyield.model import KeepOut, Outline, Setup
from nestyield.model.facts import (
    ClosedEndOverhang,
    DepthShort,
    KeepOutInTheWay,
    LeastBlankTooLong,
    NoOpenEnd,
    SectionsByMoving,
    TableShort,
    TravelShort,
)


def rectangle(x0, y0, x1, y1):
    return Outline.rectangle(x0, y0, x1, y1)


@pytest.mark.outside(
    source="worked by hand from: extent of the outline + cutter diameter, each axis", mark="D"
)
class TestWorkedByHand:
    def test_one_way_only(self, settings, make_bed, make_part):
        """A 450 x 320 part needs 456 x 326: spare 144 and 74 along X; along Y 456 of 400 is 56 short."""
        answer = part_fit(make_part(rectangle(0, 0, 450, 320)), make_bed(), settings)
        along_x, along_y = answer.beds[0].along_x, answer.beds[0].along_y
        assert along_x.fits
        assert (along_x.spare_x_mm, along_x.spare_y_mm) == (144.0, 74.0)
        assert (along_x.needs_x_mm, along_x.needs_y_mm) == (456.0, 326.0)
        assert not along_y.fits
        assert (along_y.spare_x_mm, along_y.spare_y_mm) == (274.0, -56.0)
        assert along_y.refusals == (
            TravelShort(axis="y", needs_um=456_000, travel_um=400_000, short_um=56_000),
        )

    def test_28_4_short(self, settings, make_bed, make_part):
        """622.4 + 6 = 628.4 of 600 along X is 28.4 short, and no angle helps: 400 is less than 300 needs."""
        answer = part_fit(make_part(rectangle(0, 0, 622.4, 300)), make_bed(), settings)
        assert answer.beds[0].along_x.refusals == (
            TravelShort(axis="x", needs_um=628_400, travel_um=600_000, short_um=28_400),
        )
        assert not answer.fits
        assert answer.beds[0].askew is None

    def test_arcs_count_in_full(self, settings, make_bed, make_part):
        """A bar 400 long with half-round ends of radius 100 is 600 x 200, so it needs 606 x 206.

        Its vertices alone span only 400 x 200. Across, 206 of 400 leaves 194; along Y 606 is 206 short.
        """
        bar = Outline(points_mm=((0, 0), (400, 0), (400, 200), (0, 200)), bulges=(0.0, 1.0, 0.0, 1.0))
        found = part_fit(make_part(bar), make_bed(606, 400), settings).beds[0]
        assert found.along_x.fits
        assert (found.along_x.spare_x_mm, found.along_x.spare_y_mm) == (0.0, 194.0)
        assert found.along_x.x_mm == 103.0  # the cutter's center starts at 103 - 100 - 3 = 0
        assert not part_fit(make_part(bar), make_bed(605.9, 400), settings).beds[0].along_x.fits
        assert found.along_y.spare_y_mm == -206.0

    def test_end_for_end_clears_a_keep_out(self, settings, make_bed, make_part, make_blank, at):
        """A blank as large as the table lies only with its cut-off corner (60 x 20) at the block.

        The block stands at x 0-60, y 380-400. The cut-off corner is at x 540-600, y 0-20 of the blank:
        turned by 180 degrees about (300, 200) it comes to 0-60, 380-400. No play at all.
        """
        block = KeepOut(name="clamp block", outline=rectangle(0, 380, 60, 400))
        bed = make_bed(keep_outs=(block,))
        cut_off = Outline.polygon([(0, 0), (540, 0), (540, 20), (600, 20), (600, 400), (0, 400)])
        pair = ((make_part(rectangle(0, 0, 300, 200)), at(150, 100)),)
        along_x, along_y = setups(make_blank(cut_off), pair, (bed,), settings)
        assert along_x.fits
        assert along_x.turned_deg == 180.0
        assert (along_x.x_mm, along_x.y_mm) == pytest.approx((600.0, 400.0), abs=0.002)
        assert along_x.clearance_mm == 0.0
        assert not along_y.fits
        assert TableShort(axis="y", blank_um=600_000, table_um=400_000, over_um=200_000) in along_y.refusals
        whole = setups(make_blank(rectangle(0, 0, 600, 400)), pair, (bed,), settings)[0]
        assert not whole.fits
        assert whole.refusals == (KeepOutInTheWay(name="clamp block"),)

    def test_overhang_only_over_an_open_end(self, settings, make_bed, make_part, make_blank, at):
        """A 900 long blank with its part at 450 to 850, table -20 to 620, travel 600.

        Closed: 900 of 640 is 260 too long. Open at x+: straight, the cutter reaches 853 only when the
        origin lies at -253 or less, 233 past -20: no. Turned end for end the cut lies at -853 to -447:
        its origin may lie between 853 and 1047, and the blank's end at -900 asks for at least 880.
        The middle of 880 to 1047 is 963.5. With a clearance of 82 at 962 or 964 it is rounded to 964.
        """
        pair = ((make_part(rectangle(0, 0, 400, 200)), at(450, 50)),)
        blank = make_blank(rectangle(0, 0, 900, 300))
        table = (-20.0, 0.0, 620.0, 400.0)
        closed = setups(blank, pair, (make_bed(table=table),), settings)[0]
        assert not closed.fits
        assert closed.refusals == (TableShort(axis="x", blank_um=900_000, table_um=640_000, over_um=260_000),)
        opened = setups(blank, pair, (make_bed(table=table, open_ends=("x+",)),), settings)[0]
        assert opened.fits
        assert opened.turned_deg == 180.0
        assert opened.x_mm == 964.0
        only_left = setups(blank, pair, (make_bed(table=table, open_ends=("x-",)),), settings)[0]
        assert only_left.turned_deg == 0.0
        middle = (make_part(rectangle(0, 0, 400, 200)), at(250, 50))
        at_500 = make_bed(500, 400, table=(0.0, 0.0, 500.0, 400.0), open_ends=("x+",))
        reached = setups(blank, (middle,), (at_500,), settings)[0]
        assert not reached.fits
        assert reached.refusals == (ClosedEndOverhang(axis="x", end="x-", over_um=153_000),)


def test_depth_against_z_travel(settings, make_bed, make_part):
    """A bed with less Z travel than the part is thick refuses, with the missing millimeters."""
    part = make_part(rectangle(0, 0, 100, 100))
    found = part_fit(part, make_bed(z=40.0), settings).beds[0].along_x
    assert found.refusals == (DepthShort(needs_um=44_500, travel_um=40_000, short_um=4_500),)
    assert part_fit(part, make_bed(z=44.5), settings).fits


def test_an_angle_is_found_when_straight_ways_fail(settings, make_bed, make_part):
    """A long narrow part lies across the bed's diagonal, with all of the cutter's path within the travel."""
    answer = part_fit(make_part(rectangle(0, 0, 640, 20)), make_bed(), settings)
    found = answer.beds[0]
    assert not found.along_x.fits
    assert not found.along_y.fits
    assert found.askew is not None
    turn = math.radians(found.askew.turned_deg)
    for x, y in ((0, 0), (640, 0), (640, 20), (0, 20)):
        bx = found.askew.x_mm + x * math.cos(turn) - y * math.sin(turn)
        by = found.askew.y_mm + x * math.sin(turn) + y * math.cos(turn)
        assert 3.0 - 0.002 <= bx <= 597.002
        assert 3.0 - 0.002 <= by <= 397.002


def test_grain_across_the_drawing_lies_along_the_bed(settings, make_bed, make_part):
    """A part drawn upright with its grain at 90 degrees needs its drawn height along X when laid along X."""
    answer = part_fit(make_part(rectangle(0, 0, 200, 500), grain_deg=90.0), make_bed(), settings)
    assert (answer.length_mm, answer.width_mm) == (500.0, 200.0)
    assert answer.beds[0].along_x.needs_x_mm == 506.0


def test_note_when_the_least_blank_leaves_the_table(settings, make_bed, make_part):
    """A part that the travel takes with nothing to spare gets a note that its blank hangs out."""
    answer = part_fit(make_part(rectangle(0, 0, 594, 300)), make_bed(), settings)
    assert answer.beds[0].along_x.fits
    assert answer.beds[0].notes == (
        LeastBlankTooLong(along="x", axis="x", margin_um=6_350, length_um=606_700, over_um=6_700),
    )
    assert not part_fit(make_part(rectangle(0, 0, 500, 300)), make_bed(), settings).beds[0].notes


def random_pairs(rng, make_part, at):
    part = make_part(rectangle(0, 0, *rng.uniform(20, 200, 2)))
    return ((part, at(*np.round(rng.uniform(0, 200, 2), 3), angle_deg=float(rng.uniform(-5, 5)))),)


def blank_moved(setup: Setup, dx: float, dy: float) -> tuple[float, float]:
    turn = math.radians(setup.turned_deg)
    return (
        setup.x_mm + dx * math.cos(turn) - dy * math.sin(turn),
        setup.y_mm + dx * math.sin(turn) + dy * math.cos(turn),
    )


@pytest.mark.parametrize("seed", range(12))
def test_shifting_the_blanks_coordinates_changes_nothing(seed, settings, make_bed, make_part, make_blank, at):
    """Blank and placements shifted together lie at the same place of the bed."""
    rng = np.random.default_rng(seed)
    block = KeepOut(name="block", outline=rectangle(0, 0, *rng.uniform(20, 150, 2)))
    bed = make_bed(400, 300, keep_outs=(block,), open_ends=("x+",) if seed % 2 else ())
    ((part, placement),) = random_pairs(rng, make_part, at)
    dx, dy = 1000.0, -250.0
    shifted = at(placement.x_um / 1000 + dx, placement.y_um / 1000 + dy, angle_deg=placement.angle_deg)
    one = setups(make_blank(rectangle(-10, -10, 420, 330)), ((part, placement),), (bed,), settings)
    two = setups(
        make_blank(rectangle(dx - 10, dy - 10, dx + 420, dy + 330)), ((part, shifted),), (bed,), settings
    )
    for a, b in zip(one, two):
        assert (a.fits, a.turned_deg, a.refusals) == (b.fits, b.turned_deg, b.refusals)
        assert (a.spare_x_mm, a.spare_y_mm) == pytest.approx((b.spare_x_mm, b.spare_y_mm), abs=1e-5)
        if a.fits:
            x, y = blank_moved(b, dx, dy)
            assert a.clearance_mm == pytest.approx(b.clearance_mm, abs=2.0)
            assert math.hypot(x - a.x_mm, y - a.y_mm) <= 1.5


@pytest.mark.parametrize("seed", range(8))
def test_turning_the_blank_swaps_x_and_y(seed, settings, make_bed, make_part, make_blank, at):
    """On a square bed without keep-outs a blank turned by 90 degrees gives the two answers swapped."""
    rng = np.random.default_rng(seed)
    bed = make_bed(300, 300)
    ((part, placement),) = random_pairs(rng, make_part, at)
    turned = at(-placement.y_um / 1000, placement.x_um / 1000, angle_deg=placement.angle_deg + 90.0)
    w, h = rng.uniform(150, 350, 2)
    one = setups(make_blank(rectangle(0, 0, w, h)), ((part, placement),), (bed,), settings)
    two = setups(make_blank(rectangle(-h, 0, 0, w)), ((part, turned),), (bed,), settings)
    for a, b in zip(one, reversed(two)):
        assert a.fits == b.fits
        assert (a.spare_x_mm, a.spare_y_mm) == pytest.approx((b.spare_x_mm, b.spare_y_mm), abs=1e-5)


def test_sections_on_a_board_about_the_part(settings, make_bed, make_part):
    """A part too long for one go is answered with sections and the board they need, where an end is open."""
    part = make_part(rectangle(0, 0, 900, 100))
    bed = replace(make_bed(open_ends=("x-", "x+")), pin_diameter_mm=6.0)
    answer = part_fit(part, bed, settings)
    (bed,) = answer.beds
    assert answer.fits
    assert bed.sectioned is not None
    assert len(bed.sectioned.sections) == 2
    assert bed.board_mm is not None
    assert bed.board_mm[0] > 900
    assert isinstance(bed.sectioned.in_sections, SectionsByMoving)
    assert bed.sectioned.in_sections.count == 2
    assert bed.no_sections is None
    refused = part_fit(part, make_bed(open_ends=()), settings)
    assert not refused.fits
    assert refused.beds[0].no_sections == NoOpenEnd(axis="x")
