"""Small shops in which the weight of a part decides, before and after it is asked for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Order, Plan, Shop, WeightWish
from nestyield.model.facts import ClosestRefusal, TooHeavy
from nestyield.planning.run import make_plan

# A body of 300 x 100 x 44.5 mm is 1.335 liters; a board of 330 x 120 x 47 mm is 1.8612 liters.
LITERS, BOARD = 1.335, 1.8612


def plan_of(shop: Shop) -> Plan:
    return make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def shop_of(make: Any, wish: WeightWish | None, *boards: Any) -> Shop:
    body = make.part("body", 300, 100, weight=wish)
    return make.shop(list(boards), [body], [Order(name="o", part="body")])


def cheap_and_light(make: Any) -> list[Any]:
    """One board of 800 kg/m3 for 10, one of 500 kg/m3 for 30."""
    return [
        make.board("HEAVY", 330, 120, value=10.0, weight_kg=0.8 * BOARD),
        make.board("LIGHT", 330, 120, value=30.0, weight_kg=0.5 * BOARD),
    ]


def used(plan: Plan) -> list[str]:
    return [name for x in plan.layouts for name in x.blank.stock]


def test_the_cheap_board_is_taken_until_the_lightest_is_asked_for(make: Any) -> None:
    """Nothing asked: the board for 10. Lightest: 1.335 liters of 500 kg/m3, and the aim says so."""
    before = plan_of(shop_of(make, None, *cheap_and_light(make)))
    after = plan_of(shop_of(make, WeightWish(lightest=True), *cheap_and_light(make)))
    assert used(before) == ["HEAVY"]
    assert used(after) == ["LIGHT"]
    assert after.layouts[0].weights[0].kg == pytest.approx(LITERS * 0.5)
    aims = {o.goal: o for o in after.objectives}
    assert aims["weight"].value == pytest.approx(LITERS * 0.5, abs=6e-4)
    assert [o.goal for o in after.objectives].index("weight") < [o.goal for o in after.objectives].index(
        "value"
    )
    assert "weight" not in {o.goal for o in before.objectives}


def test_a_copy_more_comes_before_less_weight(make: Any) -> None:
    """Two bodies want both boards, however heavy one of them is."""
    shop = shop_of(make, WeightWish(lightest=True), *cheap_and_light(make))
    shop = replace(shop, orders=(Order(name="o", part="body", count=2),))
    assert sorted(used(plan_of(shop))) == ["HEAVY", "LIGHT"]


def test_a_range_takes_the_board_that_is_in_it(make: Any) -> None:
    """At most 0.9 kg is at most 674 kg/m3: the dear board."""
    plan = plan_of(shop_of(make, WeightWish(most_kg=0.9), *cheap_and_light(make)))
    assert used(plan) == ["LIGHT"]


def test_a_board_too_heavy_is_the_reason_and_what_is_told_to_help_helps(make: Any) -> None:
    """1.335 liters of 800 kg/m3 are 1.068 kg: 1.07 kg is enough, 1.06 kg is not; the purchase says 794 kg/m3."""
    heavy = cheap_and_light(make)[:1]
    plan = plan_of(shop_of(make, WeightWish(most_kg=1.06), *heavy))
    (reason,) = [r for r in plan.orders[0].reasons if isinstance(r, ClosestRefusal)]
    assert isinstance(reason.refusal, TooHeavy)
    assert reason.refusal.weight_kg == pytest.approx(1.068)
    least, most = plan.purchases[0].density_kg_m3 or (0.0, 0.0)
    assert least is None
    assert most == pytest.approx(1060 / LITERS)
    assert plan_of(shop_of(make, WeightWish(most_kg=1.07), *heavy)).orders[0].placed == 1


def test_every_board_of_a_glue_up_is_in_the_range(make: Any) -> None:
    """Three strips of 60 mm: the two of 500 kg/m3 are glued, the one of 900 for nothing is left."""
    strip = 330 * 60 * 47 / 1e6
    boards = [
        make.board("S-1", 330, 60, value=0.0, weight_kg=0.9 * strip),
        make.board("S-2", 330, 60, value=9.0, weight_kg=0.5 * strip),
        make.board("S-3", 330, 60, value=9.0, weight_kg=0.5 * strip),
    ]
    plan = plan_of(shop_of(make, WeightWish(most_kg=0.8), *boards))
    assert sorted(used(plan)) == ["S-2", "S-3"]
    assert plan.layouts[0].weights[0].kg == pytest.approx(LITERS * 0.5)


FAULTS = [
    ("a weight that is not so", lambda w: replace(w, kg=w.kg + 0.01), "A411"),
    ("less off than it may be", lambda w: replace(w, off_kg=0.0), "A411"),
    ("wood that is not there", lambda w: replace(w, volume_mm3=w.volume_mm3 * 1.01), "A411"),
    ("another density", lambda w: replace(w, woods=(replace(w.woods[0], density_kg_m3=600.0),)), "A411"),
    (
        "a density that nobody knows",
        lambda w: replace(w, woods=(replace(w.woods[0], density_kg_m3=None),)),
        "A411",
    ),
]


@pytest.mark.parametrize(("name", "change", "code"), FAULTS, ids=[f[0] for f in FAULTS])
def test_the_audit_weighs_again(make: Any, name: str, change: Any, code: str) -> None:
    """A fault in what is told of a weight is found."""
    plan = plan_of(shop_of(make, WeightWish(lightest=True), *cheap_and_light(make)))
    layout = plan.layouts[0]
    wrong = replace(plan, layouts=(replace(layout, weights=(change(layout.weights[0]),)),))
    assert code in {f.code for f in audit(wrong)}


def test_the_audit_finds_wood_outside_the_range(make: Any) -> None:
    """The plan was made for lightest; asked to be 1 kg at least, its board is too light."""
    plan = plan_of(shop_of(make, WeightWish(lightest=True), *cheap_and_light(make)))
    body = replace(plan.shop.parts[0], weight=WeightWish(least_kg=1.0))
    assert "A136" in {f.code for f in audit(replace(plan, shop=replace(plan.shop, parts=(body,))))}


def test_the_audit_adds_the_aim_up_and_knows_why_wood_was_refused(make: Any) -> None:
    """An aim half a kilogram lighter than the parts, and a refusal for a weight that the board does not give."""
    plan = plan_of(shop_of(make, WeightWish(lightest=True), *cheap_and_light(make)))
    aims = tuple(replace(o, value=0.1, bound=0.1) if o.goal == "weight" else o for o in plan.objectives)
    assert "A611" in {f.code for f in audit(replace(plan, objectives=aims))}
    short = plan_of(shop_of(make, WeightWish(most_kg=1.06), *cheap_and_light(make)[:1]))
    told = replace(
        short.orders[0],
        reasons=tuple(
            replace(r, refusal=replace(r.refusal, weight_kg=1.2)) if isinstance(r, ClosestRefusal) else r
            for r in short.orders[0].reasons
        ),
    )
    assert "A610" in {f.code for f in audit(replace(short, orders=(told,)))}
    light = replace(short.purchases[0], density_kg_m3=(None, 900.0))
    assert "A615" in {f.code for f in audit(replace(short, purchases=(light,)))}
