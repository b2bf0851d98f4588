"""Many parts on one blank by the search of ``nesting``, checked part by part as any other layout."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.boolean import to_grid
from nestyield.geometry.grid import CONTACT_TOL_UM, UM_PER_MM, Region, bounds
from nestyield.geometry.shape import to_shapely
from nestyield.model import Blank, Part, Settings
from nestyield.model.pose import Pose
from nestyield.nesting.any_angle import AnyAngle
from nestyield.nesting.checked import Accept, Packed, Proposed, checked
from nestyield.nesting.sheet import Goal, Sheet, SheetItem, SheetPlace, nest, nest_on_fewest
from nestyield.placement.candidates import Orientation, orientations
from nestyield.placement.constraint import Constraint
from nestyield.placement.contact import giving
from nestyield.placement.depth import ThicknessSplit, thickness_splits
from nestyield.placement.parts import PartShape, part_shape
from nestyield.placement.problem import PlacementProblem, build
from nestyield.placement.region import feasible_region

#: Evaluations of the search for each step of effort, at least, and for each copy that is asked for.
EVALUATIONS, EVALUATIONS_A_COPY = 400_000, 60_000
#: Turned outlines of all parts together up to which parts without grain are also laid along their own edges.
MOST_TURNED = 40
#: Gaps of outlines not turned by quarters are taken this much wider, as these are rounded, micrometers.
GAP_MORE_UM = 2
#: Layouts of up to so many parts are looked for at any angle, with so many searches for each step of effort.
MOST_AT_ANY_ANGLE, TRIES = 4, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedBlank:
    """What the search laid on a blank.

    Parameters
    ----------
    packed : tuple of (int, Placement)
    stopped : {"bound", "effort", "seconds"}
        Everything is laid, or the area is full; the effort was spent; it was told to stop.
    turned : tuple of (int, Placement)
        With goal ``"length"`` the same layout at the other end, by half a turn; empty where it has no place.
    """

    packed: Packed
    stopped: str
    turned: Packed = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _OrientedPart:
    """One orientation of one part, planed evenly."""

    angle_deg: float
    mirrored: bool
    split: ThicknessSplit
    problem: PlacementProblem

    @property
    def key(self) -> tuple[float, bool]:
        """Angle and image."""
        return self.angle_deg, self.mirrored


def _region(turn: _OrientedPart) -> Region:
    """Return where a part may lie by itself; where it has no play, by the tolerance of contact."""
    asked = (turn.angle_deg, turn.mirrored)
    exact = to_grid(feasible_region(turn.problem, *asked))
    return exact or to_grid(feasible_region(giving(turn.problem, CONTACT_TOL_UM), *asked))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Search:
    """What a search on a blank is asked.

    Parameters
    ----------
    parts : sequence of (Part, count)
    blank : Blank
    settings : Settings
    constraints : sequence of Constraint
    asked : list of int
        Parts that lie on the blank in some orientation.
    turns : dict of int to list of _OrientedPart
    regions : dict
        Where each asked part may lie in each orientation.
    """

    parts: Sequence[tuple[Part, int]]
    blank: Blank
    settings: Settings
    constraints: Sequence[Constraint]
    asked: list[int]
    turns: dict[int, list[_OrientedPart]]
    regions: dict[tuple[int, float, bool], Region]

    @classmethod
    def of(
        cls,
        parts: Sequence[tuple[Part, int]],
        blank: Blank,
        settings: Settings,
        constraints: Sequence[Constraint],
    ) -> _Search:
        """Turn the parts and find where each may lie by itself."""
        asked = [k for k, (_, count) in enumerate(parts) if count > 0]
        turns = {
            k: _turns(parts[k][0], blank, settings, MOST_TURNED // len(asked), constraints) for k in asked
        }
        asked = [k for k in asked if turns[k]]
        regions = {
            (i, turn.angle_deg, turn.mirrored): _region(turn)
            for i, k in enumerate(asked)
            for turn in turns[k]
        }
        return cls(
            parts=parts,
            blank=blank,
            settings=settings,
            constraints=constraints,
            asked=asked,
            turns=turns,
            regions=regions,
        )

    @property
    def items(self) -> list[SheetItem]:
        """The asked parts as outlines."""
        return [
            SheetItem(
                name=self.parts[k][0].name,
                outline=[part_shape(self.parts[k][0], self.settings.chord_error_mm).outline],
                count=self.parts[k][1],
                orientations=tuple((t.angle_deg, t.mirrored) for t in self.turns[k]),
            )
            for k in self.asked
        ]

    @property
    def sheet(self) -> Sheet:
        """The wood of the blank, less the margin."""
        return Sheet(name=self.blank.name, region=list(self.turns[self.asked[0]][0].problem.container))

    @property
    def evaluations(self) -> int:
        """Evaluations for each step of effort."""
        return max(EVALUATIONS, EVALUATIONS_A_COPY * sum(self.parts[k][1] for k in self.asked))

    def proposed(self, places: Sequence[SheetPlace]) -> list[Proposed]:
        """Return places found, from the least x on."""
        return [
            Proposed(
                part=k,
                angle_deg=place.angle_deg,
                mirrored=place.mirrored,
                x_um=place.x_um,
                y_um=place.y_um,
                split=next(
                    t.split
                    for t in self.turns[k]
                    if (t.angle_deg, t.mirrored) == (place.angle_deg, place.mirrored)
                ),
            )
            for place in sorted(places, key=lambda p: (p.x_um, p.y_um, p.item))
            for k in (self.asked[place.item],)
        ]

    def checked(self, proposed: list[Proposed], accept: Accept | None) -> tuple[Packed, list[Proposed]]:
        """Return what of proposed places holds, fronts up where that holds as much, and the places so."""
        own = [part for part, _ in self.parts]
        laid = checked(proposed, own, self.blank, self.settings, self.constraints, accept)
        error = self.settings.chord_error_mm
        fronts = [_front_up(p, part_shape(own[p.part], error), self.turns[p.part]) for p in proposed]
        if fronts != proposed:
            shown = checked(fronts, own, self.blank, self.settings, self.constraints, accept)
            if len(shown) >= len(laid):
                return shown, fronts
        return laid, proposed


def pack_alike(
    parts: Sequence[tuple[Part, int]],
    blank: Blank,
    settings: Settings,
    most: int,
    effort: int,
    seed: int,
    *,
    accept: Accept | None = None,
    workers: int = 1,
    stop: Callable[[], bool] | None = None,
) -> tuple[Packed, ...]:
    """Lay all copies of some parts on as few alike blanks as the effort finds, all of them in one search.

    Parameters
    ----------
    parts, blank, settings, seed, accept, workers, stop
        As of `pack_blank`.
    most : int
        How many blanks there are.
    effort : int

    Returns
    -------
    tuple of Packed
        By blank, each checked as in `pack_blank`; empty when not all copies were laid.
    """
    search = _Search.of(parts, blank, settings, ())
    if len(search.asked) < sum(count > 0 for _, count in parts):
        return ()
    found = nest_on_fewest(
        search.items,
        search.sheet,
        most,
        gap_um=round(settings.gap_mm * UM_PER_MM),
        wider_um=GAP_MORE_UM,
        feasible_shifts=lambda item, orientation, sheet: search.regions[(item, *orientation)],
        seed=seed,
        effort=search.evaluations * effort,
        stop=stop or (lambda: False),
        workers=workers,
    )
    sheets = sorted({place.sheet for place in found})
    return tuple(
        search.checked(search.proposed([p for p in found if p.sheet == b]), accept)[0] for b in sheets
    )


def pack_blank(
    parts: Sequence[tuple[Part, int]],
    blank: Blank,
    settings: Settings,
    effort: int,
    seed: int,
    *,
    goal: Goal = "value",
    accept: Accept | None = None,
    constraints: Sequence[Constraint] = (),
    workers: int = 1,
    stop: Callable[[], bool] | None = None,
    begun: Packed = (),
) -> PackedBlank:
    """Lay as much as will go of some parts on an empty blank: the most area, or all on the least length.

    Parameters
    ----------
    parts : sequence of (Part, count)
        All of one thickness.
    blank : Blank
    settings : Settings
    effort, seed : int
    goal : {"value", "length"}
        With ``"length"`` the effort goes into pushing all parts towards the least x.
    accept : callable, optional
        Called with what lies there, an index into ``parts`` and a placement beside it; false leaves it out.
    constraints : sequence of Constraint
    workers : int
        Threads; the answer does not depend on them.
    stop : callable, optional
        Asked now and then; when it tells true, the best so far is taken.
    begun : tuple of (int, Placement)
        A layout of all of them: the search begins with it, where its angles are among those that it tries,
        and only pushes it together.

    Returns
    -------
    PackedBlank
        Index into ``parts``, and where a copy lies. Every placement has been checked against the blank and
        the parts before it; those that do not pass are left out.
    """
    search = _Search.of(parts, blank, settings, constraints)
    if not search.asked:
        return PackedBlank(packed=(), stopped="bound")
    asked = search.asked
    found = nest(
        search.items,
        [search.sheet],
        goal=goal,
        gap_um=round(settings.gap_mm * UM_PER_MM),
        wider_um=GAP_MORE_UM,
        feasible_shifts=lambda item, orientation, sheet: search.regions[(item, *orientation)],
        seed=seed,
        effort=search.evaluations * effort,
        workers=workers,
        stop=stop,
        begun=[
            SheetPlace(
                item=asked.index(k),
                copy=1,
                sheet=0,
                angle_deg=at.angle_deg,
                mirrored=at.mirrored,
                x_um=at.x_um,
                y_um=at.y_um,
            )
            for k, at in begun
        ],
    )
    proposed = search.proposed(found.places)
    own = [part for part, _ in parts]
    laid, proposed = search.checked(proposed, accept)
    other: Packed = ()
    if goal == "value":
        laid = _turned(laid, parts, blank, settings, constraints, accept, effort, seed, stop)
    else:
        other = checked(_by_half_a_turn(proposed, blank), own, blank, settings, constraints, accept)
    whole = len(laid) == sum(count for _, count in parts)
    return PackedBlank(
        packed=laid,
        stopped="bound" if whole else found.stopped,
        turned=other if len(other) == len(proposed) else (),
    )


def _front_up(place: Proposed, shape: PartShape, turns: Sequence[_OrientedPart]) -> Proposed:
    """Return the place that covers the same wood with the front up, for outlines that are their own image."""
    if place.split.front_up:
        return place
    here = Pose(angle_deg=place.angle_deg, mirrored=place.mirrored).on_grid([shape.outline])
    for turn in turns:
        if turn.split.front_up:
            there = Pose(angle_deg=turn.angle_deg, mirrored=turn.mirrored).on_grid([shape.outline])
            by = np.array(bounds(here)[:2]) - np.array(bounds(there)[:2])
            if (
                shapely.hausdorff_distance(to_shapely(here), to_shapely([r + by for r in there]))
                <= GAP_MORE_UM / 1e3
            ):
                return replace(
                    place,
                    angle_deg=turn.angle_deg,
                    mirrored=turn.mirrored,
                    split=turn.split,
                    x_um=place.x_um + int(by[0]),
                    y_um=place.y_um + int(by[1]),
                )
    return place


def _by_half_a_turn(proposed: Sequence[Proposed], blank: Blank) -> list[Proposed]:
    """Return places turned by half about the middle of a blank."""
    x, y = np.array(blank.shape.outer.points_mm).T * UM_PER_MM
    across, up = round(x.min() + x.max()), round(y.min() + y.max())
    return [
        replace(p, angle_deg=(p.angle_deg + 180.0) % 360.0, x_um=across - p.x_um, y_um=up - p.y_um)
        for p in reversed(proposed)
    ]


def _turned(
    laid: Packed,
    parts: Sequence[tuple[Part, int]],
    blank: Blank,
    settings: Settings,
    constraints: Sequence[Constraint],
    accept: Accept | None,
    effort: int,
    seed: int,
    stop: Callable[[], bool] | None,
) -> Packed:
    """Lay one part more at any angle, while there are few, and again."""
    search = AnyAngle([part for part, _ in parts], blank, settings, constraints, accept)
    rng = np.random.default_rng([seed, 1])
    room = search.room
    while len(laid) < MOST_AT_ANY_ANGLE:
        have = [k for k, _ in laid]
        wood = sum(search.wood[k] for k in have)
        more = [
            k for k, (_, count) in enumerate(parts) if have.count(k) < count and wood + search.wood[k] <= room
        ]
        for k in sorted(more, key=lambda k: (-search.wood[k], k)):
            found = search.lay([*have, k], TRIES * effort, rng, stop or (lambda: False))
            if found is not None:
                laid = found
                break
        else:
            break
    return laid


def _turns(
    part: Part, blank: Blank, settings: Settings, most: int, constraints: Sequence[Constraint]
) -> list[_OrientedPart]:
    """Return the orientations of a part that the search chooses from, each once.

    Grain along grain; where grain does not matter, by quarter turns, and then with long edges along X and Y
    while there are fewer than ``most``.
    """
    out: list[_OrientedPart] = []
    free = []
    for orientation in orientations(part, blank.grain_deg):
        split = thickness_splits(part, blank, settings.planing_mm, orientation.front_up)[0]
        problem = build(part, blank, settings, split, constraints=constraints)

        def add(
            angle: float,
            orientation: Orientation = orientation,
            split: ThicknessSplit = split,
            problem: PlacementProblem = problem,
        ) -> None:
            mirrored = orientation.mirrored
            if all((angle, mirrored) != (t.angle_deg, t.mirrored) for t in out):
                out.append(_OrientedPart(angle_deg=angle, mirrored=mirrored, split=split, problem=problem))

        for angle in orientation.angles(1)[: 4 if orientation.tolerance_deg >= 180.0 else 1]:
            add(angle)
        if orientation.tolerance_deg >= 180.0:
            free.append((orientation, add))
    for lean in edge_leans(part_shape(part, settings.chord_error_mm).outline):
        if len(out) + 4 * len(free) > most:
            break
        for orientation, add in free:
            turn = lean if orientation.mirrored else -lean
            for quarter in range(4):
                add((turn + 90.0 * quarter) % 360.0)
    return out


def edge_leans(outline: NDArray[np.int64]) -> list[float]:
    """Return how far long straight sides lean from the axes, degrees in (0, 90), longest first.

    Sides are those of the convex hull, at least a fifth of its greatest extent; leans within half a degree
    of an axis or of each other count once.
    """
    hull = shapely.convex_hull(shapely.multipoints(outline))
    if hull.geom_type != "Polygon":
        return []
    sides = np.diff(shapely.get_coordinates(hull), axis=0)
    long = np.hypot(sides[:, 0], sides[:, 1])
    size = max(hull.bounds[2] - hull.bounds[0], hull.bounds[3] - hull.bounds[1])
    found: list[float] = []
    for k in np.argsort(-long, kind="stable"):
        lean = math.degrees(math.atan2(sides[k, 1], sides[k, 0])) % 90.0
        if long[k] >= size / 5 and all(abs(lean - f) > 0.5 for f in (0.0, 90.0, *found)):
            found.append(lean)
    return found
