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

from nestyield.geometry.boolean import FinePaths, components
from nestyield.geometry.grid import CONTACT_TOL_UM, FINE, UM_PER_MM, Region, area_um2, bounds, ring_area_um2
from nestyield.geometry.minkowski import Window
from nestyield.geometry.sweep import SLACK_UM, kept_when_turned, simplified
from nestyield.geometry.transform import turned
from nestyield.model import Blank, Part, Settings
from nestyield.placement.candidates import Orientation
from nestyield.placement.contact import contact_subgrid
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.parts import Rounding
from nestyield.placement.problem import FlattenedInputs, PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region, region_subgrid, window_of

LeafKind = Literal["none", "tight"]

#: Outlines on an interval may be off by this share of what the part moves in it.
COARSE_SHARE = 1 / 16
#: Below this they are not made coarse, micrometres.
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
    kind : {"none", "tight"}
        None: no place at any angle in it. Tight: none with the stated room to spare.
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
    """A way and a choice of faces."""

    way: Orientation
    facing: ThicknessSplit

    def intervals(self) -> list[tuple[float, float]]:
        """Return (middle, half) of equal intervals no wider than can be looked at whole."""
        tolerance = self.way.tolerance_deg
        count = max(1, math.ceil(tolerance / _WIDEST_HALF_DEG))
        half = tolerance / count
        first = self.way.middle_deg - tolerance
        return [(first + half * (2 * k + 1), half) for k in range(count)]


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval of angles of a branch, and where the wider one around it had room (of the centre)."""

    branch: int
    middle: float
    half: float
    window: tuple[float, float, float, float] | None


class Queue:
    """Intervals still to do, the one with the most room first; equals in the order they came."""

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

    def split(self, here: Interval, room: FinePaths | None, centre: NDArray[np.float64]) -> None:
        """Put both halves of an interval in."""
        window, size = here.window, -math.inf
        if room:
            size = -area_um2(room)
            x0, y0, x1, y1 = window_of(room)
            window = (x0 + centre[0], y0 + centre[1], x1 + centre[0], y1 + centre[1])
        for side in (-1, 1):
            half = Interval(here.branch, here.middle + side * here.half / 2, here.half / 2, window)
            heapq.heappush(self._heap, (size, self._count, half))
            self._count += 1


class RotationIntersection:
    """What stays covered while the part turns, for all problems of one scene.

    Parameters
    ----------
    scene : FlattenedInputs
    centre : (float, float)
        Centre of the turn in the drawing, micrometres; the same for every scene of a search.
    slack_um : float
        By which kept wood is smaller than true.
    """

    def __init__(
        self, scene: FlattenedInputs, centre: tuple[float, float], slack_um: float = SLACK_UM
    ) -> None:
        self.scene = scene
        self._slack_um = slack_um
        self.centre = np.array(centre)
        self._problems: dict[ThicknessSplit, PlacementProblem] = {}
        self._kept: dict[tuple[int, float, float], Region] = {}
        self._simple: dict[tuple[int, float], Region] = {}
        self._outline: Region = [scene.shape.outline]
        far = scene.shape.outline - np.array(centre)
        self._reach_um = float(np.hypot(far[:, 0], far[:, 1]).max())

    def problem(self, facing: ThicknessSplit) -> PlacementProblem:
        """Return the scene's problem for a choice of faces."""
        if facing not in self._problems:
            self._problems[facing] = self.scene.problem(facing)
        return self._problems[facing]

    def kept(self, region: Region, half_deg: float, coarse_um: float = 0.0) -> Region:
        """Return what every turned copy of a region covers, less ``coarse_um`` twice all round."""
        key = (id(region), half_deg, coarse_um)
        if key not in self._kept:
            self._kept[key] = kept_when_turned(
                self.simple(region, coarse_um),
                half_deg,
                (float(self.centre[0]), float(self.centre[1])),
                self._slack_um + 2 * coarse_um,
            )
        return self._kept[key]

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

        RotationIntersection wood is then smaller by twice as much, once for its own border, once for that of what it must
        fit or avoid, so that what is proved with it holds for the full outlines.
        """
        um = self.moves_um(half_deg) * COARSE_SHARE
        return 2.0 ** math.floor(math.log2(um)) if um >= LEAST_COARSE_UM else 0.0

    def moves_um(self, half_deg: float) -> float:
        """Return how far the farthest point moves from the middle of an interval to its end."""
        return 2.0 * self._reach_um * math.sin(math.radians(half_deg) / 2.0)

    def at_centre(self, branch: Branch, angle_deg: float) -> NDArray[np.float64]:
        """Return where the turn carries the centre, before the shift."""
        c = self.centre * (-1.0 if branch.way.mirrored else 1.0, 1.0)
        out: NDArray[np.float64] = turned(c[None, :], angle_deg)[0]
        return out

    def room(
        self, branch: Branch, middle_deg: float, half_deg: float, window: Window | None = None
    ) -> FinePaths | None:
        """Return where the kept wood fits; None when nothing is kept, which proves nothing."""
        problem = self.problem(branch.facing)
        to_grid = self.coarse_um(half_deg)
        outline = self.kept(self._outline, half_deg, to_grid)
        if not outline:
            return None
        container = self.simple(problem.container, to_grid)
        if area_um2(outline) > area_um2(container):
            return []
        pairs = [
            (self.simple(o.fixed, to_grid), self.kept(o.moving, half_deg, to_grid)) for o in problem.obstacles
        ]
        pairs = [(fixed, moving) for fixed, moving in pairs if fixed and moving]
        return region_subgrid(container, outline, pairs, middle_deg, branch.way.mirrored, window)


#: Takes (branch number, angle, problem, shifts on the finer grid, whether arcs were taken as chords); says
#: whether that settles the question.
Taker = Callable[[int, float, PlacementProblem, FinePaths, bool], bool]

# Added to a window, so that rounding takes nothing from it, micrometres.
_PAD_UM = 4
# Intervals over which no point moves farther than this are not halved again, micrometres.
_CONTACT_MOVE_UM = 0.5
# Each close look at tight intervals may take one part in so many of the effort.
_CLOSER_SHARE = 8
# Vertices of the part times those of its container for which a look counts once.
_USUAL = 20_000
# How close to their arcs chords lie in the closest look, millimetres.
_TRUE_ARC_MM = 0.001


class AngleSearch:
    """Interval search over every branch.

    Parameters
    ----------
    branches : sequence of Branch
    part, blank, settings, taken
        The question.
    within_mm : float
        Slack to spare below which a place need not be found.
    limit : int
        Most regions to compute.
    take : callable
        Called with every non-empty allowed region; the search ends when it returns true.
    unfilled : set of str
        Defects that are not to be filled.
    contact : callable, optional
        Called once with the intervals (branch, from, to) that are tight, before they are looked at closely;
        the search ends when it returns true.
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
        contact: Callable[[list[tuple[int, float, float]]], bool] | None = None,
    ) -> None:
        self._contact = contact
        self._branches = branches
        self._within_um = within_mm * UM_PER_MM
        self._limit, self._take = limit, take
        self.steps = 0
        self._found = False
        self._rooms: dict[tuple[int, float, float], FinePaths | None] = {}
        self._rounded = has_arcs(part, blank)
        safe = FlattenedInputs(part, blank, settings, taken, "safe", unfilled=unfilled)
        x0, y0, x1, y1 = bounds([safe.shape.outline])
        self.centre_um = centre = ((x0 + x1) / 2, (y0 + y1) / 2)

        def scene(
            care: Rounding,
            tighter_mm: float = 0.0,
            slack_um: float = SLACK_UM,
            chord_error_mm: float | None = None,
        ) -> RotationIntersection:
            made = FlattenedInputs(
                part,
                blank,
                settings,
                taken,
                care,
                tighter_mm=tighter_mm,
                chord_error_mm=chord_error_mm,
                unfilled=unfilled,
            )
            return RotationIntersection(made, centre, slack_um)

        self._safe = RotationIntersection(safe, centre)
        self._lenient = scene("lenient")
        self._tight = scene("lenient", tighter_mm=within_mm)
        self._scene = scene

    def hopeless(self, k: int) -> bool:
        """Whether a branch is proved to have no place at a glance: over each of its widest intervals."""
        return all(self._room(here) == [] for here in self._widest(k))

    def _widest(self, k: int) -> list[Interval]:
        return [Interval(k, middle, half, None) for middle, half in self._branches[k].intervals()]

    def _room(self, here: Interval) -> FinePaths | None:
        """Slack of the lenient scene on an interval; that of the widest ones is kept."""
        branch = self._branches[here.branch]
        if here.window is not None:
            self.steps += 1
            return self._lenient.room(branch, here.middle, here.half, self._window(self._lenient, here))
        key = (here.branch, here.middle, here.half)
        if key not in self._rooms:
            self.steps += 1
            self._rooms[key] = self._lenient.room(branch, here.middle, here.half)
        return self._rooms[key]

    def run(self) -> Outcome:
        """Work off all intervals."""
        start = [here for k in range(len(self._branches)) for here in self._widest(k)]
        done, open_ = self._halve(start)
        tight = [leaf for leaf in done if leaf[1] == "tight"]
        found = self._found
        if tight and not open_ and not found and self._contact is not None:
            found = self._contact([(i.branch, i.middle - i.half, i.middle + i.half) for i, _ in tight])
        if tight and not open_ and not found:
            closer = self._closer([interval for interval, _ in tight])
            done = [leaf for leaf in done if leaf[1] == "none"] + closer
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
            room = self._room(here)
            if room is not None and not room:
                done.append((here, "none"))
                continue
            if self._try(self._safe, here, room):
                return done, queue.rest()
            moves = self._lenient.moves_um(here.half) / self._within_um
            if moves <= 2 or (moves <= 8 and room and breadth_um(room) <= self._within_um):
                self.steps += 1
                window = self._window(self._lenient, here)
                if self._tight.room(branch, here.middle, here.half, window) == []:
                    done.append((here, "tight"))
                    continue
            queue.split(here, room, self._lenient.at_centre(branch, here.middle))
        return done, queue.rest()

    def _closer(self, tight: list[Interval]) -> list[tuple[Interval, LeafKind]]:
        """Look closely at intervals with next to no room: for fits with no play, then with truer arcs."""
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
        even = self._scene("even" if self._rounded else "lenient", slack_um=SLACK_UM + CONTACT_TOL_UM)
        firm = even if self._rounded else self._safe
        emptied: LeafKind = "tight" if self._rounded else "none"
        queue = Queue([Interval(i.branch, i.middle, i.half, i.window) for i in tight])
        done: list[tuple[Interval, LeafKind]] = []
        last = self.steps + max(self._limit // _CLOSER_SHARE, 60)
        while queue and self.steps < last:
            here = queue.pop()
            branch = self._branches[here.branch]
            self.steps += 1
            room = even.room(branch, here.middle, here.half, self._window(even, here))
            moves = even.moves_um(here.half)
            if room is not None and not room:
                done.append((here, emptied))
            elif moves <= 8 * _CONTACT_MOVE_UM and self._try(firm, here, room, contact=True):
                return done
            elif moves <= _CONTACT_MOVE_UM:
                done.append((here, "tight"))
            else:
                queue.split(here, room, even.at_centre(branch, here.middle))
        return done + [(i, "tight") for i in queue.rest()]

    def _true_arcs(self, tight: list[Interval]) -> list[tuple[Interval, LeafKind]]:
        """Look for room, or prove that there is none, with chords a micrometre from their arcs."""
        lenient = self._scene("lenient", chord_error_mm=_TRUE_ARC_MM)
        safe = self._scene("safe", chord_error_mm=_TRUE_ARC_MM)
        queue = Queue([Interval(i.branch, i.middle, i.half, i.window) for i in tight])
        done: list[tuple[Interval, LeafKind]] = []
        # a look takes as long as so many usual ones
        weight = max(1, len(lenient.scene.shape.outline) * sum(map(len, lenient.scene.container)) // _USUAL)
        last = self.steps + max(self._limit // _CLOSER_SHARE, 60)
        while queue and self.steps + weight <= last:
            here = queue.pop()
            branch = self._branches[here.branch]
            self.steps += weight
            room = lenient.room(branch, here.middle, here.half, self._window(lenient, here))
            moves = lenient.moves_um(here.half)
            if room is not None and not room:
                done.append((here, "none"))
            elif moves <= self._within_um and self._try(safe, here, room):
                return done
            elif moves <= 8 * _CONTACT_MOVE_UM:
                done.append((here, "tight"))
            else:
                queue.split(here, room, lenient.at_centre(branch, here.middle))
        return done + [(i, "tight") for i in queue.rest()]

    def _window(self, kept: RotationIntersection, here: Interval) -> Window | None:
        """Shifts at which the wider interval had room."""
        if here.window is None:
            return None
        c = kept.at_centre(self._branches[here.branch], here.middle)
        x0, y0, x1, y1 = here.window
        return (
            math.floor(x0 - c[0]) - _PAD_UM,
            math.floor(y0 - c[1]) - _PAD_UM,
            math.ceil(x1 - c[0]) + _PAD_UM,
            math.ceil(y1 - c[1]) + _PAD_UM,
        )

    def _try(
        self, kept: RotationIntersection, here: Interval, room: FinePaths | None, contact: bool = False
    ) -> bool:
        branch = self._branches[here.branch]
        self.steps += 1
        problem = kept.problem(branch.facing)
        window = None
        if room:
            x0, y0, x1, y1 = window_of(room)
            window = (x0 - _PAD_UM, y0 - _PAD_UM, x1 + _PAD_UM, y1 + _PAD_UM)
        paths = feasible_region(problem, here.middle, branch.way.mirrored, window)
        if not paths and contact:
            paths = contact_subgrid(problem, here.middle, branch.way.mirrored, window)
        chords = kept.scene.care == "even"
        self._found = bool(paths) and self._take(here.branch, here.middle, problem, paths, chords)
        return self._found


def breadth_um(paths: FinePaths) -> float:
    """Return the most that any piece of fine paths has of area for its length around, micrometres.

    A convex piece holds a circle of that radius, and none of twice that radius.
    """
    most = 0.0
    for outer, _ in components(paths):
        step = np.roll(outer, -1, axis=0) - outer
        around = float(np.hypot(step[:, 0], step[:, 1]).sum())
        most = max(most, ring_area_um2(outer) / around)
    return most / FINE


def has_arcs(part: Part, blank: Blank) -> bool:
    """Whether any outline of the question has arcs."""
    shapes = [blank.shape, *(d.shape for d in blank.defects), *(z.shape for z in part.zones if z.shape)]
    outlines = [part.outline, *(o for s in shapes for o in (s.outer, *s.holes))]
    return any(b != 0.0 for o in outlines for b in o.bulges)
