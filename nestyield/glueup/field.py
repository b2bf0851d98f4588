"""How far each piece of the rack serves for a part that lies in one way."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import Lying
from nestyield.glueup.rules import Barred, SeamRules, barred, free_intervals
from nestyield.glueup.serve import Server
from nestyield.glueup.turned import turnings
from nestyield.model import Piece, Settings
from nestyield.wood.joints import acute_deg

#: An angle this much over a limit still keeps it, degrees.
_SAME_DEG = 1e-6


class Field:
    """One way of lying and what every row of the rack can serve for it.

    Parameters
    ----------
    lying : Lying
    pieces : sequence of Piece
    settings : Settings
    rules : SeamRules
    may_turn : callable, optional
        Tells for each turned piece whether it may be used.
    """

    def __init__(
        self,
        lying: Lying,
        pieces: Sequence[Piece],
        settings: Settings,
        rules: SeamRules,
        may_turn: Callable[[Server], bool] = lambda server: True,
    ) -> None:
        self.lying, self.pieces, self.settings, self.rules = lying, pieces, settings, rules
        self.bars: tuple[Barred, ...] = barred(lying, rules) if rules.keep else ()
        self.least_um = round(rules.least_width_mm * UM_PER_MM)
        self._may_turn = may_turn
        self._servers: dict[int, tuple[Server, ...]] = {}
        self._serving: dict[tuple[int, int | None, int | None], Server | None] = {}
        part = lying.part
        drawn = part.grain_deg or 0.0
        self._grain = (180.0 - drawn if lying.mirrored else drawn) + lying.angle_deg

    def servers(self, row: int) -> tuple[Server, ...]:
        """Return a row's turnings whose grain suits the part, alike ones once."""
        if row not in self._servers:
            found: dict[object, Server] = {}
            for t in turnings(self.pieces[row], row, self.rules.taper_deg):
                if acute_deg(t.grain_deg, self._grain) > self.lying.part.grain_tolerance_deg + _SAME_DEG:
                    continue
                server = Server(self.lying, t, self.settings)
                if self._may_turn(server):
                    found.setdefault(server.looks, server)
            self._servers[row] = tuple(found.values())
        return self._servers[row]

    def widest(self, row: int) -> int:
        """Return the most that a row's piece measures across the joint lines, micrometres."""
        return max((s.width_um for s in self.servers(row)), default=0)

    def serving(self, row: int, low: int | None, high: int | None) -> Server | None:
        """Return the first turning of a row that holds the band between two seams, or None."""
        key = (row, low, high)
        if key not in self._serving:
            found = (s for s in self.servers(row) if s.fit(low, high) is not None)
            self._serving[key] = next(found, None)
        return self._serving[key]

    def highest(self, row: int, low: int | None = None) -> int | None:
        """Return the highest seam that a row serves from ``low``, any rule of seams aside."""
        best: int | None = None
        for server in self.servers(row):
            found = server.highest(low, best)
            if found is not None and (best is None or found > best):
                best = found
        return best

    def lowest(self, row: int) -> int | None:
        """Return the lowest seam that a row serves from above, any rule of seams aside."""
        best: int | None = None
        for server in self.servers(row):
            found = server.lowest(best)
            if found is not None and (best is None or found < best):
                best = found
        return best

    def free(self, low: int, high: int) -> list[tuple[int, int]]:
        """Return where in a closed interval a seam may run."""
        return free_intervals(low, high, self.bars)

    def ends(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Return for every row the highest seam from below, the lowest from above, and the width.

        Only seams that the rules leave free count; minus and plus infinity where there is none.
        """
        n = len(self.pieces)
        up, down = np.full(n, -np.inf), np.full(n, np.inf)
        width = np.array([self.widest(row) for row in range(n)], dtype=np.float64)
        bottom, top = self.lying.span_um
        first, last = bottom + self.least_um, top - self.least_um
        for row in range(n):
            high, low = self.highest(row), self.lowest(row)
            if high is not None and (free := self.free(first, min(high, last))):
                up[row] = free[-1][1]
            if low is not None and (free := self.free(max(low, first), last)):
                down[row] = free[0][0]
        return up, down, width
