"""How close was it: the least that would have to give for a part to fit.

Each relief is tried alone, by halving, at the allowed angles in even steps: a relief that is named does
fit; a slightly smaller one between the steps is not ruled out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.boolean import to_grid
from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.geometry.minkowski import no_fit_subgrid
from nestyield.model import Blank, Part, Settings
from nestyield.model.arc import cos_sin
from nestyield.model.facts import (
    DefectFilled,
    LongerPiece,
    NarrowerGap,
    NarrowerMargin,
    Relaxation,
    WiderGrainTolerance,
    WiderPiece,
)
from nestyield.placement.constraint import Constraint
from nestyield.placement.contact import contact_subgrid
from nestyield.placement.problem import FlattenedInputs, PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region
from nestyield.placement.single import branches

# Angles tried for each way and side of the tolerance.
_STEPS = 4
# Halvings of a length or angle.
_HALVINGS = 12
#: A piece shorter or narrower than needed by more than this is not near, millimetres.
FARTHEST_MM = 400.0
#: Most extra grain tolerance considered, degrees.
MOST_EXTRA_DEG = 30.0


def relaxations(
    part: Part,
    blank: Blank,
    settings: Settings,
    taken: Sequence[TakenPart] = (),
    constraints: Sequence[Constraint] = (),
) -> tuple[Relaxation, ...]:
    """List what would make the part fit, each alone; empty when nothing tried does, or when it fits.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    taken : sequence of (Part, Placement)
    constraints : sequence of Constraint

    Returns
    -------
    tuple of Relaxation
        Margin, gap, grain tolerance, defects, then size.
    """
    asked = _Asked(part, blank, settings, taken, constraints)
    if asked.fits(no_play=True):
        return ()
    found = [asked.margin(), asked.gap(), asked.tolerance(), *asked.defects(), *asked.size()]
    return tuple(f for f in found if f is not None)


class _Asked:
    def __init__(
        self,
        part: Part,
        blank: Blank,
        settings: Settings,
        taken: Sequence[TakenPart] = (),
        constraints: Sequence[Constraint] = (),
    ) -> None:
        self.constraints = constraints
        self.part, self.blank, self.settings, self.taken = part, blank, settings, tuple(taken)

    def fits(
        self,
        *,
        settings: Settings | None = None,
        part: Part | None = None,
        but: Sequence[str] = (),
        change: Callable[[PlacementProblem], PlacementProblem] | None = None,
        no_play: bool = False,
    ) -> bool:
        """Whether a changed question has a place at one of the angles tried, perhaps one with no play."""
        settings, part = settings or self.settings, part or self.part
        inputs = FlattenedInputs(part, self.blank, settings, self.taken, constraints=self.constraints)
        problems: dict[object, PlacementProblem] = {}
        for branch in branches(part, self.blank, settings, self.taken, inputs):
            if branch.split not in problems:
                made = inputs.problem(branch.split, but)
                problems[branch.split] = change(made) if change else made
            for angle in branch.orientation.angles(_STEPS):
                asked = (problems[branch.split], angle, branch.orientation.mirrored)
                if feasible_region(*asked) or (no_play and contact_subgrid(*asked)):
                    return True
        return False

    def _least(self, high: float, fits: Callable[[float, bool], bool]) -> float | None:
        """Least amount from 0 to ``high`` that fits, by halving; None when even ``high`` does not.

        ``fits`` is told whether a fit with no play counts: it does when there is no other.
        """
        no_play = not fits(high, False)
        if no_play and not fits(high, True):
            return None
        low = 0.0
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (low, middle) if fits(middle, no_play) else (middle, high)
        return high

    def margin(self) -> NarrowerMargin | None:
        """A thinner margin."""
        full = self.settings.blank_margin_mm
        less = self._least(
            full,
            lambda v, n: self.fits(settings=replace(self.settings, blank_margin_mm=full - v), no_play=n),
        )
        if less is None or full == 0:
            return None
        return NarrowerMargin(required_um=round(full * UM_PER_MM), reachable_um=_floor_um(full - less))

    def gap(self) -> NarrowerGap | None:
        """A smaller gap between parts."""
        full = self.settings.gap_mm
        if not self.taken or full == 0:
            return None
        less = self._least(
            full,
            lambda v, n: self.fits(settings=replace(self.settings, between_parts_mm=full - v), no_play=n),
        )
        if less is None:
            return None
        return NarrowerGap(required_um=round(full * UM_PER_MM), reachable_um=_floor_um(full - less))

    def tolerance(self) -> WiderGrainTolerance | None:
        """More grain tolerance."""
        if self.part.grain_deg is None or self.blank.grain_deg is None:
            return None
        now = self.part.grain_tolerance_deg
        most = min(MOST_EXTRA_DEG, 90.0 - now)
        if most <= 0:
            return None
        more = self._least(
            most,
            lambda v, n: self.fits(part=replace(self.part, grain_tolerance_deg=now + v), no_play=n),
        )
        if more is None:
            return None
        return WiderGrainTolerance(allowed_deg=now, needed_deg=now + more)

    def defects(self) -> list[DefectFilled]:
        """Defects that, filled or cut out alone, let the part in."""
        out = []
        for defect in self.blank.defects:
            if not defect.traits.metal and self.fits(but=(defect.name,), no_play=True):
                out.append(DefectFilled(kind=defect.kind, defect=defect.name))
        return out

    def size(self) -> list[LongerPiece | WiderPiece]:
        """Millimetres that the bare piece is short along and across the grain, defects and holes aside."""
        out: list[LongerPiece | WiderPiece] = []
        bare = replace(self.blank, defects=(), shape=replace(self.blank.shape, holes=()))
        plain = _Asked(self.part, bare, self.settings)
        if plain.fits(no_play=True):
            return []
        for kind, turn in ((LongerPiece, 0.0), (WiderPiece, 90.0)):
            c, s = cos_sin((self.blank.grain_deg or 0.0) + turn)
            way = np.array([c, s])
            short = plain._least(
                FARTHEST_MM,
                lambda v, n, way=way: plain.fits(  # type: ignore[misc]
                    change=lambda p: _stretched(p, way * v * UM_PER_MM), no_play=n
                ),
            )
            if short is not None:
                out.append(kind(missing_um=math.ceil(short * UM_PER_MM)))
        return out


def _floor_um(length_mm: float) -> int:
    """Return a length in whole micrometres, rounded down: what is named does fit."""
    return math.floor(length_mm * UM_PER_MM)


def _stretched(problem: PlacementProblem, by_um: NDArray[np.float64]) -> PlacementProblem:
    """The problem with its container drawn out along a vector."""
    x, y = (round(float(v)) for v in by_um)
    if x == 0 and y == 0:
        return problem
    # a strip one micrometre wide along the vector
    a, b = (0, 1) if abs(x) >= abs(y) else (-1, 0)
    strip = np.array([[0, 0], [x, y], [x + a, y + b], [a, b]], dtype=np.int64)
    container: Region = []
    for ring in problem.container:
        container += to_grid(no_fit_subgrid(ring, -strip))
    return replace(problem, container=[r for r in container if len(r)])
