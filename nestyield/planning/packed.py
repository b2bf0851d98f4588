"""Many parts on one blank by the search of ``nesting``, checked part by part as any other layout."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.boolean import to_grid
from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.model import Part, Placement
from nestyield.nesting.sheet import Sheet, SheetItem, SheetPlace, nest
from nestyield.placement.candidates import Orientation, orientations
from nestyield.placement.check import Checker
from nestyield.placement.depth import ThicknessSplit, thickness_splits
from nestyield.placement.parts import part_shape
from nestyield.placement.problem import PlacementProblem, build
from nestyield.placement.region import feasible_region
from nestyield.planning.lay_parts import BedTaker, Laid, LayoutContext

#: Evaluations of the search for each step of effort, at least, and for each copy that is asked for.
EVALUATIONS, EVALUATIONS_A_COPY = 150_000, 15_000
#: Turned outlines of all parts together up to which parts without grain are also laid along their own edges.
MOST_TURNED = 40
#: Gaps of the search are taken this much wider, for the rounding of turned outlines, micrometres.
GAP_MORE_UM = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """One way to lay one want, planed evenly."""

    angle_deg: float
    mirrored: bool
    split: ThicknessSplit
    problem: PlacementProblem


def pack(bench: LayoutContext, counts: Mapping[int, int], effort: int, seed: int) -> Laid:
    """Lay as much as will go of some wants on an empty blank.

    Parameters
    ----------
    bench : LayoutContext
    counts : mapping of int to int
        Copies of each want, all of one thickness.
    effort, seed : int

    Returns
    -------
    Laid
        Every placement has been checked against the blank, the parts before it and the beds; those that do
        not pass are left out.
    """
    demands = [w for w, n in counts.items() if n > 0]
    turns = {w: _turns(bench, w, MOST_TURNED // len(demands)) for w in demands}
    demands = [w for w in demands if turns[w]]
    if not demands:
        return ()
    regions = {
        (k, turn.angle_deg, turn.mirrored): to_grid(
            feasible_region(turn.problem, turn.angle_deg, turn.mirrored)
        )
        for k, w in enumerate(demands)
        for turn in turns[w]
    }
    found = nest(
        [
            SheetItem(
                name=bench.part(w).name,
                outline=[part_shape(bench.part(w), bench.shop.settings.chord_error_mm).outline],
                count=counts[w],
                orientations=tuple((t.angle_deg, t.mirrored) for t in turns[w]),
            )
            for w in demands
        ],
        [Sheet(name=bench.blank.name, region=_ground(turns[demands[0]][0].problem))],
        goal="value",
        gap_um=round(bench.shop.settings.gap_mm * UM_PER_MM) + GAP_MORE_UM,
        feasible_shifts=lambda item, orientation, sheet: regions[(item, *orientation)],
        seed=seed,
        effort=max(EVALUATIONS, EVALUATIONS_A_COPY * sum(counts[w] for w in demands)) * effort,
        workers=1,
    )
    return _checked(bench, demands, turns, found.places)


def _turns(bench: LayoutContext, want: int, most: int) -> list[_Turn]:
    """Return the ways to lay a want that the search chooses from, each once.

    Grain along grain; where grain does not matter, by quarter turns, and then with long edges along X and Y
    while there are fewer than ``most``.
    """
    part, settings = bench.part(want), bench.shop.settings
    out: list[_Turn] = []
    free = []
    for way in orientations(part, bench.blank.grain_deg):
        split = thickness_splits(part, bench.blank, settings.planing_mm, way.front_up)[0]
        problem = build(part, bench.blank, settings, split)

        def add(
            angle: float,
            way: Orientation = way,
            split: ThicknessSplit = split,
            problem: PlacementProblem = problem,
        ) -> None:
            if all((angle, way.mirrored) != (t.angle_deg, t.mirrored) for t in out):
                out.append(_Turn(angle_deg=angle, mirrored=way.mirrored, split=split, problem=problem))

        for angle in way.angles(1)[: 4 if way.tolerance_deg >= 180.0 else 1]:
            add(angle)
        if way.tolerance_deg >= 180.0:
            free.append((way, add))
    for lean in edge_leans(part_shape(part, settings.chord_error_mm).outline):
        if len(out) + 4 * len(free) > most:
            break
        for way, add in free:
            turn = lean if way.mirrored else -lean
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


def _ground(problem: PlacementProblem) -> Region:
    return list(problem.container)


def _checked(
    bench: LayoutContext,
    demands: Sequence[int],
    turns: Mapping[int, Sequence[_Turn]],
    places: Sequence[SheetPlace],
) -> Laid:
    laid: Laid = ()
    settings = bench.shop.settings
    for place in sorted(places, key=lambda p: (p.x_um, p.y_um, p.item)):
        want = demands[place.item]
        turn = next(t for t in turns[want] if (t.angle_deg, t.mirrored) == (place.angle_deg, place.mirrored))
        part: Part = bench.part(want)
        taken = [(bench.part(w), at) for w, at in laid]
        checker = Checker(build(part, bench.blank, settings, turn.split, taken))
        if checker.clash(place.angle_deg, place.mirrored, place.x_um, place.y_um):
            continue
        at = Placement(
            part=part.name,
            order="",
            copy=1,
            angle_deg=place.angle_deg,
            mirrored=place.mirrored,
            x_um=place.x_um,
            y_um=place.y_um,
            front_up=turn.split.front_up,
        )
        if bench.shop.beds and not BedTaker(bench=bench, laid=laid, want=want).takes(at):
            continue
        laid = (*laid, (want, at))
    return laid
