"""Orders in the order in which they are served."""

from __future__ import annotations

from typing import Any

from nestyield.model import Order
from nestyield.planning.demand import demands_of, served


def test_order_of_service(make: Any) -> None:
    """Priority first, then due date with none last, then the file; orders on hold are left out."""
    orders = [
        Order(name="a", part="p", priority=2),
        Order(name="b", part="p", priority=1),
        Order(name="c", part="p", priority=1, due="2026-12-01"),
        Order(name="d", part="p", priority=1, due="2026-11-01"),
        Order(name="e", part="p", priority=1, due="2026-11-01"),
        Order(name="f", part="p", priority=0, hold=True),
    ]
    shop = make.shop([], [make.part("p", 10, 10)], orders)
    assert [o.name for o in served(shop)] == ["d", "e", "c", "b", "a"]


def test_wants_gather_alike_orders(make: Any) -> None:
    """Orders for the same part on the same beds are one want; other beds make another."""
    orders = [
        Order(name="a", part="p", count=2),
        Order(name="b", part="p", count=3, beds=("two", "one")),
        Order(name="c", part="p", beds=("one",)),
    ]
    shop = make.shop([], [make.part("p", 10, 10)], orders, beds=[make.bed("one"), make.bed("two")])
    demands = demands_of(shop)
    assert [(w.orders, w.count, w.beds) for w in demands] == [
        (("a", "b"), 5, ("one", "two")),
        (("c",), 1, ("one",)),
    ]
