"""Sets: small shops worked out by hand, before and after their orders are of one set."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Layout, ModelError, Order, Plan, Shop
from nestyield.model.facts import LackingPart, RackCounts, SetNotWhole
from nestyield.model.sets import SetClass, sets_of
from nestyield.planning.needed import needed
from nestyield.planning.run import make_plan


def plan_of(shop: Shop) -> Plan:
    return make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def placed(plan: Plan) -> dict[str, int]:
    return {r.order: r.placed for r in plan.orders}


def orders(counts: dict[str, int], **more: Any) -> list[Order]:
    """An order for each part, all of set ``mandolins``."""
    return [Order(name=part, part=part, count=n, set="mandolins", **more) for part, n in counts.items()]


def shop_of(make: Any, rack: dict[str, Any], wanted: list[Order], *, thick: bool = False) -> Shop:
    """Bodies of 300 x 100, necks of 300 x 50, plates of 100 x 50; a piece a name, ``body`` big enough for one.

    Body, neck and plate are 44.5, 20 and 8 mm thick, so that none comes from wood of another; or all 44.5 mm.
    """
    finished = {"body": 44.5, "neck": 44.5 if thick else 20.0, "plate": 44.5 if thick else 8.0}
    parts = [
        make.part(name, *size, thickness_mm=finished[name])
        for name, size in (("body", (300, 100)), ("neck", (300, 50)), ("plate", (100, 50)))
    ]
    sizes = {"body": (330, 120), "neck": (330, 65), "plate": (120, 65)}
    pieces = []
    for name, more in rack.items():
        kind = name.split("-")[0]
        pieces.append(make.board(name, *sizes[kind], **{"thickness_mm": finished[kind] + 2.5, **more}))
    return make.shop(pieces, parts, wanted, settings={"glueup": replace_glue()})


def replace_glue() -> Any:
    from nestyield.model import GlueUpRules

    return GlueUpRules(most_pieces=1)


def reason(plan: Plan, order: str) -> SetNotWhole | None:
    (result,) = [r for r in plan.orders if r.order == order]
    return next((r for r in result.reasons if isinstance(r, SetNotWhole)), None)


def test_nothing_of_a_set_is_cut_when_a_part_lacks(make: Any) -> None:
    """Two bodies and one neck: two bodies by themselves, one whole mandolin as a set; a neck is to buy."""
    rack = {"body-1": {}, "body-2": {}, "neck-1": {}}
    alone = [Order(name="body", part="body", count=2), Order(name="neck", part="neck", count=2)]
    assert placed(plan_of(shop_of(make, rack, alone))) == {"body": 2, "neck": 1}
    plan = plan_of(shop_of(make, rack, orders({"body": 2, "neck": 2})))
    assert placed(plan) == {"body": 1, "neck": 1}
    lacking = (LackingPart(order="neck", part="neck", copies=1),)
    told = SetNotWhole(set="mandolins", made=1, wanted=2, lacking=lacking)
    assert reason(plan, "body") == told == reason(plan, "neck")
    assert [(p.order, p.count) for p in plan.purchases] == [("neck", 1)]


def test_a_set_of_which_a_part_lacks_altogether_leaves_its_wood(make: Any) -> None:
    """Two bodies and no neck: nothing is cut. With a neck more, as told, one is whole."""
    rack: dict[str, Any] = {"body-1": {}, "body-2": {}}
    plan = plan_of(shop_of(make, rack, orders({"body": 1, "neck": 1})))
    assert placed(plan) == {"body": 0, "neck": 0}
    assert not plan.layouts
    assert [(p.order, p.count) for p in plan.purchases] == [("neck", 1)]
    more = plan_of(shop_of(make, {**rack, "neck-1": {}}, orders({"body": 1, "neck": 1})))
    assert placed(more) == {"body": 1, "neck": 1}


def test_two_plates_a_set(make: Any) -> None:
    """Five plates are two sets of two; the fifth plate stays on the rack, and a body lacks for the third set."""
    rack = {**{f"body-{k}": {} for k in (1, 2)}, **{f"plate-{k}": {} for k in range(1, 6)}}
    wanted = [
        Order(name="body", part="body", count=3, set="s"),
        Order(name="plate", part="plate", count=6, set="s", per_set=2),
    ]
    plan = plan_of(shop_of(make, rack, wanted))
    assert placed(plan) == {"body": 2, "plate": 4}
    told = reason(plan, "plate")
    assert told is not None
    assert {(n.part, n.copies) for n in told.lacking} == {("body", 1), ("plate", 1)}
    (counts,) = [r for r in plan.orders[1].reasons if isinstance(r, RackCounts)]
    assert "left for a set" in {r.cause for r in counts.refused}


def test_other_orders_are_not_held_up(make: Any) -> None:
    """A neck of its own is cut while the set waits for a body."""
    wanted = [*orders({"body": 1, "neck": 1}), Order(name="own", part="neck", count=1)]
    plan = plan_of(shop_of(make, {"neck-1": {}, "neck-2": {}}, wanted))
    assert placed(plan) == {"body": 0, "neck": 0, "own": 1}


def test_a_set_that_was_begun_needs_less(make: Any) -> None:
    """A body was cut before: one body and two necks left; one body and two necks make both whole."""
    plan = plan_of(shop_of(make, {"body-1": {}, "neck-1": {}, "neck-2": {}}, orders({"body": 1, "neck": 2})))
    assert placed(plan) == {"body": 1, "neck": 2}
    plan = plan_of(shop_of(make, {"neck-1": {}, "neck-2": {}}, orders({"body": 1, "neck": 2})))
    assert placed(plan) == {"body": 0, "neck": 1}


def test_what_is_wanted_of_sets() -> None:
    """Three mandolins, of which two bodies and one of six plates were cut: one needs a plate, one all but a body."""
    wanted = [
        Order(name="b", part="b", count=1, set="s"),
        Order(name="n", part="n", count=3, set="s"),
        Order(name="p", part="p", count=5, set="s", per_set=2),
        Order(name="h", part="h", count=9, set="s", hold=True),
    ]
    (found,) = sets_of(wanted)
    assert found.count == 3
    assert found.classes == (
        SetClass(need=(0, 1, 1), size=1),
        SetClass(need=(0, 1, 2), size=1),
        SetClass(need=(1, 1, 2), size=1),
    )


WOODS = {
    "body-m": {"species": "sugar maple"},
    "body-c": {"species": "black cherry", "value": 99.0},
    "neck-c": {"species": "black cherry"},
    "neck-w": {"species": "black walnut"},
}


def woods(plan: Plan) -> list[str]:
    return sorted(x.blank.species for x in plan.layouts)


def test_matching_species_takes_the_dear_board(make: Any) -> None:
    """Any wood: the maple body, which costs less. Matched: both of cherry, and the second set lacks wood."""
    free = plan_of(shop_of(make, WOODS, orders({"body": 1, "neck": 1})))
    assert "black cherry" not in free.layouts[0].blank.species
    plan = plan_of(shop_of(make, WOODS, orders({"body": 1, "neck": 1}, match="species")))
    assert woods(plan) == ["black cherry", "black cherry"]
    plan = plan_of(shop_of(make, WOODS, orders({"body": 2, "neck": 2}, match="species")))
    assert placed(plan) == {"body": 1, "neck": 1}
    told = reason(plan, "neck")
    assert told is not None
    assert told.match == "species"
    assert sum(n.copies for n in told.lacking) == 1


def test_parts_without_match_may_be_of_any_wood(make: Any) -> None:
    """Body and neck match, the plate of walnut does not."""
    wanted = [*orders({"body": 1, "neck": 1}, match="species"), *orders({"plate": 1})]
    plan = plan_of(shop_of(make, {**WOODS, "plate-1": {"species": "black walnut"}}, wanted))
    assert placed(plan) == {"body": 1, "neck": 1, "plate": 1}
    assert Counter(woods(plan)) == {"black cherry": 2, "black walnut": 1}


def test_matching_boards_are_one_piece_or_of_one_parent(make: Any) -> None:
    """Offcuts of one plank match, whatever else is cheaper; so do parts side by side on one board."""
    rack = {
        "body-1": {"parent": "plank A", "value": 9.0},
        "body-2": {"parent": "plank B", "value": 1.0},
        "neck-1": {"parent": "plank A", "value": 9.0},
        "neck-2": {"parent": "plank C", "value": 1.0},
    }
    plan = plan_of(shop_of(make, rack, orders({"body": 1, "neck": 1}, match="board")))
    assert sorted(x.blank.name for x in plan.layouts) == ["body-1", "neck-1"]
    wide = make.board("wide", 330, 180, count=2)
    shop = shop_of(make, {"neck-9": {}}, orders({"body": 2, "neck": 2}, match="board"), thick=True)
    plan = plan_of(replace(shop, pieces=(wide, *shop.pieces)))
    assert [sorted(p.part for p in x.placements) for x in plan.layouts] == [["body", "neck"]] * 2


def test_copies_of_a_row_match_by_row_and_not_by_board(make: Any) -> None:
    """Two planks alike hold a body or a neck each: of one row, not of one board."""
    row = {"body-1": {"count": 2}}
    by_row = plan_of(shop_of(make, row, orders({"body": 1, "neck": 1}, match="row"), thick=True))
    assert placed(by_row) == {"body": 1, "neck": 1}
    by_board = plan_of(shop_of(make, row, orders({"body": 1, "neck": 1}, match="board"), thick=True))
    assert placed(by_board) == {"body": 0, "neck": 0}


def test_copies_that_match_carry_one_number(make: Any) -> None:
    """Of two matched sets, body 1 and neck 1 are of one wood, body 2 and neck 2 of the other."""
    rack = {
        "body-m": {"species": "sugar maple"},
        "body-c": {"species": "black cherry"},
        "neck-c": {"species": "black cherry"},
        "neck-m": {"species": "sugar maple"},
    }
    plan = plan_of(shop_of(make, rack, orders({"body": 2, "neck": 2}, match="species")))
    by_copy: dict[int, set[str]] = {}
    for layout in plan.layouts:
        for at in layout.placements:
            by_copy.setdefault(at.copy, set()).add(layout.blank.species)
    assert by_copy.keys() == {1, 2}
    assert all(len(w) == 1 for w in by_copy.values())


@pytest.mark.parametrize(("parent", "singly"), [("", True), ("plank A", None)])
def test_a_set_of_one_board_is_told_that_the_board_is_all_that_lacks(
    make: Any, parent: str, singly: bool | None
) -> None:
    """A body and a neck are there, of two boards: that is told; the same parent in both rows makes the set."""
    rack = {"body-1": {"parent": parent}, "neck-1": {"parent": parent}}
    wanted = orders({"body": 1, "neck": 1}, match="board")
    plan = plan_of(shop_of(make, rack, wanted))
    told = reason(plan, "body")
    assert (told and told.singly) == singly
    assert not audit(plan)
    if told:
        less = plan_of(shop_of(make, {"body-1": {}}, wanted))
        lacks = [x for r in less.orders for x in r.reasons if isinstance(x, SetNotWhole)]
        assert [x.singly for x in lacks] == [False, False]
        lie = replace(told, singly=True)
        wrong = tuple(replace(r, reasons=(lie,)) for r in less.orders)
        assert "A610" in {f.code for f in audit(replace(less, orders=wrong))}


def test_need_asks_for_what_lacks_only(make: Any) -> None:
    """Two bodies ready, no neck: two necks to buy, no body."""
    found = needed(shop_of(make, {"body-1": {}, "body-2": {}}, orders({"body": 2, "neck": 2})))
    assert [(n.part, n.placed, n.lacking, n.buy and n.buy.purchase.count) for n in found] == [
        ("body", 0, 0, None),
        ("neck", 0, 2, 2),
    ]


def test_orders_of_a_set_go_together(make: Any) -> None:
    """One set is served at one time and matches in one way."""
    first, second = orders({"body": 1, "neck": 1})
    for wrong in (replace(second, priority=1), replace(second, due="2026-12-12")):
        with pytest.raises(ModelError, match="mandolins"):
            shop_of(make, {}, [first, wrong])
    with pytest.raises(ModelError, match="match differently"):
        shop_of(make, {}, [replace(first, match="row"), replace(second, match="board")])
    with pytest.raises(ModelError, match="expected a set"):
        Order(name="o", part="body", match="row")


def without(plan: Plan, part: str) -> Plan:
    """The plan without the blanks of a part, its order short."""
    layouts = tuple(x for x in plan.layouts if all(p.part != part for p in x.placements))
    results = tuple(replace(r, placed=0) if r.order == part else r for r in plan.orders)
    return replace(plan, layouts=layouts, orders=results)


def of_species(layout: Layout, species: str) -> Layout:
    return replace(layout, blank=replace(layout.blank, species=species))


def test_the_audit_counts_sets_again(make: Any) -> None:
    """A body without its neck, a neck of other wood, and a reason that is not so are found."""
    plan = plan_of(shop_of(make, WOODS, orders({"body": 1, "neck": 1}, match="species")))
    assert not audit(plan)
    assert "A613" in {f.code for f in audit(without(plan, "neck"))}
    pieces = tuple(replace(p, species="black walnut") if p.name == "neck-c" else p for p in plan.shop.pieces)
    assert "A613" in {f.code for f in audit(replace(plan, shop=replace(plan.shop, pieces=pieces)))}
    short = plan_of(shop_of(make, {"body-1": {}}, orders({"body": 1, "neck": 1})))
    (bought,) = short.purchases
    for other in (replace(bought, count=2), replace(bought, order="body")):
        assert "A615" in {f.code for f in audit(replace(short, purchases=(other,)))}
    for change in ({"made": 1}, {"wanted": 2}, {"lacking": ()}, {"set": "other"}, {"match": "row"}):
        wrong = tuple(
            replace(
                r,
                reasons=tuple(replace(x, **change) if isinstance(x, SetNotWhole) else x for x in r.reasons),
            )
            for r in short.orders
        )
        assert "A610" in {f.code for f in audit(replace(short, orders=wrong))}, change


def test_a_kept_part_of_a_set_is_as_good_as_cut(make: Any) -> None:
    """The body of the first plan is kept: the next plan makes a neck to it, and passes its check."""
    from nestyield.planning.kept import plan_around

    shop = shop_of(make, {"body-1": {}, "neck-1": {}}, orders({"body": 1, "neck": 1}))
    first = plan_of(shop)
    (body,) = [x for x in first.layouts if x.placements[0].part == "body"]
    again = plan_around(shop, [body], plan_of)
    assert placed(again) == {"body": 1, "neck": 1}
    no_neck = replace(shop, pieces=shop.pieces[:1])
    waits = plan_around(no_neck, [body], plan_of)
    assert placed(waits) == {"body": 1, "neck": 0}
    assert not audit(waits)


def test_a_matching_part_is_glued_up_where_its_wood_is_too_narrow(make: Any) -> None:
    """A maple body is ready, the only neck is of cherry: two cherry sticks are glued up for the body."""
    pieces = [
        make.board("maple", 330, 120),
        make.board("stick-1", 330, 65, species="black cherry"),
        make.board("stick-2", 330, 65, species="black cherry"),
        make.board("neck", 330, 65, species="black cherry", thickness_mm=22.5),
    ]
    parts = [make.part("body", 300, 100), make.part("neck", 300, 50, thickness_mm=20.0)]
    plan = plan_of(make.shop(pieces, parts, orders({"body": 1, "neck": 1}, match="species")))
    assert placed(plan) == {"body": 1, "neck": 1}
    assert sorted(tuple(x.blank.stock) for x in plan.layouts) == [("neck",), ("stick-1", "stick-2")]


def test_many_of_a_set_that_was_begun_are_counted_at_once() -> None:
    """Two thousand wanted, of one part a third cut before: 700 begun and 900 fresh ones made are found."""
    from nestyield.audit.sets import _made, _needs

    wanted = [
        Order(name="b", part="b", count=1300, set="s"),
        Order(name="n", part="n", count=2000, set="s"),
    ]
    needs = _needs(wanted)
    assert needs == Counter({(0, 1): 700, (1, 1): 1300})
    assert dict(zip(needs, _made(needs, [900, 1600]) or ())) == {(0, 1): 700, (1, 1): 900}
    assert _made(needs, [900, 1601]) is None


WOODEN: dict[str, Any] = {
    "body-m": {},
    "body-w": {"species": "black walnut"},
    "neck-w": {"species": "black walnut"},
    "neck-m": {},
}


def species_of_part(plan: Plan) -> dict[str, set[str]]:
    """Of what wood each part is, by the pieces that its blanks take."""
    out: dict[str, set[str]] = {}
    for layout in plan.layouts:
        for at in layout.placements:
            out.setdefault(at.part, set()).update(
                plan.shop.piece(m.piece).species for m in layout.blank.members
            )
    return out


@pytest.mark.parametrize("wood", ["black walnut", "sugar maple"])
def test_the_rest_of_a_set_matches_a_kept_blank(make: Any, wood: str) -> None:
    """A neck of either wood is kept: the body is of that wood; without a body of it, none is cut."""
    from nestyield.planning.kept import plan_around

    shop = shop_of(make, WOODEN, orders({"body": 1, "neck": 1}, match="species"))
    keeping = replace(shop, pieces=tuple(p for p in shop.pieces if p.species == wood))
    (neck,) = [x for x in plan_of(keeping).layouts if x.placements[0].part == "neck"]
    plan = plan_around(shop, [neck], plan_of)
    assert species_of_part(plan) == {"body": {wood}, "neck": {wood}}
    assert not audit(plan)
    other = replace(shop, pieces=tuple(p for p in shop.pieces if p.species != wood or p.name[:4] == "neck"))
    waits = plan_around(other, [neck], plan_of)
    assert placed(waits) == {"body": 0, "neck": 1}
    assert not audit(waits)
    # a body of the other wood beside the kept neck is found
    pieces = tuple(replace(p, species="black cherry") if p.name[:4] == "body" else p for p in shop.pieces)
    assert "A613" in {f.code for f in audit(replace(plan, shop=replace(plan.shop, pieces=pieces)))}


@pytest.mark.parametrize("wood", ["black walnut", "sugar maple"])
def test_the_rest_of_a_set_matches_what_was_cut(make: Any, wood: str) -> None:
    """The shop file says of what wood the neck was: the body is of it; of two bodies left one, the other as it likes."""
    body, neck = orders({"body": 1, "neck": 1}, match="species")
    cut = [body, replace(neck, hold=True, cut_from=(wood,))]
    plan = plan_of(shop_of(make, WOODEN, cut))
    assert species_of_part(plan) == {"body": {wood}}
    both = plan_of(shop_of(make, WOODEN, [replace(body, count=2), replace(neck, cut_from=(wood,))]))
    assert placed(both) == {"body": 2, "neck": 1}
    assert not audit(both)


def test_other_ways_keep_to_the_match_of_a_set(make: Any) -> None:
    """Three boards serve a body: beside a maple neck the walnut one is no other way, and the audit refuses it."""
    shop = shop_of(
        make,
        {"body-1": {}, "neck-1": {}, "body-w": {"species": "black walnut"}},
        orders({"body": 1, "neck": 1}, match="species"),
    )
    shop = replace(shop, pieces=(*shop.pieces, make.board("body-2", 340, 120, thickness_mm=47.0)))
    plan = plan_of(shop)
    assert boards_of_body(plan) == {"body-1", "body-2"}
    loose = plan_of(replace(shop, orders=tuple(replace(o, match="") for o in shop.orders)))
    assert boards_of_body(loose) == {"body-1", "body-2", "body-w"}
    pieces = tuple(replace(p, species="black cherry") if p.name == "body-2" else p for p in shop.pieces)
    found = audit(replace(plan, shop=replace(shop, pieces=pieces)))
    assert any("A613" in f.message or f.code == "A613" for f in found)


def boards_of_body(plan: Plan) -> set[str]:
    """The boards that the body is cut from, in the plan or in another way."""
    made = {x.blank.stock[0] for x in plan.layouts if x.placements[0].part == "body"}
    return made | {w.blank.stock[0] for w in plan.other_ways if w.placements[0].part == "body"}
