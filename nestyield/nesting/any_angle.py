"""A few parts on one blank at any angle: a search with some angles and lenient edges, then moves and turns.

Angles of the search are drawn anew for each try. A part may reach as far past an edge as the next angle might
mend. What the search finds is settled by moving and turning the parts together; a layout counts when each
part passes the exact check beside the others.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.boolean import to_grid
from nestyield.geometry.grid import UM_PER_MM, Region, bounds
from nestyield.geometry.offset import grow, shrink
from nestyield.geometry.shape import to_shapely
from nestyield.model import Blank, Part, Settings, Shape
from nestyield.model.pose import Pose
from nestyield.nesting.checked import Accept, Packed, Proposed, checked
from nestyield.nesting.convex import ConvexPiece, convex_pieces
from nestyield.nesting.packer import Packing
from nestyield.nesting.settling import CLEAR_MM, Body, Settling
from nestyield.nesting.sheet import Sheet, SheetItem, prepare
from nestyield.placement.candidates import Orientation, orientations
from nestyield.placement.constraint import Constraint
from nestyield.placement.depth import ThicknessSplit, thickness_splits
from nestyield.placement.problem import PlacementProblem, build
from nestyield.placement.region import region_subgrid

#: Turned outlines of all parts together in one search.
TURNED = 30
#: Searches with the same angles, and evaluations of each.
STARTS, SEARCH = 6, 25_000
#: Cells of each no-fit region, of which there are hundreds for one short search.
CELLS = 256
#: Arrangements of all these that are settled, and how far corners may move in the first step, millimeters.
NEAREST, FIRST_REACH_MM = 8, 12.0
#: Edges are lenient by no more than this, millimeters.
MOST_LENIENT_MM = 15.0
#: Outlines are simplified to this before the search, and before they are settled, millimeters.
ROUGH_MM, COARSE_MM = 0.5, 0.05
#: When all that a try settled still overlaps by more than this, no other angles are tried, millimeters.
HOPELESS_MM = 25.0
#: Parts without grain have angles far apart in one search: they are tried so often all the same.
COARSE_TRIES = 5


#: Middle of a part, its regions, which of them must stay clear of what, and its radius.
_Laid = tuple[NDArray[np.float64], tuple[list[ConvexPiece], ...], list[tuple[int, list[ConvexPiece]]], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class _AngleRange:
    """One way of one part: all angles about a middle one."""

    orientation: Orientation
    split: ThicknessSplit
    problem: PlacementProblem

    def angles(self, count: int, rng: np.random.Generator) -> list[float]:
        """Draw angles spread over the range."""
        half = self.orientation.tolerance_deg
        if half <= 0.0:
            return [self.orientation.middle_deg]
        spread = (np.arange(count) + rng.random()) / count * 2.0 - 1.0
        return [self.orientation.middle_deg + half * float(s) for s in spread]

    def lenient(self, angle_deg: float, by_mm: float) -> Region:
        """Return the rough feasible region at an angle when edges and obstacles are lenient by some."""
        by = by_mm * UM_PER_MM
        obstacles = [
            (_rough(fixed), _rough(o.moving))
            for o in self.problem.obstacles
            if (fixed := shrink(o.fixed, by))
        ]
        home = grow(_rough(self.problem.container), by)
        mirrored = self.orientation.mirrored
        return to_grid(
            region_subgrid(home, _rough([self.problem.shape.outline]), obstacles, angle_deg, mirrored)
        )


def _rough(region: Region) -> Region:
    """Return a region with fewer corners, `ROUGH_MM` off at the most."""
    simple = to_shapely(region).simplify(ROUGH_MM)
    rings = []
    for polygon in shapely.get_parts(simple):
        if polygon.geom_type == "Polygon" and not polygon.is_empty:
            whole = shapely.orient_polygons(polygon)
            rings += [
                np.rint(shapely.get_coordinates(r)[:-1] * UM_PER_MM).astype(np.int64)
                for r in (whole.exterior, *whole.interiors)
            ]
    return rings


class AnyAngle:
    """Parts and a blank, for layouts of a few copies.

    Parameters
    ----------
    parts : sequence of Part
    blank : Blank
    settings : Settings
    constraints : sequence of Constraint
    accept : callable, optional
        As for `checked`.

    Attributes
    ----------
    wood : list of float
        Area of each part with half the gap around it, square millimeters.
    room : float
        What parts so grown may cover.
    """

    def __init__(
        self,
        parts: Sequence[Part],
        blank: Blank,
        settings: Settings,
        constraints: Sequence[Constraint] = (),
        accept: Accept | None = None,
    ) -> None:
        self.parts, self.blank, self.settings = parts, blank, settings
        self.constraints, self.accept = constraints, accept
        self._ways = [self._of(part) for part in parts]
        self._seen: dict[int, _Laid] = {}
        half = settings.gap_mm / 2.0
        self.wood = [float(to_shapely(Shape(outer=p.outline)).buffer(0.999 * half).area) for p in parts]
        homes = {id(w.problem.container): w.problem.container for own in self._ways for w in own}
        self.room = max((to_shapely(h).buffer(1.02 * half).area for h in homes.values()), default=0.0)

    def _of(self, part: Part) -> list[_AngleRange]:
        out = []
        for orientation in orientations(part, self.blank.grain_deg):
            split = thickness_splits(part, self.blank, self.settings.planing_mm, orientation.front_up)[0]
            problem = build(part, self.blank, self.settings, split, constraints=self.constraints)
            out.append(_AngleRange(orientation=orientation, split=split, problem=problem))
        return out

    def _lenient(self, k: int, way: _AngleRange, count: int) -> float:
        """Return how far off a corner of a part is, at the most, at the nearest of some angles, mm."""
        half = min(way.orientation.tolerance_deg, 180.0)
        x0, y0, x1, y1 = bounds([way.problem.shape.outline])
        radius = math.hypot(x1 - x0, y1 - y0) / 2 / UM_PER_MM
        return min(MOST_LENIENT_MM, radius * math.radians(half / max(1, count)))

    def lay(
        self, asked: Sequence[int], tries: int, rng: np.random.Generator, stop: Callable[[], bool]
    ) -> Packed | None:
        """Look for a layout of some copies.

        Parameters
        ----------
        asked : sequence of int
            Parts by their index, one for each copy.
        tries : int
            Searches, each with other angles.
        rng : numpy.random.Generator
        stop : callable
            Ends it early.

        Returns
        -------
        Packed or None
            Each part checked exactly beside the others; None when no layout was found.
        """
        coarse = any(w.orientation.tolerance_deg >= 90.0 for k in set(asked) for w in self._ways[k])
        for turn in range(tries):
            if stop():
                return None
            found, overlap_mm = self._searched(asked, rng, stop)
            for proposed in found:
                done = checked(proposed, self.parts, self.blank, self.settings, self.constraints, self.accept)
                if len(done) == len(asked):
                    return done
            if overlap_mm > HOPELESS_MM and (not coarse or turn + 1 >= COARSE_TRIES):
                return None
        return None

    def _searched(
        self, asked: Sequence[int], rng: np.random.Generator, stop: Callable[[], bool]
    ) -> tuple[list[list[Proposed]], float]:
        """Search with some angles; return what settled clear, and the least overlap left otherwise."""
        kinds = sorted(set(asked))
        turns: list[dict[tuple[float, bool], _AngleRange]] = []
        for k in kinds:
            ways = self._ways[k]
            each = max(1, TURNED // (len(kinds) * len(ways)))
            turns.append({(a, w.orientation.mirrored): w for w in ways for a in w.angles(each, rng)})
        regions: dict[tuple[int, float, bool], Region] = {
            (i, a, m): w.lenient(a, self._lenient(k, w, TURNED // (len(kinds) * len(self._ways[k]))))
            for i, (k, own) in enumerate(zip(kinds, turns))
            for (a, m), w in own.items()
        }
        turns = [{key: w for key, w in own.items() if regions[i, *key]} for i, own in enumerate(turns)]
        if not all(turns):
            return [], 0.0  # other angles may do
        job = prepare(
            [
                SheetItem(
                    name=self.parts[k].name,
                    outline=_rough([self._ways[k][0].problem.shape.outline]),
                    count=list(asked).count(k),
                    orientations=tuple(turns[i]),
                )
                for i, k in enumerate(kinds)
            ],
            [
                Sheet(
                    name=self.blank.name,
                    region=grow(self._ways[kinds[0]][0].problem.container, MOST_LENIENT_MM * UM_PER_MM),
                )
            ],
            round(self.settings.gap_mm * UM_PER_MM),
            lambda item, orientation, sheet: regions[(item, *orientation)],
            stop=stop,
            most_cells=CELLS,
            open_ended=False,
        )
        want = [kinds.index(k) for k in sorted(asked)]
        near: list[tuple[float, Packing]] = []
        for _ in range(STARTS):
            packer = job.packer(rng)
            found = packer.pack(want, [0], SEARCH)
            near += packer.near if found is None else [(0.0, found)]
        near.sort(key=lambda n: n[0])
        tried: set[tuple[object, ...]] = set()
        out, least = [], math.inf
        for _, packing in near[:NEAREST]:
            key = (*packing.shape.tolist(), *np.rint(packing.pos / UM_PER_MM).ravel().tolist())
            if key in tried:
                continue
            tried.add(key)
            if stop():
                break
            settled, left_mm = self._settled([turns[k] for k in want], sorted(asked), packing, job.shapes)
            least = min(least, left_mm)
            if settled:
                out.append(settled)
        return out, least

    def _settled(
        self,
        turns: Sequence[dict[tuple[float, bool], _AngleRange]],
        asked: Sequence[int],
        packing: Packing,
        shapes: Sequence[Any],
    ) -> tuple[list[Proposed], float]:
        """Move and turn an arrangement; return the places, if it came clear, and the overlap left."""
        bodies, fixed, tests, poses, ways = [], [], [], [], []
        for i, own in enumerate(turns):
            shape = shapes[int(packing.shape[i])]
            way = own[shape.angle_deg, shape.mirrored]
            if id(way) not in self._seen:
                self._seen[id(way)] = self._regions(way)
            middle, groups, stands, radius = self._seen[id(way)]
            turn = Pose(angle_deg=shape.angle_deg)
            at = (packing.pos[i] - np.array(shape.corner)) / UM_PER_MM + turn.array(middle[None, :])[0]
            half = way.orientation.tolerance_deg
            free = half >= 180.0
            low = -math.inf if free else way.orientation.middle_deg - half
            high = math.inf if free else way.orientation.middle_deg + half
            bodies.append(Body(groups=groups, radius_mm=radius, low_deg=low, high_deg=high))
            poses.append((at[0], at[1], shape.angle_deg))
            ways.append((way, middle))
            for g, region in stands:
                fixed.append(region)
                tests.append(((i, g), (-1, len(fixed) - 1)))
            tests += [((j, 0), (i, 0)) for j in range(i)]
        done = Settling(bodies, fixed, tests).settle(np.array(poses), FIRST_REACH_MM)
        if done.overlap_mm > CLEAR_MM:
            return [], done.overlap_mm
        out = []
        for k, (way, middle), (x, y, deg) in zip(asked, ways, done.poses):
            turned = Pose(angle_deg=deg).array(middle[None, :])[0]
            out.append(
                Proposed(
                    part=k,
                    angle_deg=float(deg),
                    mirrored=way.orientation.mirrored,
                    x_um=round((x - turned[0]) * UM_PER_MM),
                    y_um=round((y - turned[1]) * UM_PER_MM),
                    split=way.split,
                )
            )
        return out, 0.0

    def _regions(self, way: _AngleRange) -> _Laid:
        """Return the middle of a part, its regions seen from there, what they stay clear of, its radius.

        Region 0 is the outline with half the gap around it, region 1 the outline.
        """
        problem = way.problem
        image = Pose(mirrored=way.orientation.mirrored)
        outline = to_shapely(image.on_grid([problem.shape.outline]))
        middle = np.array(outline.centroid.coords[0])

        def seen(geometry: Any) -> list[ConvexPiece]:
            moved = shapely.transform(geometry, lambda p: p - middle)
            return convex_pieces(moved.simplify(COARSE_MM))

        half = self.settings.gap_mm / 2.0
        grown = outline.buffer(half, quad_segs=6) if half else outline
        groups = [seen(grown), seen(outline)]
        stands = [(1, convex_pieces(self._outside(problem.container, outline.length)))]
        for obstacle in problem.obstacles:
            groups.append(seen(to_shapely(image.on_grid(obstacle.moving))))
            stands.append((len(groups) - 1, convex_pieces(to_shapely(obstacle.fixed).simplify(COARSE_MM))))
        radius = float(np.hypot(*(shapely.get_coordinates(outline) - middle).T).max())
        return middle, tuple(groups), stands, radius

    def _outside(self, container: Region, far: float) -> Any:
        inside = to_shapely(container).simplify(COARSE_MM)
        x0, y0, x1, y1 = inside.bounds
        return shapely.box(x0 - far, y0 - far, x1 + far, y1 + far).difference(inside)
