"""Which pieces make a blank for a part: chains of members from the lowest to the topmost."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import Lying, lay
from nestyield.glueup.rules import (
    Barred,
    SeamRules,
    barred,
    centre_y,
    free_intervals,
    middle_span,
    nearest_free,
)
from nestyield.glueup.serve import RESOLUTION_UM, Fit, Server
from nestyield.glueup.turned import turnings
from nestyield.model import Part, Piece, Settings
from nestyield.placement.candidates import ways


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A glue-up: members from the lowest to the topmost, and the seams between them.

    Parameters
    ----------
    lying : Lying
    servers : tuple of Server
    seams_um : tuple of int
        One fewer than members, rising.
    fits : tuple of Fit
    value : float
        Of all pieces taken.
    broken : tuple of str
        Seam rules not met; empty for a chain that keeps them all.
    """

    lying: Lying
    servers: tuple[Server, ...]
    seams_um: tuple[int, ...]
    fits: tuple[Fit, ...]
    value: float
    off_centre_um: int


def lyings(part: Part, settings: Settings) -> list[Lying]:
    """Return the ways to lay a part in a blank to be glued that differ by more than turning the blank over.

    Pieces are turned freely, so front up and head first stand for all; mirrored parts are another case.
    """
    out = []
    for way in ways(part, 0.0):
        if way.front_up and way.middle_deg < 180.0:
            out += [lay(part, settings, angle, way.mirrored) for angle in way.angles(1)]
    return out


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
    rules : SeamRules
    taper_deg : float
    """

    def __init__(
        self,
        part: Part,
        pieces: Sequence[Piece],
        settings: Settings,
        value: Callable[[Piece], float],
        rules: SeamRules,
        taper_deg: float = 3.0,
    ) -> None:
        self.part, self.pieces, self.settings, self.rules = part, pieces, settings, rules
        self.taper_deg = taper_deg
        self.value = [value(p) for p in pieces]

    def chains(self, most: int) -> Iterator[Chain]:
        """Give chains of up to ``most`` members, for each set of rows the best, cheapest set first."""
        fields = [Field(self, lying) for lying in lyings(self.part, self.settings)]
        for _, rows in self._sets(most):
            best: Chain | None = None
            for field in fields:
                for chain in field.of_rows(rows):
                    if best is None or chain.off_centre_um < best.off_centre_um:
                        best = chain
                if best is not None:
                    break
            if best is not None:
                yield best

    def _sets(self, most: int) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give sets of rows by rising value, then fewer members, then row order."""
        copies = [row for row, p in enumerate(self.pieces) for _ in range(min(p.count, most))]
        streams = []
        for size in range(2, most + 1):
            sets = {tuple(sorted(c)) for c in combinations(copies, size)} if size == 2 else None
            if sets is not None:
                streams.append(sorted((sum(self.value[r] for r in s), s) for s in sets))
        yield from heapq.merge(*streams)


class Field:
    """One way of lying and what every turned piece can serve for it."""

    def __init__(self, search: Search, lying: Lying) -> None:
        self.search, self.lying = search, lying
        self.bars: tuple[Barred, ...] = barred(lying, search.rules)
        self.centre = centre_y(lying)
        self.middle = middle_span(lying)
        self._servers: dict[int, list[Server]] = {}
        self._ends: dict[tuple[int, int], tuple[int | None, int | None]] = {}

    def servers(self, row: int) -> list[Server]:
        """Return a row's turnings."""
        if row not in self._servers:
            piece = self.search.pieces[row]
            self._servers[row] = [
                Server(self.lying, t, self.search.settings)
                for t in turnings(piece, row, self.search.taper_deg)
            ]
        return self._servers[row]

    def ends(self, row: int, k: int) -> tuple[int | None, int | None]:
        """Return (highest seam from below, lowest seam from above) of a row's k-th turning."""
        if (row, k) not in self._ends:
            server = self.servers(row)[k]
            self._ends[row, k] = (server.highest(None), server.lowest())
        return self._ends[row, k]

    def of_rows(self, rows: tuple[int, ...]) -> Iterator[Chain]:
        """Give the chains of exactly these rows."""
        if len(rows) == 2:
            yield from self._pairs(rows[0], rows[1])

    def _pairs(self, one: int, other: int) -> Iterator[Chain]:
        least = round(self.search.rules.least_width_mm * UM_PER_MM)
        bottom, top = self.lying.span_um
        for a, b in {(one, other), (other, one)}:
            for i, lower in enumerate(self.servers(a)):
                high = self.ends(a, i)[0]
                if high is None:
                    continue
                for j, upper in enumerate(self.servers(b)):
                    low = self.ends(b, j)[1]
                    if low is None or low > high + RESOLUTION_UM:
                        continue
                    free = free_intervals(max(low, bottom + least), min(high, top - least), self.bars)
                    wanted = self.centre if self.centre is not None else (bottom + top) // 2
                    seam = nearest_free(wanted, free)
                    if seam is None:
                        continue
                    fits = (lower.fit(None, seam), upper.fit(seam, None))
                    if fits[0] is None or fits[1] is None:
                        continue
                    yield Chain(
                        lying=self.lying,
                        servers=(lower, upper),
                        seams_um=(seam,),
                        fits=(fits[0], fits[1]),
                        value=self.search.value[a] + self.search.value[b],
                        off_centre_um=abs(seam - wanted),
                    )
