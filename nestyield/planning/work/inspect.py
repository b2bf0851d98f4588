"""What the wood of a blank asks of whoever measures and cuts it: edges, defects under the cutter, leftovers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from nestyield.bed.sweep import grown, outline_polygon, shape_polygon
from nestyield.model import (
    Defect,
    DefectUnderCutter,
    Inspection,
    Layout,
    LeftoverDefects,
    Part,
    Placement,
    Shop,
    Zone,
)
from nestyield.model.cutting import common_name, face_of
from nestyield.model.facts import AtOutline, CutPlace, InZone
from nestyield.model.pose import Pose
from nestyield.planning.work.cautions import cautions_of
from nestyield.planning.work.edges import edge_checks, wood_at_corner
from nestyield.planning.work.planing import planing_of

#: The cutter meets a defect when it goes more than this into it, across and in depth, mm.
TOUCH_MM = 0.05
#: Less of a defect than this is not in a leftover, square millimetres (as the rack keeps them).
LEAST_DEFECT_MM2 = 0.01

#: From where to where in the blank's thickness, from its top face before planing, mm.
Depths = tuple[float, float]
_Cut = tuple[CutPlace, BaseGeometry, Depths]


def with_inspection(layout: Layout, shop: Shop) -> Layout:
    """Return a layout with the inspection of its wood, and with its cautions.

    Parameters
    ----------
    layout : Layout
        With its leftovers, and with a bed chosen where one takes it.
    shop : Shop
    """
    inspection = Inspection(
        planing=planing_of(layout, shop),
        edges=edge_checks(layout.blank),
        corner=wood_at_corner(layout.blank),
        under_cutter=under_cutter(layout, shop),
        leftovers=leftover_defects(layout, shop),
    )
    layout = replace(layout, inspection=inspection)
    return replace(layout, cautions=cautions_of(layout, inspection, shop))


def under_cutter(layout: Layout, shop: Shop) -> tuple[DefectUnderCutter, ...]:
    """Return the knots, metal and holes of nails and screws that the cutter meets, and where.

    A defect counts where its region meets that of a zone or the band that the cutter takes around an outline,
    and its depths meet those that are cut there. A contour counts with its full depth.

    Parameters
    ----------
    layout : Layout
    shop : Shop
    """
    sought = [d for d in layout.blank.defects if d.traits.knot or d.traits.may_hold_metal]
    if not sought:
        return ()
    cuts = list(_cuts(layout, shop))
    found: dict[tuple[str, str], list[CutPlace]] = {}
    for defect in sought:
        ground, deep = shape_polygon(defect.shape), _depths(defect, layout.blank.thickness_mm)
        for place, cut, depths in cuts:
            if _meet(deep, depths) and cut.intersects(ground):
                found.setdefault((defect.name, defect.kind), []).append(place)
    return tuple(
        DefectUnderCutter(defect=name, kind=kind, places=tuple(dict.fromkeys(places)))
        for (name, kind), places in found.items()
    )


def leftover_defects(layout: Layout, shop: Shop) -> tuple[LeftoverDefects, ...]:
    """Return which defects each leftover to keep still holds, those left out that planing surely removes.

    Parameters
    ----------
    layout : Layout
    shop : Shop
    """
    planed = 0.0 if layout.blank.grain_deg is None else shop.settings.planing_mm
    lasting = [
        (d.name, shape_polygon(d.shape))
        for d in layout.blank.defects
        if d.depth_mm is None or d.face == "through" or d.depth_mm > planed
    ]
    return tuple(
        LeftoverDefects(
            leftover=left.name,
            defects=tuple(
                dict.fromkeys(
                    name
                    for name, ground in lasting
                    if ground.intersection(shape_polygon(left.shape)).area > LEAST_DEFECT_MM2
                )
            ),
        )
        for left in layout.leftovers
        if left.usable
    )


def _cuts(layout: Layout, shop: Shop) -> Iterator[_Cut]:
    """Yield what is cut: where it is told, its region less a touch, its depths in the blank."""
    thick = layout.blank.thickness_mm
    off = [_planed(layout, shop.part(p.part), p) for p in layout.placements]
    whole = (min(top for top, _ in off), thick - min(bottom for _, bottom in off))
    for k, (placement, (top, bottom)) in enumerate(zip(layout.placements, off)):
        part, pose = shop.part(placement.part), Pose.of(placement)
        for zone in part.zones:
            if zone.shape is None or not zone.does.cuts:
                continue
            depths = whole
            if not zone.goes_through(part.thickness_mm):
                depth = _cut_depth(zone, part)
                on_top = face_of(zone, placement) == "top"
                depths = (whole[0], top + depth) if on_top else (thick - bottom - depth, whole[1])
            ground = shape_polygon(zone.shape, pose).buffer(-TOUCH_MM)
            yield InZone(placement=k, zone=common_name(zone)), ground, depths
        body = outline_polygon(part.outline, pose)
        band = grown(body, shop.settings.cutter_diameter_mm).difference(body)
        yield AtOutline(placement=k), band.buffer(-TOUCH_MM), whole


def _cut_depth(zone: Zone, part: Part) -> float:
    return part.thickness_mm if zone.depth_mm is None else min(zone.depth_mm, part.thickness_mm)


def _planed(layout: Layout, part: Part, placement: Placement) -> Depths:
    """Return what is planed off the blank's top and bottom for a part, mm; nothing off sheets."""
    if layout.blank.grain_deg is None:
        return 0.0, 0.0
    spare = max(0.0, layout.blank.thickness_mm - part.thickness_mm)
    top = spare / 2.0 if placement.top_off_mm is None else placement.top_off_mm
    return top, spare - top


def _depths(defect: Defect, thickness_mm: float) -> Depths:
    if defect.depth_mm is None or defect.face == "through":
        return 0.0, thickness_mm
    depth = min(defect.depth_mm, thickness_mm)
    return (0.0, depth) if defect.face == "top" else (thickness_mm - depth, thickness_mm)


def _meet(one: Depths, other: Depths) -> bool:
    return min(one[1], other[1]) - max(one[0], other[0]) > TOUCH_MM
