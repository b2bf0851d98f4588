"""What is wanted of a place though not demanded: seams and holes of the wood clear of what is cut.

A piece that came glued up has its seams where they are, and reclaimed wood its screw holes. Where a part has room,
it moves so that seams keep the shop's rules and metal, holes and mortises keep the shop's clearance from what is
cut; what stays broken is told as a caution.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from nestyield.bed.sweep import shape_polygon
from nestyield.geometry.boolean import SubgridPaths, combine, components, difference, union
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import SUBGRID, UM_PER_MM, IntPoly, Region, bounds
from nestyield.geometry.minkowski import no_fit_subgrid
from nestyield.geometry.offset import grow
from nestyield.geometry.shape import pieces_to_shapely
from nestyield.glueup.band import outlined
from nestyield.glueup.broken_rules import broken_rules
from nestyield.glueup.rules import forbidden_intervals
from nestyield.model import Blank, Defect, Part, Placement, Settings
from nestyield.model.facts import NearOutline
from nestyield.model.pose import Pose
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.leftovers import usable_shapes
from nestyield.placement.play import Keeping
from nestyield.placement.region import window_of
from nestyield.placement.single import Unkept, place_part
from nestyield.planning.lay_parts import BedTaker, Laid, LayoutContext
from nestyield.planning.work.cuts import Lies, cut_depths, defect_depths, share_mm, swallows

#: Shares of the clearance that are tried, the whole of it first; at 0 what is cut may touch.
LEVELS = (1.0, 0.75, 0.5, 0.25, 0.0)
#: A part does not move when less than this share of the leftovers worth keeping would be left.
LEAST_LEFT = 0.95
#: Seams keep so much more than the rule, and clearances are kept to so much, micrometers.
_MORE_UM = 2.0
#: Clearances count as kept when they lack no more than this, micrometers.
_LESS_UM = 8.0
#: Depths that share less are apart, mm.
_TOUCH_MM = 0.05

#: Outer rings with their holes, at the origin.
_Turned = list[tuple[IntPoly, list[IntPoly]]]


class KeepClear:
    """What one part wants of its place in one blank.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    at : Placement
        Where it lies: places that go without as much are not worth a move.
    """

    def __init__(self, part: Part, blank: Blank, settings: Settings, at: Placement) -> None:
        self.part, self.blank, self.settings = part, blank, settings
        self.holes = [d for d in blank.defects if d.traits.keep_clear]
        self._cuts: dict[tuple[str, Lies], Region] = {}
        self._grown: dict[tuple[str, float, float], Region] = {}
        self._grounds = {id(d): shape_polygon(d.shape) for d in self.holes}
        self._turned: dict[tuple[object, ...], _Turned] = {}
        self.before = self.unkept(at)

    def unkept(self, placement: Placement) -> Unkept:
        """Return seam rules broken, steps of clearance missing, and slivers along seams, each 0 for none."""
        broken = list(broken_rules(self.blank.seams, self.part, placement, self.settings))
        slivers = sum(isinstance(b.rule, NearOutline) for b in broken)
        lies = Lies.of(self.part, self.blank, placement.front_up, placement.top_off_mm)
        pose = Pose.of(placement)
        return len(broken) - slivers, sum(self._missing(d, lies, pose) for d in self.holes), slivers

    def narrowed(
        self, paths: SubgridPaths, angle_deg: float, mirrored: bool, split: ThicknessSplit
    ) -> tuple[Unkept, SubgridPaths]:
        """Return what goes unkept in the best of a region of shifts, and that of the region.

        One want after the other takes away where it is broken, as long as something stays: first rules of seams
        at zones, then holes, then slivers.
        """
        strips = self._strips(angle_deg, mirrored, paths)
        lies = Lies.of(self.part, self.blank, split.front_up, split.top_off_mm)
        pose = Pose(angle_deg=angle_deg, mirrored=mirrored)
        counts = [0, 0, 0]
        for sliver, strip in strips:
            if not sliver:
                paths, counts[0] = _without(paths, [strip], counts[0])
        for hole in self.holes:
            moving = pose.on_grid(self._cut(hole, lies))
            for level in LEVELS:
                fixed = self._hole(hole, level)
                left = (
                    combine("difference", paths, no_fit_subgrid(fixed, moving, window_of(paths)))
                    if moving and fixed
                    else paths
                )
                if left:
                    paths = left
                    break
                counts[1] += 1
        for sliver, strip in strips:
            if sliver:
                paths, counts[2] = _without(paths, [strip], counts[2])
        found = tuple(counts)
        return found, paths if found < self.before else []

    def keeping(self, at: Placement) -> Keeping:
        """Return what takes away shifts at which holes and metal have less room than at a placement, in its steps."""
        lies = Lies.of(self.part, self.blank, at.front_up, at.top_off_mm)
        here = Pose.of(at)
        kept = [(hole, self._missing(hole, lies, here)) for hole in self.holes]

        def keep(paths: SubgridPaths, angle_deg: float, mirrored: bool) -> SubgridPaths:
            pose = Pose(angle_deg=angle_deg, mirrored=mirrored)
            for hole, missing in kept:
                moving = pose.on_grid(self._cut(hole, lies))
                if missing < len(LEVELS) and moving and paths:
                    fixed = self._hole(hole, LEVELS[missing], -_LESS_UM)
                    taken = no_fit_subgrid(fixed, moving, window_of(paths))
                    paths = combine("difference", paths, taken) if taken else paths
            return paths

        return keep

    def _missing(self, hole: Defect, lies: Lies, pose: Pose) -> int:
        """Return how many steps of the clearance a hole goes without."""
        clear = self.settings.prefer.hole_clearance_mm
        near = _LESS_UM / UM_PER_MM
        ground = self._grounds[id(hole)]
        key = (id(hole), lies, pose.angle_deg, pose.mirrored)
        if key not in self._turned:
            still = Pose(angle_deg=pose.angle_deg, mirrored=pose.mirrored)
            self._turned[key] = components(still.on_grid(self._cut(hole, lies)))
        shift = np.array([round(pose.x_mm * UM_PER_MM), round(pose.y_mm * UM_PER_MM)])
        cut = [
            (outer + shift, [h + shift for h in holes])
            for outer, holes in self._turned[key]
            if _box_apart_mm(bounds([outer + shift]), ground.bounds) <= clear
        ]
        if not cut:
            return 0  # a box is no farther away than what it holds
        wood = pieces_to_shapely(cut)
        room = float(wood.distance(ground))
        inside = room == 0.0 and wood.buffer(-near).intersects(ground)
        return sum(inside or (level > 0 and room < level * clear - near) for level in LEVELS)

    def _hole(self, hole: Defect, level: float, more_um: float = _MORE_UM) -> Region:
        key = (hole.name, level, more_um)
        if key not in self._grown:
            by = level * self.settings.prefer.hole_clearance_mm * UM_PER_MM
            ring = flatten_shape(hole.shape, self.settings.chord_error_mm, "outside")
            self._grown[key] = grow(ring, by + more_um, "outside") if by + more_um > 0 else ring
        return self._grown[key]

    def _cut(self, hole: Defect, lies: Lies) -> Region:
        """Return what is cut at the depths of a hole, drawing coordinates."""
        key = (repr((hole.kind, hole.face, hole.depth_mm)), lies)
        if key in self._cuts:
            return self._cuts[key]
        error, deep = self.settings.chord_error_mm, defect_depths(hole, self.blank.thickness_mm)
        whole = lies.slab(self.blank)
        regions: list[Region] = []
        if share_mm(deep, whole) > _TOUCH_MM:
            outline = [flatten(self.part.outline, error, "outside")]
            reach = grow(outline, self.settings.cutter_diameter_mm * UM_PER_MM, "outside")
            regions.append(difference(reach, [flatten(self.part.outline, error, "inside")]))
        regions += [
            flatten_shape(zone.shape, error, "outside")
            for zone, depths in cut_depths(self.part, self.blank, lies, whole)
            if zone.shape is not None and share_mm(deep, depths) > _TOUCH_MM and not swallows(zone, hole)
        ]
        self._cuts[key] = union(*regions) if regions else []
        return self._cuts[key]

    def _strips(self, angle_deg: float, mirrored: bool, paths: SubgridPaths) -> list[tuple[bool, np.ndarray]]:
        """Return the shifts at which a seam breaks a rule, each a quadrilateral, and whether it leaves a sliver."""
        out = []
        x0, y0, x1, y1 = bounds(paths)
        far = (math.hypot(x1 - x0, y1 - y0) + max(abs(v) for v in (x0, y0, x1, y1))) / SUBGRID + 1.0
        for seam in self.blank.seams:
            for (ax, ay), (bx, by) in itertools.pairwise(seam.line_mm):
                if (ax, ay) == (bx, by):
                    continue
                direction = math.degrees(math.atan2(by - ay, bx - ax))
                lying = outlined(self.part, self.settings, angle_deg - direction, mirrored)
                ends = np.array([[ax, ay], [bx, by]]) * UM_PER_MM
                (first, at), (last, _) = Pose(angle_deg=-direction).array(ends).tolist()
                for bar in forbidden_intervals(lying, self.settings.glueup):
                    left, right = max(first - bar.right, -2 * far), min(last - bar.left, 2 * far)
                    low, high = at - bar.high - _MORE_UM, at - bar.low + _MORE_UM
                    if left >= right:
                        continue
                    box = np.array([[left, low], [right, low], [right, high], [left, high]])
                    turned = Pose(angle_deg=direction).array(box)
                    ring = np.rint(turned * SUBGRID).astype(np.int64)
                    out.append((isinstance(bar.rule, NearOutline), ring))
        return out


def _box_apart_mm(box_um: tuple[int, int, int, int], box_mm: tuple[float, float, float, float]) -> float:
    """Return how far two boxes lie apart, millimeters."""
    x0, y0, x1, y1 = (v / UM_PER_MM for v in box_um)
    a0, b0, a1, b1 = box_mm
    return math.hypot(max(a0 - x1, x0 - a1, 0.0), max(b0 - y1, y0 - b1, 0.0))


def _without(paths: SubgridPaths, taken: SubgridPaths, count: int) -> tuple[SubgridPaths, int]:
    """Return a region less another and the count, or, when nothing would stay, all of it and one more."""
    left = combine("difference", paths, taken)
    return (left, count) if left else (paths, count + 1)


def kept_clear(bench: LayoutContext, laid: Laid) -> Laid:
    """Return a layout on one piece, its parts moved where that keeps seams and holes clear of what is cut.

    Each part that goes without something is placed anew, all others left where they lie; never so that less
    is kept, that leftovers are lost, or that no bed takes the blank.

    Parameters
    ----------
    bench : LayoutContext
    laid : tuple of (int, Placement)
    """
    blank = bench.blank
    if len(blank.members) > 1 or not (blank.seams or any(d.traits.keep_clear for d in blank.defects)):
        return laid
    for k, (want, at) in enumerate(laid):
        part = bench.part(want)
        clear = KeepClear(part, blank, bench.shop.settings, at)
        if not any(clear.before):
            continue
        others = (*laid[:k], *laid[k + 1 :])
        found = _anew(bench, others, want, at, clear)
        if found is None or not clear.unkept(found) < clear.before:
            continue
        moved = (*laid[:k], (want, replace(found, order=at.order, copy=at.copy)), *laid[k + 1 :])
        if _usable_mm2(bench, moved) >= LEAST_LEFT * _usable_mm2(bench, laid):
            laid = moved
    return laid


def unkept_of(bench: LayoutContext, laid: Laid) -> tuple[float, ...]:
    """Return the sums of what the places of a layout go without, most telling first."""
    each = [KeepClear(bench.part(w), bench.blank, bench.shop.settings, at).before for w, at in laid]
    return tuple(sum(some) for some in zip(*each))


def _usable_mm2(bench: LayoutContext, laid: Laid) -> float:
    """Return the area of the leftovers worth keeping, square millimeters."""
    placements = [(bench.part(i), p) for i, p in laid]
    return sum(s.area_mm2 for s in usable_shapes(bench.blank, placements, bench.shop.settings))


def _anew(
    bench: LayoutContext, others: Sequence[tuple[int, Placement]], want: int, at: Placement, clear: KeepClear
) -> Placement | None:
    """Place one part beside the others, as well as can be."""
    taken = [(bench.part(i), p) for i, p in others]
    accept = None
    if bench.shop.beds:
        beds = bench.beds_up_to((*others, (want, at)))
        taker = BedTaker(bench=bench, laid=tuple(others), want=want, beds=beds)
        accept = taker.takes if taker.takes(at) else taker.takes_in_sections
    return place_part(
        clear.part,
        bench.blank,
        bench.shop.settings,
        taken=taken,
        accept=accept,
        limit=0,
        wanted=clear,
    ).placement
