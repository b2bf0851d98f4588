"""The axis about which a blank is turned over, and its pins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.affinity import affine_transform, translate
from shapely.geometry.base import BaseGeometry

from nestyield.bed.extents import LIMIT_TOL_MM, blank_box, cutter_box_all
from nestyield.bed.fit import load_of
from nestyield.bed.pins import PinSet, find_pins
from nestyield.bed.pose import lies_at
from nestyield.bed.steps import grid_mm
from nestyield.bed.sweep import outline_polygon, shape_polygon, swept, wood
from nestyield.bed.waste import Pairs, free_wood, in_reach, over_table
from nestyield.model import (
    Axis,
    Bed,
    Blank,
    HoldPlace,
    Part,
    Pin,
    Placement,
    Point,
    Section,
    Settings,
    Setup,
    Units,
)
from nestyield.model.arcs import Box, box_of
from nestyield.model.facts import BedCaution, FlipOffPlace, NoFlipPins, NoPlaceForFlipPins, PinsNotUnique
from nestyield.model.micrometers import nearest_um
from nestyield.model.pose import Pose

#: Holes for pins rather keep this far from the end of the travel, millimeters.
END_MM = 5.0
#: Edges are straight, and wood is missing at them, to so much, millimeters.
EDGE_MM = 0.5
#: Lines tried for the flip axis in each direction.
_LINES = 9


def plan_flip(
    blank: Blank,
    pairs: Pairs,
    bed: Bed,
    chosen: Setup,
    settings: Settings,
    pinned: bool,
    keep: BaseGeometry,
    units: Units = "mm",
) -> tuple[tuple[Pin, ...], tuple[Point, Point] | None, list[BedCaution]]:
    """Plan the turning over of a blank.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    bed : Bed
    chosen : Setup
        How the blank lies with its top up.
    settings : Settings
    pinned : bool
        Whether both faces are worked, so that pins are needed.
    keep : geometry
        Leftovers that should rather not be pierced.
    units : {"mm", "in"}
        Places are whole steps of what the shop measures in.

    Returns
    -------
    (pins, axis, cautions)
    """
    grid = grid_mm(units)
    lines = _lines(blank, pairs, settings, grid)
    if not bed.pin_diameter_mm > 0:
        lines = [_middle(blank), *lines]  # then a fence serves both faces where it stands
    good = [(axis, at) for axis, at in lines if _lies_flipped(blank, pairs, bed, chosen, settings, axis, at)]
    notes: list[BedCaution] = []
    if not good:
        notes.append(FlipOffPlace(bed=bed.name))
        good = lines
    axis, at = good[0]  # through the middle of what is cut, when the bed lets it
    if not pinned:
        return (), axis_line(blank, axis, at), notes
    if not bed.pin_diameter_mm > 0:
        notes.append(_against_fence(blank, pairs, bed, chosen, axis, at))
        return (), axis_line(blank, axis, at), notes
    table = over_table(bed, [chosen], bed.pin_diameter_mm)
    found = free_wood(blank, pairs, settings, bed.pin_diameter_mm / 2.0)
    reach = in_reach(bed, [chosen])
    best = None
    # The machine drills the holes where it can, rather not at the very end of its travel, so that the setup
    # need not stand to the millimeter; by hand only when there is no other place.
    first = table.intersection(reach.buffer(-END_MM))
    for ground in (first, table.intersection(reach), table):
        free = {place: wood.intersection(ground) for place, wood in found.items()}
        spared: dict[HoldPlace, BaseGeometry] = {
            **free,
            "waste": free["waste"].difference(keep.buffer(bed.pin_diameter_mm)),
        }
        best = _best(spared, good, bed.pin_diameter_mm, grid)
        if best is None or not best.sure:
            tries = (_best(free, good, bed.pin_diameter_mm, grid), best)
            best = max((s for s in tries if s), key=_worth, default=None)
        if best is not None and (best.sure or ground is not first):
            break
    if best is None:
        notes.append(NoPlaceForFlipPins())
        return (), axis_line(blank, axis, at), notes
    if not best.sure:
        notes.append(PinsNotUnique(count=len(best.points_mm)))
    pins = tuple(
        Pin(
            name=f"pin {k + 1}",
            x_mm=x,
            y_mm=y,
            diameter_mm=bed.pin_diameter_mm,
            place=place,
            by_hand=not shapely.dwithin(reach, shapely.Point(x, y), LIMIT_TOL_MM),
        )
        for k, ((x, y), place) in enumerate(zip(best.points_mm, best.places))
    )
    return pins, axis_line(blank, best.axis, best.at_mm), notes


def _middle(blank: Blank) -> tuple[Axis, float]:
    """Return the line through the middle of the blank along its longer side."""
    board = blank_box(blank.shape, 0.0)
    if board.width >= board.height:
        return "x", round(0.5 * (board.y0 + board.y1), 4)
    return "y", round(0.5 * (board.x0 + board.x1), 4)


def _against_fence(blank: Blank, pairs: Pairs, bed: Bed, chosen: Setup, axis: Axis, at: float) -> NoFlipPins:
    """Return where a fence stands against which a blank is turned over about a line, if its edges allow one."""
    if chosen.turned_deg % 90.0 or not _parallel_edges(blank, axis):
        return NoFlipPins(bed=bed.name)
    fence: Axis = axis if chosen.turned_deg % 180.0 == 0.0 else "y" if axis == "x" else "x"
    i = 1 if fence == "x" else 0
    shift = (chosen.x_mm, chosen.y_mm)[i]
    boards = (blank, flipped(blank, pairs, axis, at)[0])
    first, then = (nearest_um(blank_box(b.shape, chosen.turned_deg)[i] + shift) for b in boards)
    return NoFlipPins(bed=bed.name, fence=fence, at_um=first, then_um=then)


def _parallel_edges(blank: Blank, axis: Axis) -> bool:
    """Tell whether a blank is a rectangle whose two edges along an axis are sound."""
    board = blank_box(blank.shape, 0.0)
    whole = abs(blank.shape.outer.signed_area_mm2)
    if board.width * board.height - whole > EDGE_MM * (board.width + board.height):
        return False
    ends = ((board.x0, board.x1), (board.y0, board.y1))
    sides = [
        shapely.LineString([(x, y) for x in ends[0]] if axis == "x" else [(y, v) for v in ends[1]])
        for y in (ends[1] if axis == "x" else ends[0])
    ]
    gone = [shape_polygon(d.shape) for d in blank.defects if d.traits.wood_missing]
    return not any(shapely.dwithin(side, ground, EDGE_MM) for side in sides for ground in gone)


def _best(
    free: dict[HoldPlace, BaseGeometry], lines: list[tuple[Axis, float]], pin_diameter_mm: float, grid: float
) -> PinSet | None:
    """Best pins about any of some lines; across the length only when about the length is not sure."""
    found: list[PinSet] = []
    for axis, at in lines:
        if axis != lines[0][0] and any(s.sure for s in found):
            break
        pins = find_pins(free, axis, at, pin_diameter_mm, grid)
        if pins is not None:
            found.append(pins)
    return max(found, key=_worth, default=None)


def _worth(pins: PinSet) -> tuple[float, float]:
    points = shapely.multipoints(pins.points_mm)
    x0, y0, x1, y1 = points.bounds
    return float(pins.sure), round(float(np.hypot(x1 - x0, y1 - y0)) - 15.0 * len(pins.points_mm), 3)


def mirrored_about(ground: BaseGeometry, axis: tuple[Point, Point]) -> BaseGeometry:
    """Return a region mirrored about a line."""
    return affine_transform(ground, Pose.reflection(*axis).matrix())


def axis_line(blank: Blank, axis: Axis, at: float) -> tuple[Point, Point]:
    """Return the flip axis from edge to edge of the blank's box."""
    box = blank_box(blank.shape, 0.0)
    if axis == "x":
        return (round(box.x0, 3) + 0.0, at), (round(box.x1, 3), at)
    return (at, round(box.y0, 3) + 0.0), (at, round(box.y1, 3))


def _lines(blank: Blank, pairs: Pairs, settings: Settings, grid: float) -> list[tuple[Axis, float]]:
    """Lines that may be the flip axis: through the middle of the cut, the blank, each part, and between."""
    cut = cutter_box_all(pairs, 0.0, settings.cutter_diameter_mm / 2.0)
    assert cut is not None
    board = blank_box(blank.shape, 0.0)
    boxes: list[Box] = [cut, board, *(box_of(part.outline, Pose.of(p)) for part, p in pairs)]
    out: list[tuple[Axis, float]] = []
    axes: tuple[Axis, Axis] = ("x", "y") if board.width >= board.height else ("y", "x")
    for axis in axes:
        i = 1 if axis == "x" else 0
        middle, size = 0.5 * (cut[i] + cut[i + 2]), cut[i + 2] - cut[i]
        spots = [0.5 * (b[i] + b[i + 2]) for b in boxes]
        spots += list(np.linspace(middle - size / 4.0, middle + size / 4.0, _LINES))
        seen: set[float] = set()
        for spot in spots:
            at = round(round(2.0 * float(spot) / grid) * grid / 2.0, 4) + 0.0
            if at not in seen:
                seen.add(at)
                out.append((axis, at))
    return out


def flipped(
    blank: Blank, pairs: Pairs, axis: Axis, at_mm: float
) -> tuple[Blank, list[tuple[Part, Placement]]]:
    """Return a blank and its placements as they lie when turned over about a line of the blank."""
    turn, dx, dy = (180.0, 0.0, 2.0 * at_mm) if axis == "x" else (0.0, 2.0 * at_mm, 0.0)
    x_um, y_um = round(dx * 1000.0), round(dy * 1000.0)
    moved = [
        (
            part,
            replace(
                p,
                angle_deg=turn - p.angle_deg,
                mirrored=not p.mirrored,
                x_um=x_um - p.x_um if axis == "y" else p.x_um,
                y_um=y_um - p.y_um if axis == "x" else p.y_um,
                front_up=not p.front_up,
            ),
        )
        for part, p in pairs
    ]
    return replace(
        blank, shape=Pose(mirrored=True, angle_deg=turn, x_mm=dx, y_mm=dy).shape(blank.shape)
    ), moved


def sections_lie_flipped(
    blank: Blank,
    pairs: Pairs,
    bed: Bed,
    sections: Sequence[Section],
    settings: Settings,
    axis: tuple[Point, Point],
) -> bool:
    """Tell whether a blank that is cut in sections also lies well in each when it is turned over.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    bed : Bed
    sections : sequence of Section
        As it lies with its top up.
    settings : Settings
    axis : (point, point)
        Along X or Y of the blank, blank coordinates.
    """
    (ax, ay), (bx, _) = axis
    way: Axis = "x" if abs(ax - bx) > 1e-6 else "y"
    board, moved = flipped(blank, pairs, way, ay if way == "x" else ax)
    radius = settings.cutter_diameter_mm / 2.0
    spans = ((bed.travel_x_mm, bed.table_x_mm, "x"), (bed.travel_y_mm, bed.table_y_mm, "y"))
    for section in sections:
        turn, shift = section.turned_deg, (section.x_mm, section.y_mm)
        cut, box = cutter_box_all(moved, turn, radius), blank_box(board.shape, turn)
        assert cut is not None
        upright = cut.width > bed.travel_x_mm + LIMIT_TOL_MM
        for i, (travel, table, name) in enumerate(spans):
            low, high = box[i] + shift[i], box[i + 2] + shift[i]
            if low < table[0] - LIMIT_TOL_MM and f"{name}-" not in bed.open_ends:
                return False
            if high > table[1] + LIMIT_TOL_MM and f"{name}+" not in bed.open_ends:
                return False
            short = (i == 0) == upright
            if not short and not (
                cut[i] + shift[i] >= -LIMIT_TOL_MM and cut[i + 2] + shift[i] <= travel + LIMIT_TOL_MM
            ):
                return False
        far = 2.0 * max(box.width, box.height)
        band = (section.from_mm - radius, section.to_mm + radius)
        window = (
            shapely.box(band[0], -far, band[1], far) if upright else shapely.box(-far, band[0], far, band[1])
        )
        boards = [translate(b, *shift) for b in wood(board.shape, turn)]
        bodies = [translate(b, *shift).intersection(window) for b in swept(moved, turn, radius)]
        for keep_out in bed.keep_outs:
            ground = outline_polygon(keep_out.outline).buffer(-LIMIT_TOL_MM)
            shapes = (boards if keep_out.blocks != "cutter" else []) + (
                bodies if keep_out.blocks != "blank" else []
            )
            if any(ground.intersects(s) for s in shapes):
                return False
    return True


def _lies_flipped(
    blank: Blank, pairs: Pairs, bed: Bed, chosen: Setup, settings: Settings, axis: Axis, at: float
) -> bool:
    board, moved = flipped(blank, pairs, axis, at)
    load = load_of(board, moved, chosen.turned_deg, settings)
    return lies_at(bed, load, chosen.x_mm, chosen.y_mm)
