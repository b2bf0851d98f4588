"""From an order of rows to a glue-up: where the seams run, and what of each piece is a member."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestyield.glueup.chains import MemberChain, Place
from nestyield.glueup.divide import DividedPart as Divided
from nestyield.glueup.divide import divide
from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.oracle import FeasibilityOracle, SeamFit
from nestyield.glueup.seams import Seams, around, optimize_seams
from nestyield.model import Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Places the members of a glue-up.

    Parameters
    ----------
    pieces : sequence of Piece
    value, count : array of shape (n,)
        Of one copy of each row; copies.
    kerf_um : int
        Least between two members of one copy.
    error_mm : float
        Chord error.
    """

    pieces: Sequence[Piece]
    value: NDArray[np.float64]
    count: NDArray[np.int64]
    kerf_um: int
    error_mm: float

    def chain(
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
                    divide(self.pieces[row], [wanted[n] for n in group], self.kerf_um, self.error_mm)
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
