"""The whole of what goes in: settings, parts, pieces, beds and orders."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from nestyield.model.bed import Bed
from nestyield.model.errors import ModelError
from nestyield.model.part import Part
from nestyield.model.piece import Piece
from nestyield.model.settings import Settings
from nestyield.model.units import Units

#: What the wood of matching parts of a set has in common.
Match = Literal["", "species", "row", "board"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """So many of a part, wanted.

    Parameters
    ----------
    name : str
        ``order 1`` ... in file order unless the shop file names it; unique.
    part : str
    count : int
        At least 1.
    priority : int
        1 is first; equal priorities go by due date, then file order.
    due : str or None
        ISO date.
    beds : tuple of str
        Beds that may cut it; empty means any.
    hold : bool
        On hold: reported, not planned.
    done : bool
        All of it is cut; not planned, like one on hold, which it is, too.
    set : str
        Name of the set that it belongs to, which is of use only whole; ``""`` for none.
    per_set : int
        Copies in one of the set.
    match : {"", "species", "row", "board"}
        For each one of the set all its orders that say so get wood of one species, of one row of the rack, or
        of one board.
    cut_from : tuple of str
        The wood of copies that were cut before, one name each: species, row or board, as `match` says.
    """

    name: str
    part: str
    count: int = 1
    priority: int = 5
    due: str | None = None
    beds: tuple[str, ...] = ()
    hold: bool = False
    done: bool = False
    set: str = ""
    per_set: int = 1
    match: Match = ""
    cut_from: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ModelError(f"expected count >= 1 in {self.name}, got {self.count}")
        if self.per_set < 1:
            raise ModelError(f"expected per_set >= 1 in {self.name}, got {self.per_set}")
        if self.done and not self.hold:
            raise ModelError(f"expected hold in {self.name}, which is done")
        if not self.set and (self.match or self.per_set > 1):
            raise ModelError(f"expected a set in {self.name}, which has per_set or match")
        if self.cut_from and not self.match:
            raise ModelError(f"expected match in {self.name}, which has cut_from")


def _check_sets(orders: tuple[Order, ...]) -> None:
    """Refuse orders of one set that are served at different times or match in different ways."""
    first: dict[str, Order] = {}
    match: dict[str, Order] = {}
    for order in orders:
        if not order.set:
            continue
        other = first.setdefault(order.set, order)
        if (order.priority, order.due) != (other.priority, other.due):
            raise ModelError(
                f"orders {other.name!r} and {order.name!r} of set {order.set!r} differ in priority or due"
            )
        if order.match and match.setdefault(order.set, order).match != order.match:
            raise ModelError(
                f"orders {match[order.set].name!r} and {order.name!r} of set {order.set!r} match differently"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """Everything that was read from a shop folder.

    Parameters
    ----------
    name : str
    units : {"mm", "in"}
        Units of output for people, and of bare numbers in the shop file.
    settings : Settings
    beds, parts, pieces, orders : tuple
        In file order.
    files : dict of str to str
        Name relative to the shop folder -> SHA-256 of its bytes.
    """

    name: str
    units: Units
    settings: Settings
    beds: tuple[Bed, ...]
    parts: tuple[Part, ...]
    pieces: tuple[Piece, ...]
    orders: tuple[Order, ...]
    files: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _check_sets(self.orders)
        parts = {p.name for p in self.parts}
        for order in self.orders:
            if order.part not in parts:
                known = ", ".join(sorted(parts)) or "none"
                raise ModelError(f"order {order.name!r} is for part {order.part!r}; known parts: {known}")

    def part(self, name: str) -> Part:
        """Return the part of that name; KeyError when there is none."""
        return {p.name: p for p in self.parts}[name]

    def piece(self, name: str) -> Piece:
        """Return the piece of that name; KeyError when there is none."""
        return {p.name: p for p in self.pieces}[name]

    def bed(self, name: str) -> Bed:
        """Return the bed of that name; KeyError when there is none."""
        return {b.name: b for b in self.beds}[name]
