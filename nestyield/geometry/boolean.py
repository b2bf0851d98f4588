"""Union, difference and intersection of regions.

Done by pyclipper on a grid 16 times finer than the micrometer, so that a crossing of two edges is found
to 0.05 micrometers before it is rounded to the grid.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Any, Literal

import numpy as np
import pyclipper
import shapely

from nestyield.geometry.grid import SUBGRID, IntPoly, Region, bounds, ring_area_um2, tidy

Fill = Literal["nonzero", "positive", "negative"]
_FILL = {
    "nonzero": pyclipper.PFT_NONZERO,
    "positive": pyclipper.PFT_POSITIVE,
    "negative": pyclipper.PFT_NEGATIVE,
}
_OPERATION = {
    "union": pyclipper.CT_UNION,
    "difference": pyclipper.CT_DIFFERENCE,
    "intersection": pyclipper.CT_INTERSECTION,
}

#: Rings on the subgrid, SUBGRID units to the micrometer.
SubgridPaths = list[IntPoly]


def fine(region: Iterable[IntPoly]) -> SubgridPaths:
    """Lift rings to the subgrid."""
    return [np.asarray(r, dtype=np.int64) * SUBGRID for r in region]


def to_grid(paths: Iterable[IntPoly]) -> Region:
    """Round rings of the subgrid to micrometers and drop those without area."""
    rings = (tidy(np.rint(np.asarray(p) / SUBGRID).astype(np.int64)) for p in paths)
    return [r for r in rings if len(r) >= 3]


def combine(
    operation: Literal["union", "difference", "intersection"],
    subject: Iterable[IntPoly],
    clip: Iterable[IntPoly] = (),
    *,
    subject_fill: Fill = "nonzero",
    clip_fill: Fill = "nonzero",
) -> SubgridPaths:
    """Combine closed paths by winding number; in and out on the subgrid.

    Returns
    -------
    list of IntPoly
        Outer rings counter-clockwise, holes clockwise; empty when nothing with area is left.
    """
    engine: Any = pyclipper.Pyclipper()
    filled = [False, False]
    for k, (paths, kind) in enumerate(((subject, pyclipper.PT_SUBJECT), (clip, pyclipper.PT_CLIP))):
        rows = [np.asarray(p).tolist() for p in paths if len(p) >= 3]
        if rows:
            try:
                engine.AddPaths(rows, kind, True)
                filled[k] = True
            except pyclipper.ClipperException:  # every path is a point or a line: no area
                pass
    if not filled[0] and (not filled[1] or operation != "union"):
        return []
    out = engine.Execute(_OPERATION[operation], _FILL[subject_fill], _FILL[clip_fill])
    return [np.fromiter(chain.from_iterable(p), np.int64, 2 * len(p)).reshape(-1, 2) for p in out]


def holds_point(paths: Iterable[IntPoly], x_um: int, y_um: int) -> bool:
    """Tell whether rings on the subgrid, holes among them, hold a point; one on an edge counts as inside.

    Parameters
    ----------
    x_um, y_um : int
        Whole micrometers.
    """
    sides = [pyclipper.PointInPolygon((x_um * SUBGRID, y_um * SUBGRID), r.tolist()) for r in paths]
    return -1 in sides or sides.count(1) % 2 == 1


def clean(region: Sequence[IntPoly]) -> Region:
    """Resolve crossings and overlaps by the nonzero rule.

    Parameters
    ----------
    region : sequence of IntPoly
        Rings; holes run against the ring around them.
    """
    return to_grid(combine("union", fine(region)))


def union(*regions: Sequence[IntPoly]) -> Region:
    """Return what lies in any of the regions."""
    rings: list[IntPoly] = []
    for region in regions:
        rings += fine(region)
    return to_grid(combine("union", rings))


def difference(a: Sequence[IntPoly], b: Sequence[IntPoly]) -> Region:
    """Return what lies in ``a`` and not in ``b``."""
    return to_grid(combine("difference", fine(a), fine(b)))


def intersection(a: Sequence[IntPoly], b: Sequence[IntPoly]) -> Region:
    """Return what lies in both."""
    return to_grid(combine("intersection", fine(a), fine(b)))


def components(region: Sequence[IntPoly]) -> list[tuple[IntPoly, list[IntPoly]]]:
    """Group the rings of a region into connected pieces.

    Returns
    -------
    list of (outer, holes)
        Largest outer box first is not promised; the order is that of the outer rings.
    """
    areas = [ring_area_um2(r) for r in region]
    outers = [r for r, area in zip(region, areas) if area > 0]
    holes = [r for r, area in zip(region, areas) if area < 0]
    pieces: list[tuple[IntPoly, list[IntPoly]]] = [(r, []) for r in outers]
    if len(pieces) == 1:
        return [(outers[0], holes)]
    sizes = [area for area in areas if area > 0]
    boxes = [bounds([r]) for r in outers]
    polygons: dict[int, shapely.Polygon] = {}
    for hole in holes:
        box = bounds([hole])
        best = -1
        for k, outer in enumerate(outers):
            b = boxes[k]
            inside = b[0] <= box[0] and b[1] <= box[1] and b[2] >= box[2] and b[3] >= box[3]
            if not inside or (best >= 0 and sizes[k] >= sizes[best]):
                continue
            if k not in polygons:
                polygons[k] = _prepared(outer)
            if _holds(polygons[k], hole):
                best = k
        if best >= 0:
            pieces[best][1].append(hole)
    return pieces


def _holds(outer: shapely.Polygon, ring: IntPoly) -> bool:
    """Whether most of a ring's vertices lie in ``outer`` (rings of one region never cross).

    A vertex on an edge says nothing.
    """
    x, y = ring[:, 0], ring[:, 1]
    inside = np.count_nonzero(shapely.contains_xy(outer, x, y))
    outside = len(ring) - np.count_nonzero(shapely.intersects_xy(outer, x, y))
    return bool(inside >= outside)


def _prepared(outer: IntPoly) -> shapely.Polygon:
    """Return a ring as a polygon that answers quickly, exact on whole numbers."""
    polygon = shapely.Polygon(outer)
    shapely.prepare(polygon)
    return polygon
