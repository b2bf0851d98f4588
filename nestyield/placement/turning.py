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

from nestyield.geometry.boolean import FinePaths
from nestyield.geometry.grid import UM_PER_MM, Region, area_um2, bounds
from nestyield.geometry.sweep import kept_when_turned
from nestyield.model import Blank, Part, Settings
from nestyield.placement.candidates import Way
from nestyield.placement.contact import contact_fine
from nestyield.placement.depth import Facing
from nestyield.placement.parts import Care
from nestyield.placement.problem import Problem, Scene, TakenPart
from nestyield.placement.region import allowed_fine, region_fine

LeafKind = Literal["none", "tight"]

# Widest interval that is looked at whole, degrees either way.
_WIDEST_HALF_DEG = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
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

    way: Way
    facing: Facing

    def intervals(self) -> list[tuple[float, float]]:
        """Return (middle, half) of equal intervals no wider than can be looked at whole."""
        tolerance = self.way.tolerance_deg
        count = max(1, math.ceil(tolerance / _WIDEST_HALF_DEG))
        half = tolerance / count
        first = self.way.middle_deg - tolerance
        return [(first + half * (2 * k + 1), half) for k in range(count)]


class Kept:
    """What stays covered while the part turns, for all problems of one scene.

    Parameters
    ----------
    scene : Scene
    centre : (float, float)
        Centre of the turn in the drawing, micrometres; the same for every scene of a search.
    """

    def __init__(self, scene: Scene, centre: tuple[float, float]) -> None:
        self.scene = scene
        self._centre = centre
        self._problems: dict[Facing, Problem] = {}
        self._kept: dict[tuple[int, float], Region] = {}
        self._outline: Region = [scene.shape.outline]
        far = scene.shape.outline - np.array(centre)
        self._reach_um = float(np.hypot(far[:, 0], far[:, 1]).max())

    def problem(self, facing: Facing) -> Problem:
        """Return the scene's problem for a choice of faces."""
        if facing not in self._problems:
            self._problems[facing] = self.scene.problem(facing)
        return self._problems[facing]

    def kept(self, region: Region, half_deg: float) -> Region:
        """Return what every turned copy of a region of the part covers."""
        key = (id(region), half_deg)
        if key not in self._kept:
            self._kept[key] = kept_when_turned(region, half_deg, self._centre)
        return self._kept[key]

    def moves_um(self, half_deg: float) -> float:
        """Return how far the farthest point moves from the middle of an interval to its end."""
        return 2.0 * self._reach_um * math.sin(math.radians(half_deg) / 2.0)

    def room(self, branch: Branch, middle_deg: float, half_deg: float) -> FinePaths | None:
        """Return where the kept wood fits; None when nothing is kept, which proves nothing."""
        problem = self.problem(branch.facing)
        outline = self.kept(self._outline, half_deg)
        if not outline:
            return None
        if area_um2(outline) > area_um2(problem.container):
            return []
        pairs = [(o.fixed, self.kept(o.moving, half_deg)) for o in problem.obstacles]
        pairs = [(fixed, moving) for fixed, moving in pairs if moving]
        return region_fine(problem.container, outline, pairs, middle_deg, branch.way.mirrored)


#: Takes (branch number, angle, problem, shifts on the finer grid); says whether that settles the question.
Taker = Callable[[int, float, Problem, FinePaths], bool]

#: Arcs are taken to this chord error where the question is one of contact, millimetres.
FINE_CHORD_MM = 0.001
# Intervals over which no point moves farther than this are not halved again, micrometres.
_CONTACT_MOVE_UM = 0.5


class AngleSearch:
    """Interval search over every branch.

    Parameters
    ----------
    branches : sequence of Branch
    part, blank, settings, taken
        The question.
    within_mm : float
        Room to spare below which a place need not be found.
    limit : int
        Most regions to compute.
    take : callable
        Called with every non-empty allowed region; the search ends when it returns true.
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
    ) -> None:
        self._branches = branches
        self._within_um = within_mm * UM_PER_MM
        self._limit, self._take = limit, take
        self.steps = 0
        self._rounded = has_arcs(part, blank)
        safe = Scene(part, blank, settings, taken, "safe")
        x0, y0, x1, y1 = bounds([safe.shape.outline])
        centre = ((x0 + x1) / 2, (y0 + y1) / 2)

        def scene(care: Care, tighter_mm: float = 0.0, error_mm: float | None = None) -> Kept:
            made = Scene(part, blank, settings, taken, care, tighter_mm=tighter_mm, chord_error_mm=error_mm)
            return Kept(made, centre)

        self._safe = Kept(safe, centre)
        self._lenient = scene("lenient")
        self._tight = scene("lenient", tighter_mm=within_mm)
        self._scene = scene

    def run(self) -> Outcome:
        """Work off all intervals."""
        start = [
            (k, middle, half)
            for k, branch in enumerate(self._branches)
            for middle, half in branch.intervals()
        ]
        leaves, open_ = self._halve(start, self._lenient, self._safe, last_um=0.0)
        if leaves is None:
            return Outcome(found=True, leaves=(), open_=(), steps=self.steps)
        done = [leaf for leaf in leaves if leaf.kind == "none"]
        tight = [leaf for leaf in leaves if leaf.kind == "tight"]
        if tight and not open_:
            more, _ = self._closer(tight)
            if more is None:
                return Outcome(found=True, leaves=(), open_=(), steps=self.steps)
            done += more
        else:
            done += tight
        done.sort(key=lambda f: (f.branch, f.from_deg))
        return Outcome(found=False, leaves=tuple(done), open_=tuple(sorted(open_)), steps=self.steps)

    def _closer(self, tight: list[Leaf]) -> tuple[list[Leaf] | None, list[tuple[int, float, float]]]:
        """Look into intervals with next to no room, arcs taken to a micrometre, down to contact."""
        lenient, safe = self._lenient, self._safe
        if self._rounded:
            lenient = self._scene("lenient", error_mm=FINE_CHORD_MM)
            safe = self._scene("safe", error_mm=FINE_CHORD_MM)
        start = [(f.branch, (f.from_deg + f.to_deg) / 2, (f.to_deg - f.from_deg) / 2) for f in tight]
        allowance = self.steps + max(self._limit // 4, 50)
        limit, self._limit = self._limit, allowance
        leaves, open_ = self._halve(start, lenient, safe, last_um=_CONTACT_MOVE_UM)
        self._limit = limit
        if leaves is None:
            return None, []
        leaves += [Leaf(branch=k, from_deg=a, to_deg=b, kind="tight") for k, a, b in open_]
        return leaves, []

    def _halve(
        self, start: list[tuple[int, float, float]], lenient: Kept, safe: Kept, last_um: float
    ) -> tuple[list[Leaf] | None, list[tuple[int, float, float]]]:
        """Halve intervals until each is done with; None when a place was taken."""
        queue = [(0.0, n, k, middle, half) for n, (k, middle, half) in enumerate(start)]
        heapq.heapify(queue)
        count = len(queue)
        leaves: list[Leaf] = []
        while queue and self.steps < self._limit:
            _, _, k, middle, half = heapq.heappop(queue)
            branch = self._branches[k]
            self.steps += 1
            room = lenient.room(branch, middle, half)
            kind: LeafKind | None = "none" if room is not None and not room else None
            if kind is None:
                if self._try(k, middle, safe, contact=lenient.moves_um(half) <= 4 * last_um):
                    return None, []
                moves = lenient.moves_um(half)
                if last_um and moves <= last_um:
                    kind = "tight"
                elif not last_um and moves <= 2 * self._within_um:
                    self.steps += 1
                    if self._tight.room(branch, middle, half) == []:
                        kind = "tight"
            if kind is not None:
                leaves.append(Leaf(branch=k, from_deg=middle - half, to_deg=middle + half, kind=kind))
                continue
            size = -math.inf if room is None else -area_um2(room)
            for side in (-1, 1):
                heapq.heappush(queue, (size, count, k, middle + side * half / 2, half / 2))
                count += 1
        return leaves, [(k, middle - half, middle + half) for _, _, k, middle, half in queue]

    def _try(self, k: int, angle_deg: float, safe: Kept, contact: bool) -> bool:
        branch = self._branches[k]
        self.steps += 1
        problem = safe.problem(branch.facing)
        paths = allowed_fine(problem, angle_deg, branch.way.mirrored)
        if not paths and contact:
            paths = contact_fine(problem, angle_deg, branch.way.mirrored)
        return bool(paths) and self._take(k, angle_deg, problem, paths)


def has_arcs(part: Part, blank: Blank) -> bool:
    """Whether any outline of the question has arcs."""
    shapes = [blank.shape, *(d.shape for d in blank.defects), *(z.shape for z in part.zones if z.shape)]
    outlines = [part.outline, *(o for s in shapes for o in (s.outer, *s.holes))]
    return any(b != 0.0 for o in outlines for b in o.bulges)
