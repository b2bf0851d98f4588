"""A blank that is longer than the travel, cut in sections against index pins.

Two ways. Slid: holes at equal distances on one line along the axis; the blank moves on by one hole,
so that two holes always stand on the same two pins. Turned: two holes, and the blank is turned by
180 degrees on the same two pins, which needs one open end only.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from nestyield.bed.extents import LIMIT_TOL_MM, cutter_box_all
from nestyield.bed.section_job import (
    SectionJob,
    clear,
    make_job,
    pins_stand,
    sides,
    spread,
    turn_on_table,
    turn_sides,
)
from nestyield.bed.steps import grid_mm, um
from nestyield.bed.waste import Pairs
from nestyield.model import Axis, Bed, Blank, Point, Section, Settings, Units
from nestyield.model.facts import (
    BothAxesShort,
    IndexPinsOffTable,
    LongerThanTwoSections,
    NoHoleLine,
    NoIndexPins,
    NoOpenEnd,
    NoSections,
    NothingToSection,
    NoTurningHoles,
    SectionClosedEnd,
    SectionDepthShort,
    SectionKeepOuts,
    SectionOutcome,
    SectionsByMoving,
    SectionsByTurning,
    SectionTooShort,
)

#: Sections beyond this many are not tried.
MOST_SECTIONS = 6
#: Neighboring sections overlap by at least this many cutter diameters.
OVERLAP_DIAMETERS = 2.0
#: Index pins stand at least this many of their diameters apart.
APART_DIAMETERS = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPlan:
    """How to cut in sections, or why not.

    Parameters
    ----------
    sections : tuple of Section
        Empty when it cannot be done.
    holes_mm : tuple of (x, y)
        Index holes, blank coordinates; neighboring holes are a step apart when the blank is slid.
    step_mm : float
        How far the blank moves on; 0 when it is turned.
    refusal : NoSections or None
        Why it cannot be done; None when it can.
    """

    sections: tuple[Section, ...] = ()
    holes_mm: tuple[Point, ...] = ()
    step_mm: float = 0.0
    refusal: NoSections | None = None

    def outcome(self, axis: Axis) -> SectionOutcome:
        """Return what the search came to, for a blank that moves along an axis of the bed."""
        if self.refusal is not None:
            return self.refusal
        if self.step_mm == 0.0:
            return SectionsByTurning(axis=axis, count=len(self.sections))
        return SectionsByMoving(axis=axis, count=len(self.sections), step_um=um(self.step_mm))


def plan_sections(
    blank: Blank, pairs: Pairs, bed: Bed, along: Axis, settings: Settings, units: Units = "mm"
) -> SectionPlan:
    """Find sections and index holes for a blank that needs more travel than there is along one axis.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    bed : Bed
    along : {"x", "y"}
        Axis of the bed that the blank's length lies along; the blank is moved along the axis on which
        the travel is short.
    settings : Settings
    units : {"mm", "in"}
        Places are whole steps of what the shop measures in.
    """
    turned = 0.0 if along == "x" else 90.0
    cut = cutter_box_all(pairs, turned, settings.cutter_diameter_mm / 2.0)
    if cut is None:
        return SectionPlan(refusal=NothingToSection())
    short = [cut.width > bed.travel_x_mm + LIMIT_TOL_MM, cut.height > bed.travel_y_mm + LIMIT_TOL_MM]
    if short == [False, False]:
        return SectionPlan(refusal=NothingToSection())
    if short == [True, True]:
        return SectionPlan(refusal=BothAxesShort())
    swap = short[1]
    axis: Axis = "y" if swap else "x"
    deepest = max(p.thickness_mm for p, _ in pairs)
    if bed.travel_z_mm is not None and deepest > bed.travel_z_mm + LIMIT_TOL_MM:
        return SectionPlan(refusal=SectionDepthShort(needs_um=um(deepest), travel_um=um(bed.travel_z_mm)))
    if not {f"{axis}-", f"{axis}+"} & set(bed.open_ends):
        return SectionPlan(refusal=NoOpenEnd(axis=axis))
    if not bed.pin_diameter_mm > 0:
        return SectionPlan(refusal=NoIndexPins())
    why: NoSections | None = None
    for turn in (turned, turned + 180.0):
        job = make_job(blank, pairs, bed, swap, turn, settings)
        found = _slid(job, units)
        why = why or found.refusal
        if not found.sections:
            found = _turned(job)
            why = why or found.refusal
        if found.sections:
            return _back(found, job)
    return SectionPlan(refusal=why)


def _slid(job: SectionJob, units: Units) -> SectionPlan:
    u0, u1 = job.outline
    length, reach = u1 - u0, job.reach
    overlap = OVERLAP_DIAMETERS * 2.0 * job.radius
    longest = reach - overlap
    low_y, high_y = sides(job)
    why: NoSections = SectionTooShort(section_um=um(max(0.0, reach)))
    no_holes: NoSections | None = None
    grid = grid_mm(units)
    by_hand: SectionPlan | None = None
    for count in range(2, MOST_SECTIONS + 1):
        shortest = (length - reach) / (count - 1)
        if shortest > longest:
            continue
        for step in spread(math.ceil(shortest * 1000.0) / 1000.0, math.floor(longest * 1000.0) / 1000.0):
            whole = round(round(step / grid) * grid, 4)
            step = whole if shortest <= whole <= longest else round(step, 3)
            # the first place of the blank along X
            low = job.radius - u0
            high = job.travel[0] - job.radius - u1 + (count - 1) * step
            if not job.open[0]:
                low = max(low, job.table[0][0] - job.wood.x0 + (count - 1) * step)
            if not job.open[1]:
                high = min(high, job.table[0][1] - job.wood.x1)
            firsts = spread(low, high)
            if not firsts or low_y > high_y + LIMIT_TOL_MM:
                why = SectionClosedEnd()
                continue
            holes = _hole_line(job.free, step, count + 1, grid)
            if holes is None:
                no_holes = no_holes or NoHoleLine(count=count + 1, step_um=um(step))
                continue
            for x in firsts:
                for y in spread(low_y, high_y):
                    places = [(x - k * step, y) for k in range(count)]
                    bounds = _bounds(u0, u1, [(job.radius - p[0], job.radius - p[0] + reach) for p in places])
                    if any(b[1] - b[0] < job.radius for b in bounds):
                        continue  # a section in which nothing is cut: fewer are enough, or there is no way
                    stand = pins_stand(job, [(x + h[0], y + h[1]) for h in holes[:2]])
                    if stand == 0:
                        why = IndexPinsOffTable()
                        continue
                    if stand == 1 and by_hand is not None:
                        continue
                    if all(clear(job, p, b) for p, b in zip(places, bounds)):
                        sections = tuple(
                            Section(
                                x_mm=p[0],
                                y_mm=p[1],
                                turned_deg=job.turned_deg,
                                from_mm=p[0] + b[0],
                                to_mm=p[0] + b[1],
                            )
                            for p, b in zip(places, bounds)
                        )
                        found = SectionPlan(sections=sections, holes_mm=tuple(holes), step_mm=step)
                        if stand == 2:
                            return found
                        by_hand = found
                    why = SectionKeepOuts()
    return by_hand or SectionPlan(refusal=no_holes or why)


def _bounds(u0: float, u1: float, windows: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Share the outline among windows that follow each other, parting in the middle of each overlap."""
    windows = sorted(windows)
    cuts = [u0, *(0.5 * (windows[k][1] + windows[k + 1][0]) for k in range(len(windows) - 1)), u1]
    return list(pairwise(cuts))


def _hole_line(free: BaseGeometry, step: float, count: int, grid: float) -> list[Point] | None:
    """Find holes at equal distances on a line along X, with the most wood about the tightest of them."""
    if free.is_empty:
        return None
    both = free
    for k in range(1, count):
        both = both.intersection(translate(free, -k * step, 0.0))
        if both.is_empty:
            return None
    parts = [p for p in shapely.get_parts(both) if p.geom_type == "Polygon" and p.area > 0.0]
    if not parts:
        return None
    part = max(parts, key=lambda p: (p.area, p.bounds))
    spot = shapely.maximum_inscribed_circle(part, tolerance=0.05).coords[0]
    rounded = (round(round(spot[0] / grid) * grid, 4), round(round(spot[1] / grid) * grid, 4))
    x, y = rounded if part.covers(shapely.Point(rounded)) else spot
    return [(round(float(x) + k * step, 4), float(y)) for k in range(count)]


def _pin_pairs(free: BaseGeometry) -> Iterator[tuple[Point, Point]]:
    """Two places for pins in free wood, far apart first."""
    spots: set[Point] = set()
    for part in shapely.get_parts(free):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        x0, y0, x1, y1 = part.bounds
        for x in np.linspace(math.ceil(x0), math.floor(x1), max(2, min(20, int((x1 - x0) / 40.0)))):
            column = shapely.LineString([(round(float(x)), y0 - 1.0), (round(float(x)), y1 + 1.0)])
            for stretch in shapely.get_parts(part.intersection(column)):
                if stretch.length > 1.0:
                    spots.add((float(round(float(x))), float(round(stretch.centroid.y))))
    yield from sorted(combinations(sorted(spots), 2), key=lambda p: (-math.dist(*p), p))


def _turned(job: SectionJob) -> SectionPlan:
    u0, u1 = job.outline
    overlap = OVERLAP_DIAMETERS * 2.0 * job.radius
    if u1 - u0 > 2.0 * job.reach - overlap:
        return SectionPlan(refusal=LongerThanTwoSections(section_um=um(job.reach)))
    why: NoSections = NoTurningHoles()
    by_hand: SectionPlan | None = None
    for p, q in _pin_pairs(job.free):
        mx, my = 0.5 * (p[0] + q[0]), 0.5 * (p[1] + q[1])
        half = max(u1 - mx, mx - u0)
        if half > job.reach - 0.5 * overlap or math.dist(p, q) < APART_DIAMETERS * job.bed.pin_diameter_mm:
            continue
        # where the middle of the pins may stand: both pins on the table, the blank over open ends only
        ends = max(mx - job.wood.x0, job.wood.x1 - mx)
        low = job.table[0][0] + max(0.5 * abs(q[0] - p[0]), 0.0 if job.open[0] else ends)
        high = job.table[0][1] - max(0.5 * abs(q[0] - p[0]), 0.0 if job.open[1] else ends)
        # and so far from one end of the travel that half the outline is in reach
        for left in (True, False):
            reach = (
                (job.radius + half, job.travel[0] - job.radius)
                if left
                else (job.radius, job.travel[0] - job.radius - half)
            )
            for bx in spread(max(low, reach[0]), min(high, reach[1])):
                for by in turn_sides(job, my):
                    first, second = (bx - mx, by - my), (bx + mx, by + my)
                    stand = pins_stand(job, [(first[0] + h[0], first[1] + h[1]) for h in (p, q)])
                    if stand == 0 or not turn_on_table(job, first, second):
                        continue
                    if stand == 1 and by_hand is not None:
                        continue
                    parts = ((u0, mx), (mx, u1)) if left else ((mx, u1), (u0, mx))
                    if clear(job, first, parts[0]) and clear(job, second, parts[1], turn=True):
                        found = SectionPlan(sections=_two(job, first, second, parts), holes_mm=(p, q))
                        if stand == 2:
                            return found
                        by_hand = found
                    why = SectionKeepOuts()
    return by_hand or SectionPlan(refusal=why)


def _two(
    job: SectionJob, first: Point, second: Point, parts: tuple[tuple[float, float], tuple[float, float]]
) -> tuple[Section, Section]:
    """Two sections, the second turned end for end."""
    return (
        Section(
            x_mm=first[0],
            y_mm=first[1],
            turned_deg=job.turned_deg,
            from_mm=first[0] + parts[0][0],
            to_mm=first[0] + parts[0][1],
        ),
        Section(
            x_mm=second[0],
            y_mm=second[1],
            turned_deg=job.turned_deg + 180.0,
            from_mm=second[0] - parts[1][1],
            to_mm=second[0] - parts[1][0],
        ),
    )


def _back(found: SectionPlan, job: SectionJob) -> SectionPlan:
    """Undo the swap of axes, and bring the holes back to blank coordinates."""
    sections, holes = found.sections, found.holes_mm
    if job.swap:
        sections = tuple(
            Section(x_mm=s.y_mm, y_mm=s.x_mm, turned_deg=s.turned_deg, from_mm=s.from_mm, to_mm=s.to_mm)
            for s in sections
        )
        holes = tuple((y, x) for x, y in holes)
    line = rotate(shapely.multipoints(holes), -job.turned_deg, origin=(0, 0))
    holes = tuple((round(p.x, 3) + 0.0, round(p.y, 3) + 0.0) for p in shapely.get_parts(line))
    sections = tuple(
        Section(
            x_mm=round(float(s.x_mm), 3) + 0.0,
            y_mm=round(float(s.y_mm), 3) + 0.0,
            turned_deg=s.turned_deg % 360.0,
            from_mm=round(float(s.from_mm), 3),
            to_mm=round(float(s.to_mm), 3),
        )
        for s in sections
    )
    return SectionPlan(sections=sections, holes_mm=holes, step_mm=found.step_mm)
