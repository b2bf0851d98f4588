"""What the wood of a blank asks of whoever measures and cuts it: edges, defects under the cutter, leftovers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from shapely.geometry.base import BaseGeometry

from nestyield.bed.sweep import grown, outline_polygon, shape_polygon
from nestyield.geometry.boolean import difference, union
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.shape import region_to_shape
from nestyield.model import (
    Defect,
    DefectUnderCutter,
    Inspection,
    Layout,
    Leftover,
    LeftoverDefects,
    Settings,
    Shop,
    Zone,
)
from nestyield.model.cutting import common_name
from nestyield.model.facts import AtOutline, CutPlace, InZone
from nestyield.model.pose import Pose
from nestyield.placement.leftovers import largest_along
from nestyield.planning.work.cautions import cautions_of
from nestyield.planning.work.cuts import (
    Depths,
    Lies,
    cut_depths,
    defect_depths,
    share_mm,
    swallows,
)
from nestyield.planning.work.edges import edge_checks, wood_at_corner
from nestyield.planning.work.planing import planing_of

#: The cutter meets a defect when it goes more than this into it, across and in depth, mm.
TOUCH_MM = 0.05
#: Less of a defect than this is not in a leftover, square millimeters (as the rack keeps them).
LEAST_DEFECT_MM2 = 0.01

_Cut = tuple[CutPlace, BaseGeometry, Depths, Zone | None]


def with_inspection(layout: Layout, shop: Shop) -> Layout:
    """Return a layout with the inspection of its wood, and with its cautions.

    Parameters
    ----------
    layout : Layout
        With its leftovers, and with a bed chosen where one takes it.
    shop : Shop
    """
    met = under_cutter(layout, shop)
    inspection = Inspection(
        planing=planing_of(layout, shop),
        edges=edge_checks(layout.blank),
        corner=wood_at_corner(layout.blank),
        under_cutter=met,
        near_cutter=near_cutter(layout, shop, met),
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
    cuts = [(place, cut.buffer(-TOUCH_MM), depths) for place, cut, depths, _ in _cuts(layout, shop)]
    found: dict[tuple[str, str], list[CutPlace]] = {}
    for defect in sought:
        ground, deep = shape_polygon(defect.shape), defect_depths(defect, layout.blank.thickness_mm)
        for place, cut, depths in cuts:
            if share_mm(deep, depths) > TOUCH_MM and cut.intersects(ground):
                found.setdefault((defect.name, defect.kind), []).append(place)
    return _told(found)


def near_cutter(
    layout: Layout, shop: Shop, met: Sequence[DefectUnderCutter]
) -> tuple[DefectUnderCutter, ...]:
    """Return the metal, holes of nails and screws and mortises nearer to what is cut than the shop wants.

    A zone whose drawing allows the kind is no reason to keep clear of it.

    Parameters
    ----------
    layout : Layout
    shop : Shop
        ``hole_clearance_mm`` of its ``[prefer]``.
    met : sequence of DefectUnderCutter
        Where the cutter meets metal: these places are left out.
    """
    sought = [d for d in layout.blank.defects if d.traits.keep_clear]
    if not sought:
        return ()
    clear = shop.settings.prefer.hole_clearance_mm - TOUCH_MM
    known = {(m.defect, place) for m in met for place in m.places}
    cuts = list(_cuts(layout, shop))
    found: dict[tuple[str, str], list[CutPlace]] = {}
    for defect in sought:
        ground, deep = shape_polygon(defect.shape), defect_depths(defect, layout.blank.thickness_mm)
        for place, cut, depths, zone in cuts:
            if (defect.name, place) in known or share_mm(deep, depths) <= TOUCH_MM:
                continue
            if zone is not None and swallows(zone, defect):
                continue
            if cut.distance(ground) < clear or cut.buffer(-TOUCH_MM).intersects(ground):
                found.setdefault((defect.name, defect.kind), []).append(place)
    return _told(found)


def _told(found: Mapping[tuple[str, str], Sequence[CutPlace]]) -> tuple[DefectUnderCutter, ...]:
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
        d for d in layout.blank.defects if d.depth_mm is None or d.face == "through" or d.depth_mm > planed
    ]
    work = layout.work
    holes = {k.name: work.holes_in(k.name) for k in layout.leftovers if k.usable} if work is not None else {}
    return held_in(layout.leftovers, lasting, layout.blank.grain_deg, shop.settings, holes)


def held_in(
    leftovers: Iterable[Leftover],
    defects: Sequence[Defect],
    grain_deg: float | None,
    settings: Settings,
    holes: Mapping[str, Sequence[Defect]] = MappingProxyType({}),
) -> tuple[LeftoverDefects, ...]:
    """Return which of these defects each leftover to keep holds, and what is clear of them and of holes made."""
    grounds = [(d, shape_polygon(d.shape)) for d in defects]
    out = []
    for left in leftovers:
        if not left.usable:
            continue
        wood = shape_polygon(left.shape)
        held = [d for d, ground in grounds if ground.intersection(wood).area > LEAST_DEFECT_MM2]
        names = tuple(dict.fromkeys(d.name for d in held))
        clear = _clear_of(left, [*held, *holes.get(left.name, ())], grain_deg, settings)
        out.append(LeftoverDefects(leftover=left.name, defects=names, clear_mm=clear))
    return tuple(out)


def _clear_of(
    left: Leftover, held: Sequence[Defect], grain_deg: float | None, settings: Settings
) -> tuple[float, float, float, float]:
    """Return the largest rectangle of a leftover that is clear of the defects that it holds."""
    if not held:
        return left.rectangle_mm
    error = settings.chord_error_mm
    gone = union(*(flatten_shape(d.shape, error, "outside") for d in held))
    rest = region_to_shape(difference(flatten_shape(left.shape, error, "inside"), gone))
    found = [largest_along(shape, grain_deg, settings) for shape in rest]
    return max(found, key=lambda box: (box[2] * box[3], box), default=(0.0, 0.0, 0.0, 0.0))


def _cuts(layout: Layout, shop: Shop) -> Iterator[_Cut]:
    """Yield what is cut: where it is told, its region, its depths in the blank, and its zone."""
    blank = layout.blank
    laid = [(shop.part(p.part), p) for p in layout.placements]
    lying = [Lies.of(part, blank, p.front_up, p.top_off_mm) for part, p in laid]
    slabs = [lies.slab(blank) for lies in lying]
    whole = (min(top for top, _ in slabs), max(bottom for _, bottom in slabs))
    for k, ((part, placement), lies) in enumerate(zip(laid, lying)):
        pose = Pose.of(placement)
        for zone, depths in cut_depths(part, blank, lies, whole):
            assert zone.shape is not None
            yield InZone(placement=k, zone=common_name(zone)), shape_polygon(zone.shape, pose), depths, zone
        body = outline_polygon(part.outline, pose)
        band = grown(body, shop.settings.cutter_diameter_mm).difference(body)
        yield AtOutline(placement=k), band, whole, None
