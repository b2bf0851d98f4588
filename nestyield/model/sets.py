"""Sets of orders that are of use only whole, worked out from the orders alone."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from nestyield.model.shop import Match, Order, Shop

if TYPE_CHECKING:  # what reads a shop needs no plan
    from nestyield.model.plan import Blank


@dataclass(frozen=True, slots=True, kw_only=True)
class SetClass:
    """Pieces of work of a set that need the same.

    Parameters
    ----------
    need : tuple of int
        Copies of each of the set's orders for one.
    size : int
        How many there are.
    """

    need: tuple[int, ...]
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedSet:
    """A set as far as it is still to be made.

    Parameters
    ----------
    name : str
    orders : tuple of int
        Indices of its orders, those on hold left out.
    match : {"", "species", "row", "board"}
        What the wood of its matching orders has in common.
    matching : tuple of int
        The orders that match; those of its orders without a match may be of any wood.
    classes : tuple of SetClass
        Those begun before first.
    """

    name: str
    orders: tuple[int, ...]
    match: Match
    matching: tuple[int, ...]
    classes: tuple[SetClass, ...]

    @property
    def count(self) -> int:
        """How many are wanted."""
        return sum(kind.size for kind in self.classes)


def sets_of(orders: Sequence[Order]) -> tuple[WantedSet, ...]:
    """Return the sets of some orders, in the order in which they first stand.

    As many are wanted as the order that asks for most of them says; orders with fewer copies were cut in part
    before, and the first of the set need none, or fewer, of them.

    Parameters
    ----------
    orders : sequence of Order
    """
    found: dict[str, list[int]] = {}
    for k, order in enumerate(orders):
        if order.set and not order.hold:
            found.setdefault(order.set, []).append(k)
    return tuple(_wanted(name, members, orders) for name, members in found.items())


def begun_woods(orders: Sequence[Order], name: str) -> Counter[str]:
    """Return how many of a set are begun in each wood, by what was cut before of its matching orders.

    Parameters
    ----------
    orders : sequence of Order
        All of the shop, those on hold too.
    name : str
        Of the set.
    """
    most: Counter[str] = Counter()
    for order in orders:
        if order.set == name and order.match:
            most |= Counter({wood: -(-n // order.per_set) for wood, n in Counter(order.cut_from).items()})
    return most


def wood_of(shop: Shop, blank: Blank, match: str) -> str:
    """Return what matching wood has in common with a blank's; ``""`` where its pieces do not match.

    Parameters
    ----------
    shop : Shop
    blank : Blank
    match : {"species", "row", "board"}
        Each copy of a row is a board of its own, with its number, unless the row says of which board it is.
    """
    found = set()
    for name, copy in blank.copies:
        piece = shop.piece(name)
        alone = piece.board != piece.name or piece.count == 1
        board = piece.board if alone else f"{name}, copy {copy}"
        found.add({"species": piece.species, "row": name, "board": board}[match])
    return found.pop() if len(found) == 1 else ""


def _wanted(name: str, members: Sequence[int], orders: Sequence[Order]) -> WantedSet:
    here = [orders[k] for k in members]
    count = max(-(-o.count // o.per_set) for o in here)
    before = [count * o.per_set - o.count for o in here]
    ends = sorted(
        {0, count, *(e for o, b in zip(here, before) for e in (b // o.per_set, -(-b // o.per_set)))}
    )
    classes = []
    for begin, end in itertools.pairwise(ends):
        need = tuple(o.per_set - max(0, min(o.per_set, b - begin * o.per_set)) for o, b in zip(here, before))
        classes.append(SetClass(need=need, size=end - begin))
    matching = tuple(k for k in members if orders[k].match)
    return WantedSet(
        name=name,
        orders=tuple(members),
        match=orders[matching[0]].match if matching else "",
        matching=matching,
        classes=tuple(classes),
    )
