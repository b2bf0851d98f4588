"""Which pieces make a blank for a part: chains of members from the lowest to the topmost.

What decides whether pieces can be glued up:

- members are independent once the seams are fixed, and each serves the better the less it must hold;
- so a lowest piece is as good as the highest seam that it serves, a topmost piece as the lowest, and
  a pair works exactly when the first is not below the second;
- pieces between two others must hold at least the band from the highest seam of the lowest piece to the
  lowest seam of the topmost; one piece between them works exactly when it holds that band.

Bounds that screen: a member is no wider than its piece, and a piece between two seams gives up the jointing
allowance twice. None discards a chain that would work.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from nestyield.glueup.band import Lying, lay
from nestyield.glueup.field import Field
from nestyield.glueup.rules import SeamRules
from nestyield.glueup.seams import settle
from nestyield.glueup.serve import Fit, Server
from nestyield.model import Part, Piece, Settings
from nestyield.placement.candidates import ways

#: Largest glue-up that is searched.
MOST_MEMBERS = 4


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
    off_um : int
        How far the seams lie from where they are wanted, together.
    """

    lying: Lying
    servers: tuple[Server, ...]
    seams_um: tuple[int, ...]
    fits: tuple[Fit, ...]
    value: float
    off_um: int


def lyings(part: Part, settings: Settings) -> list[Lying]:
    """Return the ways to lay a part in a blank to be glued that differ by more than turning the blank over.

    Pieces are turned freely, so front up and head first stand for all; mirrored parts are another case.
    """
    out = []
    for way in ways(part, 0.0):
        if way.front_up and way.middle_deg < 180.0:
            out += [lay(part, settings, angle, way.mirrored) for angle in way.angles(1)]
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
    rules : SeamRules
    """

    def __init__(
        self,
        part: Part,
        pieces: Sequence[Piece],
        settings: Settings,
        value: Callable[[Piece], float],
        rules: SeamRules,
    ) -> None:
        self.part, self.pieces, self.settings, self.rules = part, pieces, settings, rules
        self.value = np.array([value(p) for p in pieces], dtype=np.float64)
        self.alike = self._alike()

    def _alike(self) -> NDArray[np.bool_]:
        """Tell which two rows may be glued to each other: one species, moisture within the setting."""
        n = len(self.pieces)
        kinds = {name: k for k, name in enumerate(sorted({p.species for p in self.pieces}))}
        kind = np.array([kinds[p.species] for p in self.pieces])
        wet = np.array([np.nan if p.moisture_pct is None else p.moisture_pct for p in self.pieces])
        apart = np.nan_to_num(np.abs(wet[:, None] - wet[None, :]), nan=0.0)
        ok = (kind[:, None] == kind[None, :]) & (apart <= self.rules.moisture_difference + 1e-9)
        for row in range(n):
            ok[row, row] = self.pieces[row].count > 1
        return np.asarray(ok, dtype=np.bool_)

    def chains(self, most: int, wanted: int, tries: int) -> list[Chain]:
        """Return glue-ups, those of least value first, then those with better placed seams.

        Every pair is looked at. Larger sets are looked at by rising value, and only those that are cheaper
        than the cheapest glue-up found with fewer pieces.

        Parameters
        ----------
        most : int
            Most members, at least 2.
        wanted : int
            How many sets of rows of each size to return at most.
        tries : int
            Most orders of each larger size that pass the bounds and are looked at closely.
        """
        found: list[Chain] = []
        for lying in lyings(self.part, self.settings):
            field = Field(lying, self.pieces, self.settings, self.rules)
            found = self._in_field(field, most, wanted, tries)
            if found:
                break
        found.sort(key=lambda c: (round(c.value, 6), len(c.servers), c.off_um, self._rows(c)))
        return found

    @staticmethod
    def _rows(chain: Chain) -> tuple[int, ...]:
        return tuple(s.turned.row for s in chain.servers)

    def _in_field(self, field: Field, most: int, wanted: int, tries: int) -> list[Chain]:
        ends = field.ends()
        found: list[Chain] = []
        for size in range(2, min(most, MOST_MEMBERS) + 1):
            cheapest = min((c.value for c in found), default=float("inf"))
            seen: dict[tuple[int, ...], Chain] = {}
            last = float("inf")
            for n, (value, rows) in enumerate(self._orders(field, ends, size, cheapest)):
                if value > last + 1e-9 or (size > 2 and n >= tries):
                    break
                chain = self._chain(field, rows, value)
                if chain is None:
                    continue
                key = tuple(sorted(rows))
                if key not in seen or chain.off_um < seen[key].off_um:
                    seen[key] = chain
                if len(seen) >= wanted:
                    last = value  # still look at all of the same value
            found += seen.values()
        return found

    def _orders(
        self,
        field: Field,
        ends: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
        size: int,
        below: float,
    ) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give orders of rows that the bounds leave, by rising value."""
        up, down, width = ends
        gap = np.where(self.alike, down[None, :] - up[:, None], np.inf)  # lowest row, topmost row
        pair = self.value[:, None] + self.value[None, :]
        if size == 2:
            a, z = np.nonzero((gap <= 0) & (pair < below))
            yield from sorted((float(v), (int(i), int(k))) for v, i, k in zip(pair[a, z], a, z))
            return
        joints = 2 * field.lying.jointing_um
        give = width - joints
        n = len(self.pieces)
        between: list[tuple[tuple[int, ...], float, float]] = []
        if size == 3:
            between = [((b,), float(give[b]), float(self.value[b])) for b in range(n) if give[b] > 0]
        else:
            between = [
                ((b, c), float(give[b] + give[c]), float(self.value[b] + self.value[c]))
                for b in range(n)
                for c in range(b, n)
                if self.alike[b, c] and min(give[b], give[c]) > 0
            ]
        a, z = np.nonzero(np.isfinite(gap) & (pair < below))
        order = np.argsort(pair[a, z], kind="stable")
        ends_of = [(float(pair[i, k]), float(gap[i, k]), int(i), int(k)) for i, k in zip(a[order], z[order])]
        between.sort(key=lambda item: (item[2], item[0]))
        yield from self._by_value(ends_of, between, below)

    def _by_value(
        self,
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
            if give < gap or not self._may((first, *rows, last)):
                continue
            for inner in sorted(set(permutations(rows))):
                yield value, (first, *inner, last)

    def _may(self, rows: tuple[int, ...]) -> bool:
        if any(rows.count(r) > self.pieces[r].count for r in rows):
            return False
        return all(self.alike[r, s] for k, r in enumerate(rows) for s in rows[k + 1 :])

    def _chain(self, field: Field, rows: tuple[int, ...], value: float) -> Chain | None:
        """Return the chain of an order with its seams as near as may be to where they are wanted."""
        seams = settle(field, rows)
        if seams is None:
            return None
        servers, fits = [], []
        for row, low, high in zip(rows, (None, *seams.at_um), (*seams.at_um, None)):
            server = field.serving(row, low, high)
            fit = None if server is None else server.fit(low, high)
            if server is None or fit is None:
                return None
            servers.append(server)
            fits.append(fit)
        return Chain(
            lying=field.lying,
            servers=tuple(servers),
            seams_um=seams.at_um,
            fits=tuple(fits),
            value=value,
            off_um=seams.off_um,
        )
