"""Whether a part that is turned to the end of its told play has a place there at all.

All shifts at which the turned part keeps margins, gaps, flaws and what holds the blank are worked out by
running edges along edges (``shifts``), of regions that are a little smaller than they are; when none is left,
the part has no place. How it would slide there is not looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, points_of, polygon, region
from nestyield.audit.depth import layers_refused
from nestyield.audit.inspection import cuts_at
from nestyield.audit.places import margin_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.audit.shifts import polygons, shifts_left
from nestyield.audit.work import PLAY_TOL_MM, beside_mm
from nestyield.model import HoldDown, Pin

#: Regions have fewer corners for this, and are smaller by up to twice as much, look by look, mm.
COARSE_MM = (0.5, 0.1, 0.02, 0.002)
#: A place is looked for within so much of where the part lies, first, millimeters.
NEAR_MM = 4.0
#: Clearances to metal and holes are kept to so much, millimeters.
HOLE_TOL_MM = 0.03

#: Ground that stays, the room that must be kept from it, and what of the part must keep it.
Wall = tuple[BaseGeometry, float, BaseGeometry]


def has_place(
    bench: CheckedBlank, laid: CheckedPlacement, angle_deg: float, kept: Mapping[str, float]
) -> bool:
    """Tell whether a part that is turned has a place somewhere, all others left where they lie.

    Parameters
    ----------
    bench : CheckedBlank
    laid : CheckedPlacement
    angle_deg : float
    kept : mapping of str to float
        How far metal and holes must be from what is cut, by name of the defect.
    """
    placement = replace(laid.placement, angle_deg=angle_deg, x_um=0, y_um=0)
    part = CheckedPlacement(laid.index, laid.part, placement)
    outer = polygon(points_of(bench.layout.blank.shape.outer))
    margin = margin_of(bench) - TOL_MM
    to, here = laid.outline.centroid, part.outline.centroid
    x, y = to.x - here.x, to.y - here.y
    near = shapely.box(x - NEAR_MM, y - NEAR_MM, x + NEAR_MM, y + NEAR_MM)
    for window, levels in ((near, COARSE_MM[-1:]), (None, COARSE_MM)):
        walls = [w for w in _walls(bench, part, kept, window) if not (w[0].is_empty or w[2].is_empty)]
        if Question(part.outline, outer, margin, walls).any_left(window, levels):
            return True
    return False


@dataclass(frozen=True)
class Question:
    """Where something may lie: inside an outer edge, with a margin, clear of walls."""

    outline: BaseGeometry
    outer: BaseGeometry
    margin_mm: float
    walls: list[Wall]

    def any_left(self, window: BaseGeometry | None, levels: Sequence[float]) -> bool:
        """Tell whether some shift in a window may be a place; False when surely none is.

        What is left at a coarse level holds all places, so the finer ones look only there.
        """
        fine, *finer = levels
        home = _home(self.outer.simplify(fine), self.margin_mm - fine)
        small = [
            (_grown(_less(ground, fine), by), _less(wood, fine))
            for ground, by, wood in self.walls
            if _within_reach(ground, by, wood, window)
        ]
        left = polygons(shifts_left(home, _less(self.outline, fine), small, window))
        if not finer:
            return bool(left)
        left.sort(key=lambda part: -part.area)
        return any(self._is_place(part) or self.any_left(part, finer) for part in left)

    def _is_place(self, part: BaseGeometry) -> bool:
        """Tell whether the shift in the middle of some is a place, as things are."""
        spot = part.representative_point()
        there = translate(self.outline, spot.x, spot.y)
        if not self.outer.covers(there) or there.distance(self.outer.boundary) < self.margin_mm:
            return False
        return not any(
            bool(translate(wood, spot.x, spot.y).distance(ground) <= max(0.0, by))
            for ground, by, wood in self.walls
        )


def _home(outer: BaseGeometry, margin_mm: float) -> BaseGeometry:
    """A little more than what keeps a margin to an edge, round where the edge turns inwards."""
    if margin_mm > 0.0:
        return outer.buffer(-margin_mm, quad_segs=8)
    return outer.buffer(-margin_mm, join_style="mitre")


def _within_reach(
    ground: BaseGeometry, by_mm: float, wood: BaseGeometry, window: BaseGeometry | None
) -> bool:
    """Tell whether what moves can come to what stays by a shift in the window."""
    if window is None:
        return True
    (a0, b0, a1, b1), (x0, y0, x1, y1), (u0, v0, u1, v1) = ground.bounds, wood.bounds, window.bounds
    beside = max(a0 - x1 - u1, x0 + u0 - a1, b0 - y1 - v1, y0 + v0 - b1)
    return bool(beside <= by_mm)


def _walls(
    bench: CheckedBlank, part: CheckedPlacement, kept: Mapping[str, float], window: BaseGeometry | None
) -> Iterator[Wall]:
    """Give what the part must keep clear of, of flaws those that it can come to by a shift in the window."""
    settings, blank = bench.sheet.plan.shop.settings, bench.layout.blank
    solid = part.outline.difference(part.openings)
    for hole in blank.shape.holes:
        yield polygon(points_of(hole)), margin_of(bench) - TOL_MM, solid
    for other in bench.laid:
        if other.index != part.index:
            yield other.outline.difference(other.openings), settings.gap_mm - TOL_MM, solid
    for defect in blank.defects:
        ground = region(defect.shape)
        if not _within_reach(ground, settings.cutter_diameter_mm + blank.measured_mm, part.outline, window):
            continue
        if defect.traits.metal:
            yield ground, settings.cutter_diameter_mm + blank.measured_mm - TOL_MM, part.outline
        else:
            yield ground, blank.measured_mm - TOL_MM, layers_refused(bench, part, defect)
    for defect, cut in cuts_at(lying(bench, part), part.index):
        if kept.get(defect.name, -1.0) >= 0.0:
            yield region(defect.shape), kept[defect.name] - HOLE_TOL_MM, cut
    work = bench.layout.work
    beside = beside_mm(settings) - PLAY_TOL_MM
    around: list[Pin | HoldDown] = [*work.pins, *work.hold_downs] if work is not None else []
    for held in around:
        if held.place != "cutout":
            spot = shapely.Point(held.x_mm, held.y_mm).buffer(held.diameter_mm / 2.0)
            yield spot, beside, part.outline


def lying(bench: CheckedBlank, part: CheckedPlacement) -> CheckedBlank:
    """Return a bench on which one part lies elsewhere; it writes where the first does."""
    placements = list(bench.layout.placements)
    placements[part.index] = part.placement
    return CheckedBlank(bench.sheet, replace(bench.layout, placements=tuple(placements)))


def _less(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """A region with fewer corners that lies in the given one."""
    return shapely.union_all(polygons(shape.simplify(by_mm).buffer(-by_mm, join_style="mitre")))


def _grown(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """A region grown by chords within the true circles, or shrunk."""
    return shape.buffer(by_mm, quad_segs=8) if by_mm >= 0.0 else shape.buffer(by_mm, join_style="mitre")
