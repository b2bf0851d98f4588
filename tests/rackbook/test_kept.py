"""Blanks that the maker has accepted."""

from dataclasses import replace

import pytest

from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.kept import KEPT, keep, read_kept, release, standing_kept, write_kept
from nestyield.rackbook.take import take
from nestyield.rackbook.undo import undo


def names(shop) -> list[str]:
    return [p.layouts[0].blank.name for p in read_kept(shop)]


def test_kept_listed_and_let_go(maker):
    """Blanks are kept once, listed in order, and let go by name or all."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"), ("B", 1, "first"), ("S", 1, "jigs"))
    assert keep(plan, shop, ["A"]) == ("A",)
    assert keep(plan, shop, ["B", "A"]) == ("A", "B")
    assert names(shop) == ["A", "B"]
    with pytest.raises(RackbookError, match=r"blank 'S' is not kept \(kept: A, B\)"):
        release(shop, ["S"])
    assert release(shop, ["A"]) == ("A",)
    assert names(shop) == ["B"]
    assert release(shop, []) == ("B",)
    assert not (shop / KEPT).exists()


def test_a_kept_file_comes_back_as_written(maker):
    """What is kept reads back equal, holds one layout each, and only what it needs."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"), ("B", 1, "first"))
    keep(plan, shop)
    plans = read_kept(shop)
    assert write_kept(plans) == (shop / KEPT).read_bytes()
    assert [len(p.layouts) for p in plans] == [1, 1]
    assert [p.name for p in plans[0].shop.pieces] == ["A"]
    (shop / KEPT).write_text("{}")
    with pytest.raises(RackbookError, match=r"kept\.json: expected a file of schema"):
        read_kept(shop)


def test_two_kept_blanks_do_not_share_a_copy(maker):
    """Keeping more copies of a row or an order than there are is refused."""
    shop = maker.shop()
    keep(maker.plan(shop, ("A", 1, "first")), shop)
    other = maker.plan(shop, ("A", 1, "second"))
    with pytest.raises(ChangedError, match="A: 2 wanted, 1 left"):
        keep(other, shop)
    with pytest.raises(ChangedError, match="order 'second' wants 1 now, 2 are kept"):
        keep(maker.plan(shop, ("B", 1, "second"), ("B", 2, "second")), shop)
    assert names(shop) == ["A"]


def test_a_kept_blank_whose_basis_changed_is_let_go(maker):
    """When piece, part, order or bed change, the blank is not kept and a warning says why."""
    shop = maker.shop()
    keep(maker.plan(shop, ("A", 1, "first")), shop)
    plans = read_kept(shop)
    now = maker.read(shop)
    layouts, findings = standing_kept(now, plans)
    assert [x.blank.name for x in layouts] == ["A"]
    assert findings == ()
    held = replace(now, orders=tuple(replace(o, hold=True) for o in now.orders))
    thin = replace(now, pieces=tuple(replace(p, thickness_mm=41.0) for p in now.pieces))
    thick = replace(now, parts=tuple(replace(p, thickness_mm=39.0) for p in now.parts))
    gone = replace(now, orders=now.orders[1:])
    for shop_now, why in (
        (held, "order 'first' is on hold"),
        (thin, "the thickness was changed from 44 mm to 41 mm"),
        (thick, "the part 'body' was changed"),
        (gone, "order 'first' is no longer there"),
    ):
        layouts, findings = standing_kept(shop_now, plans)
        assert layouts == ()
        assert why in findings[0].message
        assert findings[0].severity == "warning"


def test_taking_a_kept_blank_lets_it_go(maker, tree):
    """A blank that is taken is no longer kept; undoing the take keeps it again."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"), ("B", 1, "second"))
    keep(plan, shop)
    kept = (shop / KEPT).read_bytes()
    take(plan, shop, ["A"])
    assert names(shop) == ["B"]
    take(plan, shop, ["B"])
    assert not (shop / KEPT).exists()
    undo(shop)
    undo(shop)
    assert (shop / KEPT).read_bytes() == kept


def test_what_was_kept_since_stays_after_an_undo(maker):
    """Undoing a take does not touch blanks that were kept after it."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"), ("B", 1, "second"), ("S", 1, "jigs"))
    keep(plan, shop, ["A"])
    take(plan, shop, ["A"])
    keep(plan, shop, ["B"])
    undo(shop)
    assert names(shop) == ["B"]
    assert maker.read(shop).piece("A").status == "ready"
