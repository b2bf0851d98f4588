"""The place of a part by what a caller makes of it, among all places with grain along grain."""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import pyclipper

from nestyield.geometry.boolean import SubgridPaths, components
from nestyield.geometry.grid import SUBGRID, bounds
from nestyield.model import Blank, Part, Placement, Settings
from nestyield.placement.problem import PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region
from nestyield.placement.single import SinglePart

Order = tuple[float, ...]
#: Orders a place that is of interest only below a bound; for one that is not, anything not below the bound will do.
Rank = Callable[[Placement, Order], Order]
ANY: Order = (math.inf,)

#: Most places looked at roughly in one region, and their distance as a share of its size.
LOOKED_AT = 600
LATTICE = 16
#: So many of them in each region, not too close to one another, are ranked.
RANKED = 6
#: The best of these are improved, by steps halved so often.
IMPROVED = 5
HALVINGS = 7
#: Steps go along and across and between.
WAYS = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1))
#: So many of the best are checked, and shown to the bed.
ASKED = 8


def best_by_rank(
    part: Part,
    blank: Blank,
    settings: Settings,
    rank: Rank,
    rough: Callable[[Placement], float],
    last: Rank,
    *,
    least: Callable[[Order], Order] = lambda ranked: (),
    taken: Sequence[TakenPart] = (),
    accept: Callable[[Placement], bool] | None = None,
    below: Order = ANY,
) -> Placement | None:
    """Find the place that a caller ranks lowest, as near the grain as there is a place.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    rank : callable
        Called with placements and a bound; steers the search.
    rough : callable
        Called with many placements; about what ``rank`` gives, fast. Infinite for a place of no interest.
    last : callable
        Called with the few that ``rank`` puts first, and ``below``; the lowest is taken.
    least : callable, optional
        From what ``rank`` gives a place, an order that ``last`` never falls below there: ``last`` is then only asked
        where it decides. Left out, it is asked of them all.
    taken : sequence of (Part, Placement)
        Parts that already lie in the blank.
    accept : callable, optional
        Called with placements in rising order of ``last``, a few of them; the first accepted is returned.
    below : tuple of float
        Places for which ``last`` gives no less are of no interest.

    Returns
    -------
    Placement or None
        None when no such place near the grain passes.
    """
    single = SinglePart(part, blank, settings, taken, "", 1, accept)
    for group in single.groups():
        spots: list[tuple[float, int, _Region, int, int]] = []
        for k, angle in group:
            branch = single.branches[k]
            problem = single.problem(branch.split)
            paths = feasible_region(problem, angle, branch.orientation.mirrored)
            if paths:
                field = _Region(single, k, angle, problem, paths)
                for x, y in field.spots():
                    spots.append((rough(field.at(x, y)), len(spots), field, x, y))
        if not spots:
            continue
        spots = sorted((s for s in spots if s[0] < math.inf), key=lambda r: r[:2])
        ranked = [
            (rank(field.at(x, y), ANY), n, field, x, y) for n, (_, _, field, x, y) in enumerate(_apart(spots))
        ]
        ranked.sort(key=lambda r: r[:2])
        improved = [(*_improved(r[2], rank, r[0], r[3], r[4]), r[2]) for r in ranked[:IMPROVED]]
        rest = [(value, x, y, field) for value, _, field, x, y in ranked]
        best = sorted([*improved, *rest], key=lambda r: r[:3])[:ASKED]
        heap: list[tuple[Order, int, int, int, bool]] = [
            (least(value), x, y, n, False) for n, (value, x, y, _) in enumerate(best)
        ]
        heapq.heapify(heap)
        while heap:
            order, x, y, n, known = heapq.heappop(heap)
            if not order < below:
                break
            field = best[n][3]
            if not known:
                heapq.heappush(heap, (last(field.at(x, y), below), x, y, n, True))
                continue
            answer = single.settled(field.at(x, y), field.problem, field.paths)
            if answer is not None:
                return answer.placement
        return None
    return None


def _apart(spots: list[tuple[float, int, _Region, int, int]]) -> list[tuple[float, int, _Region, int, int]]:
    """Return the first places of each angle, leaving out those close to one before."""
    chosen: dict[int, list[tuple[float, int, _Region, int, int]]] = {}
    for spot in spots:
        _, _, field, x, y = spot
        own = chosen.setdefault(id(field), [])
        near = max(field.size) / LATTICE
        if len(own) < RANKED and all(max(abs(a - x), abs(b - y)) >= near for *_, a, b in own):
            own.append(spot)
    return [spot for own in chosen.values() for spot in own]


class _Region:
    """All places of a part at one angle."""

    def __init__(
        self, single: SinglePart, k: int, angle: float, problem: PlacementProblem, paths: SubgridPaths
    ) -> None:
        self.single, self.k, self.angle, self.problem, self.paths = single, k, angle, problem, paths
        self.pieces = [(outer.tolist(), [h.tolist() for h in holes]) for outer, holes in components(paths)]
        x0, y0, x1, y1 = bounds(paths)
        self.low = (x0 / SUBGRID, y0 / SUBGRID)
        self.size = ((x1 - x0) / SUBGRID, (y1 - y0) / SUBGRID)

    def at(self, x: int, y: int) -> Placement:
        """Return the placement with this shift, micrometers."""
        return self.single.placement(self.k, self.angle, x, y)

    def holds(self, x: int, y: int) -> bool:
        """Tell whether a shift lies in the region or on its edge."""
        spot = (x * SUBGRID, y * SUBGRID)
        return any(
            pyclipper.PointInPolygon(spot, outer)
            and all(pyclipper.PointInPolygon(spot, h) != 1 for h in holes)
            for outer, holes in self.pieces
        )

    def spots(self) -> list[tuple[int, int]]:
        """Return places all over the region: its corners, places along its edges, a lattice inside."""
        step = max(*self.size, 1.0) / LATTICE
        out: dict[tuple[int, int], None] = {}
        for ring in self.paths:
            ends = np.roll(ring, -1, axis=0)
            for a, b in zip(ring / SUBGRID, ends / SUBGRID):
                count = max(1, math.ceil(float(np.abs(b - a).max()) / step))
                for k in range(count):
                    x, y = np.rint(a + (b - a) * (k / count)).astype(np.int64).tolist()
                    out[x, y] = None
        out.update(dict.fromkeys(spot for spot in self._lattice() if self.holds(*spot)))
        if len(out) <= LOOKED_AT:
            return list(out)
        every = list(out)
        return [every[i] for i in np.linspace(0, len(every) - 1, LOOKED_AT).astype(int).tolist()]

    def _lattice(self) -> Iterator[tuple[int, int]]:
        for k in range(LATTICE):
            for m in range(LATTICE):
                yield (
                    round(self.low[0] + self.size[0] * (k + 0.5) / LATTICE),
                    round(self.low[1] + self.size[1] * (m + 0.5) / LATTICE),
                )


def _improved(
    field: _Region, rank: Rank, value: tuple[float, ...], x: int, y: int
) -> tuple[tuple[float, ...], int, int]:
    """Shift a place inside its region while that ranks it lower."""
    step = max(field.size) / LATTICE / 2
    for _ in range(HALVINGS):
        for dx, dy in WAYS:
            to = (x + round(dx * step), y + round(dy * step))
            if to != (x, y) and field.holds(*to) and (there := rank(field.at(*to), value)) < value:
                value, (x, y) = there, to
        step /= 2
    return value, x, y
