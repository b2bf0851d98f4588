"""Laying parts on a blank and asking the beds about it."""

from __future__ import annotations

import time
from typing import Any

from nestyield.model import KeepOut, Order, Outline, Plan, Preferences, Seam, Shape, Shop
from nestyield.model.facts import BedsRefuse, ClosestRefusal, TravelShort
from nestyield.model.pose import Pose
from nestyield.placement.stock import blank_of
from nestyield.planning import run
from nestyield.planning.candidates import try_row
from nestyield.planning.demand import demands_of
from nestyield.planning.lay_parts import BedTaker, LayoutContext
from nestyield.planning.workers import Job


def plan(shop: Shop) -> Plan:
    return run.make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def test_too_long_for_the_travel_is_cut_in_sections(make: Any) -> None:
    """A part longer than the travel is planned on a bed with open ends, in sections that pass the audit."""
    board = make.board("long", 900, 260)
    part = make.part("p", 850, 100)
    open_bed = make.bed("open", 600, 400, open_ends=("x-", "x+"), pin_diameter_mm=6.0)
    made = plan(make.shop([board], [part], [Order(name="o", part="p")], beds=[open_bed]))
    (layout,) = made.layouts
    assert layout.chosen is not None
    assert len(layout.setups[layout.chosen].sections) == 2

    closed = make.bed("closed", 600, 400, pin_diameter_mm=6.0)
    made = plan(make.shop([board], [part], [Order(name="o", part="p")], beds=[closed]))
    assert made.orders[0].placed == 0
    assert any(isinstance(getattr(r, "refusal", None), BedsRefuse) for r in made.orders[0].reasons)


def test_one_go_before_sections(make: Any) -> None:
    """A bed that takes the blank in one go is chosen before one that needs sections, whatever their order."""
    open_bed = make.bed("open", 600, 400, open_ends=("x-", "x+"), pin_diameter_mm=6.0)
    wide = make.bed("wide", 1000, 400)
    shop = make.shop(
        [make.board("long", 900, 260)],
        [make.part("p", 850, 100)],
        [Order(name="o", part="p")],
        beds=[open_bed, wide],
    )
    (layout,) = plan(shop).layouts
    assert layout.chosen is not None
    assert layout.setups[layout.chosen].bed == "wide"
    assert not layout.setups[layout.chosen].sections


def test_the_first_bed_that_takes_the_blank_is_used(make: Any) -> None:
    """The bed that comes first is used though another has more travel; another only where it must, and then told.

    By hand: 300 mm and 6.35 mm of cutter need 306.35 mm of travel; the first bed has 400 mm. 450 mm need 456.35 mm.
    """
    beds = [make.bed("small", 400, 300), make.bed("large", 1200, 600)]
    boards = [make.board("A", 390, 120), make.board("B", 490, 130)]
    parts = [make.part("p", 300, 80), make.part("q", 450, 80)]
    orders = [Order(name="o", part="p"), Order(name="u", part="q")]
    made = plan(make.shop(boards, parts, orders, beds=beds, settings={"cutter_diameter_mm": 6.35}))
    used = {}
    for layout in made.layouts:
        assert layout.chosen is not None
        used[layout.placements[0].part] = layout.setups[layout.chosen].bed, layout.passed_over
    assert used["p"] == ("small", ())
    bed, (over,) = used["q"]
    assert bed == "large"
    assert (over.bed, over.along) == ("small", "x")
    short = [fact for fact in over.why if isinstance(fact, TravelShort)]
    assert [(fact.axis, fact.short_um) for fact in short] == [("x", 56_350)]
    other = plan(make.shop(boards, parts, orders, beds=beds[::-1]))
    assert {la.setups[la.chosen or 0].bed for la in other.layouts} == {"large"}


def test_a_part_moves_to_where_the_first_bed_takes_it(make: Any) -> None:
    """Where the best place on a piece is one that only a later bed can cut, it goes where the first one does.

    No cutter may come to the first 60 mm of the first bed, nor, end for end, to the last 60 mm of its table.
    """
    ends = [Outline.rectangle(0, 0, 60, 300), Outline.rectangle(540, 0, 600, 300)]
    blocks = tuple(KeepOut(name=f"block {k}", outline=o, blocks="cutter") for k, o in enumerate(ends))
    beds = [make.bed("small", 600, 300, keep_outs=blocks), make.bed("large", 1200, 600)]
    boards, parts = [make.board("B", 600, 120)], [make.part("p", 150, 80)]
    lies = {}
    for some in (beds, beds[1:]):
        corner = {"prefer": Preferences(largest_leftover=0.0)}  # else the part stands in the middle
        shop = make.shop(boards, parts, [Order(name="o", part="p")], beds=some, settings=corner)
        (layout,) = plan(shop).layouts
        assert layout.chosen is not None
        lies[layout.setups[layout.chosen].bed] = layout.placements[0]
    assert set(lies) == {"small", "large"}
    assert lies["small"] != lies["large"]


def test_a_glued_board_too_big_for_the_table_is_told(make: Any) -> None:
    """Where a board with a joint, which no plan saws, is too big for the bed, the reason says to saw it first."""
    bed = make.bed("small", 400, 300)
    joint = Seam(name="seam 1", line_mm=((0.0, 175.0), (900.0, 175.0)))
    shop = make.shop(
        [make.board("W", 900, 350, seams=(joint,))],
        [make.part("p", 300, 80)],
        [Order(name="o", part="p")],
        beds=[bed],
    )
    made = plan(shop)
    assert made.orders[0].placed == 0
    (refused,) = [r.refusal for r in made.orders[0].reasons if isinstance(r, ClosestRefusal)]
    assert isinstance(refused, BedsRefuse)
    assert refused.sawn_first


def test_parts_that_may_touch_are_laid_side_by_side(make: Any) -> None:
    """With no gap and no margin two parts of half a board fill it: 2 x 300 x 100 on 600 x 100."""
    shop = make.shop(
        [make.board("B", 600, 100)],
        [make.part("p", 300, 100)],
        [Order(name="o", part="p", count=2)],
        settings={"blank_margin_mm": 0.0, "between_parts_mm": 0.0},
    )
    made = plan(shop)
    assert made.orders[0].placed == 2


def test_a_row_takes_no_more_than_its_share_of_the_time(make: Any) -> None:
    """When it is late each part is still tried by itself, and nothing further; the answer says so."""
    shop = make.shop(
        [make.board("B", 900, 300)], [make.part("p", 200, 60)], [Order(name="o", part="p", count=9)]
    )
    job = Job(shop=shop, demands=demands_of(shop), effort=1, seed=1)
    late = try_row(job, 0, (0,), end=time.monotonic() - 1.0)
    assert late.stopped == "seconds"
    assert [c.made for c in late.answer.candidates] == [(1,)]
    early = try_row(job, 0, (0,))
    assert early.stopped == "effort"
    assert max(c.made for c in early.answer.candidates) == (9,)


def test_a_bed_that_takes_a_part_at_no_angle_is_not_asked(make: Any) -> None:
    """A bed whose travel the part exceeds however it is turned is not asked about places; others are.

    By hand: a square of 300 mm and 6 mm of cutter need 306 mm both ways at the least; a bar of 400 x 20 turned by
    45 degrees needs (400 + 20) / sqrt(2) + 6 = 302.98 mm both ways, one of 410 x 20 needs 310.06 mm.
    """
    beds = [make.bed("short", 305.9, 500), make.bed("enough", 306.1, 306.1)]
    parts = [make.part("square", 300, 300), make.part("bar", 400, 20), make.part("long bar", 410, 20)]
    shop = make.shop(
        [make.board("A", 290, 290)], parts, [Order(name=p.name, part=p.name) for p in parts], beds=beds
    )
    bench = LayoutContext(shop=shop, demands=demands_of(shop), blank=blank_of(shop.pieces[0]))
    for part, names in (("square", {"enough"}), ("bar", {"short", "enough"}), ("long bar", {"short"})):
        want = next(k for k, d in enumerate(bench.demands) if d.part == part)
        taker = BedTaker(bench=bench, laid=(), want=want)
        assert {bed.name for bed, _ in taker.in_one_go} == names, part
        assert not taker.refused


def test_two_parts_go_in_where_only_one_order_works(make: Any) -> None:
    """A stadium and a bar fill a piece end to end with no play: found though only the stadium fits beside the bar.

    Numbers by hand: 131 1/12 + 3 + 87 1/3 mm and 0.001 mm of margin at both ends; 38.25 mm and two margins across. Laid
    first, the stadium stands where its arcs clear the end by some micrometers, and leaves the bar too little.
    """
    turn = Pose(angle_deg=30.0)
    long, wide, r = 131.25 - 1 / 6 + 3 + 87 + 1 / 3 + 0.002, 38.252, 19.125
    stadium = Outline(
        points_mm=((r, 0), (131.25 - 1 / 6 - r, 0), (131.25 - 1 / 6 - r, 2 * r), (r, 2 * r)),
        bulges=(0, 1, 0, 1),
    )
    board = make.board(
        "R0", 1, 1, shape=turn.shape(Shape(outer=Outline.rectangle(0, 0, long, wide))), grain_deg=30.0
    )
    parts = [
        make.part("stadium", 1, 1, outline=stadium, grain_tolerance_deg=90),
        make.part("bar", 87 + 1 / 3, 35.25, grain_tolerance_deg=90),
    ]
    settings = {"blank_margin_mm": 0.001, "between_parts_mm": 3.0, "cutter_diameter_mm": 3.0}
    shop = make.shop([board], parts, [Order(name=p.name, part=p.name) for p in parts], settings=settings)
    assert [o.placed for o in plan(shop).orders] == [1, 1]
