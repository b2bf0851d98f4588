"""Why a bed takes a blank or not, and its cautions, worked out again from the plan."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from nestyield.audit.beds import beyond
from nestyield.audit.clear_place import Span, clear_place, out_of_reach, shifts
from nestyield.audit.curves import points_of, region, unit
from nestyield.audit.facts import compare
from nestyield.audit.positions import of_position, put
from nestyield.audit.sheet import CheckedBlank, cut_through
from nestyield.model import Axis, Bed, HoldDown, Pin, Setup, WorkPlan
from nestyield.model.axis import OpenEnd
from nestyield.model.facts import (
    AnyKeepOutInTheWay,
    BedCaution,
    BedRefusal,
    BothFacesInSections,
    ClosedEndOverhang,
    DepthShort,
    FewScrews,
    FlipOffPlace,
    HeldByFew,
    HolesInLeftover,
    IndexHolesAlike,
    KeepOutInTheWay,
    KeepOutsTogether,
    MixedFaces,
    NoFlipPins,
    NoIndexPins,
    NoOpenEnd,
    NoPlaceForFlipPins,
    PartsComeLoose,
    PinInOpening,
    PinsNotUnique,
    ScrewsCutFree,
    SectionDepthShort,
    SectionOutcome,
    SectionsByMoving,
    SectionsByTurning,
    SectionsFlipBlocked,
    TableShort,
    TravelShort,
)

#: Within this of a limit a refusal may stand or not, millimeters.
NEAR_MM = 0.02
#: Edges against a fence are straight and sound to this, millimeters.
FENCE_MM = 0.5
#: A hole is in a leftover when at least so much of it is, square millimeters.
HOLE_MM2 = 0.01

_AXES: tuple[Axis, Axis] = ("x", "y")
_ENDS: tuple[tuple[OpenEnd, OpenEnd], tuple[OpenEnd, OpenEnd]] = (("x-", "x+"), ("y-", "y+"))


def check_bed_facts(bench: CheckedBlank) -> None:
    """Check why each setup does not fit, what was found about sections, and the cautions of the work."""
    if not bench.laid:
        return
    for setup in bench.layout.setups:
        bed = bench.sheet.beds.get(setup.bed)
        if bed is not None and not setup.fits and setup.turned_deg % 90.0 == 0.0:
            _refused(bench, bed, setup)
    work, chosen = bench.layout.work, bench.layout.chosen
    if work is not None and chosen is not None and 0 <= chosen < len(bench.layout.setups):
        setup = bench.layout.setups[chosen]
        bed = bench.sheet.beds.get(setup.bed)
        if bed is not None:
            _cautions(bench, bed, setup, work)


def _um(length_mm: float) -> int:
    return round(length_mm * 1000.0)


def _blank_extent(bench: CheckedBlank, turned_deg: float) -> tuple[list[float], list[float]]:
    xy = points_of(bench.layout.blank.shape.outer)
    z = (xy[:, 0] + 1j * xy[:, 1]) * unit(turned_deg)
    return [float(z.real.min()), float(z.imag.min())], [float(z.real.max()), float(z.imag.max())]


def _refused(bench: CheckedBlank, bed: Bed, setup: Setup) -> None:
    where = f"bed {bed.name} along {setup.along.upper()}"
    low, high = beyond(bench, setup.turned_deg)
    wood_low, wood_high = _blank_extent(bench, setup.turned_deg)
    sure: list[BedRefusal] = []
    near: list[BedRefusal] = []

    def note(fact: BedRefusal, by_mm: float) -> bool:
        """Keep a refusal that a limit passed by so much asks for; return whether it may be there."""
        if by_mm > NEAR_MM:
            sure.append(fact)
        elif by_mm > 0.0:
            near.append(fact)
        return by_mm > 0.0

    short = []
    for i, axis in enumerate(_AXES):
        needs, travel = float(high[i] - low[i]), (bed.travel_x_mm, bed.travel_y_mm)[i]
        fact = TravelShort(
            axis=axis, needs_um=_um(needs), travel_um=_um(travel), short_um=_um(needs - travel)
        )
        short.append(needs - travel)
        is_short = note(fact, needs - travel)
        edge = (bed.table_x_mm, bed.table_y_mm)[i]
        size, table = wood_high[i] - wood_low[i], edge[1] - edge[0]
        ends = _ENDS[i]
        is_open = [e in bed.open_ends for e in ends]
        if not any(is_open) and note(
            TableShort(axis=axis, blank_um=_um(size), table_um=_um(table), over_um=_um(size - table)),
            size - table,
        ):
            continue
        if is_short and short[i] > NEAR_MM:
            continue
        # how far the blank hangs out when the cutter just reaches the far end of the cut
        over = (-math.inf if is_open[0] else edge[0] - wood_low[i] - (travel - float(high[i])), ends[0])
        other = (-math.inf if is_open[1] else -float(low[i]) - (edge[1] - wood_high[i]), ends[1])
        by, end = max(over, other)
        note(ClosedEndOverhang(axis=axis, end=end, over_um=_um(by)) if by > 0.0 else fact, by)
    deepest = max(laid.part.thickness_mm for laid in bench.laid)
    if bed.travel_z_mm is not None:
        z = bed.travel_z_mm
        depth = DepthShort(needs_um=_um(deepest), travel_um=_um(z), short_um=_um(deepest - z))
        note(depth, deepest - z)
    told = [f for f in setup.refusals if not isinstance(f, _KEEP_OUTS)]
    compare(bench, "A513", told, sure, near, where)
    names = {k.name for k in bed.keep_outs}
    for fact_ in setup.refusals:
        if isinstance(fact_, _KEEP_OUTS):
            blamed = (fact_.name,) if isinstance(fact_, KeepOutInTheWay) else fact_.names
            if not blamed or not names.issuperset(blamed) or sure:
                bench.say("A513", f"blames keep-outs {', '.join(blamed)}, which is not so", where)
            else:
                cut, wood = list(zip(low.tolist(), high.tolist())), list(zip(wood_low, wood_high))
                _blamed(bench, bed, setup, blamed, cut, wood, where)
    _in_sections(bench, bed, setup, short, deepest, where)


def _blamed(
    bench: CheckedBlank,
    bed: Bed,
    setup: Setup,
    names: Sequence[str],
    cut: Sequence[Span],
    wood: Sequence[Span],
    where: str,
) -> None:
    """Check that keep-outs that are blamed can be reached, and that no place is clear of all of them."""
    free = shifts(bed, cut, wood)
    radius = bench.sheet.plan.shop.settings.cutter_diameter_mm / 2.0
    for name in out_of_reach(bed, names, cut, wood, free, radius):
        bench.say("A513", f"blames keep-out {name}, which nothing comes near", where)
    place = clear_place(bench, bed, setup, free)
    if place is not None:
        x, y = place
        bench.say("A513", f"blames keep-outs, and is clear of all of them at {x:.2f}, {y:.2f} mm", where)


_KEEP_OUTS = (KeepOutInTheWay, AnyKeepOutInTheWay, KeepOutsTogether)


def _in_sections(
    bench: CheckedBlank, bed: Bed, setup: Setup, short: Sequence[float], deepest: float, where: str
) -> None:
    """Check what was found about sections against the travel, the open ends, the pins and the sections."""
    told = setup.in_sections
    count = sum(by > NEAR_MM for by in short)
    if told is None:
        if setup.sections:
            bench.say("A514", "has sections, and does not report how they follow each other", where)
        return
    if any(abs(by) <= NEAR_MM for by in short):
        return
    if count != 1:
        bench.say("A514", f"reports {told.code!r}, and the travel is short along {count} axes", where)
        return
    i = 0 if short[0] > 0.0 else 1
    axis = _AXES[i]
    sure: list[SectionOutcome] = []
    if setup.sections:
        turns = {s.turned_deg % 360.0 for s in setup.sections}
        if len(turns) > 1:
            sure.append(SectionsByTurning(axis=axis, count=len(setup.sections)))
        else:
            places = [(s.x_mm, s.y_mm)[i] for s in setup.sections]
            step = float(np.abs(np.diff(places)).max(initial=0.0))
            sure.append(SectionsByMoving(axis=axis, count=len(setup.sections), step_um=_um(step)))
    elif bed.travel_z_mm is not None and deepest > bed.travel_z_mm + NEAR_MM:
        sure.append(SectionDepthShort(needs_um=_um(deepest), travel_um=_um(bed.travel_z_mm)))
    elif not set(_ENDS[i]) & set(bed.open_ends):
        sure.append(NoOpenEnd(axis=axis))
    elif not bed.pin_diameter_mm > 0:
        sure.append(NoIndexPins())
    elif isinstance(told, (SectionsByMoving, SectionsByTurning, SectionDepthShort, NoOpenEnd, NoIndexPins)):
        bench.say("A514", f"reports {told.code!r}, which is not so", where)
    if sure:
        compare(bench, "A514", [told], sure, (), where)


def _fence(bench: CheckedBlank, bed: Bed, work: WorkPlan) -> NoFlipPins:
    """Work out where the fence stands from the poses of the blank with either face up."""
    if work.flip_axis_mm is None or len(work.positions) < 2:
        return NoFlipPins(bed=bed.name)
    ups = {position.up: of_position(position) for position in work.positions}
    if set(ups) != {"top", "bottom"}:
        return NoFlipPins(bed=bed.name)
    moves = [ups["top"], ups["bottom"]]
    a, b = (put(moves[0], complex(*at)) for at in work.flip_axis_mm)
    way = (b - a) / abs(b - a)
    if min(abs(way.real), abs(way.imag)) > 1e-9:
        return NoFlipPins(bed=bed.name)
    x0, y0, x1, y1 = bench.wood.bounds
    p, q = work.flip_axis_mm
    level = abs(p[1] - q[1]) < 1e-6
    rims = (
        shapely.MultiLineString([[(x0, y), (x1, y)] for y in (y0, y1)])
        if level
        else shapely.MultiLineString([[(x, y0), (x, y1)] for x in (x0, x1)])
    )
    filled = sum(
        shapely.Polygon(g.exterior).area for g in shapely.get_parts(bench.wood) if hasattr(g, "exterior")
    )
    outside = (x1 - x0) * (y1 - y0) - filled
    gone = [region(d.shape) for d in bench.layout.blank.defects if d.traits.wood_missing]
    if outside > FENCE_MM * (x1 - x0 + y1 - y0) or any(rims.distance(g) <= FENCE_MM for g in gone):
        return NoFlipPins(bed=bed.name)
    corners = [complex(x, y) for x in (x0, x1) for y in (y0, y1)]
    along_x = abs(way.imag) <= 1e-9
    first, then = (
        min((p.imag if along_x else p.real) for p in (put(move, c) for c in corners)) for move in moves
    )
    return NoFlipPins(
        bed=bed.name, fence="x" if along_x else "y", at_um=round(1000 * first), then_um=round(1000 * then)
    )


def _cautions(bench: CheckedBlank, bed: Bed, setup: Setup, work: WorkPlan) -> None:
    sure: list[BedCaution] = [PartsComeLoose()]
    maybe: list[BedCaution] = []
    faces = _cut_faces(bench)
    if len(faces) > 1:
        front = tuple(k for k, laid in enumerate(bench.laid) if laid.placement.front_up)
        back = tuple(k for k, laid in enumerate(bench.laid) if not laid.placement.front_up)
        if front and back:
            sure.append(MixedFaces(front_up=front, back_up=back))
    if setup.sections:
        sure.append(IndexHolesAlike(sections=len(setup.sections)))
        if len(faces) > 1:
            sure.append(BothFacesInSections())
        maybe.append(SectionsFlipBlocked(bed=bed.name))
    elif faces != {"top"}:
        maybe.append(FlipOffPlace(bed=bed.name))
        if len(faces) > 1:
            if not bed.pin_diameter_mm > 0:
                sure.append(_fence(bench, bed, work))
            elif not work.pins:
                sure.append(NoPlaceForFlipPins())
            elif len(work.pins) == 2:  # two pins always take the blank turned end for end as well
                sure.append(PinsNotUnique(count=2))
            else:
                maybe.append(PinsNotUnique(count=len(work.pins)))
    if len(work.hold_downs) < 2:
        sure.append(FewScrews(count=len(work.hold_downs)))
    known: set[str] = set()
    section = {p.name: p.section for p in work.positions}
    for cut in work.outlines:
        driven = [h for h in work.hold_downs if not h.sections or section.get(cut.position, 0) in h.sections]
        free = tuple(h.name for h in driven if h.name not in {*cut.holds, *known})
        known.update(free)
        if free:
            sure.append(ScrewsCutFree(position=cut.position, placement=cut.placement, names=free))
        if len(cut.holds) < 2 <= len(driven):
            sure.append(HeldByFew(position=cut.position, placement=cut.placement, count=len(cut.holds)))
    held: list[Pin | HoldDown] = [*work.pins, *work.hold_downs]
    bodies = {h.name: shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2.0, quad_segs=64) for h in held}
    openings = shapely.union_all([laid.openings for laid in bench.laid])
    opened = {name for name, body in bodies.items() if openings.covers(body)}
    sure += [PinInOpening(pin=pin.name) for pin in work.pins if pin.name in opened]
    taken: set[str] = set(opened)
    for leftover in bench.layout.leftovers:
        if not leftover.usable:
            continue
        ground = region(leftover.shape)
        names = tuple(
            h.name
            for h in held
            if h.name not in taken and bodies[h.name].intersection(ground).area > HOLE_MM2
        )
        taken.update(names)
        if names:
            sure.append(HolesInLeftover(leftover=leftover.name, names=names))
    compare(bench, "A515", work.cautions, sure, maybe)


def _cut_faces(bench: CheckedBlank) -> set[str]:
    """Faces of the blank from which something is cut; the top alone when all is cut through."""
    faces = set()
    for laid in bench.laid:
        for zone in laid.part.zones:
            if not zone.does.cuts or zone.shape is None:
                continue
            if zone.face != "through" and not cut_through(zone, laid.part):
                faces.add("top" if (zone.face == "front") == laid.placement.front_up else "bottom")
    return faces or {"top"}
