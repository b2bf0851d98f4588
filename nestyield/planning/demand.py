"""What is wanted: the orders of a shop, in the order in which they are served, gathered by part and bed."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model import Order, Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """Copies of one part for one choice of beds; all are alike to the search.

    Parameters
    ----------
    part : str
    beds : tuple of str
        Beds that may cut it, in file order; empty only when the shop has no bed.
    orders : tuple of str
        The orders that it stands for, in the order in which they are served.
    count : int
        Copies wanted, all orders together.
    """

    part: str
    beds: tuple[str, ...]
    orders: tuple[str, ...]
    count: int


def served(shop: Shop) -> tuple[Order, ...]:
    """Return the orders that are planned: by priority, then due date (none is last), then file order."""
    live = [(o.priority, o.due is None, o.due or "", i, o) for i, o in enumerate(shop.orders) if not o.hold]
    return tuple(entry[-1] for entry in sorted(live, key=lambda e: e[:4]))


def beds_of(order: Order, shop: Shop) -> tuple[str, ...]:
    """Return the names of the beds that an order allows, in file order."""
    return tuple(b.name for b in shop.beds if not order.beds or b.name in order.beds)


def demands_of(shop: Shop) -> tuple[Demand, ...]:
    """Return what is wanted, in the order in which it is served."""
    gathered: dict[tuple[str, tuple[str, ...]], list[Order]] = {}
    for order in served(shop):
        gathered.setdefault((order.part, beds_of(order, shop)), []).append(order)
    return tuple(
        Demand(part=part, beds=beds, orders=tuple(o.name for o in orders), count=sum(o.count for o in orders))
        for (part, beds), orders in gathered.items()
    )
