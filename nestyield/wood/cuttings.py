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

#: x0, y0, x1, y1 in ticks.
Box = tuple[int, int, int, int]
#: Least (length, width) of a cutting in ticks; one pair is enough.
LeastSizes = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Single:
    box: Box


_Choice = _Single | tuple[Box, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cuttings:
    """The answer of a search.

    Parameters
    ----------
    boxes : tuple of (x0, y0, x1, y1)
        Disjoint, clear, ticks, sorted.
    value : int
        What was maximised: area in square ticks, or whole units.
    bound : int
        No set of so many cuttings has more. Equal to ``value``: certainly best.
    complete : bool
        Whether the search ran to its end; otherwise it stopped at its ceiling of steps.
    """

    boxes: tuple[Box, ...]
    value: int
    bound: int
    complete: bool


def clear_boxes(length: int, width: int, defects: Sequence[Box]) -> list[Box]:
    """Return every largest clear rectangle of a board: those that no other clear one contains.

    Parameters
    ----------
    length, width : int
        Of the board, ticks.
    defects : sequence of (x0, y0, x1, y1)
        May overlap one another and the board's edge.
    """
    inside = [
        (max(0, a), max(0, b), min(length, c), min(width, d))
        for a, b, c, d in defects
        if a < length and c > 0 and b < width and d > 0
    ]
    xs = sorted({0, length, *(x for a, _, c, _ in inside for x in (a, c))})
    found: list[Box] = []
    for x0, x1 in combinations(xs, 2):
        y = 0
        for b, d in [*sorted((b, d) for a, b, c, d in inside if a < x1 and c > x0), (width, width)]:
            if b > y:
                found.append((x0, y, x1, b))
            y = max(y, d)
    return sorted(box for box in found if not _grows(box, found))


def _grows(box: Box, others: list[Box]) -> bool:
    return any(o != box and _holds(o, box) for o in others)


def _holds(outer: Box, inner: Box) -> bool:
    return outer[0] <= inner[0] and outer[1] <= inner[1] and outer[2] >= inner[2] and outer[3] >= inner[3]


def best_cuttings(
    length: int,
    width: int,
    defects: Sequence[Box],
    least: LeastSizes,
    most: int,
    *,
    unit: int = 0,
    ceiling: int = 60_000,
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
        0 maximises the area; otherwise the sum over cuttings of whole units of so many square ticks.
    ceiling : int
        Most regions looked at.
    """
    if most < 1 or length <= 0 or width <= 0:
        return Cuttings(boxes=(), value=0, bound=0, complete=True)
    search = _Search(length, width, defects, least, most, unit, ceiling)
    whole = (0, 0, length, width)
    values = search.values(whole)
    bound = search.bounds(whole)[most]
    return Cuttings(
        boxes=tuple(sorted(search.boxes(whole, most))),
        value=values[most],
        bound=values[most] if search.exact and search.complete else bound,
        complete=search.complete,
    )


class _Search:
    """Values of regions by number of cuttings, found once each."""

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
        self.exact = most <= 3 and not unit
        self.complete = True
        self.steps = 0
        self.reach = most - 1 if most <= 3 else 1  # least sizes in a row between two lines
        clear = [b for b in clear_boxes(length, width, defects) if self._serves(b)]
        self.clear = np.array(clear, dtype=np.int64).reshape(-1, 4)
        self.lines = tuple(
            sorted(
                {0, size, *(int(v) for v in self.clear[:, axis]), *(int(v) for v in self.clear[:, axis + 2])}
            )
            for axis, size in ((0, length), (1, width))
        )
        xs, ys = (np.array(v, dtype=np.int64) for v in self.lines)
        self.xs, self.ys = xs, ys
        covered = np.zeros((len(xs) - 1, len(ys) - 1), dtype=np.int64)
        for x0, y0, x1, y1 in clear:
            covered[(xs[:-1] >= x0) & (xs[1:] <= x1)] |= (ys[:-1] >= y0) & (ys[1:] <= y1)
        self.covered = covered
        self.leasts = tuple(sorted({pair[axis] for pair in least}) for axis in (0, 1))
        self._bounds: dict[Box, list[int]] = {}
        self._singles: dict[Box, tuple[int, Box | None]] = {}
        self._values: dict[Box, list[int]] = {}
        self._choices: dict[Box, list[_Choice | None]] = {}

    def _serves(self, box: Box) -> bool:
        x, y = box[2] - box[0], box[3] - box[1]
        return any(x >= a and y >= b for a, b in self.least)

    def _worth(self, area: int) -> int:
        return area // self.unit if self.unit else area

    def single(self, region: Box) -> tuple[int, Box | None]:
        """Return the value and place of the best single cutting in a region."""
        if region not in self._singles:
            low = np.maximum(self.clear[:, :2], region[:2])
            high = np.minimum(self.clear[:, 2:], region[2:])
            size = high - low
            fits = np.zeros(len(size), dtype=bool)
            for a, b in self.least:
                fits |= (size[:, 0] >= a) & (size[:, 1] >= b)
            best: tuple[int, Box | None] = (0, None)
            if fits.any():
                area = np.where(fits, size[:, 0] * size[:, 1], 0)
                i = int(area.argmax())
                worth = self._worth(int(area[i]))
                if worth:
                    x0, y0, x1, y1 = (int(v) for v in (*low[i], *high[i]))
                    best = (worth, (x0, y0, x1, y1))
            self._singles[region] = best
        return self._singles[region]

    def bounds(self, region: Box) -> list[int]:
        """Return by number of cuttings what no set in the region can exceed."""
        if region not in self._bounds:
            across = np.clip(region[2] - self.xs[:-1], 0, np.diff(self.xs))
            across -= np.clip(region[0] - self.xs[:-1], 0, np.diff(self.xs))
            along = np.clip(region[3] - self.ys[:-1], 0, np.diff(self.ys))
            along -= np.clip(region[1] - self.ys[:-1], 0, np.diff(self.ys))
            area = self._worth(int(across @ self.covered @ along))
            one = self.single(region)[0]
            self._bounds[region] = [min(k * one, area) for k in range(self.most + 1)]
        return self._bounds[region]

    def values(self, region: Box) -> list[int]:
        """Return the best value found in a region by number of cuttings."""
        if region in self._values:
            return self._values[region]
        self.steps += 1
        one, box = self.single(region)
        values = [0] + [one] * self.most
        first: _Choice | None = _Single(box) if box else None
        choices: list[_Choice | None] = [None, *([first] * self.most)]
        self._values[region], self._choices[region] = values, choices
        bounds = self.bounds(region)
        if values == bounds:
            return values
        if self.steps > self.ceiling:
            self.complete = False
            return values
        for halves in self._splits(region):
            self._take(halves, values, choices)
            if values == bounds:
                return values
        if self.most >= 4:
            for parts in self._wheels(region, values):
                self._take(parts, values, choices)
        return values

    def _take(self, parts: tuple[Box, ...], values: list[int], choices: list[_Choice | None]) -> None:
        """Put the parts' best values together where that beats what is known."""
        hope = _combine([self.bounds(p) for p in parts])
        if all(h <= v for h, v in zip(hope, values, strict=True)):
            return
        got = [self.values(p) for p in parts]
        total = _combine(got)
        for k in range(self.most + 1):
            if total[k] > values[k]:
                values[k] = total[k]
                choices[k] = parts

    def _splits(self, region: Box) -> list[tuple[Box, Box]]:
        """Return the region cut in two, most promising first."""
        x0, y0, x1, y1 = region
        pairs: list[tuple[Box, Box]] = [((x0, y0, x, y1), (x, y0, x1, y1)) for x in self._places(0, x0, x1)]
        pairs += [((x0, y0, x1, y), (x0, y, x1, y1)) for y in self._places(1, y0, y1)]
        return sorted(pairs, key=lambda p: (-self.bounds(p[0])[-1] - self.bounds(p[1])[-1], p))

    def _places(self, axis: int, low: int, high: int) -> list[int]:
        """Return where lines across an axis may lie inside an interval."""
        own = [v for v in self.lines[axis] if low < v < high]
        away = {low, high, *own}
        for _ in range(self.reach):
            away |= {v + s for v in away for least in self.leasts[axis] for s in (least, -least)}
        least = self.leasts[axis][0]
        return sorted(v for v in {*own, *away} if low + least <= v <= high - least)

    def _wheels(self, region: Box, values: list[int]) -> Iterator[tuple[Box, ...]]:
        """Yield pinwheels of four arms and a middle, each arm with room for a cutting."""
        x0, y0, x1, y1 = region
        across, along = self._places(0, x0, x1), self._places(1, y0, y1)
        if self.most > 4:  # many more lines for next to nothing
            across = [v for v in across if v in self.lines[0]]
            along = [v for v in along if v in self.lines[1]]
        for (v1, v2), (h1, h2) in product(combinations(across, 2), combinations(along, 2)):
            wheel = (
                (x0, y0, v2, h1),
                (v2, y0, x1, h2),
                (v1, h2, x1, y1),
                (x0, h1, v1, y1),
                (v1, h1, v2, h2),
            )
            other = (
                (x0, h2, v2, y1),
                (v2, h1, x1, y1),
                (v1, y0, x1, h1),
                (x0, y0, v1, h2),
                (v1, h1, v2, h2),
            )
            for parts in (wheel, other):
                arms = [self.single(arm)[0] for arm in parts[:4]]
                if all(arms) and (self.most > 4 or sum(arms) > values[4]):
                    yield parts

    def boxes(self, region: Box, count: int) -> list[Box]:
        """Return the cuttings behind a value."""
        choice = self._choices[region][count]
        if choice is None:
            return []
        if isinstance(choice, _Single):
            return [choice.box]
        return [
            box
            for part, k in zip(choice, self._shares(choice, count), strict=True)
            for box in self.boxes(part, k)
        ]

    def _shares(self, parts: tuple[Box, ...], count: int) -> list[int]:
        """Return how many of the cuttings each part holds."""
        if len(parts) == 1:
            return [count]
        first = self.values(parts[0])
        rest = _combine([self.values(p) for p in parts[1:]])
        k = max(range(count + 1), key=lambda i: (first[i] + rest[count - i], -i))
        return [k, *self._shares(parts[1:], count - k)]


def _combine(parts: list[list[int]]) -> list[int]:
    """Return by number of cuttings the most that parts hold together."""
    total = parts[0]
    for part in parts[1:]:
        total = [max(total[i] + part[k - i] for i in range(k + 1)) for k in range(len(total))]
    return total
