"""Where the seams of a glue-up go: as near as may be to where they are wanted, never where they may not.

The objective, first to last: the least breaking of the rules about seams (none at all when they are kept),
then the least distance of the seams, taken together, from where they are wanted (the root of the sum of
their squares).

The search is exact, to ``SETTLED_UM``. What a member between two seams can hold shrinks as they part, so a
lowest seam that goes with the upper one, and a highest that goes with the lower one, are found by bisection.
With two seams the second depends on the first alone, with three both outer ones on the middle one; so one
seam is the pivot, and its range is halved until no part of it can hold anything better.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise, product

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import OrientedPart
from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.rules import best_place, center_y, middle_span

#: In three pieces the seams are wanted this far beside the pockets on the center line, millimeters.
BESIDE_POCKETS_MM = 5.0
#: Seams are as near to where they are wanted as can be, to this, micrometers.
SETTLED_UM = 50
#: Halvings of a pivot's range. While nothing is found, fewer: where members may be so narrow that their least
#: width decides, a place that exists on less than a 128th of the range may be missed; elsewhere none is.
_HALVINGS = 12
_HALVINGS_OF_NOTHING = 7

#: How far rules are broken, and how far seams are from where they are wanted, micrometers.
Cost = tuple[int, float]
_WORST: Cost = (2**62, math.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seams:
    """Seams of a chain, rising.

    Parameters
    ----------
    at_um : tuple of int
    off_um : int
        How far they are from where they are wanted, together.
    violation_um : int
        How far they lie inside intervals where no seam may run, together.
    grains : tuple of float or None
        The grain that each member must have, degrees from the joint line; None where any does.
    """

    at_um: tuple[int, ...]
    off_um: int
    violation_um: int = 0
    grains: tuple[float | None, ...] = ()


def wanted_seams(lying: OrientedPart, members: int) -> tuple[int, ...]:
    """Return where the seams are wanted: on the center line; around the pockets; else evenly.

    Parameters
    ----------
    lying : OrientedPart
    members : int
        At least 2.
    """
    if members not in lying.wanted:
        lying.wanted[members] = _wanted(lying, members)
    return lying.wanted[members]


def _wanted(lying: OrientedPart, members: int) -> tuple[int, ...]:
    bottom, top = lying.span_um
    if members == 2:
        center = center_y(lying)
        return ((bottom + top) // 2 if center is None else center,)
    if members == 3:
        span = middle_span(lying)
        if span is not None:
            beside = round(BESIDE_POCKETS_MM * UM_PER_MM)
            return (span[0] - beside, span[1] + beside)
    return tuple(bottom + (top - bottom) * k // members for k in range(1, members))


def optimize_seams(
    field: SeamFeasibility, rows: tuple[int, ...], beat: Seams | None = None, *, rough: bool = False
) -> Seams | None:
    """Return the best seams at which every row holds its band, or None when there are none.

    Parameters
    ----------
    field : SeamFeasibility
    rows : tuple of int
        Lowest first, 2 to 4.
    beat : Seams, optional
        Only seams that are better by more than ``SETTLED_UM`` are of interest.
    rough : bool
        Whether any seams that keep the rules will do.
    """
    key = (rows, beat, rough)
    if key not in field.settled:
        field.settled[key] = _optimized(field, rows, beat, rough)
    found: Seams | None = field.settled[key]
    return found


def _optimized(
    field: SeamFeasibility, rows: tuple[int, ...], beat: Seams | None, rough: bool
) -> Seams | None:
    best: Seams | None = None
    for grains in _grains(field, rows):
        found = _Settler(field, rows, grains, rough).best(beat)
        if found is not None and (
            best is None or (found.violation_um, found.off_um) < (best.violation_um, best.off_um)
        ):
            best = found
    return best


#: Places beside the best that are tried for a seam of a piece that is glued to itself.
_AROUND = 16


def around(field: SeamFeasibility, rows: tuple[int, ...], best: Seams) -> Iterator[Seams]:
    """Give other places for the seam of a pair, evenly over its range, nearest to the best first."""
    settler = _Settler(field, rows, best.grains)
    if settler.low_and_high() is None:
        return
    low, high = settler.low[0], settler.high[0]
    places = {low + (high - low) * k // _AROUND for k in range(_AROUND + 1)}
    for at in sorted(places, key=lambda y: (abs(y - best.at_um[0]), y)):
        if not (field.strict and field.violation_um(at)):
            yield settler.at(at)


def _grains(field: SeamFeasibility, rows: tuple[int, ...]) -> Iterator[tuple[float | None, ...]]:
    """Give the directions of grain that neighbors may have, all at once where any go together."""
    each = [field.grains(row) for row in rows]
    every = [g for grains in each for g in grains]
    if field.rules.crossing_allowed or not every or max(every) - min(every) <= field.rules.crossed_grain_deg:
        yield (None,) * len(rows)
        return
    for grains in product(*each):
        if all(abs(a - b) <= field.rules.crossed_grain_deg for a, b in pairwise(grains)):
            yield grains


#: A pivot, the lowest seam below and the highest above that go with it.
_Node = tuple[int, int, int]


def _between(known: tuple[_Node, _Node], k: int, pivot: int) -> int:
    """Return what the line between two answers says of a pivot between theirs."""
    (p, q), (a, b) = (known[0][0], known[1][0]), (known[0][k], known[1][k])
    return a if p == q else a + (b - a) * (pivot - p) // (q - p)


def _farthest(near: int, far: int, way: int, fits: Callable[[int], bool], guess: int | None = None) -> int:
    """Return the value farthest from ``near`` towards ``far`` that fits, all nearer ones fitting too.

    Parameters
    ----------
    near, far : int
    way : {1, -1}
        From near to far.
    fits : callable
    guess : int, optional
        Where to look first.

    Returns
    -------
    int
        The one before ``near`` when that does not fit either.
    """
    if way * (far - near) < 0 or not fits(near):
        return near - way
    if fits(far):
        return far
    good, bad = near, far
    step = 2
    while guess is not None and way * (guess - good) > 0 and way * (bad - guess) > 0:
        if fits(guess):
            good, guess = guess, guess + way * step
        else:
            bad, guess = guess, guess - way * step
        step *= 4
    while way * (bad - good) > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if fits(middle) else (good, middle)
    return good


class _Settler:
    """The search for one order of rows, each perhaps held to one direction of its grain."""

    def __init__(
        self,
        field: SeamFeasibility,
        rows: tuple[int, ...],
        grains: tuple[float | None, ...],
        rough: bool = False,
    ) -> None:
        self.field, self.rows, self.grains = field, rows, grains
        self.near = math.inf if rough else SETTLED_UM
        bottom, top = field.lying.span_um
        self.count = len(rows) - 1
        self.least = max(1, field.least_um)
        self.wanted = wanted_seams(field.lying, len(rows))
        self.low = [bottom + self.least * (k + 1) for k in range(self.count)]
        self.high = [top - self.least * (self.count - k) for k in range(self.count)]
        self.pivot = self.count // 2 if self.count == 3 else 0
        self.found: tuple[int, ...] | None = None
        self.cost: Cost = _WORST

    def low_and_high(self) -> tuple[int, int] | None:
        """Return the range of the lowest seam when anything goes, else None."""
        return (self.low[0], self.high[0]) if self._narrow() else None

    def at(self, seam: int) -> Seams:
        """Return a pair's seam at a place."""
        return self._seams((seam,))

    def best(self, beat: Seams | None = None) -> Seams | None:
        """Return the best seams, or None; None too when they are not better than some known."""
        if self._apart() or not self._narrow():
            return None
        if self.count == 1:
            place = self._place(0, self.low[0], self.high[0])
            return None if place is None else self._seams((place,))
        self.found, self.cost = None, _WORST if beat is None else (beat.violation_um, float(beat.off_um))
        for low, high in self._cells():
            self.low, self.high = low, high
            if self._opened():
                self._divide(low[self.pivot], high[self.pivot])
        return None if self.found is None else self._seams(self.found)

    def _cells(self) -> list[tuple[list[int], list[int]]]:
        """Return ranges of all seams without a bar inside, most promising first; one when rules may give."""
        free = [self.field.free(a, b) for a, b in zip(self.low, self.high)]
        cells = []
        for ranges in product(*free):
            low, high = [a for a, _ in ranges], [b for _, b in ranges]
            places = [self._place(k, a, b) for k, (a, b) in enumerate(ranges)]
            if all(p is not None for p in places):
                at = tuple(p for p in places if p is not None)
                cells.append((self._cost(at, tuple(range(self.count))), low, high))
        cells.sort()
        return [(low, high) for _, low, high in cells]

    def _fits(self, member: int, low: int, high: int) -> bool:
        return self.field.serving(self.rows[member], low, high, self.grains[member]) is not None

    def _apart(self) -> bool:
        """Tell whether the middle of three surely does not reach: not even from what the outer rows serve at the most."""
        field = self.field
        if self.count != 2 or not all(field.shrinks(row) for row in self.rows):
            return False
        low = min(self.high[0], field.brackets.farthest(self.rows[0], True))
        high = max(self.low[1], field.brackets.farthest(self.rows[2], False))
        return low < high and (math.isinf(low) or math.isinf(high) or not self._fits(1, int(low), int(high)))

    def _narrow(self) -> bool:
        """Cut the ranges of the seams down to what the outer rows serve; False when nothing is left."""
        up = self.field.highest(self.rows[0], self.grains[0])
        down = self.field.lowest(self.rows[-1], self.grains[-1])
        if up is None or down is None:
            return False
        self.high[0] = min(self.high[0], up)
        self.low[-1] = max(self.low[-1], down)
        return self._opened()

    def _opened(self) -> bool:
        """Cut ranges down to least widths and to what the members between serve; False when none are left.

        The narrowest band that a member between can have is that from the highest seam below to the lowest
        above; what does not hold even that holds none.
        """
        for k in range(1, self.count):
            self.low[k] = max(self.low[k], self.low[k - 1] + self.least)
        for k in range(self.count - 2, -1, -1):
            self.high[k] = min(self.high[k], self.high[k + 1] - self.least)
        if any(a > b for a, b in zip(self.low, self.high)):
            return False
        if self.count == 2 and self.high[0] < self.low[1]:
            return self._fits(1, self.high[0], self.low[1])
        if self.count == 3:
            if self.high[0] < self.low[1]:
                self.high[1] = min(self.high[1], self._highest(1, self.high[0], self.low[1], self.high[1]))
            if self.low[1] <= self.high[1] < self.low[2]:
                self.low[1] = max(self.low[1], self._lowest(2, self.low[2], self.low[1], self.high[1]))
        return self.low[self.pivot] <= self.high[self.pivot]

    def _highest(self, member: int, low: int, least: int, most: int, guess: int | None = None) -> int:
        """Return the highest seam from ``least`` to ``most`` to which a member reaches; below when none."""
        return _farthest(least, most, 1, lambda y: self._fits(member, low, y), guess)

    def _lowest(self, member: int, high: int, least: int, most: int, guess: int | None = None) -> int:
        """Return the lowest seam from ``least`` to ``most`` from which a member reaches; above when none."""
        return _farthest(most, least, -1, lambda y: self._fits(member, y, high), guess)

    def _place(self, seam: int, low: int, high: int) -> int | None:
        return best_place(low, high, self.wanted[seam], self.field.bars, self.field.strict)

    def _cost(self, at: tuple[int, ...], seams: tuple[int, ...]) -> Cost:
        broken = sum(self.field.violation_um(a) for a in at)
        return broken, math.hypot(*(a - self.wanted[k] for a, k in zip(at, seams)))

    def _seams(self, at: tuple[int, ...]) -> Seams:
        broken, off = self._cost(at, tuple(range(self.count)))
        return Seams(at_um=at, off_um=round(off), violation_um=broken, grains=self.grains)

    def _below(self, pivot: int, known: tuple[_Node, _Node] | None = None) -> int:
        """Return the lowest seam below that goes with a pivot, one more than any when none does.

        Parameters
        ----------
        pivot : int
        known : (node, node), optional
            The answers for a lower and for a higher pivot, between which this one lies.
        """
        if not self.pivot:
            return 0
        low, most = self.low[0], min(self.high[0], pivot - self.least)
        if known is None:
            return self._lowest(1, pivot, low, most)
        low = max(low, known[0][1])
        return self._lowest(1, pivot, low, most, _between(known, 1, pivot)) if low <= most else most + 1

    def _above(self, pivot: int, known: tuple[_Node, _Node] | None = None) -> int:
        """Return the highest seam above that goes with a pivot, one less than any when none does."""
        last = self.count - 1
        least, high = max(self.low[last], pivot + self.least), self.high[last]
        if known is None:
            return self._highest(last, pivot, least, high)
        high = min(high, known[1][2])
        guess = _between(known, 2, pivot)
        return self._highest(last, pivot, least, high, guess) if least <= high else least - 1

    def _at(self, pivot: int, node: _Node | None = None) -> tuple[int, ...] | None:
        """Return the best seams with the pivot there, or None."""
        out = [pivot]
        if self.pivot:
            most = min(self.high[0], pivot - self.least)
            below = self._place(0, self.low[0], most)
            if below is not None and not self._fits(1, below, pivot):
                below = self._place(0, node[1] if node else self._below(pivot), most)
            if below is None:
                return None
            out.insert(0, below)
        last = self.count - 1
        least = max(self.low[last], pivot + self.least)
        above = self._place(last, least, self.high[last])
        if above is not None and not self._fits(last, pivot, above):
            above = self._place(last, least, node[2] if node else self._above(pivot))
        return None if above is None else (*out, above)

    def _bound(self, p: int, q: int, below: int, above: int) -> Cost | None:
        """Return what no seams with their pivot from p to q can beat; None when there are none.

        A member that reaches from a higher pivot needs a lower seam no lower than for a lower pivot, and
        reaches no lower a seam above: so ``below`` at p and ``above`` at q limit all between.
        """
        last = self.count - 1
        # every band of a member between holds this narrow one
        inner = max(self.low[last], p + self.least)
        if q < inner and not self._fits(last, q, inner):
            return None
        inner = min(self.high[0], q - self.least)
        if self.pivot and inner < p and not self._fits(1, inner, p):
            return None
        ranges = [(self.pivot, p, q)]
        if self.pivot:
            ranges.append((0, below, min(self.high[0], q - self.least)))
        ranges.append((last, max(self.low[last], p + self.least), above))
        places, seams = [], []
        for seam, low, high in ranges:
            place = self._place(seam, low, high) if low <= high else None
            if place is None:
                return None
            places.append(place)
            seams.append(seam)
        return self._cost(tuple(places), tuple(seams))

    def _look(self, pivot: int, node: _Node | None = None) -> None:
        """Keep the best seams with the pivot there, when they are better than those found."""
        at = None if self.field.strict and self.field.violation_um(pivot) else self._at(pivot, node)
        if at is not None and (cost := self._cost(at, tuple(range(self.count)))) < self.cost:
            self.found, self.cost = at, cost

    def _hopeless(self, bound: Cost | None) -> bool:
        """Tell whether what is bounded so cannot be better than what is found."""
        if bound is None:
            return True
        if bound[0] < self.cost[0] - (SETTLED_UM if self.cost[0] else 0):
            return False
        return bound[0] > self.cost[0] or bound[1] >= self.cost[1] - self.near

    def _divide(self, first: int, final: int) -> None:
        """Halve the pivot's range, most promising part first, until nothing better can be left."""
        root = self._bound(first, final, self.low[0], self.high[-1])
        if root is None or self._hopeless(root):
            return
        wanted = self._place(self.pivot, first, final)
        if wanted is not None:
            self._look(wanted)
        if self._hopeless(root):
            return
        ends = [(y, self._below(y), self._above(y)) for y in sorted({first, final})]
        for end in ends:
            self._look(end[0], end)
        heap = [(root, ends[0], ends[-1])]
        while heap:
            bound, lower, upper = heapq.heappop(heap)
            halvings = _HALVINGS if self.cost < _WORST else _HALVINGS_OF_NOTHING
            narrowest = max(1, (final - first) >> halvings)
            if self._hopeless(bound) or upper[0] - lower[0] <= narrowest:
                continue
            middle = self._place(self.pivot, lower[0] + 1, upper[0] - 1)
            if middle is None or min(middle - lower[0], upper[0] - middle) < narrowest:
                middle = (lower[0] + upper[0]) // 2
            node = (middle, self._below(middle, (lower, upper)), self._above(middle, (lower, upper)))
            self._look(middle, node)
            for one, other in ((lower, node), (node, upper)):
                part = self._bound(one[0], other[0], one[1], other[2])
                if not self._hopeless(part) and part is not None:
                    heapq.heappush(heap, (part, one, other))
