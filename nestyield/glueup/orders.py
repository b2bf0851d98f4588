"""Which orders of rows the bounds leave, by rising value: the lowest member first.

Bounds that screen, each never discarding a chain that would work:

- reach: the highest seam of the lowest row and the lowest of the topmost leave a gap that those between must
  bridge; a member is no wider than its piece, and between two seams gives up the jointing allowance twice; of
  four, the lower two from the highest seam of the lowest must reach where the upper two reach down to;
- area: the copies spent have at least the area of the part with its margin;
- value: only sets below a bound.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement, permutations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import area_um2
from nestyield.glueup.feasibility import Ends, SeamFeasibility
from nestyield.glueup.mates import Mates, blocks, rows_beside

#: Values closer than this are one.
_SAME_VALUE = 1e-9
#: Bounds by area give way by this part, for what rounding and contact take.
_AREA_SLACK = 1e-3


def least_area(field: SeamFeasibility) -> float:
    """Return the least area of wood that holds a lying part with its margin, square millimeters."""
    return area_um2(field.lying.wide) / 1e6 * (1.0 - _AREA_SLACK)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowOrders:
    """Rows by what decides which of them may be glued together.

    Parameters
    ----------
    value, area, count : array of shape (n,)
        Of one copy of each row; a row whose value is not finite is no member. Square millimeters; copies.
    mates : Mates
        Which rows may stand in one glue-up.
    """

    value: NDArray[np.float64]
    area: NDArray[np.float64]
    count: NDArray[np.int64]
    mates: Mates

    @property
    def finite(self) -> NDArray[np.bool_]:
        """Rows that may be members."""
        return np.asarray(np.isfinite(self.value), dtype=np.bool_)

    def of_size(
        self,
        field: SeamFeasibility,
        ends: Ends,
        size: int,
        below: float,
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of rows that the bounds leave, by rising value."""
        if size == 2:
            least = least_area(field)
            found = self._pairs(ends, below, 0.0)
            keep = self.area[found.first] + self.area[found.last] >= least
            keep &= (found.first != found.last) | (self.count[found.first] > 1)
            rows = zip(found.value[keep].tolist(), found.first[keep].tolist(), found.last[keep].tolist())
            yield from ((v, (i, k)) for v, i, k in sorted(rows) if ends.meet(i, k, 0.0))
            return
        give = ends.width - 2 * field.lying.jointing_um
        if size == 4:
            yield from self.fours(field, ends, give, below)
            return
        n = len(self.value)
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

    def fours(
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

    def shared(
        self,
        field: SeamFeasibility,
        ends: Ends,
        size: int,
        below: float,
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of rows in which a row stands twice or more, by rising value of one copy of each."""
        give = ends.width - 2 * field.lying.jointing_um
        bounds_of = (ends.most_up, ends.least_down, give)
        least = least_area(field)
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


def in_turn(orders: Iterator[tuple[float, tuple[int, ...]]]) -> Iterator[tuple[float, tuple[int, ...]]]:
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
