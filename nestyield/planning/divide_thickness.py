"""How the thickness of a board may be divided into leaves.

Leaves, each as thick as some part asks for, lie one below the other as near as the saw allows, or begin or end
where a flaw ends. What is left between them is a leaf that goes back on the rack, or stays on a neighbor and is
planed off. Where no flaw ends within the board, order and place make no difference, and one way is tried.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from nestyield.model import Layer, MachineLimits, Piece, Settings
from nestyield.placement.stock import SAME_MM

#: Leaves of one board that are used at the most.
MOST_LEAVES = 6
#: Places of leaves that are looked at, and ways that are tried, for leaves of some thicknesses in some order.
MOST_PLACES, MOST_FOR_ORDER = 3000, 100
#: Ways that are tried in all.
MOST_DIVISIONS = 800

_Places = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Division:
    """Leaves of a board.

    Parameters
    ----------
    layers : tuple of Layer
        From the top face down; together with what the cuts take they are all of the thickness.
    rests : tuple of int
        Which of them are not used.
    """

    layers: tuple[Layer, ...]
    rests: tuple[int, ...]


def gap_mm(limits: MachineLimits) -> float:
    """Return what a resaw cut takes between two leaves: the blade and the planing of both faces."""
    return limits.resaw_kerf_mm + 2.0 * limits.resaw_planing_mm


def divisions(piece: Piece, most: Mapping[float, int], settings: Settings) -> Iterator[Division]:
    """Give ways to divide the thickness of a piece, those of fewer leaves first; none is given twice.

    Parameters
    ----------
    piece : Piece
    most : mapping of float to int
        How thick leaves may be wanted, and how many of each at the most.
    settings : Settings
    """
    stack = _Stack(piece, tuple(sorted(most)), settings)
    seen: dict[Division, None] = {}
    for n in range(1, MOST_LEAVES + 1):
        for leaves in itertools.product(stack.thick, repeat=n):
            if any(leaves.count(t) > limit for t, limit in most.items()):
                continue
            ways = (d for places in stack.places(leaves) for d in stack.filled(places))
            for division in itertools.islice(ways, MOST_FOR_ORDER):
                if division not in seen and len(seen) < MOST_DIVISIONS:
                    seen[division] = None
                    yield division


class _Stack:
    """Leaves stacked in one board."""

    def __init__(self, piece: Piece, thick: tuple[float, ...], settings: Settings) -> None:
        self.whole, self.thick = piece.thickness_mm, thick
        self.gap, self.least = gap_mm(settings.machines), settings.machines.resaw_thinnest_mm
        spans = [d.span_mm(self.whole) for d in piece.defects]
        spans = [s for s in spans if s != (0.0, self.whole)]
        self.ordered = bool(spans)
        off = settings.planing_mm  # that deep a flaw is planed off in any case
        apart = self.gap + self.least  # the thinnest leaf that goes back on the rack, and its cut
        tops = {b - k for _, b in spans for k in (0.0, off)} | {apart}
        ends = {a + k for a, _ in spans for k in (0.0, off)} | {self.whole, self.whole - apart}
        self.tops = self._chained({t for t in tops if 0.0 < t < self.whole}, 0.0)
        self.ends = self._chained({e for e in ends if 0.0 < e <= self.whole}, thick[0])

    def _chained(self, places: set[float], least: float) -> set[float]:
        """Return places, and where leaves above would have to begin or end for a leaf to lie there."""
        found, fresh = set(places), set(places)
        while fresh:
            above = {round(e - t - self.gap, 6) for e in fresh for t in self.thick}
            fresh = {e for e in above if e >= least - SAME_MM and e > 0.0} - found
            found |= fresh
        return found

    def places(self, leaves: Sequence[float]) -> Iterator[_Places]:
        """Give from where to where leaves of some thicknesses may lie, in this order from the top face down.

        Those with the fewest gaps come first.
        """
        if self.ordered or list(leaves) == sorted(leaves):
            some = itertools.islice(self._below(leaves, 0.0), MOST_PLACES)
            yield from sorted(some, key=lambda places: sum(wide > SAME_MM for wide in self._spare(places)))

    def _spare(self, places: _Places) -> list[float]:
        """Return what is left above each leaf and below the last, beside what the cuts take."""
        ends = [-self.gap, *(bottom for _, bottom in places)]
        tops = [*(top for top, _ in places), self.whole + self.gap]
        return [top - end - self.gap for end, top in zip(ends, tops, strict=True)]

    def _below(self, leaves: Sequence[float], at: float) -> Iterator[_Places]:
        if not leaves:
            yield ()
            return
        first, *more = leaves
        room = self.whole - sum(more) - self.gap * len(more)
        tops = [at]
        if self.ordered:
            tops += sorted({t for t in (*self.tops, *(e - first for e in self.ends)) if t > at + SAME_MM})
        for top in tops:
            if top + first <= room + SAME_MM:
                for rest in self._below(more, top + first + self.gap):
                    yield ((top, top + first), *rest)

    def filled(self, places: _Places) -> Iterator[Division]:
        """Give the ways to part what lies between leaves: on its own, or with the leaf above or below it."""
        ways: list[list[str]] = []
        for k, wide in enumerate(self._spare(places)):
            options = []
            if wide <= SAME_MM:
                options.append("none")
            else:
                if wide - self.gap >= self.least - SAME_MM:
                    options.append("apart")
                options += ["up"] if k > 0 else []
                options += ["down"] if k < len(places) and (self.ordered or k == 0) else []
            ways.append(options)
        for way in itertools.product(*ways):
            division = self._divided(places, way)
            if len(division.layers) > 1:
                yield division

    def _divided(self, places: _Places, way: Sequence[str]) -> Division:
        layers: list[Layer] = []
        rests: list[int] = []
        for k, what in enumerate(way):
            top = places[k][0] if k < len(places) else self.whole + self.gap
            end = places[k - 1][1] if k > 0 else -self.gap
            if what == "apart":
                rests.append(len(layers))
                layers.append(_layer(end + self.gap, top - self.gap))
            if k < len(places):
                low = end + self.gap if what == "down" else top
                high = places[k][1]
                if way[k + 1] == "up":
                    high = (places[k + 1][0] if k + 1 < len(places) else self.whole + self.gap) - self.gap
                layers.append(_layer(low, high))
        if layers[-1].bottom_mm > self.whole - SAME_MM:
            layers[-1] = _layer(layers[-1].top_mm, self.whole)
        return Division(layers=tuple(layers), rests=tuple(rests))


def _layer(top_mm: float, bottom_mm: float) -> Layer:
    return Layer(top_mm=round(max(0.0, top_mm), 6), bottom_mm=round(bottom_mm, 6))
