"""An exact check of one placement, by shapely's predicates; shares nothing with the regions."""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.boolean import components
from nestyield.geometry.flatten import points_along
from nestyield.geometry.grid import CONTACT_TOL_UM, UM_PER_MM, Region, area_um2, bounds
from nestyield.model import Outline, Placement
from nestyield.model.pose import Pose
from nestyield.placement.problem import PlacementProblem
from nestyield.placement.remember import remember

#: Checkers of so many problems are kept: those of one part on one blank, by turns.
MOST_KEPT = 8


def _geometry(region: Region) -> Any:
    """A region as a shapely geometry in micrometers."""
    polygons = [shapely.Polygon(outer, holes) for outer, holes in components(region)]
    whole = shapely.MultiPolygon(polygons) if len(polygons) != 1 else polygons[0]
    return whole if whole.is_valid else shapely.make_valid(whole)


class Checker:
    """Checks placements of one problem.

    Parameters
    ----------
    problem : PlacementProblem
    tolerance_um : float
        How far the part may exceed an edge or enter an obstacle.
    """

    def __init__(self, problem: PlacementProblem, tolerance_um: float = CONTACT_TOL_UM) -> None:
        self._problem = problem
        wide = [_geometry([r]).buffer(tolerance_um, join_style="mitre") for r in problem.container]
        self._homes = wide
        for g in self._homes:
            shapely.prepare(g)
        self._tolerance_um = tolerance_um
        self._boxes = [bounds(o.fixed) if any(map(len, o.fixed)) else None for o in problem.obstacles]
        self._bad: dict[int, Any] = {}

    _LAST: ClassVar[list[tuple[PlacementProblem, float, Checker]]] = []

    @classmethod
    def of(cls, problem: PlacementProblem, more_um: float = 0.0) -> Checker:
        """Return the checker of a problem; the last few are kept."""
        for k, (known, more, checker) in enumerate(cls._LAST):
            if known is problem and more == more_um:
                cls._LAST.insert(0, cls._LAST.pop(k))
                return checker
        made = cls(problem, CONTACT_TOL_UM + more_um)
        cls._LAST.insert(0, (problem, more_um, made))
        del cls._LAST[MOST_KEPT:]
        return made

    def clash(self, pose: Pose) -> str:
        """Return ``""`` when the placement holds, else what it breaks."""
        outline = pose.on_grid(self._problem.shape.outline)
        part = shapely.Polygon(outline)
        if not part.is_valid:
            part = shapely.make_valid(part)
        if not any(home.covers(part) for home in self._homes):
            return "outside the blank less its margin"
        return self.over(pose)

    def over(self, pose: Pose) -> str:
        """Return ``""`` when the placement is clear of all obstacles, else over which it lies."""
        rings: dict[int, Region] = {}
        done: dict[int, Any] = {}
        for k, (box, obstacle) in enumerate(zip(self._boxes, self._problem.obstacles)):
            key = id(obstacle.moving)
            if key not in rings:
                rings[key] = pose.on_grid(obstacle.moving)
            if box is None or not any(map(len, rings[key])) or not _meet(box, bounds(rings[key])):
                continue
            if key not in done:
                done[key] = _geometry(rings[key])
            bad = self._of_obstacle(k)
            if bad.intersects(done[key]) and not bad.touches(done[key]):
                return f"over {', '.join(obstacle.names)}"
        return ""

    def _of_obstacle(self, k: int) -> Any:
        """Return what of an obstacle a part may not enter."""
        if k not in self._bad:
            fixed = _geometry(self._problem.obstacles[k].fixed)
            self._bad[k] = fixed.buffer(-self._tolerance_um, join_style="mitre")
            shapely.prepare(self._bad[k])
        return self._bad[k]


def _meet(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> bool:
    """Tell whether two boxes share a point."""
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


# Chords of the true outlines compared by ``reaches_past`` lie this close to their arcs, millimeters.
_TRUE_CHORD_MM = 0.0001


def reaches_past(outline: Outline, edge: Outline, margin_mm: float, at: Placement, by_um: float) -> bool:
    """Tell whether a true outline reaches past an edge less its margin by more than an amount.

    Nothing is rounded and arcs are true to 0.1 micrometers, so a curve in its own counterpart shows no more
    than what turn and shift are off by.

    Parameters
    ----------
    outline : Outline
        Of the part, drawing coordinates.
    edge : Outline
        Outer edge of the blank.
    margin_mm : float
    at : Placement
    by_um : float
        Micrometers, above 0.
    """
    part = _laid(outline, Pose.of(at))
    home, border = _home(edge)
    by_mm = by_um / UM_PER_MM
    if home.covers(part):
        return margin_mm > by_mm and bool(shapely.dwithin(border, part.boundary, margin_mm - by_mm))
    if margin_mm > by_mm:
        return True
    out = shapely.points(shapely.get_coordinates(part.difference(home)))
    # a corner of the part outside, or of the edge inside the part
    far = max(
        shapely.distance(out, home).max(initial=0.0), shapely.distance(out, part.boundary).max(initial=0.0)
    )
    return len(out) > 0 and margin_mm + float(far) > by_mm


@remember(MOST_KEPT)
def _home(edge: Outline) -> tuple[Any, Any]:
    """Return what lies inside an edge, and the edge itself, made ready for many questions."""
    home = _true(edge)
    border = home.boundary
    shapely.prepare(home)
    shapely.prepare(border)
    return home, border


def _laid(outline: Outline, pose: Pose) -> Any:
    """Return what lies inside an outline laid by a pose; its arcs are worked out once for all poses."""
    ring, valid = _drawn(outline)
    polygon = shapely.polygons(pose.array(ring))
    return polygon if valid else shapely.make_valid(polygon)


@remember(MOST_KEPT)
def _drawn(outline: Outline) -> tuple[NDArray[np.float64], bool]:
    """Return the corners of an outline as drawn, shape (n, 2), mm, and whether it is a valid ring."""
    ring = np.array(points_along(outline, _TRUE_CHORD_MM), dtype=np.float64)
    return ring, bool(shapely.is_valid(shapely.polygons(ring)))


def _true(outline: Outline) -> Any:
    return _laid(outline, Pose())


@remember(MOST_KEPT)
def _fillings(problem: PlacementProblem) -> list[tuple[tuple[int, int, int, int], Any]]:
    """Return the box and the geometry of each defect that may be filled."""
    return [(bounds(f.fixed), _geometry(f.fixed)) for f in problem.fillings]


@remember(MOST_KEPT)
def most_filled_ml(problem: PlacementProblem) -> float:
    """Return more filler than any placement needs, millilitres: all defects that may be filled, whole."""
    whole = sum(area_um2(f.fixed) / 1e6 * f.depth_mm / 1000.0 for f in problem.fillings)
    return whole * (1.0 + 1e-9)


def filled_ml(problem: PlacementProblem, pose: Pose) -> tuple[float, tuple[str, ...]]:
    """Return the filler needed, millilitres, and the defects to fill.

    Volume is the area of defect in wood that stays times the depth, layer by layer: what pockets take is
    left out.
    """
    total, names = 0.0, []
    turned: dict[int, Region] = {}
    held: dict[int, Any] = {}
    for filling, (box, fixed) in zip(problem.fillings, _fillings(problem)):
        key = id(filling.moving)
        if key not in turned:
            turned[key] = pose.on_grid(filling.moving)
        if not _meet(box, bounds(turned[key])):
            continue
        if key not in held:
            held[key] = _geometry(turned[key])
        area_mm2 = float(shapely.area(shapely.intersection(held[key], fixed))) / 1e6
        if area_mm2 > 1e-9:
            total += area_mm2 * filling.depth_mm / 1000.0
            names.append(filling.defect.name)
    return total, tuple(dict.fromkeys(names))
