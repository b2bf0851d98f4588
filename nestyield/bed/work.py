"""How a blank is worked on its chosen bed: which face first, flip axis, pins, screws, order of work."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.bed.flip import axis_line, mirrored_about, plan_flip, sections_lie_flipped
from nestyield.bed.holding import Grooves, held_down
from nestyield.bed.holds import HEAD_MM, hold_downs
from nestyield.bed.positions import positions_of, table_pins
from nestyield.bed.sections import plan_sections
from nestyield.bed.shift import may_shift_mm
from nestyield.bed.sweep import shape_polygon
from nestyield.bed.tabs import tabs_of
from nestyield.bed.waste import Pairs, over_table
from nestyield.model import (
    Axis,
    Bed,
    Blank,
    HoldDown,
    Layout,
    Part,
    Pin,
    Placement,
    Point,
    Section,
    Setup,
    Shop,
    WorkPlan,
)
from nestyield.model.cutting import face_of
from nestyield.model.facts import (
    BedCaution,
    BothFacesInSections,
    FewScrews,
    HolesInLeftover,
    IndexHolesAlike,
    MixedFaces,
    PartsComeLoose,
    PinInOpening,
    SectionsFlipBlocked,
    UpFace,
)

#: A hole that takes less of a leftover only touches it, square millimeters.
HOLE_MM2 = 0.01


def work_plan(layout: Layout, shop: Shop, without: Collection[str] = ()) -> WorkPlan | None:
    """Plan the work on the chosen bed.

    Parameters
    ----------
    layout : Layout
    shop : Shop
    without : collection of str
        Names of screws to leave out.

    Returns
    -------
    WorkPlan or None
        None when no setup is chosen or nothing is cut.
    """
    if layout.chosen is None or not layout.placements:
        return None
    chosen = layout.setups[layout.chosen]
    bed = shop.bed(chosen.bed)
    pairs = [(shop.part(p.part), p) for p in layout.placements]
    order, notes = faces_of(pairs)
    keep = shapely.union_all([shape_polygon(left.shape) for left in layout.leftovers if left.usable])
    pins: tuple[Pin, ...] = ()
    axis: tuple[Point, Point] | None = None
    if chosen.sections:
        pins = _index_pins(layout.blank, pairs, bed, chosen, shop)
        notes += _section_notes(chosen, order)
        axis = _index_axis(pins, layout.blank, order)
        if axis is not None and not sections_lie_flipped(
            layout.blank, pairs, bed, chosen.sections, shop.settings, axis
        ):
            notes.append(SectionsFlipBlocked(bed=bed.name))
    elif len(order) > 1 or order[0] == "bottom":
        pins, axis, more = plan_flip(
            layout.blank, pairs, bed, chosen, shop.settings, len(order) > 1, keep, shop.units
        )
        notes += more
    positions = positions_of(chosen, order, axis)
    tables = _tables(bed, chosen, order, axis)
    last = [p for p in positions if p.up == order[-1]]
    grooves = Grooves(layout.blank, pairs, shop.settings, last, chosen.sections, section_axis(chosen))

    def choose(section: int, ground: BaseGeometry | None, given: Sequence[HoldDown]) -> tuple[HoldDown, ...]:
        table = tables[section]
        within = table if ground is None else table.intersection(ground)
        found = hold_downs(layout.blank, pairs, shop.settings, pins, keep, shop.units, within, given)
        return tuple(hold for hold in found if hold.name not in without)

    holds, outlines, more = held_down(grooves, choose)
    if len(holds) < 2:
        notes.append(FewScrews(count=len(holds)))
    notes += more
    notes += [PinInOpening(pin=pin.name) for pin in pins if pin.place == "cutout"]
    pins = tuple(replace(pin, leftover=leftover_of(layout, pin)) for pin in pins)
    holds = tuple(replace(hold, leftover=leftover_of(layout, hold)) for hold in holds)
    held: list[Pin | HoldDown] = [*pins, *holds]
    notes += [*_in_leftovers(layout, held), PartsComeLoose()]
    return WorkPlan(
        positions=positions,
        table_pins=table_pins(bed, positions, pins),
        flip_axis_mm=axis,
        pins=pins,
        hold_downs=holds,
        tabs=tabs_of(layout, pairs, shop.settings, holds),
        outlines=outlines,
        cautions=tuple(notes),
        clearance_mm=0.0
        if chosen.sections
        else may_shift_mm(layout.blank, pairs, bed, chosen, shop.settings, order, axis, held),
    )


def _tables(
    bed: Bed, chosen: Setup, order: Sequence[UpFace], axis: tuple[Point, Point] | None
) -> dict[int, BaseGeometry]:
    """Return where the blank lies over the table in each section, with each face up that is worked; 0 for one go."""
    out = {}
    places: list[tuple[int, Setup | Section]] = [(0, chosen)]
    if chosen.sections:
        places = list(enumerate(chosen.sections, start=1))
    for section, place in places:
        table = over_table(bed, [place], HEAD_MM)
        if axis is not None and "bottom" in order:
            over = mirrored_about(table, axis)
            table = over if "top" not in order else table.intersection(over)
        out[section] = table
    return out


def section_axis(setup: Setup) -> Axis:
    """Return the axis of the bed along which a blank is moved from section to section."""
    return "x" if setup.spare_x_mm < setup.spare_y_mm else "y"


def leftover_of(layout: Layout, held: Pin | HoldDown) -> str:
    """Return the leftover to keep in which a pin or screw leaves its hole; ``""`` for none."""
    if held.place == "cutout":
        return ""
    hole = shapely.Point(held.x_mm, held.y_mm).buffer(held.diameter_mm / 2.0)
    usable = (x for x in layout.leftovers if x.usable)
    return next((x.name for x in usable if shape_polygon(x.shape).intersection(hole).area > HOLE_MM2), "")


def _in_leftovers(layout: Layout, held: Sequence[Pin | HoldDown]) -> list[BedCaution]:
    """Which pins and screws leave their hole in which leftover."""
    notes: list[BedCaution] = []
    for leftover in layout.leftovers:
        names = tuple(each.name for each in held if each.leftover == leftover.name)
        if names:
            notes.append(HolesInLeftover(leftover=leftover.name, names=names))
    return notes


def _cut_faces(part: Part, placement: Placement) -> set[UpFace]:
    faces: set[UpFace] = set()
    for zone in part.zones:
        if zone.does.cuts and zone.shape is not None:
            face = face_of(zone, placement)
            if face != "through" and not zone.goes_through(part.thickness_mm):
                faces.add(face)
    return faces


def faces_of(pairs: Pairs) -> tuple[list[UpFace], list[BedCaution]]:
    """Return the faces of a blank in order of work, outlines are cut with the last up; and cautions."""
    needed = set().union(*(_cut_faces(part, p) for part, p in pairs))
    if len(needed) < 2:
        return [next(iter(needed), "top")], []
    fronts_up = sum(p.front_up for _, p in pairs)
    first: UpFace = "bottom" if 2 * fronts_up >= len(pairs) else "top"
    last: UpFace = "top" if first == "bottom" else "bottom"
    if 0 < fronts_up < len(pairs):
        front = tuple(k for k, (_, p) in enumerate(pairs) if p.front_up)
        back = tuple(k for k, (_, p) in enumerate(pairs) if not p.front_up)
        return [first, last], [MixedFaces(front_up=front, back_up=back)]
    return [first, last], []


def _index_pins(blank: Blank, pairs: Pairs, bed: Bed, chosen: Setup, shop: Shop) -> tuple[Pin, ...]:
    found = plan_sections(blank, pairs, bed, chosen.along, shop.settings, shop.units)
    return tuple(
        Pin(name=f"pin {k + 1}", x_mm=x, y_mm=y, diameter_mm=bed.pin_diameter_mm, use="index")
        for k, (x, y) in enumerate(found.holes_mm)
    )


def _index_axis(pins: Sequence[Pin], blank: Blank, order: Sequence[UpFace]) -> tuple[Point, Point] | None:
    """The line of index holes serves as flip axis when the blank must be turned over as well."""
    if list(order) == ["top"] or len(pins) < 2:
        return None
    a, b = pins[0], pins[-1]
    if abs(a.y_mm - b.y_mm) < 1e-6:
        return axis_line(blank, "x", a.y_mm)
    if abs(a.x_mm - b.x_mm) < 1e-6:
        return axis_line(blank, "y", a.x_mm)
    return None


def _section_notes(chosen: Setup, order: Sequence[UpFace]) -> list[BedCaution]:
    notes: list[BedCaution] = [IndexHolesAlike(sections=len(chosen.sections))]
    return [*notes, BothFacesInSections()] if len(order) > 1 else notes
