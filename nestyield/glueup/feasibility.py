"""How far each piece of the rack serves for a part that lies in one way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import OrientedPart
from nestyield.glueup.brackets import Brackets
from nestyield.glueup.oracle import FeasibilityOracle
from nestyield.glueup.rules import (
    ForbiddenInterval,
    forbidden_intervals,
    free_intervals,
    violation_um,
)
from nestyield.glueup.turned_wood import Woods
from nestyield.model import GlueUpRules, Piece, Settings
from nestyield.model.facts import NearOutline
from nestyield.placement.constraint import Constraint
from nestyield.wood.joints import acute_deg

#: An angle this much over a limit still keeps it, degrees.
_SAME_DEG = 1e-6


class SeamFeasibility:
    """One way of lying and what every row of the rack can serve for it.

    Parameters
    ----------
    lying : OrientedPart
    pieces : sequence of Piece
    settings : Settings
    rules : GlueUpRules
    strict : bool, optional
        Whether the rules about where seams run are kept; as the rules say when left out.
    filling : bool
        Whether defects may lie where the part lets them be filled.
    constraints : sequence of Constraint
    woods : Woods, optional
        The turned pieces, where they are known.
    """

    def __init__(
        self,
        lying: OrientedPart,
        pieces: Sequence[Piece],
        settings: Settings,
        rules: GlueUpRules,
        strict: bool | None = None,
        filling: bool = True,
        constraints: Sequence[Constraint] = (),
        woods: Woods | None = None,
    ) -> None:
        self.constraints = constraints
        self.woods = woods or Woods(pieces, rules, settings.chord_error_mm)
        self.lying, self.pieces, self.settings, self.rules = lying, pieces, settings, rules
        self.strict = rules.strict if strict is None else strict
        self.filling = filling
        bars = forbidden_intervals(lying, rules) if len(lying.outline) else ()
        self.bars: tuple[ForbiddenInterval, ...] = _at_every_angle(bars, lying) if lying.half_deg else bars
        self.least_um = round(rules.least_piece_width_mm * UM_PER_MM)
        self._servers: dict[int, tuple[FeasibilityOracle, ...]] = {}
        self._serving: dict[tuple[int, int | None, int | None, float | None], FeasibilityOracle | None] = {}
        self._ends: dict[tuple[int, bool, float | None], int | None] = {}
        self._reach: dict[tuple[int, int, bool], int | None] = {}
        self._bounds: dict[int, tuple[float, float, int]] = {}
        #: What ``seams.optimize_seams`` found for orders of rows.
        self.settled: dict[object, Any] = {}
        self.brackets = Brackets(self)
        part = lying.part
        drawn = part.grain_deg or 0.0
        self._grain = (180.0 - drawn if lying.mirrored else drawn) + lying.angle_deg

    def servers(self, row: int, grain: float | None = None) -> tuple[FeasibilityOracle, ...]:
        """Return a row's turnings whose grain suits the part, alike ones once.

        Parameters
        ----------
        row : int
        grain : float, optional
            Only turnings with this grain, degrees from the joint line.
        """
        if row not in self._servers:
            found: dict[object, FeasibilityOracle] = {}
            most = self.lying.part.grain_tolerance_deg + self.lying.half_deg + _SAME_DEG
            for k, t in enumerate(self.woods.turnings(row)):
                if acute_deg(t.grain_deg, self._grain) > most and not self.rules.crossing_allowed:
                    continue
                if t.mirrored and self.lying.part.show_face == "top":
                    continue
                wood = self.woods.wood(row, k)
                server = FeasibilityOracle(self.lying, wood, self.settings, self.filling, self.constraints)
                found.setdefault((server.looks, round(t.grain_deg, 3)), server)
            self._servers[row] = tuple(found.values())
        if grain is None:
            return self._servers[row]
        return tuple(s for s in self._servers[row] if s.turned.grain_deg == grain)

    def shrinks(self, row: int) -> bool:
        """Tell whether what a row serves it serves with a narrower band as well, however its piece is turned."""
        return all(s.shrinks for s in self.servers(row))

    @property
    def openings(self) -> bool:
        """Whether the part has openings in which a hole of a piece may lie."""
        return bool(self.lying.openings)

    def grains(self, row: int) -> tuple[float, ...]:
        """Return the directions that a row's grain may have, degrees from the joint line, rising."""
        return tuple(sorted({s.turned.grain_deg for s in self.servers(row)}))

    def widest(self, row: int) -> int:
        """Return the most that a row's piece measures across the joint lines, micrometers."""
        return max((s.width_um for s in self.servers(row)), default=0)

    def serving(
        self, row: int, low: int | None, high: int | None, grain: float | None = None
    ) -> FeasibilityOracle | None:
        """Return the first turning of a row that holds the band between two seams, or None."""
        key = (row, low, high, grain)
        if key not in self._serving:
            found = (s for s in self.servers(row, grain) if s.holds(low, high))
            self._serving[key] = next(found, None)
        return self._serving[key]

    def highest(self, row: int, grain: float | None = None) -> int | None:
        """Return the highest seam that a row serves from below the part, any rule of seams aside."""
        key = (row, True, grain)
        if key not in self._ends:
            best: int | None = None
            for server in self.servers(row, grain):
                found = server.highest(best)
                if found is not None and (best is None or found > best):
                    best = found
            self._ends[key] = best
        return self._ends[key]

    def lowest(self, row: int, grain: float | None = None) -> int | None:
        """Return the lowest seam that a row serves from above the part, any rule of seams aside."""
        key = (row, False, grain)
        if key not in self._ends:
            best: int | None = None
            for server in self.servers(row, grain):
                found = server.lowest(best)
                if found is not None and (best is None or found < best):
                    best = found
            self._ends[key] = best
        return self._ends[key]

    def reach(self, row: int, seam: int, up: bool) -> int | None:
        """Return the farthest free seam that a row may reach from another; never too near, None for none."""
        key = (row, seam, up)
        if key not in self._reach:
            self._reach[key] = self._reached(row, seam, up)
        return self._reach[key]

    def _reached(self, row: int, seam: int, up: bool) -> int | None:
        found = [r for s in self.servers(row) if (r := s.reach(seam, up, self.least_um)) is not None]
        if not found:
            return None
        bottom, top = self.lying.span_um
        if up:
            free = self.free(seam, min(max(found), top - self.least_um))
            return free[-1][1] if free else None
        free = self.free(max(min(found), bottom + self.least_um), seam)
        return free[0][0] if free else None

    def violation_um(self, at: int) -> int:
        """Return how far a seam lies inside intervals where none may run, micrometers."""
        return violation_um(at, self.bars)

    def free(self, low: int, high: int) -> list[tuple[int, int]]:
        """Return where in a closed interval a seam may run: all of it when the rules are not kept."""
        return free_intervals(low, high, self.bars if self.strict else ())

    def ends(self, asked: NDArray[np.bool_] | None = None) -> Ends:
        """Return how far every row serves: bounds at once, and what is exact when it is asked for.

        Parameters
        ----------
        asked : array of bool, optional
            Rows to look at; others serve nowhere and are of no width.
        """
        n = len(self.pieces)
        up, down, width = np.full(n, -np.inf), np.full(n, np.inf), np.zeros(n)
        for row in range(n) if asked is None else np.nonzero(asked)[0].tolist():
            up[row], down[row], width[row] = self._bound(row)
        return Ends(self, up, down, width)

    def _bound(self, row: int) -> tuple[float, float, int]:
        """Return how high and how low a row serves at the most, and its width."""
        if row not in self._bounds:
            servers = self.servers(row)
            high = max((b for s in servers if (b := s.bound(True)) is not None), default=None)
            low = min((b for s in servers if (b := s.bound(False)) is not None), default=None)
            self._bounds[row] = (self.free_up(high), self.free_down(low), self.widest(row))
        return self._bounds[row]

    def free_up(self, high: float | None) -> float:
        """Return the highest free seam up to a height; minus infinity for none."""
        bottom, top = self.lying.span_um
        if high is None or high < bottom:
            return -np.inf
        free = self.free(bottom + self.least_um, int(min(high, top - self.least_um)))
        if not free:
            return -np.inf
        return float(free[-1][1])

    def free_down(self, low: float | None) -> float:
        """Return the lowest free seam down to a height; infinity for none."""
        bottom, top = self.lying.span_um
        if low is None or low > top:
            return np.inf
        free = self.free(int(max(low, bottom + self.least_um)), top - self.least_um)
        if not free:
            return np.inf
        return float(free[0][0])

    def up(self, row: int) -> float:
        """Return the highest free seam that a row serves from below the part; minus infinity for none."""
        return self.free_up(self.highest(row))

    def down(self, row: int) -> float:
        """Return the lowest free seam that a row serves from above the part; infinity for none."""
        return self.free_down(self.lowest(row))


class Ends:
    """How far rows serve, of seams that the rules leave free: bounds of all of them, exact figures of those asked for.

    A row that not even its bound lets serve is never looked at closely.

    Parameters
    ----------
    field : SeamFeasibility
    most_up, least_down : array of float
        By row: no row serves higher from below, or lower from above; infinite where it does not serve.
    width : array of float
        Of each row's piece across the joint lines, micrometers.
    """

    def __init__(
        self,
        field: SeamFeasibility,
        most_up: NDArray[np.float64],
        least_down: NDArray[np.float64],
        width: NDArray[np.float64],
    ) -> None:
        self._field = field
        self.most_up, self.least_down, self.width = most_up, least_down, width

    def up(self, row: int) -> float:
        """Return the highest seam that a row serves from below the part; minus infinity for none."""
        return self._field.up(row) if np.isfinite(self.most_up[row]) else -np.inf

    def down(self, row: int) -> float:
        """Return the lowest seam that a row serves from above the part; infinity for none."""
        return self._field.down(row) if np.isfinite(self.least_down[row]) else np.inf

    def meet(self, first: int, last: int, most: float) -> bool:
        """Tell whether the lowest and the topmost row are no farther apart than ``most``, micrometers."""
        if not self.least_down[last] - self.most_up[first] <= most:
            return False
        told = self._field.brackets.meet(first, last, most)
        return self.down(last) - self.up(first) <= most if told is None else told


def _at_every_angle(bars: Sequence[ForbiddenInterval], lying: OrientedPart) -> tuple[ForbiddenInterval, ...]:
    """Return what is barred at every angle that a part stands for; slivers come and go with the angle."""
    shrunk = (
        replace(bar, low=bar.low + lying.reach_um, high=bar.high - lying.reach_um)
        for bar in bars
        if not isinstance(bar.rule, NearOutline)
    )
    return tuple(bar for bar in shrunk if bar.low < bar.high)
