"""What goes back on the rack after the cutter."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from nestyield.geometry.boolean import difference, union
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import UM_PER_MM, IntPoly, Region
from nestyield.geometry.minkowski import inner_fit_region, minkowski_sum
from nestyield.geometry.offset import grow
from nestyield.geometry.rectangles import Box, grow_box, largest_rectangle
from nestyield.geometry.remember import remember_by_rules
from nestyield.geometry.shape import region_to_shape, to_shapely
from nestyield.model import Blank, Leftover, Outline, Part, Placement, Settings, Shape
from nestyield.model.pose import Pose

#: A leftover short of the least size by no more than this is not thrown away, micrometers.
LEAST_SIZE_TOL_UM = 10
LEAST_SIZE_TOL_MM = 0.03
#: Places of the least rectangle from which a larger one is grown.
MOST_STARTS = 12
#: Most rectangles sawn off one blank.
MOST_SAWN = 8
#: Answers about what is kept that are remembered: the same wood is asked about at each step of a plan.
KEPT = 64
#: Smaller scraps are not listed, square millimeters.
LEAST_SCRAP_MM2 = 500.0


def after_cutter(
    blank: Blank,
    placements: Sequence[tuple[Part, Placement]],
    settings: Settings,
    width_mm: float | None = None,
) -> Region:
    """Return the wood of a blank that the cutter leaves around its parts.

    The cutter runs around each outline and takes its own diameter.

    Parameters
    ----------
    blank : Blank
    placements : sequence of (Part, Placement)
    settings : Settings
    width_mm : float, optional
        Width that is taken around each outline instead of the cutter's diameter.

    Returns
    -------
    Region
        Micrometers, blank coordinates; never larger than the truth.
    """
    stock = flatten_shape(blank.shape, settings.chord_error_mm, "inside")
    kerf = round((settings.cutter_diameter_mm if width_mm is None else width_mm) * UM_PER_MM)
    gone = [
        grow(
            [Pose.of(p).on_grid(flatten(part.outline, settings.chord_error_mm, "outside"))],
            kerf,
        )
        for part, p in placements
    ]
    return difference(stock, union(*gone)) if gone else stock


def worth_keeping(wood: Region, grain_deg: float | None, settings: Settings) -> Region:
    """Return the part of a region that lies in some rectangle of the shop's least size along the grain.

    Parameters
    ----------
    wood : Region
        Micrometers.
    grain_deg : float or None
        None lets the rectangles lie both ways.
    settings : Settings
        ``leftover_shortest_mm`` along the grain by ``leftover_narrowest_mm`` across.

    Returns
    -------
    Region
        Micrometers; empty when nothing is worth keeping.
    """
    kept = [
        minkowski_sum(spots, [least])
        for least in _least_rectangles(grain_deg, settings)
        if (spots := inner_fit_region(wood, least))
    ]
    return union(*kept) if kept else []


def _least_rectangles(grain_deg: float | None, settings: Settings) -> list[IntPoly]:
    """Return the least rectangle worth keeping, a corner at the origin: along the grain, or both ways."""
    length = settings.leftover_shortest_mm * UM_PER_MM - LEAST_SIZE_TOL_UM
    width = settings.leftover_narrowest_mm * UM_PER_MM - LEAST_SIZE_TOL_UM
    sizes = [(length, width)] if grain_deg is not None else [(length, width), (width, length)]
    turn = Pose(angle_deg=grain_deg or 0.0)
    return [
        np.rint(turn.array(np.array([(0, 0), (a, 0), (a, b), (0, b)]))).astype(np.int64) for a, b in sizes
    ]


def leftovers_of(
    blank: Blank, placements: Sequence[tuple[Part, Placement]], settings: Settings
) -> tuple[Leftover, ...]:
    """Return what goes back on the rack, and the scraps that do not, largest first.

    Parameters
    ----------
    blank : Blank
    placements : sequence of (Part, Placement)
    settings : Settings

    Returns
    -------
    tuple of Leftover
        Usable ones first, by area, with the shape in which they are cut off. All other wood is scrap, and all
        that is left of a laminated blank or one of strips on edge.
    """
    wood = after_cutter(blank, placements, settings)
    kept = () if blank.stack or blank.on_edge else kept_shapes(wood, blank.grain_deg, settings)
    usable = [(shape, True) for shape in kept]
    keep = union(*(flatten_shape(s, settings.chord_error_mm, "outside") for s, _ in usable))
    scraps = [(shape, False) for shape in region_to_shape(difference(wood, keep) if keep else wood)]
    rows = usable + [(s, u) for s, u in scraps if s.area_mm2 >= LEAST_SCRAP_MM2]
    rows.sort(key=lambda row: (not row[1], -row[0].area_mm2, row[0].outer.points_mm))
    return tuple(
        Leftover(
            name=f"{blank.name}-{letters(i)}",
            shape=shape,
            rectangle_mm=(
                _box_of(shape, blank.grain_deg)
                if is_usable and settings.leftover_cut == "saw"
                else largest_along(shape, blank.grain_deg, settings)
            ),
            area_mm2=shape.area_mm2,
            usable=is_usable,
        )
        for i, (shape, is_usable) in enumerate(rows)
    )


def _box_of(shape: Shape, grain_deg: float | None) -> tuple[float, float, float, float]:
    """Return a rectangle along the grain as first corner and size, in coordinates turned by minus the grain."""
    corners = Pose(angle_deg=-(grain_deg or 0.0)).array(np.array(shape.outer.points_mm))
    (x0, y0), (x1, y1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    return (round(x0, 4), round(y0, 4), round(x1 - x0, 4), round(y1 - y0, 4))


def usable_shapes(
    blank: Blank, placements: Sequence[tuple[Part, Placement]], settings: Settings
) -> tuple[Shape, ...]:
    """Return the wood worth keeping, one shape a piece; of a laminated blank, or one of strips, none is."""
    if blank.stack or blank.on_edge:
        return ()
    return kept_shapes(after_cutter(blank, placements, settings), blank.grain_deg, settings)


@remember_by_rules(KEPT)
def kept_shapes(wood: Sequence[IntPoly], grain_deg: float | None, settings: Settings) -> tuple[Shape, ...]:
    """Return what is kept of a region as it is cut off.

    By straight saw lines the largest rectangle along the grain comes first, then the largest of what a saw cut
    around it leaves, as long as it has the least size; else all that lies in some rectangle of the least size.

    Parameters
    ----------
    wood : Region
        Micrometers.
    grain_deg : float or None
    settings : Settings
    """
    if settings.leftover_cut == "outline":
        return tuple(region_to_shape(worth_keeping(list(wood), grain_deg, settings)))
    out: list[Shape] = []
    turn = Pose(angle_deg=grain_deg or 0.0)
    kerf = settings.machines.saw_kerf_mm * UM_PER_MM
    rest = list(wood)
    while len(out) < MOST_SAWN:
        shapes = region_to_shape(worth_keeping(rest, grain_deg, settings))
        boxes = [largest_along(shape, grain_deg, settings) for shape in shapes]
        x, y, length, width = max(boxes, key=lambda b: (b[2] * b[3], b), default=(0.0, 0.0, 0.0, 0.0))
        if not length * width > 0.0:
            break
        sawn = turn.shape(Shape(outer=Outline.rectangle(x, y, x + length, y + width)))
        out.append(sawn)
        rest = difference(rest, grow(flatten_shape(sawn, settings.chord_error_mm, "outside"), kerf))
    return tuple(out)


def largest_along(
    shape: Shape, grain_deg: float | None, settings: Settings
) -> tuple[float, float, float, float]:
    """Return a largest rectangle of a shape along the grain, in coordinates turned by minus the grain.

    A first guess from a grid and some places of the least rectangle worth keeping are each grown to all
    sides until they touch; the largest that is worth keeping is taken, or else the largest.

    Parameters
    ----------
    shape : Shape
        Straight lines, millimeters.
    grain_deg : float or None
    settings : Settings

    Returns
    -------
    (x, y, length, width)
    """
    region = flatten_shape(shape, settings.chord_error_mm, "inside")
    grain = grain_deg or 0.0
    back = Pose(angle_deg=-grain)
    least = (settings.leftover_shortest_mm, settings.leftover_narrowest_mm)
    x, y, length, width = largest_rectangle(region, grain, *least)
    starts = [(x, y, x + length, y + width)] if length * width > 0 else []
    for rectangle in _least_rectangles(grain_deg, settings):
        spots = inner_fit_region(region, rectangle)
        if not spots:
            continue
        corners = np.concatenate(spots)
        some = corners[np.linspace(0, len(corners) - 1, min(len(corners), MOST_STARTS)).astype(int)]
        size = back.array(rectangle).max(axis=0) / UM_PER_MM
        for a, b in (back.array(some) / UM_PER_MM).tolist():
            starts.append((a + 0.002, b + 0.002, a + float(size[0]) - 0.002, b + float(size[1]) - 0.002))
    turned = [np.rint(back.array(ring)).astype(np.int64) for ring in region]
    wood = to_shapely(turned)
    shapely.prepare(wood)
    held = dict.fromkeys(box for start in starts if (box := _covered(wood, start)) is not None)
    grown = dict.fromkeys(grow_box([ring / UM_PER_MM for ring in turned], box) for box in held)
    found = [inside for box in grown if (inside := _covered(wood, box)) is not None] or list(held)
    if not found:
        return (0.0, 0.0, 0.0, 0.0)

    def worth(box: Box) -> tuple[bool, float]:
        size = (box[2] - box[0] + LEAST_SIZE_TOL_MM, box[3] - box[1] + LEAST_SIZE_TOL_MM)
        either = [size] if grain_deg is not None else [size, size[::-1]]
        good = any(a >= least[0] and b >= least[1] for a, b in either)
        return good, round((box[2] - box[0]) * (box[3] - box[1]), 6)

    x0, y0, x1, y1 = max(found, key=worth)
    return (round(x0, 4), round(y0, 4), round(x1 - x0, 4), round(y1 - y0, 4))


def _covered(wood: Any, box: Box) -> Box | None:
    """Return a box that a region covers: as it is, or drawn in by what rounding may have put it over an edge."""
    for by in (0.0, 1e-5, 0.002):
        x0, y0, x1, y1 = box[0] + by, box[1] + by, box[2] - by, box[3] - by
        if x0 < x1 and y0 < y1 and wood.covers(shapely.box(x0, y0, x1, y1)):
            return (x0, y0, x1, y1)
    return None


def letters(index: int) -> str:
    """Return ``a``, ``b`` ... ``z``, ``aa`` ... for 0, 1 ..."""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("a") + rest) + text
    return text
