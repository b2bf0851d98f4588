"""What goes back on the rack after the cutter."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from nestyield.geometry.boolean import difference, union
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import UM_PER_MM, Region, area_um2
from nestyield.geometry.minkowski import inner_fit_region, minkowski_sum
from nestyield.geometry.offset import grow
from nestyield.geometry.rectangles import largest_rectangle
from nestyield.geometry.shape import region_to_shape
from nestyield.geometry.transform import place
from nestyield.model import Blank, Leftover, Part, Placement, Settings, Shape

#: A leftover short of the least size by no more than this is not thrown away, micrometres.
LEAST_SIZE_TOL_UM = 10
#: Smaller scraps are not listed, square millimetres.
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
        Micrometres, blank coordinates; never larger than the truth.
    """
    stock = flatten_shape(blank.shape, settings.chord_error_mm, "inside")
    kerf = round((settings.cutter_diameter_mm if width_mm is None else width_mm) * UM_PER_MM)
    gone = [
        grow(
            [
                place(
                    flatten(part.outline, settings.chord_error_mm, "outside"),
                    p.angle_deg,
                    p.mirrored,
                    p.x_um,
                    p.y_um,
                )
            ],
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
        Micrometres.
    grain_deg : float or None
        None lets the rectangles lie both ways.
    settings : Settings
        ``leftover_shortest_mm`` along the grain by ``leftover_narrowest_mm`` across.

    Returns
    -------
    Region
        Micrometres; empty when nothing is worth keeping.
    """
    kept: list[Region] = []
    for turn in (0.0,) if grain_deg is not None else (0.0, 90.0):
        angle = math.radians((grain_deg or 0.0) + turn)
        length = settings.leftover_shortest_mm * UM_PER_MM - LEAST_SIZE_TOL_UM
        width = settings.leftover_narrowest_mm * UM_PER_MM - LEAST_SIZE_TOL_UM
        corners = np.array([(0, 0), (length, 0), (length, width), (0, width)], dtype=float)
        c, s = math.cos(angle), math.sin(angle)
        least = np.rint(corners @ np.array([[c, s], [-s, c]])).astype(np.int64)
        spots = inner_fit_region(wood, least)
        if spots:
            kept.append(minkowski_sum(spots, [least]))
    return union(*kept) if kept else []


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
        Usable ones first, by area; their shape is trimmed to wood that lies in a rectangle of the least
        size. A scrap is a region without any such rectangle.
    """
    wood = after_cutter(blank, placements, settings)
    keep = worth_keeping(wood, blank.grain_deg, settings)
    usable = [(shape, True) for shape in region_to_shape(keep)]
    scraps = [(shape, False) for shape in region_to_shape(difference(wood, keep) if keep else wood)]
    rows = usable + [(s, u) for s, u in scraps if s.area_mm2 >= LEAST_SCRAP_MM2]
    rows.sort(key=lambda row: (not row[1], -row[0].area_mm2, row[0].outer.points_mm))
    return tuple(
        Leftover(
            name=f"{blank.name}-{letters(i)}",
            shape=shape,
            rectangle_mm=rectangle_of(shape, blank.grain_deg),
            area_mm2=shape.area_mm2,
            usable=is_usable,
        )
        for i, (shape, is_usable) in enumerate(rows)
    )


def usable_area_mm2(blank: Blank, placements: Sequence[tuple[Part, Placement]], settings: Settings) -> float:
    """Return the area of wood worth keeping, square millimetres."""
    return area_um2(worth_keeping(after_cutter(blank, placements, settings), blank.grain_deg, settings)) / 1e6


def rectangle_of(shape: Shape, grain_deg: float | None) -> tuple[float, float, float, float]:
    """Return the largest rectangle of a shape along the grain (either way when there is none)."""
    region = flatten_shape(shape, 0.02, "inside")
    return largest_rectangle(region, grain_deg or 0.0, 0.0, 0.0)


def letters(index: int) -> str:
    """Return ``a``, ``b`` ... ``z``, ``aa`` ... for 0, 1 ..."""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("a") + rest) + text
    return text
