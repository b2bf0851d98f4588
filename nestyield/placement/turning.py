"""All angles at once: a search that ends in a placement or in a proof that there is none.

On an interval of angles the part is replaced by what every turned copy of it covers
(``geometry.sweep``). If even that finds no place, no angle of the interval has one; otherwise the middle
is tried, and the interval is halved. Intervals are worked off in a fixed order, widest first, so the
answer does not depend on the clock.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.boolean import SubgridPaths, components
from nestyield.geometry.grid import (
    CONTACT_TOL_UM,
    SUBGRID,
    UM_PER_MM,
    Region,
    area_um2,
    bounds,
    ring_area_um2,
)
from nestyield.geometry.minkowski import Window
from nestyield.geometry.sweep import SLACK_UM, rotation_intersection, simplified
from nestyield.model import Blank, Part, Settings
from nestyield.model.pose import Pose
from nestyield.placement.candidates import Orientation
from nestyield.placement.constraint import Constraint
from nestyield.placement.contact import contact_subgrid
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.parts import Rounding
from nestyield.placement.problem import FlattenedInputs, PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region, region_subgrid, window_of

LeafKind = Literal["infeasible", "tight"]

#: Outlines on an interval may be off by this share of what the part moves in it.
COARSE_SHARE = 1 / 16
#: Below this they are not made coarse, micrometers.
LEAST_COARSE_UM = 16.0
# Widest interval that is looked at whole, degrees either way.
_WIDEST_HALF_DEG = 12.0


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Leaf:
    """An interval of angles that is done with.

    Parameters
    ----------
    branch : int
    from_deg, to_deg : float
    kind : {"infeasible", "tight"}
        Infeasible: no placement at any angle in it. Tight: none with the stated distance to spare.
    """

    branch: int
    from_deg: float
    to_deg: float
    kind: LeafKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the search found.

    Parameters
    ----------
    found : bool
        Whether a place was taken.
    leaves : tuple of Leaf
        All of the range when nothing was found and nothing is open.
    open_ : tuple of (branch, from_deg, to_deg)
        Intervals without an answer at the effort limit.
    steps : int
        Regions computed.
    """

    found: bool
    leaves: tuple[Leaf, ...]
    open_: tuple[tuple[int, float, float], ...]
    steps: int


@dataclass(frozen=True, slots=True)
class Branch:
    """An orientation and how the thickness is split."""

    orientation: Orientation
    split: ThicknessSplit

    def intervals(self) -> list[tuple[float, float]]:
        """Return (middle, half) of equal intervals no wider than can be looked at whole."""
        tolerance = self.orientation.tolerance_deg
        count = max(1, math.ceil(tolerance / _WIDEST_HALF_DEG))
        half = tolerance / count
        first = self.orientation.middle_deg - tolerance
        return [(first + half * (2 * k + 1), half) for k in range(count)]


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval of angles of a branch, and where the wider one around it had a feasible region (of the center)."""

    branch: int
    middle: float
    half: float
    window: tuple[float, float, float, float] | None


class Queue:
    """Intervals still to do, the one with the most feasible shifts first; equals in the order they came."""

    def __init__(self, start: Sequence[Interval]) -> None:
        self._heap = [(-math.inf, n, interval) for n, interval in enumerate(start)]
        self._count = len(self._heap)

    def __bool__(self) -> bool:
        return bool(self._heap)

    def pop(self) -> Interval:
        """Take the next interval."""
        return heapq.heappop(self._heap)[2]

    def rest(self) -> list[Interval]:
        """Return all that are left."""
        return [interval for _, _, interval in self._heap]

    def halve(self, here: Interval, region: SubgridPaths | None, center: NDArray[np.float64]) -> None:
        """Put both halves of an interval in."""
        window, size = here.window, -math.inf
        if region:
            size = -area_um2(region)
            x0, y0, x1, y1 = window_of(region)
            window = (x0 + center[0], y0 + center[1], x1 + center[0], y1 + center[1])
        for side in (-1, 1):
            half = Interval(here.branch, here.middle + side * here.half / 2, here.half / 2, window)
            heapq.heappush(self._heap, (size, self._count, half))
            self._count += 1


class RotationIntersection:
    """What stays covered while the part turns, for all problems of the same inputs.

    Parameters
    ----------
    inputs : FlattenedInputs
    center : (float, float)
        Center of the turn in the drawing, micrometers; the same for all inputs of a search.
    slack_um : float
        By which what stays covered is smaller than true.
    """

    def __init__(
        self, inputs: FlattenedInputs, center: tuple[float, float], slack_um: float = SLACK_UM
    ) -> None:
        self.inputs = inputs
        self._slack_um = slack_um
        self.center = np.array(center)
        self._problems: dict[ThicknessSplit, PlacementProblem] = {}
        self._covered: dict[tuple[int, float, float], Region] = {}
        self._simple: dict[tuple[int, float], Region] = {}
        self._outline: Region = [inputs.shape.outline]
        far = inputs.shape.outline - np.array(center)
        self._reach_um = float(np.hypot(far[:, 0], far[:, 1]).max())

    def problem(self, split: ThicknessSplit) -> PlacementProblem:
        """Return the problem for a choice of faces."""
        if split not in self._problems:
            self._problems[split] = self.inputs.problem(split)
        return self._problems[split]

    def covered(self, region: Region, half_deg: float, coarse_um: float = 0.0) -> Region:
        """Return what every turned copy of a region covers, less ``coarse_um`` twice all round."""
        key = (id(region), half_deg, coarse_um)
        if key not in self._covered:
            self._covered[key] = rotation_intersection(
                self.simple(region, coarse_um),
                half_deg,
                (float(self.center[0]), float(self.center[1])),
                self._slack_um + 2 * coarse_um,
            )
        return self._covered[key]

    def simple(self, region: Region, coarse_um: float) -> Region:
        """Return a region with fewer vertices, its border within ``coarse_um`` of its own."""
        if coarse_um == 0.0:
            return region
        key = (id(region), coarse_um)
        if key not in self._simple:
            self._simple[key] = simplified(region, coarse_um)
        return self._simple[key]

    def coarse_um(self, half_deg: float) -> float:
        """Return how coarse outlines may be on an interval: a small part of what the part moves in it.

        What stays covered is then smaller by twice as much, once for its own border, once for that of what it must
        fit or avoid, so that what is proved with it holds for the full outlines.
        """
        um = self.moves_um(half_deg) * COARSE_SHARE
        return 2.0 ** math.floor(math.log2(um)) if um >= LEAST_COARSE_UM else 0.0

    def moves_um(self, half_deg: float) -> float:
        """Return how far the farthest point moves from the middle of an interval to its end."""
        return 2.0 * self._reach_um * math.sin(math.radians(half_deg) / 2.0)

    def at_center(self, branch: Branch, angle_deg: float) -> NDArray[np.float64]:
        """Return where the turn carries the center, before the shift."""
        pose = Pose(mirrored=branch.orientation.mirrored, angle_deg=angle_deg)
        out: NDArray[np.float64] = pose.array(self.center[None, :])[0]
        return out

    def feasible(
        self, branch: Branch, middle_deg: float, half_deg: float, window: Window | None = None
    ) -> SubgridPaths | None:
        """Return the feasible shifts of what stays covered; None when nothing does, which proves nothing."""
        problem = self.problem(branch.split)
        coarse = self.coarse_um(half_deg)
        outline = self.covered(self._outline, half_deg, coarse)
        if not outline:
            return None
        container = self.simple(problem.container, coarse)
        if area_um2(outline) > area_um2(container):
            return []
        pairs = [
            (self.simple(o.fixed, coarse), self.covered(o.moving, half_deg, coarse))
            for o in problem.obstacles
        ]
        pairs = [(fixed, moving) for fixed, moving in pairs if fixed and moving]
        return region_subgrid(container, outline, pairs, middle_deg, branch.orientation.mirrored, window)


#: Takes (branch number, angle, problem, shifts on the subgrid, whether arcs were taken as chords); says
#: whether that settles the question.
Taker = Callable[[int, float, PlacementProblem, SubgridPaths, bool], bool]

# Added to a window, so that rounding takes nothing from it, micrometers.
_PAD_UM = 4
# Intervals over which no point moves farther than this are not halved again, micrometers.
_CONTACT_MOVE_UM = 0.5
# Each close look at tight intervals may take one part in so many of the effort.
_CLOSER_SHARE = 8
# Vertices of the part times those of its container for which a look counts once.
_USUAL = 20_000
# Corners no farther off whole micrometers lie on them.
_ON_GRID_UM = 1e-3
# How close to their arcs chords lie in the closest look, millimeters.
_TRUE_ARC_MM = 0.001


class AngleSearch:
    """Interval search over every branch.

    Parameters
    ----------
    branches : sequence of Branch
    part, blank, settings, taken
        The question.
    within_mm : float
        Distance to spare below which a placement need not be found.
    limit : int
        Most regions to compute.
    take : callable
        Called with every non-empty allowed region; the search ends when it returns true.
    unfilled : set of str
        Defects that are not to be filled.
    constraints : sequence of Constraint
    contact : callable, optional
        Called once with the intervals (branch, from, to) that are tight or open, before the tight ones are looked
        at closely; the search ends when it returns true.
    """

    def __init__(
        self,
        branches: Sequence[Branch],
        part: Part,
        blank: Blank,
        settings: Settings,
        taken: Sequence[TakenPart],
        *,
        within_mm: float,
        limit: int,
        take: Taker,
        unfilled: frozenset[str] = frozenset(),
        constraints: Sequence[Constraint] = (),
        contact: Callable[[list[tuple[int, float, float]]], bool] | None = None,
    ) -> None:
        self._contact = contact
        self._branches = branches
        self._within_um = within_mm * UM_PER_MM
        self._limit, self._take = limit, take
        self.steps = 0
        self._found = False
        self._known: dict[tuple[int, float, float], SubgridPaths | None] = {}
        self._arcs = has_arcs(part, blank)
        self._rounded = self._arcs or off_grid(part, blank)
        safe = FlattenedInputs(
            part, blank, settings, taken, "safe", unfilled=unfilled, constraints=constraints
        )
        x0, y0, x1, y1 = bounds([safe.shape.outline])
        self.center_um = center = ((x0 + x1) / 2, (y0 + y1) / 2)

        def inputs(
            rounding: Rounding,
            tighter_mm: float = 0.0,
            slack_um: float = SLACK_UM,
            chord_error_mm: float | None = None,
        ) -> RotationIntersection:
            made = FlattenedInputs(
                part,
                blank,
                settings,
                taken,
                rounding,
                tighter_mm=tighter_mm,
                chord_error_mm=chord_error_mm,
                unfilled=unfilled,
                constraints=constraints,
            )
            return RotationIntersection(made, center, slack_um)

        self._safe = RotationIntersection(safe, center)
        self._lenient = inputs("lenient")
        self._tight = inputs("lenient", tighter_mm=within_mm)
        self._inputs = inputs

    def ruled_out(self, k: int) -> bool:
        """Whether a branch is proved to have no place at a glance: over each of its widest intervals."""
        return all(self._feasible(here) == [] for here in self._widest(k))

    def _widest(self, k: int) -> list[Interval]:
        return [Interval(k, middle, half, None) for middle, half in self._branches[k].intervals()]

    def _feasible(self, here: Interval) -> SubgridPaths | None:
        """Feasible region of the lenient inputs on an interval; that of the widest ones is kept."""
        branch = self._branches[here.branch]
        if here.window is not None:
            self.steps += 1
            return self._lenient.feasible(branch, here.middle, here.half, self._window(self._lenient, here))
        key = (here.branch, here.middle, here.half)
        if key not in self._known:
            self.steps += 1
            self._known[key] = self._lenient.feasible(branch, here.middle, here.half)
        return self._known[key]

    def run(self) -> Outcome:
        """Work off all intervals."""
        start = [here for k in range(len(self._branches)) for here in self._widest(k)]
        done, open_ = self._halve(start)
        tight = [leaf for leaf in done if leaf[1] == "tight"]
        found = self._found
        if (tight or open_) and not found and self._contact is not None:
            near = [*(i for i, _ in tight), *open_]
            found = self._contact([(i.branch, i.middle - i.half, i.middle + i.half) for i in near])
        if tight and not open_ and not found:
            closer = self._closer([interval for interval, _ in tight])
            done = [leaf for leaf in done if leaf[1] == "infeasible"] + closer
            found = self._found
        if found:
            return Outcome(found=True, leaves=(), open_=(), steps=self.steps)
        leaves = sorted(
            (Leaf(branch=i.branch, from_deg=i.middle - i.half, to_deg=i.middle + i.half, kind=kind))
            for i, kind in done
        )
        spans = sorted((i.branch, i.middle - i.half, i.middle + i.half) for i in open_)
        return Outcome(found=False, leaves=tuple(leaves), open_=tuple(spans), steps=self.steps)

    def _halve(self, start: list[Interval]) -> tuple[list[tuple[Interval, LeafKind]], list[Interval]]:
        """Halve intervals until each is done with, or a place is taken; what is done, what is open."""
        queue = Queue(start)
        done: list[tuple[Interval, LeafKind]] = []
        while queue and self.steps < self._limit:
            here = queue.pop()
            branch = self._branches[here.branch]
            region = self._feasible(here)
            if region is not None and not region:
                done.append((here, "infeasible"))
                continue
            if self._try(self._safe, here, region):
                return done, queue.rest()
            moves = self._lenient.moves_um(here.half) / self._within_um
            if moves <= 2 or (moves <= 8 and region and breadth_um(region) <= self._within_um):
                self.steps += 1
                window = self._window(self._lenient, here)
                if self._tight.feasible(branch, here.middle, here.half, window) == []:
                    done.append((here, "tight"))
                    continue
            queue.halve(here, region, self._lenient.at_center(branch, here.middle))
        return done, queue.rest()

    def _closer(self, tight: list[Interval]) -> list[tuple[Interval, LeafKind]]:
        """Look closely at intervals that leave next to nothing: for fits with no play, then with truer arcs."""
        done = self._without_play(tight)
        if self._found or not self._rounded:
            return done
        return self._true_arcs([interval for interval, _ in done])

    def _without_play(self, tight: list[Interval]) -> list[tuple[Interval, LeafKind]]:
        """Look for fits with no play.

        Arcs are all taken as chords there, so that a curve and its counterpart in the piece match; a place
        so found counts only when it passes the check with true arcs. Without arcs an interval that is
        emptied here is empty.
        """
        even = self._inputs("even" if self._rounded else "lenient", slack_um=SLACK_UM + CONTACT_TOL_UM)
        firm = (even if self._arcs else self._lenient) if self._rounded else self._safe
        emptied: LeafKind = "tight" if self._rounded else "infeasible"
        queue = Queue([Interval(i.branch, i.middle, i.half, i.window) for i in tight])
        done: list[tuple[Interval, LeafKind]] = []
        last = self.steps + max(self._limit // _CLOSER_SHARE, 60)
        while queue and self.steps < last:
            here = queue.pop()
            branch = self._branches[here.branch]
            self.steps += 1
            region = even.feasible(branch, here.middle, here.half, self._window(even, here))
            moves = even.moves_um(here.half)
            if region is not None and not region:
                done.append((here, emptied))
            elif moves <= 8 * _CONTACT_MOVE_UM and self._try(firm, here, region, contact=True):
                return done
            elif moves <= _CONTACT_MOVE_UM:
                done.append((here, "tight"))
            else:
                queue.halve(here, region, even.at_center(branch, here.middle))
        return done + [(i, "tight") for i in queue.rest()]

    def _true_arcs(self, tight: list[Interval]) -> list[tuple[Interval, LeafKind]]:
        """Look for a placement, or prove that there is none, with chords a micrometer from their arcs."""
        lenient = self._inputs("lenient", chord_error_mm=_TRUE_ARC_MM)
        safe = self._inputs("safe", chord_error_mm=_TRUE_ARC_MM)
        queue = Queue([Interval(i.branch, i.middle, i.half, i.window) for i in tight])
        done: list[tuple[Interval, LeafKind]] = []
        # a look takes as long as so many usual ones
        weight = max(1, len(lenient.inputs.shape.outline) * sum(map(len, lenient.inputs.container)) // _USUAL)
        last = self.steps + max(self._limit // _CLOSER_SHARE, 60)
        while queue and self.steps + weight <= last:
            here = queue.pop()
            branch = self._branches[here.branch]
            self.steps += weight
            region = lenient.feasible(branch, here.middle, here.half, self._window(lenient, here))
            moves = lenient.moves_um(here.half)
            if region is not None and not region:
                done.append((here, "infeasible"))
            elif moves <= self._within_um and self._try(safe, here, region):
                return done
            elif moves <= 8 * _CONTACT_MOVE_UM:
                done.append((here, "tight"))
            else:
                queue.halve(here, region, lenient.at_center(branch, here.middle))
        return done + [(i, "tight") for i in queue.rest()]

    def _window(self, kept: RotationIntersection, here: Interval) -> Window | None:
        """Shifts at which the wider interval had a feasible region."""
        if here.window is None:
            return None
        c = kept.at_center(self._branches[here.branch], here.middle)
        x0, y0, x1, y1 = here.window
        return (
            math.floor(x0 - c[0]) - _PAD_UM,
            math.floor(y0 - c[1]) - _PAD_UM,
            math.ceil(x1 - c[0]) + _PAD_UM,
            math.ceil(y1 - c[1]) + _PAD_UM,
        )

    def _try(
        self, kept: RotationIntersection, here: Interval, region: SubgridPaths | None, contact: bool = False
    ) -> bool:
        branch = self._branches[here.branch]
        self.steps += 1
        problem = kept.problem(branch.split)
        window = None
        if region:
            x0, y0, x1, y1 = window_of(region)
            window = (x0 - _PAD_UM, y0 - _PAD_UM, x1 + _PAD_UM, y1 + _PAD_UM)
        paths = feasible_region(problem, here.middle, branch.orientation.mirrored, window)
        if not paths and contact:
            paths = contact_subgrid(problem, here.middle, branch.orientation.mirrored, window)
        chords = kept.inputs.rounding != "safe"
        self._found = bool(paths) and self._take(here.branch, here.middle, problem, paths, chords)
        return self._found


def breadth_um(paths: SubgridPaths) -> float:
    """Return the most that any piece of fine paths has of area for its length around, micrometers.

    A convex piece holds a circle of that radius, and none of twice that radius.
    """
    most = 0.0
    for outer, _ in components(paths):
        step = np.roll(outer, -1, axis=0) - outer
        around = float(np.hypot(step[:, 0], step[:, 1]).sum())
        most = max(most, ring_area_um2(outer) / around)
    return most / SUBGRID


def off_grid(part: Part, blank: Blank) -> bool:
    """Whether a corner of the part's outline or of the blank's edge lies between whole micrometers."""
    corners = np.array([*part.outline.points_mm, *blank.shape.outer.points_mm]) * UM_PER_MM
    return bool(np.abs(corners - np.rint(corners)).max() > _ON_GRID_UM)


def has_arcs(part: Part, blank: Blank, taken: Sequence[TakenPart] = ()) -> bool:
    """Whether any outline of the question has arcs."""
    if any(b != 0.0 for other, _ in taken for b in other.outline.bulges):
        return True
    shapes = [blank.shape, *(d.shape for d in blank.defects), *(z.shape for z in part.zones if z.shape)]
    outlines = [part.outline, *(o for s in shapes for o in (s.outer, *s.holes))]
    return any(b != 0.0 for o in outlines for b in o.bulges)
