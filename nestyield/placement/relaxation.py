"""How close was it: the least that would have to give for a part to fit.

Each relaxation is tried alone. A first amount is found by halving at a few of the allowed angles; then the search
for a place itself is asked, so that what is named does fit, and hardly less of it does not.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from nestyield.geometry.grid import UM_PER_MM
from nestyield.model import Blank, Part, Settings
from nestyield.model.facts import (
    BetterMeasured,
    DefectFilled,
    LongerPiece,
    NarrowerGap,
    NarrowerMargin,
    Relaxation,
    WiderGrainTolerance,
    WiderPiece,
)
from nestyield.model.micrometers import down_um, up_um
from nestyield.model.pose import Pose
from nestyield.placement.constraint import Constraint
from nestyield.placement.contact import contact_subgrid
from nestyield.placement.least import Probe, least_amount, least_turn
from nestyield.placement.problem import FlattenedInputs, PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region
from nestyield.placement.relaxed import relaxed
from nestyield.placement.single import branches, place_part

# Angles tried for each way and side of the tolerance, before the search over all angles.
_STEPS = 4
#: What is named is at most so much more than is needed: this share of it, or this much, mm or degrees.
CLOSE, CLOSE_MM = 0.004, 0.03
#: What is needed is often a whole number of the steps in which it is told, mm: those are tried at last.
TOLD_MM = (0.1, 25.4 / 64)
#: On a piece with slanting sides there must be so much play on all sides, mm: by contact alone a part finds its place or
#: not as corners are rounded.
PLAY_MM = 0.002
#: Extra grain tolerance is told in steps of this, degrees.
STEP_DEG = 0.1
#: A piece shorter or narrower than needed by more than this is not near, millimeters.
FARTHEST_MM = 400.0
#: Most extra grain tolerance considered, degrees.
MOST_EXTRA_DEG = 30.0

#: Makes a relaxation of an amount, mm or degrees.
Make = Callable[[float], Relaxation]


def relaxations(
    part: Part,
    blank: Blank,
    settings: Settings,
    taken: Sequence[TakenPart] = (),
    constraints: Sequence[Constraint] = (),
    closely: bool = True,
) -> tuple[Relaxation, ...]:
    """List what would make a part fit that has no place, each alone; empty when nothing tried does.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    taken : sequence of (Part, Placement)
    constraints : sequence of Constraint
    closely : bool
        Whether the search over all angles is asked; without it amounts may be larger than needed, and takes
        a fraction of the time.

    Returns
    -------
    tuple of Relaxation
        Measuring, margin, gap, grain tolerance, defects, then size.
    """
    asked = _Asked(part, blank, settings, taken, constraints, closely)
    if asked.roughly(no_play=True):
        return ()
    found = [
        asked.measured(),
        asked.margin(),
        asked.gap(),
        asked.tolerance(),
        *asked.defects(),
        *asked.size(),
    ]
    return tuple(f for f in found if f is not None)


@lru_cache(maxsize=32)
def _known(question: str) -> dict[object, Any]:
    """Return what was found of a question at a few angles: it is asked nearly first, then closely."""
    return {}


class _Asked:
    def __init__(
        self,
        part: Part,
        blank: Blank,
        settings: Settings,
        taken: Sequence[TakenPart] = (),
        constraints: Sequence[Constraint] = (),
        closely: bool = True,
    ) -> None:
        self.constraints, self.closely = constraints, closely
        self.known = _known(repr((part, blank, settings, tuple(taken), tuple(constraints))))
        self.part, self.blank, self.settings, self.taken = part, blank, settings, tuple(taken)

    def _changed(self, way: Relaxation | None) -> tuple[Part, Blank, Settings]:
        asked = self.part, self.blank, self.settings
        return asked if way is None else relaxed(asked, way)

    def fits(self, way: Relaxation | None = None) -> bool:
        """Tell whether the search finds a place, one constraint relaxed; not closely, whether a few angles have one."""
        if not self.closely:
            return self.roughly(way, no_play=True)
        return bool(self._once(("fits", way), lambda: self._placed(*self._changed(way))))

    def _placed(self, part: Part, blank: Blank, settings: Settings) -> bool:
        found = place_part(part, blank, settings, taken=self.taken, constraints=self.constraints)
        return found.placement is not None

    def with_play(self, way: Relaxation) -> bool:
        """Tell whether there is a place with some play where the blank has slanting sides; True where it has none."""
        if _is_square(self.blank):
            return True
        part, blank, settings = self._changed(way)
        wider = replace(settings, blank_margin_mm=settings.blank_margin_mm + PLAY_MM)
        return bool(self._once(("with play", way), lambda: self._placed(part, blank, wider)))

    def roughly(self, way: Relaxation | None = None, no_play: bool = False) -> bool:
        """Tell whether there is a place at one of a few angles, perhaps one with no play."""
        return bool(self._once(("roughly", way, no_play), lambda: self._roughly(way, no_play)))

    def _once(self, key: object, ask: Callable[[], Any]) -> Any:
        if key not in self.known:
            self.known[key] = ask()
        return self.known[key]

    def _roughly(self, way: Relaxation | None, no_play: bool) -> bool:
        part, blank, settings = self._changed(way)
        inputs = FlattenedInputs(part, blank, settings, self.taken, constraints=self.constraints)
        problems: dict[object, PlacementProblem] = {}
        for branch in branches(part, blank, settings, self.taken, inputs):
            if branch.split not in problems:
                problems[branch.split] = inputs.problem(branch.split)
            for angle in branch.orientation.angles(_STEPS):
                asked = (problems[branch.split], angle, branch.orientation.mirrored)
                if feasible_region(*asked) or (no_play and contact_subgrid(*asked)):
                    return True
        return False

    def _least(self, most: float, make: Make) -> Relaxation | None:
        """Return the relaxation of nearly the least amount up to ``most`` that fits; None when none does."""

        def close(amount: float) -> float:
            return max(CLOSE * amount, min(CLOSE_MM, most / 1000.0))

        kind = type(make(most)), most
        first = self._once(kind, lambda: least_amount(self._probe(most, make), most, close))
        return self._closer(first, most, make, close)

    def _closer(
        self, first: float | None, most: float, make: Make, close: Callable[[float], float]
    ) -> Relaxation | None:
        """Return a relaxation that the search confirms: of the first amount, which is mostly right, or a better one."""
        if not self.closely:
            return None if first is None else make(first)
        high, low = most, 0.0
        # a hair more, too: at the very least the search needs some play
        for amount in [] if first is None else [first, min(first + 2.0 * close(first), most)]:
            if self.fits(make(amount)):
                high = amount
                break
            low = amount
        else:
            if not self.fits(make(most)):
                return None
        step = close(high)
        # the first amount is mostly right to a hair or two: down from it in steps, of which the later double
        for n in itertools.count():
            if high - low <= step:
                break
            if not self.fits(make(high - step)):
                low = high - step
                break
            high -= step
            step = close(high) * 2.0**n
        while high - low > close(high) * (1.0 + 1e-9):
            middle = (low + high) / 2
            low, high = (low, middle) if self.fits(make(middle)) else (middle, high)
        for step in TOLD_MM:
            whole = math.floor(high / step + 1e-6) * step
            if low < whole < high and self.fits(make(whole)) and self.with_play(make(whole)):
                high = whole
        more = (high + k / 4 * close(high) for k in range(5))
        return make(next((amount for amount in more if self.with_play(make(amount))), high))

    def _probe(self, most: float, make: Make) -> Probe:
        return Probe(lambda v: self._changed(make(v)), most, self.taken, self.constraints)

    def measured(self) -> Relaxation | None:
        """A piece that is measured better, with a place for the part on it."""
        full = self.blank.measured_mm
        if full == 0:
            return None
        now = round(full * UM_PER_MM)
        way = self._least(full, lambda v: BetterMeasured(measured_um=now, needed_um=down_um(full - v)))
        if not isinstance(way, BetterMeasured):
            return None
        part, blank, settings = self._changed(way)
        at = place_part(part, blank, settings, taken=self.taken, constraints=self.constraints).placement
        if at is None:
            return None
        return replace(
            way,
            angle_deg=at.angle_deg,
            mirrored=at.mirrored,
            x_um=at.x_um,
            y_um=at.y_um,
            front_up=at.front_up,
            top_off_mm=at.top_off_mm,
        )

    def margin(self) -> Relaxation | None:
        """A thinner margin."""
        full = self.settings.blank_margin_mm
        if full == 0:
            return None
        required = round(full * UM_PER_MM)
        return self._least(
            full, lambda v: NarrowerMargin(required_um=required, reachable_um=down_um(full - v))
        )

    def gap(self) -> Relaxation | None:
        """A smaller gap between parts."""
        full = self.settings.gap_mm
        if not self.taken or full == 0:
            return None
        required = round(full * UM_PER_MM)
        return self._least(full, lambda v: NarrowerGap(required_um=required, reachable_um=down_um(full - v)))

    def tolerance(self) -> Relaxation | None:
        """More grain tolerance."""
        if self.part.grain_deg is None or self.blank.grain_deg is None:
            return None
        now = self.part.grain_tolerance_deg
        most = min(MOST_EXTRA_DEG, 90.0 - now)
        if most <= 0:
            return None

        def make(more: float) -> WiderGrainTolerance:
            steps = math.ceil((now + more) / STEP_DEG - 1e-6)
            return WiderGrainTolerance(allowed_deg=now, needed_deg=min(round(steps * STEP_DEG, 6), 90.0))

        first = self._once("turn", lambda: least_turn(self._probe(most, make), now, most, 0.5))
        return self._closer(first, most, make, lambda amount: STEP_DEG)

    def defects(self) -> list[Relaxation]:
        """Defects that, filled or cut out alone, let the part in."""
        ways = [DefectFilled(kind=d.kind, defect=d.name) for d in self.blank.defects if not d.traits.metal]
        return [way for way in ways if self.roughly(way, no_play=True) and self.fits(way)]

    def size(self) -> list[Relaxation]:
        """Millimeters that the bare piece is short along and across the grain, defects and holes aside."""
        bare = replace(self.blank, defects=(), shape=replace(self.blank.shape, holes=()))
        plain = _Asked(self.part, bare, self.settings, closely=self.closely)
        if bare != self.blank and (plain.roughly(no_play=True) or plain.fits()):
            return []
        kinds: tuple[type[LongerPiece] | type[WiderPiece], ...] = (LongerPiece, WiderPiece)
        found = [
            plain._least(FARTHEST_MM, lambda v, kind=kind: kind(missing_um=up_um(v)))  # type: ignore[misc]
            for kind in kinds
        ]
        return [way for way in found if way is not None]


def _is_square(blank: Blank) -> bool:
    """Tell whether all sides of a blank run along its grain or across it."""
    outer = blank.shape.outer
    if any(outer.bulges):
        return False
    grain = blank.grain_deg or 0.0
    x, y = Pose(angle_deg=-grain).array(np.array(outer.points_mm, dtype=np.float64)).T
    dx, dy = np.abs(x - np.roll(x, 1)), np.abs(y - np.roll(y, 1))
    return bool(np.all(np.minimum(dx, dy) <= 1e-6))
