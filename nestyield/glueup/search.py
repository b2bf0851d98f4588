"""Which pieces make a blank for a part: chains of members from the lowest to the topmost.

What decides whether pieces can be glued up:

- members are independent once the seams are fixed, and each serves the better the less it must hold;
- so a lowest piece is as good as the highest seam that it serves, a topmost piece as the lowest, and
  a pair works exactly when the first is not below the second;
- pieces between two others must hold at least the band from the highest seam of the lowest piece to the
  lowest seam of the topmost; one piece between them works exactly when it holds that band.

``orders`` screens orders of rows by bounds. A larger set is of interest only while it is cheaper than the
cheapest found with fewer pieces, its joints counted; where sets compete with other stock, every set below a
budget. ``placing`` makes glue-ups of orders.

Several members may come out of one copy of a piece (``divide``); sets of four of that kind are looked at only
where nothing else is found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.angles import between_angles
from nestyield.glueup.band import OrientedPart
from nestyield.glueup.chains import COST_DIGITS, Interest, MemberChain
from nestyield.glueup.feasibility import Ends, SeamFeasibility
from nestyield.glueup.lyings import lyings
from nestyield.glueup.mates import Mates
from nestyield.glueup.orders import RowOrders, in_turn
from nestyield.glueup.placing import Placing
from nestyield.glueup.seams import Seams
from nestyield.glueup.sure import surely_there
from nestyield.glueup.turned_wood import Woods
from nestyield.model import GlueUpRules, Part, Piece, Settings
from nestyield.placement.constraint import Constraint

#: Largest glue-up that is searched.
MOST_MEMBERS = 4
#: Of the tries that a size is given, orders with several members out of one piece get one in so many.
_SHARED_PART = 4

_ALL = Interest()


class Search:
    """All glue-ups of a part from a list of pieces, cheapest first.

    Parameters
    ----------
    part : Part
    pieces : sequence of Piece
        Suitable by species and thickness.
    settings : Settings
    value : callable
        Value of one copy of a piece.
    rules : GlueUpRules
    constraints : sequence of Constraint
    """

    def __init__(
        self,
        part: Part,
        pieces: Sequence[Piece],
        settings: Settings,
        value: Callable[[Piece], float],
        rules: GlueUpRules,
        constraints: Sequence[Constraint] = (),
    ) -> None:
        self.constraints = constraints
        self.part, self.settings, self.rules = part, settings, rules
        self.pieces = [surely_there(piece, settings.chord_error_mm) for piece in pieces]
        self.value = np.array([value(p) for p in pieces], dtype=np.float64)
        self.area = np.array([p.shape.area_mm2 for p in pieces], dtype=np.float64)
        self.count = np.array([p.count for p in pieces], dtype=np.int64)
        if rules.one_board:  # alike copies of a row may be of several boards
            self.count = np.minimum(self.count, 1)
        self.mates = Mates(self.pieces, rules)
        self.woods = Woods(self.pieces, rules, settings.chord_error_mm)
        self.cut_short = False
        self._fields: dict[tuple[int, bool, bool], SeamFeasibility] = {}
        self._kerf = round(settings.machines.saw_kerf_mm * UM_PER_MM)

    def chains(
        self,
        most: int,
        wanted: int,
        tries: int,
        *,
        strict: bool | None = None,
        filling: bool = True,
        interest: Interest = _ALL,
    ) -> list[MemberChain]:
        """Return glue-ups, those of least value first, then those with better placed seams.

        Every pair is looked at. Larger sets are looked at by rising value, and only those that are cheaper
        than the cheapest glue-up found with fewer pieces. Where the rules about seams are not kept,
        those that break them least come first, whatever their value.

        Parameters
        ----------
        most : int
            Most members, at least 2.
        wanted : int
            How many sets of rows of each size to return at most.
        tries : int
            Most orders of each larger size that pass the bounds and are looked at closely.
        strict : bool, optional
            Whether the rules about where seams run are kept; as the shop says when left out.
        filling : bool
            Whether defects may lie where the part lets them be filled.
        interest : Interest
        """
        strict = self.rules.strict if strict is None else strict
        self.cut_short = False
        found: list[MemberChain] = []
        for k, lying in enumerate(self._lyings):
            if (k, strict, filling) not in self._fields:
                self._fields[k, strict, filling] = SeamFeasibility(
                    lying,
                    self.pieces,
                    self.settings,
                    self.rules,
                    strict,
                    filling,
                    self.constraints,
                    self.woods,
                )
            field = self._fields[k, strict, filling]
            found += self._in_field(field, most, wanted, tries, interest, found)
            if found and strict and not interest.every:
                break
            if interest.every:  # at the next angle only what is new
                interest = replace(interest, known=interest.known | {tuple(sorted(c.rows)) for c in found})
        if strict and not interest.every and interest.apart is not True:
            fewest = min((len(c.places) for c in found), default=most + 1)
            found += between_angles(self, fewest - 1, tries, filling, interest, found)
        found.sort(
            key=lambda c: (
                c.seams.violation_um,
                round(interest.cost(c), COST_DIGITS),
                len(c.places),
                c.seams.off_um,
                c.rows,
            )
        )
        return found

    @property
    def finite(self) -> NDArray[np.bool_]:
        """Rows that may be members."""
        return self.rows.finite

    @property
    def rows(self) -> RowOrders:
        """The rows with their present value."""
        return RowOrders(value=self.value, area=self.area, count=self.count, mates=self.mates)

    def orders(
        self,
        field: SeamFeasibility,
        ends: Ends,
        size: int,
        below: float,
        known: frozenset[tuple[int, ...]],
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of rows that the bounds leave, by rising value, without those of known sets."""
        orders = in_turn(self.rows.of_size(field, ends, size, below))
        return (o for o in orders if tuple(sorted(o[1])) not in known)

    def chain(
        self, field: SeamFeasibility, rows: tuple[int, ...], shared: bool = False, beat: Seams | None = None
    ) -> MemberChain | None:
        """Return the glue-up of an order of rows with its seams placed well, or None.

        Parameters
        ----------
        field : SeamFeasibility
        rows : tuple of int
            Lowest first.
        shared : bool
            Members of one row are cut from as few copies as may be.
        beat : Seams, optional
            Only better placed seams are of interest.
        """
        placing = Placing(
            pieces=self.pieces,
            value=self.value,
            count=self.count,
            kerf_um=self._kerf,
            error_mm=self.settings.chord_error_mm,
        )
        return placing.chain(field, rows, shared, beat)

    @cached_property
    def _lyings(self) -> list[OrientedPart]:
        return lyings(self.part, self.settings, self.pieces, self.rules)

    def _in_field(
        self,
        field: SeamFeasibility,
        most: int,
        wanted: int,
        tries: int,
        interest: Interest,
        before: Sequence[MemberChain] = (),
    ) -> list[MemberChain]:
        """Return the glue-ups of a part that lies in one way, some being known of other ways."""
        ends = field.ends(self.finite)
        found: list[MemberChain] = []
        for size in range(2, min(most, MOST_MEMBERS) + 1):
            left = interest.enough([*before, *found], wanted) if field.strict else interest
            below = left.below(size, found if field.strict else ())
            if not below > 0:
                break
            if interest.apart is not True:
                limit = None if size == 2 else tries
                orders = self.orders(field, ends, size, below, interest.known)
                found += self._of_orders(field, orders, below, wanted, limit)
            if interest.apart is not False and (size < MOST_MEMBERS or not found):
                # four members with some out of one piece: only where there is nothing else
                shared = self.rows.shared(field, ends, size, below)
                orders = (o for o in in_turn(shared) if tuple(sorted(o[1])) not in interest.known)
                found += self._of_orders(field, orders, below, wanted, tries // _SHARED_PART, True)
        return found

    def _of_orders(
        self,
        field: SeamFeasibility,
        orders: Iterator[tuple[float, tuple[int, ...]]],
        below: float,
        wanted: int,
        tries: int | None,
        shared: bool = False,
    ) -> list[MemberChain]:
        """Return the best chain below a value for each set of rows, as orders come by rising value."""
        seen: dict[tuple[int, ...], MemberChain] = {}
        last = float("inf")
        for n, (value, rows) in enumerate(orders):
            if value > last + 1e-9 or (tries is not None and n >= tries):
                self.cut_short = True
                break
            key = tuple(sorted(rows))
            beat = seen[key].seams if key in seen and not shared else None
            chain = self.chain(field, rows, shared, beat)
            if chain is None or chain.value >= below:
                continue
            if key not in seen or self._better(chain, seen[key]):
                seen[key] = chain
            if len(seen) >= wanted and field.strict:
                last = value  # still look at all of the same value
        return list(seen.values())

    @staticmethod
    def _better(one: MemberChain, other: MemberChain) -> bool:
        return (one.seams.violation_um, round(one.value, 6), one.seams.off_um) < (
            other.seams.violation_um,
            round(other.value, 6),
            other.seams.off_um,
        )
