"""The best clear cuttings of a board: few disjoint rectangles of the most area.

The board is a rectangle, defects are boxes parallel to it, all in whole ticks. Considered is every set
of cuttings that straight cuts across and along the board can free one after the other, and those that
turn like the arms of a pinwheel round a middle, clear or not.

Where a line between cuttings may lie: for cuttings fixed in their order the area is linear in the
position of one line, so some best set has every line on a side of a defect or of the board, or a least
size away from another line. Those lines are tried, each again from the ends of what is left.

Any three disjoint rectangles can be freed by straight cuts, so sets of up to three are certainly the
best. Larger ones are the best of the family; the answer's bound says what others could hold at most.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from nestyield.wood.clear import Box, clear_boxes

#: Least (length, width) of a cutting in ticks; one pair is enough.
LeastSizes = tuple[tuple[int, int], ...]

_Lines = NDArray[np.int64]

#: Most crossings of lines for which pinwheels are tried on lines a least size away too.
_LINES = 400

#: Parts of a region with how many cuttings lie in each.
_Shares = tuple[tuple[Box, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cuttings:
    """The answer of a search.

    Parameters
    ----------
    boxes : tuple of (x0, y0, x1, y1)
        Disjoint, clear, ticks, sorted.
    value : int
        What was maximized: area in square ticks, or whole units.
    bound : int
        No set of so many cuttings has more. Equal to ``value``: certainly best.
    complete : bool
        Whether the search ran to its end; otherwise it stopped at its ceiling of steps.
    """

    boxes: tuple[Box, ...]
    value: int
    bound: int
    complete: bool


def best_cuttings(
    length: int,
    width: int,
    defects: Sequence[Box],
    least: LeastSizes,
    most: int,
    *,
    unit: int = 0,
    ceiling: int = 20_000,
) -> Cuttings:
    """Return up to ``most`` disjoint clear cuttings of the greatest total area.

    Parameters
    ----------
    length, width : int
        Of the board, ticks; length runs along X.
    defects : sequence of (x0, y0, x1, y1)
    least : tuple of (length, width)
        A cutting must reach one of these pairs.
    most : int
        How many cuttings are allowed.
    unit : int
        0 maximizes the area; otherwise the sum over cuttings of whole units of so many square ticks.
    ceiling : int
        Most regions looked into.
    """
    if most < 1 or length <= 0 or width <= 0:
        return Cuttings(boxes=(), value=0, bound=0, complete=True)
    search = _Search(length, width, defects, least, most, unit, ceiling)
    whole = (0, 0, length, width)
    bound = search.bound(whole, most)
    # ask for little less than the bound, then for less and less: each refusal tightens the bounds
    step = bound / 64
    aim = bound - step
    while (value := search.solve(whole, most, max(0, int(aim)))) <= aim and aim > 0 and search.complete:
        step *= 1.5
        aim -= step
    exact = most <= 3 and not unit and search.complete
    boxes = search.boxes(whole, most)
    value = max(value, sum(search.worth(box) for box in boxes))  # a part may have been bettered since
    return Cuttings(
        boxes=tuple(sorted(boxes)),
        value=value,
        bound=value if exact else bound,
        complete=search.complete,
    )


class _Search:
    """Branch and bound over regions: each is one cutting, or cut in two, or a pinwheel."""

    def __init__(
        self,
        length: int,
        width: int,
        defects: Sequence[Box],
        least: LeastSizes,
        most: int,
        unit: int,
        ceiling: int,
    ) -> None:
        self.least, self.most, self.unit, self.ceiling = least, most, unit, ceiling
        self.complete = True
        self.steps = 0
        self.reach = most - 1 if most <= 3 else 1  # least sizes in a row between two lines
        clear = [b for b in clear_boxes(length, width, defects) if self._serves(b)]
        self.clear: NDArray[np.int64] = np.array(clear, dtype=np.int64).reshape(-1, 4)
        self.xs, self.ys = (
            np.unique(np.concatenate([[0, size], self.clear[:, axis], self.clear[:, axis + 2]]))
            for axis, size in ((0, length), (1, width))
        )
        covered = np.zeros((len(self.xs) - 1, len(self.ys) - 1), dtype=np.int64)
        for x0, y0, x1, y1 in clear:
            covered[(self.xs[:-1] >= x0) & (self.xs[1:] <= x1)] |= (self.ys[:-1] >= y0) & (self.ys[1:] <= y1)
        self.covered = covered
        self.leasts = tuple(sorted({pair[axis] for pair in least}) for axis in (0, 1))
        self._seen: dict[Box, tuple[int, Box | None, int]] = {}
        self._low: dict[tuple[Box, int], int] = {}
        self._high: dict[tuple[Box, int], int] = {}
        self._shares: dict[tuple[Box, int], _Shares] = {}

    def worth(self, box: Box) -> int:
        """Return what a cutting is worth."""
        area = (box[2] - box[0]) * (box[3] - box[1])
        return area // self.unit if self.unit else area

    def _serves(self, box: Box) -> bool:
        x, y = box[2] - box[0], box[3] - box[1]
        return any(x >= a and y >= b for a, b in self.least)

    def _measure(self, x0: _Lines, y0: _Lines, x1: _Lines, y1: _Lines) -> tuple[_Lines, _Lines, _Lines]:
        """Return for many regions: best single cutting's worth, its clear box, worth of all clear wood."""
        low_x, high_x = np.maximum(self.clear[:, 0], x0[:, None]), np.minimum(self.clear[:, 2], x1[:, None])
        low_y, high_y = np.maximum(self.clear[:, 1], y0[:, None]), np.minimum(self.clear[:, 3], y1[:, None])
        sides_x, sides_y = high_x - low_x, high_y - low_y
        fits = np.zeros(sides_x.shape, dtype=bool)
        for a, b in self.least:
            fits |= (sides_x >= a) & (sides_y >= b)
        area = np.where(fits, sides_x * sides_y, 0)
        which = area.argmax(axis=1) if area.shape[1] else np.zeros(len(x0), dtype=np.int64)
        single = area.max(axis=1, initial=0)
        across = _lengths(self.xs, x0, x1)
        along = _lengths(self.ys, y0, y1)
        whole = ((across @ self.covered) * along).sum(axis=1)
        if self.unit:
            return single // self.unit, which, whole // self.unit
        return single, which, whole

    def look(self, region: Box) -> tuple[int, Box | None, int]:
        """Return the best single cutting's worth and place in a region, and the worth of its clear wood."""
        if region not in self._seen:
            single, which, whole = self._measure(*(np.array([v], dtype=np.int64) for v in region))
            box = None
            if single[0]:
                c = self.clear[which[0]]
                x0, y0 = max(int(c[0]), region[0]), max(int(c[1]), region[1])
                box = (x0, y0, min(int(c[2]), region[2]), min(int(c[3]), region[3]))
            self._seen[region] = (int(single[0]), box, int(whole[0]))
        return self._seen[region]

    def bound(self, region: Box, count: int) -> int:
        """Return what no set of so many cuttings in a region can exceed."""
        high = self._high.get((region, count))
        if high is None:
            single, _, whole = self.look(region)
            high = min(count * single, whole)
        return high

    def solve(self, region: Box, count: int, aim: int) -> int:
        """Return the best value found for a region; certainly the best of its family when above ``aim``."""
        key = (region, count)
        best = self._low.get(key, self.look(region)[0])
        top = self.bound(region, count)
        if count == 1 or best >= top or top <= aim:
            return best
        if self.steps >= self.ceiling:
            self.complete = False
            return best
        self.steps += 1
        floor = max(best, aim)
        for shares in self._ways(region, count, floor):
            value = self._together(shares, floor)
            if value > best:
                best = value
                self._low[key], self._shares[key] = best, shares
                floor = max(best, aim)
                if best >= top:
                    break
        if self.complete:
            self._high[key] = min(top, floor)
        return best

    def _together(self, shares: _Shares, floor: int) -> int:
        """Return the parts' best values together, as soon as they cannot pass the floor with less care."""
        hopes = [self.bound(part, k) for part, k in shares]
        total = sum(hopes)
        for i, (part, k) in enumerate(shares):
            if total <= floor:
                return 0
            value = self.solve(part, k, floor - (total - hopes[i]))
            total += value - hopes[i]
        return total

    def _ways(self, region: Box, count: int, floor: int) -> Iterator[_Shares]:
        """Yield ways to share the cuttings among parts of a region, whose bounds pass the floor."""
        x0, y0, x1, y1 = region
        found: list[tuple[int, _Shares]] = []
        for axis, (low, high) in ((0, (x0, x1)), (1, (y0, y1))):
            at = self._places(axis, low, high)
            if not len(at):
                continue
            a, b, c, d = (np.full(len(at), v, dtype=np.int64) for v in region)
            one, other = ((a, b, at, d), (at, b, c, d)) if axis == 0 else ((a, b, c, at), (a, at, c, d))
            first, _, first_all = self._measure(*one)
            last, _, last_all = self._measure(*other)
            for k in range(1, count):
                hope = np.minimum(k * first, first_all) + np.minimum((count - k) * last, last_all)
                for n in np.flatnonzero((hope > floor) & (first > 0) & (last > 0)).tolist():
                    v = int(at[n])
                    parts = (
                        ((x0, y0, v, y1), (v, y0, x1, y1))
                        if axis == 0
                        else ((x0, y0, x1, v), (x0, v, x1, y1))
                    )
                    found.append((int(hope[n]), ((parts[0], k), (parts[1], count - k))))
        found.sort(key=lambda f: (-f[0], f[1]))
        yield from (shares for _, shares in found)
        if count >= 4:
            yield from self._wheels(region, count, floor)

    def _places(self, axis: int, low: int, high: int) -> NDArray[np.int64]:
        """Return where lines across an axis may lie inside an interval."""
        lines = self.ys if axis else self.xs
        own = lines[(lines > low) & (lines < high)]
        away = np.concatenate([[low, high], own])
        steps = np.array([s for least in self.leasts[axis] for s in (least, -least)], dtype=np.int64)
        for _ in range(self.reach):
            away = np.unique(np.concatenate([away, (away[:, None] + steps).ravel()]))
        least = self.leasts[axis][0]
        return away[(away >= low + least) & (away <= high - least)]

    def _wheels(self, region: Box, count: int, floor: int) -> Iterator[_Shares]:
        """Yield pinwheels: four arms with a cutting or more each, round a middle."""
        x0, y0, x1, y1 = region
        across, along = (self._places(axis, region[axis], region[axis + 2]).tolist() for axis in (0, 1))
        if len(across) * len(along) > _LINES:  # many more lines for next to nothing
            across = [v for v in across if v in self.xs]
            along = [v for v in along if v in self.ys]
        shares = [s for s in product(range(1, count - 2), repeat=4) if sum(s) <= count]
        for (v1, v2), (h1, h2) in product(combinations(across, 2), combinations(along, 2)):
            middle = (v1, h1, v2, h2)
            for arms in (
                ((x0, y0, v2, h1), (v2, y0, x1, h2), (v1, h2, x1, y1), (x0, h1, v1, y1)),
                ((x0, h2, v2, y1), (v2, h1, x1, y1), (v1, y0, x1, h1), (x0, y0, v1, h2)),
            ):
                if not all(self.look(arm)[0] for arm in arms):
                    continue
                for some in shares:
                    parts = tuple(zip((*arms, middle), (*some, count - sum(some)), strict=True))
                    parts = parts if parts[4][1] else parts[:4]
                    if sum(self.bound(part, k) for part, k in parts) > floor:
                        yield parts

    def boxes(self, region: Box, count: int) -> list[Box]:
        """Return the cuttings behind a region's best value."""
        shares = self._shares.get((region, count))
        if shares is not None:
            return [box for part, k in shares for box in self.boxes(part, k)]
        box = self.look(region)[1]
        return [box] if box else []


def _lengths(lines: NDArray[np.int64], low: _Lines, high: _Lines) -> NDArray[np.int64]:
    """Return for many intervals the length of each cell between lines that lies inside."""
    a = np.maximum(lines[:-1], low[:, None])
    b = np.minimum(lines[1:], high[:, None])
    out: NDArray[np.int64] = np.maximum(b - a, 0)
    return out
