"""Which pieces make a blank for a part: chains of members from the lowest to the topmost."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice, permutations

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
from nestyield.glueup.serve import Fit, Server
from nestyield.glueup.turned import turnings
from nestyield.model import Part, Piece, Settings
from nestyield.placement.candidates import ways

#: In three pieces the seams are wanted this far beside the pockets on the centre line, millimetres.
BESIDE_POCKETS_MM = 5.0


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

    def chains(self, most: int, tries: int) -> Iterator[Chain]:
        """Give for sets of rows the chain with the best placed seams.

        Pairs come first, cheapest first, then larger sets as long as they are cheaper than the cheapest found
        so far.

        Parameters
        ----------
        most : int
            Most members, at least 2.
        tries : int
            Most sets of each size that pass the bounds and are looked at closely.
        """
        fields = [Field(self, lying) for lying in lyings(self.part, self.settings)]
        cheapest = float("inf")
        for size in range(2, most + 1):
            for value, rows in islice(self._sets(size, fields[0], cheapest), tries):
                for field in fields:
                    best = min(field.of_rows(rows), key=lambda c: c.off_um, default=None)
                    if best is not None:
                        cheapest = min(cheapest, value)
                        yield best
                        break

    def _sets(self, size: int, field: Field, below: float) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Give sets of rows that may be glued together and are wide enough, by rising value.

        The bound: members hold disjoint bands, so their widths less the joints add up to at least what the
        blank must hold across the grain; and a member is no wider than the piece.
        """
        bottom, top = field.lying.span_um
        need = top - bottom + 2 * field.lying.jointing_um * (size - 1)
        width = [field.widest(row) for row in range(len(self.pieces))]
        copies = [row for row, p in enumerate(self.pieces) for _ in range(min(p.count, size))]
        found = {
            rows
            for rows in combinations(copies, size)
            if sum(width[r] for r in rows) >= need and self._together(rows)
        }
        priced = sorted((round(sum(self.value[r] for r in rows), 6), rows) for rows in found)
        return ((value, rows) for value, rows in priced if value < below or size == 2)

    def _together(self, rows: tuple[int, ...]) -> bool:
        """Tell whether pieces may be glued to each other: one species, moisture within the setting."""
        pieces = [self.pieces[r] for r in rows]
        if len({p.species for p in pieces}) > 1:
            return False
        wet = [p.moisture_pct for p in pieces if p.moisture_pct is not None]
        return not wet or max(wet) - min(wet) <= self.rules.moisture_difference


class Field:
    """One way of lying and what every turned piece can serve for it.

    Parameters
    ----------
    search : Search
    lying : Lying
    """

    def __init__(self, search: Search, lying: Lying) -> None:
        self.search, self.lying = search, lying
        self.bars: tuple[Barred, ...] = barred(lying, search.rules)
        self._servers: dict[int, tuple[Server, ...]] = {}
        self._least = round(search.rules.least_width_mm * UM_PER_MM)

    def servers(self, row: int) -> tuple[Server, ...]:
        """Return a row's turnings, alike ones once."""
        if row not in self._servers:
            piece = self.search.pieces[row]
            found: dict[object, Server] = {}
            for t in turnings(piece, row, self.search.taper_deg):
                server = Server(self.lying, t, self.search.settings)
                found.setdefault(server.looks, server)
            self._servers[row] = tuple(found.values())
        return self._servers[row]

    def widest(self, row: int) -> int:
        """Return the most that a row's piece measures across the joint lines, micrometres."""
        return max(s.width_um for s in self.servers(row))

    def of_rows(self, rows: tuple[int, ...]) -> Iterator[Chain]:
        """Give chains of exactly these rows, in every order and turning that the bounds leave."""
        bottom, top = self.lying.span_um
        joints = 2 * self.lying.jointing_um * (len(rows) - 1)
        widths = sum(self.widest(row) for row in rows)
        if widths - joints < top - bottom:
            return
        for order in sorted(set(permutations(rows))):
            yield from self._grow(order, (), ())

    def _grow(
        self, order: tuple[int, ...], servers: tuple[Server, ...], seams: tuple[int, ...]
    ) -> Iterator[Chain]:
        """Lay the next member of an order on those that lie."""
        bottom, top = self.lying.span_um
        low = seams[-1] if seams else None
        place = len(servers)
        if place == len(order) - 1:
            for server in self.servers(order[place]):
                lowest = server.lowest()
                if lowest is not None and low is not None and lowest <= low:
                    yield from self._finished((*servers, server), seams)
            return
        wanted = self._wanted(len(order))[place]
        start = bottom if low is None else low
        rest = order[place + 1 :]
        reach = sum(self.widest(row) for row in rest)
        reach -= self.lying.jointing_um * (2 * len(rest) - 1)
        for server in self.servers(order[place]):
            if start + server.width_um + reach < top:
                continue
            high = server.highest(low)
            if high is None:
                continue
            free = free_intervals(
                max(start + self._least, top - reach), min(high, top - self._least * len(rest)), self.bars
            )
            if not free:
                continue
            near = nearest_free(wanted, free)
            for seam in dict.fromkeys((near, free[-1][1])):
                if seam is not None and server.fit(low, seam) is not None:
                    yield from self._grow(order, (*servers, server), (*seams, seam))

    def _finished(self, servers: tuple[Server, ...], seams: tuple[int, ...]) -> Iterator[Chain]:
        fits = []
        for server, low, high in zip(servers, (None, *seams), (*seams, None)):
            fit = server.fit(low, high)
            if fit is None:
                return
            fits.append(fit)
        wanted = self._wanted(len(servers))
        yield Chain(
            lying=self.lying,
            servers=servers,
            seams_um=seams,
            fits=tuple(fits),
            value=sum(self.search.value[s.turned.row] for s in servers),
            off_um=sum(abs(a - b) for a, b in zip(seams, wanted)),
        )

    def _wanted(self, members: int) -> tuple[int, ...]:
        """Return where the seams are wanted: on the centre line; around the pockets; else evenly."""
        bottom, top = self.lying.span_um
        if members == 2:
            centre = centre_y(self.lying)
            return ((bottom + top) // 2 if centre is None else centre,)
        if members == 3:
            span = middle_span(self.lying)
            if span is not None:
                beside = round(BESIDE_POCKETS_MM * UM_PER_MM)
                return (span[0] - beside, span[1] + beside)
        return tuple(bottom + (top - bottom) * k // members for k in range(1, members))
