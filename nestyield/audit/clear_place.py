"""Whether keep-outs really leave no place for a blank on a bed, and whether those blamed can be reached."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from nestyield.audit.beds import swept, to_blank
from nestyield.audit.curves import points_of, polygon
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import Bed, KeepOut, Setup

#: Places tried along each axis, and how far a place must be from every limit and keep-out to be one, mm.
PLACES, CLEAR_MM = 24, 0.05

Span = tuple[float, float]


def shifts(bed: Bed, cut: Sequence[Span], wood: Sequence[Span]) -> list[Span]:
    """Return how far a blank may be shifted along X and Y for travel and table; low > high when it may not.

    Parameters
    ----------
    bed : Bed
    cut, wood : sequence of (low, high)
        Extents of the cutter's center and of the blank along X and Y, turned, before the shift.
    """
    out = []
    for i, (axis, travel, table) in enumerate(
        (("x", bed.travel_x_mm, bed.table_x_mm), ("y", bed.travel_y_mm, bed.table_y_mm))
    ):
        low, high = -cut[i][0], travel - cut[i][1]
        if f"{axis}-" not in bed.open_ends:
            low = max(low, table[0] - wood[i][0])
        if f"{axis}+" not in bed.open_ends:
            high = min(high, table[1] - wood[i][1])
        out.append((low, high))
    return out


def clear_place(bench: CheckedBlank, bed: Bed, setup: Setup, free: Sequence[Span]) -> Span | None:
    """Return a place where blank and cutter keep well clear of every keep-out; None when none was found."""
    diameter = bench.sheet.plan.shop.settings.cutter_diameter_mm
    cutter = shapely.union_all([body for laid in bench.laid for body in swept(laid, diameter)])
    shapely.prepare([cutter, bench.wood])
    steps = [np.linspace(low + CLEAR_MM, high - CLEAR_MM, PLACES) for low, high in free]
    if any(high - low < 2 * CLEAR_MM for low, high in free):
        return None
    for x, y in itertools.product(*(s.tolist() for s in steps)):
        if all(_keeps_clear(bench, cutter, keep, setup.turned_deg, (x, y)) for keep in bed.keep_outs):
            return x, y
    return None


def _keeps_clear(
    bench: CheckedBlank, cutter: shapely.Geometry, keep: KeepOut, turned_deg: float, at: Span
) -> bool:
    ground = to_blank(polygon(points_of(keep.outline)), turned_deg, at)
    minded = [bench.wood] if keep.blocks in ("blank", "both") else []
    minded += [cutter] if keep.blocks in ("cutter", "both") else []
    return not any(shapely.dwithin(body, ground, CLEAR_MM) for body in minded)


def out_of_reach(
    bed: Bed,
    names: Sequence[str],
    cut: Sequence[Span],
    wood: Sequence[Span],
    free: Sequence[Span],
    radius_mm: float,
) -> Iterator[str]:
    """Yield keep-outs of those named that neither blank nor cutter can come near wherever the blank lies."""
    reach = [
        (min(c[0] - radius_mm, w[0]) + low, max(c[1] + radius_mm, w[1]) + high)
        for c, w, (low, high) in zip(cut, wood, free, strict=True)
    ]
    for keep in bed.keep_outs:
        if keep.name in names:
            x0, y0, x1, y1 = polygon(points_of(keep.outline)).bounds
            (low_x, high_x), (low_y, high_y) = reach
            if x1 < low_x or x0 > high_x or y1 < low_y or y0 > high_y:
                yield keep.name
