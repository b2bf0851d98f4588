"""Plans around kept blanks."""

from dataclasses import replace

from nestyield.model import Order
from nestyield.model.facts import BlanksKept, OrderShort, SawApart
from nestyield.planning.kept import plan_around
from nestyield.planning.run import make_plan


def plan(shop):
    return make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def shop_of(make):
    pieces = [make.board("A", 700, 300), make.board("B", 320, 220, count=2), make.board("C", 330, 230)]
    parts = [make.part("body", 300, 200, species=("sugar maple",))]
    return make.shop(
        pieces, parts, [Order(name="bodies", part="body", count=2), Order(name="more", part="body", count=2)]
    )


def test_nothing_kept_is_the_plain_plan(make):
    """Without kept blanks the plan is that of the planner."""
    shop = shop_of(make)
    made, asked = plan(replace(shop, pieces=shop.pieces[:1])), []

    def planner(given):
        asked.append(given)
        return made

    assert plan_around(shop, (), planner) == made
    assert asked == [shop]


def test_a_kept_blank_stays_and_the_rest_goes_around_it(make):
    """The kept layout is in the plan as it was, its piece and copy are not used twice, counts add up."""
    shop = shop_of(make)
    only_a = plan(replace(shop, pieces=shop.pieces[:1]))
    kept = only_a.layouts[0]
    assert kept.blank.name == "A"
    result = plan_around(shop, [kept], plan)
    assert [x.blank.name for x in result.layouts].count("A") == 1
    again = next(x for x in result.layouts if x.blank.name == "A")
    assert [(p.part, p.x_um, p.y_um) for p in again.placements] == [
        (p.part, p.x_um, p.y_um) for p in kept.placements
    ]
    assert {r.order: r.placed for r in result.orders} == {"bodies": 2, "more": 2}
    spots = [(p.order, p.copy) for x in result.layouts for p in x.placements]
    assert sorted(spots) == [("bodies", 1), ("bodies", 2), ("more", 1), ("more", 2)]
    assert result.shop == shop


def test_a_kept_copy_keeps_its_number_and_name(make):
    """A kept copy of a row of several stays what is chalked on it; the others take the free numbers."""
    shop = make.shop(
        [make.board("B", 700, 220, count=2)],
        [make.part("body", 300, 200)],
        [Order(name="bodies", part="body", count=3)],
    )
    kept = plan(replace(shop, orders=(replace(shop.orders[0], count=1),))).layouts[0]
    assert (kept.blank.name, kept.leftovers[0].name) == ("B", "B-a")
    result = plan_around(shop, [kept], plan)
    assert [x.blank.name for x in result.layouts] == ["B/2", "B"]
    assert [m.copy for x in result.layouts for m in x.blank.members] == [2, 1]
    assert [x.leftovers[0].name for x in result.layouts] == ["B/2-a", "B-a"]
    assert sorted(p.copy for x in result.layouts for p in x.placements) == [1, 2, 3]
    assert [p.copy for p in result.layouts[1].placements] == [1]
    assert [r.placed for r in result.orders] == [3]


def test_a_kept_glue_up_keeps_its_name(make):
    """The next plan's own glue-up is called otherwise: what is chalked on the wood stays true."""
    shop = make.shop(
        [
            make.board("S1", 330, 130),
            make.board("S2", 330, 130),
            make.board("S3", 330, 130),
            make.board("S4", 330, 130),
        ],
        [make.part("body", 300, 200)],
        [Order(name="b", part="body", count=2)],
    )
    one = replace(shop, orders=(replace(shop.orders[0], count=1),))
    (kept,) = plan(one).layouts
    assert kept.blank.name == "glue-up 1"
    result = plan_around(shop, [kept], plan)
    names = {x.blank.name: {m.piece for m in x.blank.members} for x in result.layouts}
    assert names["glue-up 1"] == {m.piece for m in kept.blank.members}
    assert names["glue-up 2"].isdisjoint(names["glue-up 1"])


def test_what_is_missing_is_counted_with_the_kept(make):
    """The warning for an order that is short counts its whole number, kept copies included."""
    shop = make.shop(
        [make.board("B", 320, 220)],
        [make.part("body", 300, 200)],
        [Order(name="bodies", part="body", count=3)],
    )
    kept = plan(shop).layouts
    result = plan_around(shop, kept, plan)
    short = [n for n in result.notices if isinstance(n, OrderShort)]
    assert short == [OrderShort(order="bodies", part="body", missing=2, count=3)]
    assert [r.placed for r in result.orders] == [1]


def test_everything_kept(make):
    """When every order is kept in full nothing is left to plan, and the plan still holds."""
    shop = make.shop(
        [make.board("B", 320, 220)], [make.part("body", 300, 200)], [Order(name="bodies", part="body")]
    )
    kept = plan(shop).layouts
    result = plan_around(shop, kept, plan)
    assert [x.blank.name for x in result.layouts] == ["B"]
    assert result.layouts == kept
    assert result.notices == (BlanksKept(blanks=("B",)),)


def test_members_of_one_copy_stay_together(make):
    """Two members sawn from one copy of a row spend one copy, before and after they are numbered again."""
    shop = make.shop(
        [make.board("L", 700, 130, count=2)],
        [make.part("body", 300, 200)],
        [Order(name="b", part="body", count=2)],
    )
    one = replace(shop.pieces[0], count=1)  # two copies would be glued to each other
    kept = plan(replace(shop, pieces=(one,), orders=(replace(shop.orders[0], count=1),))).layouts[0]
    assert kept.blank.copies == (("L", 1),)
    assert [m.copy for m in kept.blank.members] == [1, 1]
    result = plan_around(shop, [kept], plan)
    assert [x.blank.copies for x in result.layouts] == [(("L", 2),), (("L", 1),)]
    assert [cut.copy for x in result.layouts for cut in x.glueup.cuts] == [2, 1]
    saw = [s.piece for s in result.layouts[0].glueup.steps if isinstance(s, SawApart)]
    assert saw == ["L/2"]
