"""Which pieces make a blank for a part: chains of members from the lowest to the topmost.

What decides whether pieces can be glued up:

- members are independent once the seams are fixed, and each serves the better the less it must hold;
- so a lowest piece is as good as the highest seam that it serves, a topmost piece as the lowest, and
  a pair works exactly when the first is not below the second;
- pieces between two others must hold at least the band from the highest seam of the lowest piece to the
  lowest seam of the topmost; one piece between them works exactly when it holds that band.

Bounds that screen, each never discarding a chain that would work:

- reach: the highest seam of the lowest row and the lowest of the topmost leave a gap that those between must
  bridge; a member is no wider than its piece, and between two seams gives up the jointing allowance twice; of
  four, the lower two from the highest seam of the lowest must reach where the upper two reach down to;
- area: the copies spent have at least the area of the part with its margin;
- value: a larger set is of interest only while it is cheaper than the cheapest found with fewer pieces, its
  joints counted; where sets compete with other stock, every set below a budget.

Several members may come out of one copy of a piece (``divide``); sets of four of that kind are looked at only
where nothing else is found.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations_with_replacement, permutations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import UM_PER_MM, area_um2
from nestyield.glueup.angles import between_angles
from nestyield.glueup.band import OrientedPart, lay
from nestyield.glueup.divide import DividedPart as Divided
from nestyield.glueup.divide import divide
from nestyield.glueup.feasibility import Ends, SeamFeasibility
from nestyield.glueup.mates import Mates, blocks, rows_beside
from nestyield.glueup.oracle import FeasibilityOracle, SeamFit
from nestyield.glueup.seams import Seams, around, optimize_seams
from nestyield.glueup.sure import surely_there
from nestyield.glueup.turned import tapers_of
from nestyield.model import GlueUpRules, Part, Piece, Settings, Shape
from nestyield.placement.candidates import orientations
from nestyield.placement.constraint import Constraint

#: Largest glue-up that is searched.
MOST_MEMBERS = 4
#: Of the tries that a size is given, orders with several members out of one piece get one in so many.
_SHARED_PART = 4
#: Values closer than this are one.
_SAME_VALUE = 1e-9
#: Glue-ups whose cost is the same to so many digits are ranked by their seams.
_COST_DIGITS = 6
#: Bounds by area give way by this part, for what rounding and contact take.
_AREA_SLACK = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Interest:
    """Which sets of pieces are of interest.

    Parameters
    ----------
    joint : float
        What a joint costs.
    budget : float
        Only sets whose pieces and joints cost less.
    every : bool
        All such sets; otherwise larger ones only while they cost less than the cheapest with fewer pieces.
    known : frozenset of tuple of int
        Rows, rising, of sets that are not looked at again.
    apart : bool or None
        Only sets in which several members are cut from one copy of a piece, or only others; None for both.
    """

    joint: float = 0.0
    budget: float = math.inf
    every: bool = False
    known: frozenset[tuple[int, ...]] = frozenset()
    apart: bool | None = None

    def below(self, size: int, found: Sequence[MemberChain]) -> float:
        """Return what pieces of a set of a size must cost less than, joints aside."""
        cheapest = min((self.cost(c) for c in found), default=math.inf)
        most = self.budget if self.every else min(self.budget, cheapest)
        return most - self.joint * (size - 1)

    def cost(self, chain: MemberChain) -> float:
        """Return what pieces and joints of a glue-up cost."""
        return chain.value + self.joint * (len(chain.places) - 1)

    def enough(self, found: Sequence[MemberChain], wanted: int) -> Interest:
        """Return the interest left once so many sets are found: in what may still come before the last of them.

        One more than wanted is kept, so that it is known whether there are more. Only for whole pieces, every set
        of which costs the same however it is found.
        """
        if not self.every or self.apart is not False or len(found) <= wanted:
            return self
        last = sorted(round(self.cost(c), _COST_DIGITS) for c in found)[wanted]
        return replace(self, budget=min(self.budget, last + 2 * 10.0**-_COST_DIGITS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A member: a piece, how it is turned, and where it may be shifted.

    Parameters
    ----------
    server : FeasibilityOracle
    fit : SeamFit
        Shifts; a single one for a member that is cut from a piece with others.
    copy : int
        Which copy of the row, from 1.
    shift : (int, int) or None
        The only shift, for a member cut from a piece with others.
    cut : Shape or None
        What of the piece it is, in the piece's coordinates; None for all of it.
    """

    server: FeasibilityOracle
    fit: SeamFit
    copy: int
    shift: tuple[int, int] | None = None
    cut: Shape | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberChain:
    """A glue-up: members from the lowest to the topmost, and the seams between them.

    Parameters
    ----------
    lying : OrientedPart
    places : tuple of Place
    seams : Seams
        One fewer than members.
    value : float
        Of all copies taken.
    """

    lying: OrientedPart
    places: tuple[Place, ...]
    seams: Seams
    value: float

    @property
    def rows(self) -> tuple[int, ...]:
        """Rows of the members, lowest first."""
        return tuple(p.server.turned.row for p in self.places)


_ALL = Interest()

#: Most directions of tapered edges along which a part is laid.
_MOST_TAPERS = 6
#: Directions closer than this are tried as one, degrees.
_SAME_TAPER_DEG = 0.1

_USUAL = GlueUpRules()


def lyings(
    part: Part, settings: Settings, pieces: Sequence[Piece] = (), rules: GlueUpRules = _USUAL
) -> list[OrientedPart]:
    """Return the ways to lay a part in a blank to be glued that differ by more than turning the blank over.

    Pieces are turned freely, so front up and head first stand for all; mirrored parts are another case. Where
    pieces have tapered edges, the part is also laid along the grain of such a piece.
    """
    tapers: list[float] = []
    for piece in sorted(pieces, key=lambda p: (-p.shape.area_mm2, p.name)):
        for off in tapers_of(piece, rules):
            if len(tapers) < _MOST_TAPERS and all(abs(abs(off) - t) > _SAME_TAPER_DEG for t in tapers):
                tapers.append(abs(off))
    out = []
    for way in orientations(part, 0.0):
        if way.front_up and way.middle_deg < 180.0:
            angles = list(way.angles(1))
            more = [way.middle_deg + sign * off for off in tapers for sign in (1.0, -1.0)]
            angles += [a for a in more if all(abs(a - b) > _SAME_TAPER_DEG for b in angles)]
            out += [lay(part, settings, angle, way.mirrored) for angle in angles]
    return sorted(out, key=lambda lying: min(lying.angle_deg % 180.0, -lying.angle_deg % 180.0))


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
                    lying, self.pieces, self.settings, self.rules, strict, filling, self.constraints
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
                round(interest.cost(c), _COST_DIGITS),
                len(c.places),
                c.seams.off_um,
                c.rows,
            )
        )
        return found

    @property
    def finite(self) -> NDArray[np.bool_]:
        """Rows that may be members."""
        return np.asarray(np.isfinite(self.value), dtype=np.bool_)

    def orders(
        self,
        field: SeamFeasibility,
        ends: Ends,
        size: int,
        below: float,
        known: frozenset[tuple[int, ...]],
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of rows that the bounds leave, by rising value, without those of known sets."""
        orders = _in_turn(self._orders(field, ends, size, below))
        return (o for o in orders if tuple(sorted(o[1])) not in known)

    def chain(self, field: SeamFeasibility, rows: tuple[int, ...]) -> MemberChain | None:
        """Return the glue-up of an order of rows with its seams placed well, or None."""
        return self._chain(field, rows)

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
                shared = self._shared(field, ends, size, below)
                orders = (o for o in _in_turn(shared) if tuple(sorted(o[1])) not in interest.known)
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
            chain = self._chain(field, rows, shared, beat)
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

    def _orders(
        self,
        field: SeamFeasibility,
        ends: Ends,
        size: int,
        below: float,
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of rows that the bounds leave, by rising value."""
        if size == 2:
            least = self._least_area(field)
            found = self._pairs(ends, below, 0.0)
            keep = self.area[found.first] + self.area[found.last] >= least
            keep &= (found.first != found.last) | (self.count[found.first] > 1)
            rows = zip(found.value[keep].tolist(), found.first[keep].tolist(), found.last[keep].tolist())
            yield from ((v, (i, k)) for v, i, k in sorted(rows) if ends.meet(i, k, 0.0))
            return
        give = ends.width - 2 * field.lying.jointing_um
        if size == 4:
            yield from self._fours(field, ends, give, below)
            return
        n = len(self.pieces)
        between: list[tuple[tuple[int, ...], float, float]] = [
            ((b,), float(give[b]), float(self.value[b]))
            for b in range(n)
            if give[b] > 0 and self.value[b] < below
        ]
        # no gap is bridged that is wider than what the widest row bridges
        found = self._pairs(ends, below, max((g for _, g, _ in between), default=-math.inf))
        order = np.argsort(found.value, kind="stable")
        ends_of = list(zip(*(v[order].tolist() for v in (found.value, found.gap, found.first, found.last))))
        between.sort(key=lambda item: (item[2], item[0]))
        yield from self._by_value(ends, ends_of, between, below)

    def _fours(
        self,
        field: SeamFeasibility,
        ends: Ends,
        give: NDArray[np.float64],
        below: float,
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of four rows by rising value: the lower two must reach where the upper two reach.

        How far two rows reach at the most is told by the width of the inner one; how far they do is asked only of
        those that come up.
        """
        most = float(give.max(initial=0.0))
        up, down = ends.most_up, ends.least_down
        lower = self._twos(up, np.minimum.reduce(down) - most, give, below)
        upper = self._twos(-down, np.minimum.reduce(-up) - most, give, below)
        known: dict[tuple[int, int, bool], float] = {}

        def reached(two: tuple[int, int], is_up: bool) -> float:
            key = (*two, is_up)
            if key not in known:
                seam = ends.up(two[0]) if is_up else ends.down(two[0])
                found = field.reach(two[1], int(seam), is_up)
                known[key] = -math.inf if found is None else float(found if is_up else -found)
            return known[key]

        for value, i, k in _fitting(lower, upper, below):
            two, others = lower.rows(i), upper.rows(k)
            rows = (*two, *reversed(others))
            if not self._may(rows) or not ends.meet(two[0], others[0], give[two[1]] + give[others[1]]):
                continue
            if reached(two, True) + reached(others, False) >= 0:
                yield value, rows

    def _twos(
        self, outer: NDArray[np.float64], least: float, give: NDArray[np.float64], below: float
    ) -> _Twos:
        """Return outer and inner rows, by rising value, and how far they reach inwards at the most.

        Parameters
        ----------
        outer : array of float
            How far each outer row reaches by itself; heights count inwards.
        least : float
            Pairs that surely do not reach this are left out.
        """
        cheapest = 2 * float(self.value.min(initial=0.0))
        inner = np.flatnonzero((give > 0) & (self.value < below))
        found: list[tuple[NDArray[Any], ...]] = []
        for rows in blocks(np.flatnonzero(np.isfinite(outer) & self.finite), len(inner)):
            value = self.value[rows][:, None] + self.value[inner][None, :]
            reach = outer[rows][:, None] + give[inner][None, :]
            usable = self.mates.block(rows, inner) & (reach >= least) & (value + cheapest < below)
            usable &= (rows[:, None] != inner[None, :]) | (self.count[rows] > 1)[:, None]
            a, b = np.nonzero(usable)
            found.append((rows[a], inner[b], value[a, b], reach[a, b]))
        one, other, value, reach = _joined(found)
        order = np.argsort(value, kind="stable")
        return _Twos(outer=one[order], inner=other[order], value=value[order], reach=reach[order])

    def _pairs(self, ends: Ends, below: float, widest: float) -> _Pairs:
        """Return rows that may be lowest and topmost below a value, with no wider gap between them than so much."""
        up, down = ends.most_up, ends.least_down
        last = np.flatnonzero(np.isfinite(down) & self.finite)
        found: list[tuple[NDArray[Any], ...]] = []
        for first in blocks(np.flatnonzero(np.isfinite(up) & self.finite), len(last)):
            gap = down[last][None, :] - up[first][:, None]
            value = self.value[first][:, None] + self.value[last][None, :]
            a, z = np.nonzero((gap <= widest) & (value < below) & self.mates.block(first, last))
            found.append((first[a], last[z], value[a, z], gap[a, z]))
        one, other, value, gap = _joined(found)
        return _Pairs(first=one, last=other, value=value, gap=gap)

    def _by_value(
        self,
        ends: Ends,
        ends_of: list[tuple[float, float, int, int]],
        between: list[tuple[tuple[int, ...], float, float]],
        below: float,
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Merge ends and what lies between them by the sum of their values."""
        if not ends_of or not between:
            return
        heap = [(ends_of[0][0] + between[0][2], 0, 0)]
        while heap:
            value, e, b = heapq.heappop(heap)
            if value >= below:
                return
            if b + 1 < len(between):
                heapq.heappush(heap, (ends_of[e][0] + between[b + 1][2], e, b + 1))
            if b == 0 and e + 1 < len(ends_of):
                heapq.heappush(heap, (ends_of[e + 1][0] + between[0][2], e + 1, 0))
            _, gap, first, last = ends_of[e]
            rows, give, _ = between[b]
            if give < gap or not self._may((first, *rows, last)) or not ends.meet(first, last, give):
                continue
            for inner in sorted(set(permutations(rows))):
                yield value, (first, *inner, last)

    @staticmethod
    def _least_area(field: SeamFeasibility) -> float:
        """Return the least area of wood that holds a lying part with its margin, square millimeters."""
        return area_um2(field.lying.wide) / 1e6 * (1.0 - _AREA_SLACK)

    def _shared(
        self,
        field: SeamFeasibility,
        ends: Ends,
        size: int,
        below: float,
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of rows in which a row stands twice or more, by rising value of one copy of each."""
        give = ends.width - 2 * field.lying.jointing_um
        bounds_of = (ends.most_up, ends.least_down, give)
        least = self._least_area(field)
        serving = np.flatnonzero((ends.width > 0) & self.finite)
        sets: list[tuple[float, tuple[int, ...]]] = []
        for others in combinations_with_replacement(serving.tolist(), size - 2):
            for row in rows_beside(
                others,
                serving,
                self.mates,
                self.area,
                self.count,
                self.value,
                bounds_of,
                least,
                below,
            ):
                rows = tuple(sorted((row, row, *others)))
                counted = Counter(rows)
                wood = sum(self.area[r] * min(n, self.count[r]) for r, n in counted.items())
                value = float(sum(self.value[r] for r in counted))
                if wood >= least and value < below:
                    sets.append((value, rows))
        for value, rows in sorted(set(sets)):
            for order in sorted(set(permutations(rows))):
                if ends.meet(order[0], order[-1], float(sum(give[r] for r in order[1:-1]))):
                    yield value, order

    def _may(self, rows: tuple[int, ...]) -> bool:
        if any(rows.count(r) > self.count[r] for r in rows):
            return False
        return self.mates.together(rows)

    def _chain(
        self, field: SeamFeasibility, rows: tuple[int, ...], shared: bool = False, beat: Seams | None = None
    ) -> MemberChain | None:
        """Return the chain of an order with its seams as near as may be to where they are wanted."""
        if shared:
            return self._shared_chain(field, rows)
        best = optimize_seams(field, rows, beat)
        if best is None:
            return None
        # a hole in an opening of the part may serve at some places of a seam and not at others between
        for seams in (best, *(around(field, rows, best) if len(rows) == 2 and field.openings else ())):
            places = self._places(field, rows, seams)
            if places is not None:
                return self._made(field, rows, places, seams)
        return None

    def _made(
        self, field: SeamFeasibility, rows: tuple[int, ...], places: tuple[Place, ...], seams: Seams
    ) -> MemberChain:
        spent = {(r, place.copy) for r, place in zip(rows, places)}
        value = float(sum(self.value[r] for r, _ in sorted(spent)))
        return MemberChain(lying=field.lying, places=places, seams=seams, value=value)

    def _shared_chain(self, field: SeamFeasibility, rows: tuple[int, ...]) -> MemberChain | None:
        """Return a chain in which members are cut from one piece.

        Whether they find room in it hardly depends on where the seams run: any seams tell whether it is worth
        placing them well. A pair is tried at places all over the range of its seam.
        """
        any_seams = optimize_seams(field, rows, rough=True)
        if any_seams is None:
            return None
        tried = [any_seams, *(around(field, rows, any_seams) if len(rows) == 2 else ())]
        for seams in tried:
            places = self._shared_places(field, rows, seams)
            if places is None:
                continue
            best = optimize_seams(field, rows)
            better = None if best is None else self._shared_places(field, rows, best)
            if best is not None and better is not None:
                return self._made(field, rows, better, best)
            return self._made(field, rows, places, seams)
        return None

    @staticmethod
    def _bands(seams: Seams) -> list[tuple[int | None, int | None]]:
        return list(zip((None, *seams.at_um), (*seams.at_um, None)))

    def _places(
        self, field: SeamFeasibility, rows: tuple[int, ...], seams: Seams
    ) -> tuple[Place, ...] | None:
        places: list[Place] = []
        for k, (row, (low, high)) in enumerate(zip(rows, self._bands(seams))):
            server = field.serving(row, low, high, seams.grains[k])
            fit = None if server is None else server.fit(low, high)
            if server is None or fit is None:
                return None
            places.append(Place(server=server, fit=fit, copy=1 + rows[:k].count(row)))
        return tuple(places)

    def _shared_places(
        self, field: SeamFeasibility, rows: tuple[int, ...], seams: Seams
    ) -> tuple[Place, ...] | None:
        """Return the members with those of one row cut from as few copies as may be."""
        bands = self._bands(seams)
        found: dict[int, Place] = {}
        for row in dict.fromkeys(rows):
            mine = [k for k, r in enumerate(rows) if r == row]
            wanted = []
            for k in mine:
                turnings = [
                    (server, fit)
                    for server in field.servers(row, seams.grains[k])
                    if (fit := server.fit(*bands[k])) is not None
                ]
                if not turnings:
                    return None
                wanted.append((field.lying.needed(*bands[k]), turnings))
            for groups in _groups(len(mine), int(self.count[row])):
                cuts = [
                    divide(
                        self.pieces[row], [wanted[n] for n in group], self._kerf, self.settings.chord_error_mm
                    )
                    if len(group) > 1
                    else ()
                    for group in groups
                ]
                if all(cut is not None for cut in cuts):
                    for copy, (group, cut) in enumerate(zip(groups, cuts), start=1):
                        for n, place in zip(group, _placed([wanted[n] for n in group], cut or (), copy)):
                            found[mine[n]] = place
                    break
            else:
                return None
        if all(place.cut is None for place in found.values()):
            return None  # so many copies that none is cut
        return tuple(found[k] for k in range(len(rows)))


@dataclass(frozen=True, slots=True)
class _Twos:
    """Pairs of rows by rising value, and how far each pair reaches at the most."""

    outer: NDArray[np.int64]
    inner: NDArray[np.int64]
    value: NDArray[np.float64]
    reach: NDArray[np.float64]

    def rows(self, k: int) -> tuple[int, int]:
        """Return the outer and the inner row of a pair."""
        return int(self.outer[k]), int(self.inner[k])


@dataclass(frozen=True, slots=True)
class _Pairs:
    """Lowest and topmost rows, what they cost, and the gap between them, micrometers."""

    first: NDArray[np.int64]
    last: NDArray[np.int64]
    value: NDArray[np.float64]
    gap: NDArray[np.float64]


def _joined(found: Sequence[tuple[NDArray[Any], ...]]) -> tuple[NDArray[Any], ...]:
    """Return blocks of four columns end to end."""
    if not found:
        return (np.zeros(0, dtype=np.int64),) * 2 + (np.zeros(0),) * 2
    return tuple(np.concatenate(column) for column in zip(*found))


def _fitting(lower: _Twos, upper: _Twos, below: float) -> Iterator[tuple[float, int, int]]:
    """Give pairs of pairs that may reach each other, by rising value below a bound; no more is held than one list."""
    if not len(lower.value) or not len(upper.value):
        return

    def after(i: int, k: int) -> int:
        """Return the first pair from ``k`` on that ``i`` may reach."""
        may = upper.reach[k:] + lower.reach[i] >= 0
        n = int(np.argmax(may)) if len(may) else 0
        return k + n if len(may) and may[n] else len(upper.value)

    heap: list[tuple[float, int, int]] = []
    begun = 0  # of the lower pairs so many stand in the heap, or have stood there

    def put(i: int, k: int) -> None:
        k = after(i, k)
        if k < len(upper.value):
            heapq.heappush(heap, (float(lower.value[i] + upper.value[k]), i, k))

    while True:
        # a lower pair not yet begun costs at the least its own value and the cheapest upper one
        while begun < len(lower.value) and (
            not heap or lower.value[begun] + upper.value[0] <= heap[0][0] + _SAME_VALUE
        ):
            if lower.value[begun] + upper.value[0] >= below:
                begun = len(lower.value)
                break
            put(begun, 0)
            begun += 1
        if not heap:
            return
        value, i, k = heapq.heappop(heap)
        if value >= below:
            return
        yield value, i, k
        put(i, k + 1)


def _in_turn(orders: Iterator[tuple[float, tuple[int, ...]]]) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Give orders of rows by rising value, those of one value by their rows.

    Of orders of one set that are equally good the first is taken: it must not hang on what other sets cost.
    """
    held: list[tuple[float, tuple[int, ...]]] = []
    for value, rows in orders:
        if held and value > held[0][0] + _SAME_VALUE:
            yield from sorted(held, key=lambda o: o[1])
            held = []
        held.append((value, rows))
    yield from sorted(held, key=lambda o: o[1])


def _placed(
    wanted: Sequence[tuple[object, Sequence[tuple[FeasibilityOracle, SeamFit]]]],
    cut: Sequence[Divided],
    copy: int,
) -> list[Place]:
    """Return the members of one copy: a single one is all of the piece."""
    if not cut:
        server, fit = wanted[0][1][0]
        return [Place(server=server, fit=fit, copy=copy)]
    fits = [{id(s): f for s, f in turnings} for _, turnings in wanted]
    return [
        Place(server=c.server, fit=f[id(c.server)], copy=copy, shift=c.shift, cut=c.cut)
        for c, f in zip(cut, fits)
    ]


def _groups(members: int, copies: int) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Give the ways to hand members out to copies, fewest copies first; each way once."""
    ways_: list[list[list[int]]] = [[]]
    for k in range(members):
        more: list[list[list[int]]] = []
        for way in ways_:
            more += [[*way[:i], [*group, k], *way[i + 1 :]] for i, group in enumerate(way)]
            more.append([*way, [k]])
        ways_ = more
    for way in sorted(ways_, key=len):
        if len(way) <= copies:
            yield tuple(tuple(group) for group in way)
