"""Which order of a plan is which order of the shop file as it is now.

A name says it. An order without one is called by its place in the file (``order 3``), which means nothing
once others were added or removed: it is known by its part and due date, then by priority, beds and count,
and by its number among those that are alike in all of it. A take lowers counts and nothing else.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from nestyield.model.shop import Order

_BY_PLACE = re.compile(r"order [1-9][0-9]*")


def is_named(order: Order) -> bool:
    """Tell whether an order has a name of its own, and not only its place in the file."""
    return _BY_PLACE.fullmatch(order.name) is None


def alike(order: Order) -> tuple[str, str | None]:
    """Return what orders without a name are told apart by before they are counted."""
    return order.part, order.due


def same_orders(then: Sequence[Order], now: Sequence[Order]) -> dict[str, str | None]:
    """Return what each order of a plan is called now; None where it is gone, or where that cannot be told.

    Parameters
    ----------
    then, now : sequence of Order
        All orders, or at least all that are alike, in the order of the file.
    """
    there = {order.name for order in now if is_named(order)}
    found: dict[str, str | None] = {o.name: o.name if o.name in there else None for o in then if is_named(o)}
    for kind in dict.fromkeys(alike(o) for o in then if not is_named(o)):
        old, new = ([o for o in some if not is_named(o) and alike(o) == kind] for some in (then, now))
        if len(old) == len(new):
            found.update({a.name: b.name for a, b in _pairs(old, new)})
            continue
        for order in old:
            same = [o for o in new if _terms(o) == _terms(order)]
            only = len(same) == 1 and sum(_terms(o) == _terms(order) for o in old) == 1
            found[order.name] = same[0].name if only else None
    return {order.name: found[order.name] for order in then}


def _pairs(old: list[Order], new: list[Order]) -> list[tuple[Order, Order]]:
    """Pair as many orders then and now that are alike, by priority and beds where these are the same."""
    kinds = sorted({_terms(o)[1:] for o in old})
    if sorted(_terms(o)[1:] for o in old) != sorted(_terms(o)[1:] for o in new):
        return _by_count(old, new)
    return [
        pair
        for kind in kinds
        for pair in _by_count(*([o for o in some if _terms(o)[1:] == kind] for some in (old, new)))
    ]


def _by_count(old: list[Order], new: list[Order]) -> list[tuple[Order, Order]]:
    """Pair orders by their place; by their counts where these are the same ones in other places."""
    moved = any(b.count > a.count for a, b in zip(old, new))  # which no take does
    if moved and sorted(o.count for o in old) == sorted(o.count for o in new):
        old, new = (sorted(some, key=lambda o: o.count) for some in (old, new))
    return list(zip(old, new))


def _terms(order: Order) -> tuple[int, int, tuple[str, ...]]:
    return order.count, order.priority, order.beds
