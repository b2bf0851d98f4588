"""The least that has to give, angle by angle: a good first answer, before the search over all angles is asked."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from nestyield.placement.constraint import Constraint
from nestyield.placement.contact import contact_subgrid
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.problem import FlattenedInputs, PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region
from nestyield.placement.relaxed import Asked
from nestyield.placement.single import branches
from nestyield.placement.turning import Branch

#: Widest step between angles that are tried first, degrees, and how often it is halved about the best of them.
WIDEST_DEG, REFINED = 1.5, 6
#: Angles that are tried first, on each side of the middle of a range, at most.
MOST_ANGLES = 60


class Probe:
    """Asks for places at single angles, the question changed by an amount.

    Parameters
    ----------
    change : callable
        Returns part, blank and settings for an amount, mm or degrees.
    most : float
        The greatest amount; it says which ways there are to lie.
    taken : sequence of (Part, Placement)
    constraints : sequence of Constraint
    """

    def __init__(
        self,
        change: Callable[[float], Asked],
        most: float,
        taken: Sequence[TakenPart],
        constraints: Sequence[Constraint],
    ) -> None:
        self.change, self.taken, self.constraints = change, taken, constraints
        self._amount = most
        self._inputs = self._inputs_for(most)
        self._problems: dict[ThicknessSplit, PlacementProblem] = {}
        part, blank, settings = change(most)
        self.branches: tuple[Branch, ...] = branches(part, blank, settings, taken, self._inputs)

    def _inputs_for(self, amount: float) -> FlattenedInputs:
        part, blank, settings = self.change(amount)
        return FlattenedInputs(part, blank, settings, self.taken, constraints=self.constraints)

    def has_place(self, amount: float, k: int, angle_deg: float, no_play: bool = False) -> bool:
        """Tell whether branch ``k`` has a place at an angle, perhaps one with no play."""
        if amount != self._amount:
            self._amount, self._inputs, self._problems = amount, self._inputs_for(amount), {}
        split = self.branches[k].split
        if split not in self._problems:
            self._problems[split] = self._inputs.problem(split)
        asked = self._problems[split], angle_deg, self.branches[k].orientation.mirrored
        return bool(feasible_region(*asked) or (no_play and contact_subgrid(*asked)))

    def angles(self) -> tuple[list[tuple[int, float]], float]:
        """Return branches and angles to try first, and the widest step between them, degrees."""
        out, widest = [], 0.0
        for k, branch in enumerate(self.branches):
            tolerance = branch.orientation.tolerance_deg
            steps = min(MOST_ANGLES, math.ceil(tolerance / WIDEST_DEG)) or 1
            if tolerance >= 180.0:
                steps = MOST_ANGLES // 2
            out += [(k, a) for a in branch.orientation.angles(steps)]
            widest = max(widest, tolerance / steps)
        return out, widest


def least_amount(probe: Probe, most: float, close: Callable[[float], float]) -> float | None:
    """Return nearly the least amount with which some angle has a place; None when none of those tried has.

    Parameters
    ----------
    probe : Probe
    most : float
    close : callable
        How much more than needed an amount may be.
    """
    angles, step = probe.angles()
    best = _Best(probe, most, close)
    for k, angle in angles:
        best.ask(k, angle)
    if best.at is None:
        angles = [(k, a) for k, b in enumerate(probe.branches) for a in b.orientation.angles(2)]
        best.no_play = True
        for k, angle in angles:
            best.ask(k, angle)
    for _ in range(REFINED):
        if best.at is None or step == 0.0:
            break
        step /= 2.0
        k, angle = best.at
        way = probe.branches[k].orientation
        for other in (angle - step, angle + step):
            off = abs((other - way.middle_deg + 180.0) % 360.0 - 180.0)
            if off <= way.tolerance_deg:
                best.ask(k, other)
    return best.amount if best.at is not None else None


class _Best:
    """The least amount so far, and the angle that it is for."""

    def __init__(self, probe: Probe, most: float, close: Callable[[float], float]) -> None:
        self.probe, self.amount, self.close = probe, most, close
        self.at: tuple[int, float] | None = None
        self.no_play = False

    def ask(self, k: int, angle_deg: float) -> None:
        """Take an angle that needs less than the best one."""
        less = self.amount if self.at is None else self.amount - self.close(self.amount)
        if less <= 0.0 or not self.probe.has_place(less, k, angle_deg, self.no_play):
            return
        low, high = 0.0, less
        while high - low > self.close(high):
            middle = (low + high) / 2
            if self.probe.has_place(middle, k, angle_deg, self.no_play):
                high = middle
            else:
                low = middle
        self.amount, self.at = high, (k, angle_deg)


def least_turn(probe: Probe, allowed_deg: float, most_deg: float, step_deg: float) -> float | None:
    """Return the least turn beyond what is allowed at which there is a place, tried in even steps.

    Parameters
    ----------
    probe : Probe
    allowed_deg, most_deg, step_deg : float
        Grain tolerance, most turn beyond it, and the step.
    """
    for n in range(1, math.ceil(most_deg / step_deg) + 1):
        more = min(n * step_deg, most_deg)
        for k, branch in enumerate(probe.branches):
            for side in (allowed_deg + more, -allowed_deg - more):
                if probe.has_place(most_deg, k, branch.orientation.middle_deg + side):
                    return more
    return None
