"""Reasons that hold: what is said to help does, a little less does not, and nothing contradicts the plan."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from nestyield.model import GlueUpRules, Order, Plan, Shop
from nestyield.model.facts import (
    BedsRefuse,
    ClosestRefusal,
    FitsIfRelaxed,
    NotTried,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    TravelShort,
    WiderPiece,
    WrongShape,
)
from nestyield.planning.reasons import reasons_for
from nestyield.planning.run import make_plan

ALONE = {"glueup": GlueUpRules(most_pieces=1)}


def plan(shop: Shop) -> Plan:
    return make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def closest(made: Plan, order: int = 0) -> ClosestRefusal:
    (found,) = [r for r in made.orders[order].reasons if isinstance(r, ClosestRefusal)]
    return found


@pytest.mark.outside(source="a turned bar in a strip: q cos a + p sin a = b", mark="D")
def test_wider_by_what_an_angle_between_needs(make: Any) -> None:
    """A bar that lies across a short board at just one angle tells the width for that angle, not for a step near it.

    200 x 20 mm on a board 150 mm long (5 mm margin on all sides): 200 cos a + 20 sin a = 140, the width
    200 sin a + 20 cos a + 10.
    """
    turn = math.acos(140 / math.hypot(200, 20)) + math.atan2(20, 200)
    width = 200 * math.sin(turn) + 20 * math.cos(turn) + 10
    part = make.part("p", 200, 20, grain_tolerance_deg=80.0)
    boards, orders = [make.board("R", 150, 120)], [Order(name="o", part="p")]
    shop = make.shop(boards, [part], orders, settings=ALONE)
    refusal = closest(plan(shop)).refusal
    assert isinstance(refusal, FitsIfRelaxed)
    (wider,) = [w for w in refusal.relaxations if isinstance(w, WiderPiece)]
    assert width - 120 - 0.05 <= wider.missing_um / 1000 <= (width - 120) * 1.01
    for more, placed in ((wider.missing_um / 1000, 1), (0.99 * wider.missing_um / 1000 - 0.1, 0)):
        other = replace(shop, pieces=(make.board("R", 150, 120 + more),))
        assert plan(other).orders[0].placed == placed


def test_no_change_is_told_that_no_bed_follows(make: Any) -> None:
    """A board too narrow for a part that no bed takes is not told to be wider: the bed is named, 6 mm of travel short.

    300 mm and a cutter of 6 mm need 306 mm of travel; the bed has 300 mm, sawn or not.
    """
    shop = make.shop(
        [make.board("R", 600, 85)],
        [make.part("p", 300, 80, grain_tolerance_deg=0)],
        [Order(name="o", part="p")],
        settings=ALONE,
        beds=[make.bed("little", 300, 200)],
    )
    refusal = closest(plan(shop)).refusal
    assert isinstance(refusal, WrongShape)
    assert refusal.blocked_by == "shape and beds"
    assert isinstance(refusal.bed, BedsRefuse)
    assert refusal.bed.bed == "little"
    wide = replace(shop, pieces=(make.board("R", 600, 95),))
    assert isinstance(closest(plan(wide)).refusal, BedsRefuse)


@pytest.mark.parametrize(("width", "enough"), [(120.0, True), (85.0, False)])
def test_thickness_is_enough_only_where_the_part_has_a_place(width: float, enough: bool, make: Any) -> None:
    """Planed from 45 mm a board is 0.95 mm too thin for 44.5; made right, 120 mm of width hold 80 mm, 85 do not."""
    shop = make.shop(
        [make.board("R", 400, width, thickness_mm=45.0)],
        [make.part("p", 300, 80, grain_tolerance_deg=0)],
        [Order(name="o", part="p")],
        settings=ALONE,
    )
    refusal = closest(plan(shop)).refusal
    assert isinstance(refusal, TooThinWhenPlaned)
    assert (refusal.far_um, refusal.enough) == (950, enough)
    thick = replace(shop, pieces=(make.board("R", 400, width, thickness_mm=45.95),))
    assert plan(thick).orders[0].placed == int(enough)


def test_the_travel_told_is_the_least(make: Any) -> None:
    """A part that may be turned needs the travel of its best angle: at 30 degrees 300 x 40 needs 279.8 + 6 mm.

    300 cos 30 + 40 sin 30 = 279.81, across 300 sin 30 + 40 cos 30 = 184.64; with more turn the length gets less.
    """
    shop = make.shop(
        [make.board("R", 320, 320)],
        [make.part("p", 300, 40, grain_tolerance_deg=30)],
        [Order(name="o", part="p")],
        settings=ALONE,
        beds=[replace(make.bed("b", 270, 200), table_x_mm=(-100, 400), table_y_mm=(-100, 400))],
    )
    refusal = closest(plan(shop)).refusal
    assert isinstance(refusal, BedsRefuse)
    assert refusal.enough
    (why,) = refusal.why
    assert isinstance(why, TravelShort)
    assert why.needs_um == pytest.approx(285_810, abs=160)


def test_a_piece_that_the_plan_uses_is_told_as_used(make: Any) -> None:
    """The one board serves the first order; the second, for which it is too narrow, is told so and that it is used."""
    shop = make.shop(
        [make.board("R", 400, 92)],
        [make.part("p", 300, 80), make.part("q", 300, 100, grain_tolerance_deg=0)],
        [Order(name="o", part="p"), Order(name="u", part="q")],
        settings=ALONE,
    )
    made = plan(shop)
    assert [r.placed for r in made.orders] == [1, 0]
    reason = closest(made, 1)
    assert (reason.refusal.piece, reason.used) == ("R", True)


@pytest.mark.parametrize(("stopped", "first"), [(True, "stopped before trying"), (False, "closest refusal")])
def test_pieces_not_tried_come_first_only_in_a_stopped_run(make, stopped, first):
    """A run that ended by itself may leave rows untried that could not gain; it tells what the others lack."""
    part = make.part("p", 300, 80)
    refusals = [TooThin(piece="A", thickness_um=20_000, far_um=24_500), NotTried(piece="B")]
    assert reasons_for(part, refusals, stopped=stopped)[0].code == first


@pytest.mark.parametrize("width", [150.0, 85.0])
def test_the_nearest_piece_is_told_whatever_it_lacks(width: float, make: Any) -> None:
    """A board 0.8 mm thicker than may be planed to comes before one 130 mm too short, if it is wide enough.

    57.3 mm less the 12 that may be planed off is 45.3: 0.8 more than the part's 44.5. On 85 mm of width a part of
    80 with margins of 5 has no place, however much may be planed off.
    """
    boards = [make.board("C", 180, 150), make.board("L", 400, width, thickness_mm=57.3)]
    part = make.part("p", 300, 80, grain_tolerance_deg=0)
    shop = make.shop(boards, [part], [Order(name="o", part="p")], settings=ALONE)
    refusal = closest(plan(shop)).refusal
    if width == 85.0:
        assert isinstance(refusal, FitsIfRelaxed)
        return
    assert isinstance(refusal, TooThick)
    assert (refusal.piece, refusal.far_um, refusal.enough) == ("L", 800, True)
    for more_mm, placed in ((0.8, 1), (0.79, 0)):
        settings = replace(shop.settings, most_planed_away_mm=12.0 + more_mm)
        assert plan(replace(shop, settings=settings)).orders[0].placed == placed
