"""Patterns inside an area as plain lines and dots, so that every kind of paper shows the same."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import (
    affinity,
    bounds,
    box,
    clip_by_rect,
    contains_properly,
    get_parts,
    intersection,
    intersects,
    make_valid,
    prepare,
    union_all,
)
from shapely import area as shapely_area
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from nestyield.model import Outline, Point
from nestyield.paperwork.curves import chords

_MOST_LINES = 400
_PLACES = 18


def region(outlines: Sequence[Outline], error: float = 0.05) -> BaseGeometry:
    """Return the area of outlines by the even-odd rule, for pictures only."""
    area: BaseGeometry = Polygon()
    for outline in outlines:
        ring = chords(outline, error)
        if len(ring) >= 3:
            area = area.symmetric_difference(make_valid(Polygon(ring)))
    return area


def lines(
    outlines: Sequence[Outline], angle_deg: float, spacing: float, shift: float = 0.5
) -> list[tuple[Point, ...]]:
    """Return parallel lines inside an area.

    Parameters
    ----------
    outlines : sequence of Outline
        Even-odd.
    angle_deg : float
        Direction of the lines.
    spacing : float
        Distance between lines, in the unit of the outlines.
    shift : float
        Where the first line lies, as a share of the spacing; lines are anchored at the origin, so
        that neighboring areas match.
    """
    area = region(outlines)
    if area.is_empty:
        return []
    turned = affinity.rotate(area, -angle_deg, origin=(0, 0))
    x0, y0, x1, y1 = turned.bounds
    spacing = max(spacing, (y1 - y0) / _MOST_LINES)
    first = math.ceil(y0 / spacing - shift)
    last = math.floor(y1 / spacing - shift)
    rows = [
        LineString([(x0 - 1, (k + shift) * spacing), (x1 + 1, (k + shift) * spacing)])
        for k in range(first, last + 1)
    ]
    if not rows:
        return []
    cut = affinity.rotate(intersection(MultiLineString(rows), turned), angle_deg, origin=(0, 0))
    out = [
        tuple((float(x), float(y)) for x, y in part.coords)
        for part in get_parts(cut)
        if part.geom_type == "LineString"
    ]
    return sorted(out)


def dots(outlines: Sequence[Outline], spacing: float) -> list[Point]:
    """Return points of a staggered grid inside an area."""
    area = region(outlines)
    if area.is_empty:
        return []
    x0, y0, x1, y1 = area.bounds
    spacing = max(spacing, max(x1 - x0, y1 - y0) / 60)
    found = []
    for j in range(math.ceil(y0 / spacing), math.floor(y1 / spacing) + 1):
        shift = 0.5 if j % 2 else 0.0
        for i in range(math.ceil(x0 / spacing - shift), math.floor(x1 / spacing - shift) + 1):
            found.append(((i + shift) * spacing, j * spacing))
    return [p for p in found if area.contains(ShapelyPoint(p))]


def diagonals(outlines: Sequence[Outline]) -> list[tuple[Point, ...]]:
    """Return the two diagonals of an area's box, as far as they run inside it."""
    area = region(outlines)
    if area.is_empty:
        return []
    x0, y0, x1, y1 = area.bounds
    both = MultiLineString([[(x0, y0), (x1, y1)], [(x0, y1), (x1, y0)]])
    parts = [p for p in get_parts(intersection(both, area)) if p.geom_type == "LineString"]
    return sorted(tuple((float(x), float(y)) for x, y in p.coords) for p in parts)


def quiet_place(
    outline: Outline, busy: Sequence[BaseGeometry], width: float, height: float
) -> tuple[Point, bool]:
    """Return where a label lies in an outline with least under it, and whether it fits there.

    It fits when it is all inside and covers next to nothing.

    Parameters
    ----------
    outline : Outline
    busy : sequence of geometry
        What had better not be covered.
    width, height : float
        Of the label.
    """
    area = region([outline], 0.2)
    crowd = union_all(list(busy)) if busy else Polygon()
    x0, y0, x1, y1 = area.bounds
    cx, cy = center([outline])
    steps = np.arange(1, _PLACES) / _PLACES
    x, y = (a.ravel() for a in np.meshgrid(x0 + (x1 - x0) * steps, y0 + (y1 - y0) * steps, indexing="ij"))
    labels = box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
    outside = width * height - _shared(labels, area)
    covered = _shared(labels, crowd)
    far = np.hypot(x - cx, y - cy) / max(x1 - x0, y1 - y0, 1e-9)
    cost = 3.0 * outside + covered + 0.15 * far * width * height
    # Rounded, so that the choice does not hang on the last digits.
    best = int(np.argmin(np.round(cost, 6)))
    room = width * height
    fits = outside[best] <= 0.02 * room and covered[best] <= 0.1 * room
    return (float(x[best]), float(y[best])), bool(fits)


def _shared(boxes: NDArray[np.object_], area: BaseGeometry) -> NDArray[np.float64]:
    """Return how much of each box lies in an area; only boxes across its border are cut."""
    prepare(area)
    shared = np.zeros(len(boxes))
    within = contains_properly(area, boxes)
    shared[within] = shapely_area(boxes[within])
    across = intersects(area, boxes) & ~within
    corners = bounds(boxes[across]).tolist()
    shared[across] = shapely_area([clip_by_rect(area, *corner) for corner in corners])
    return shared


def center(outlines: Sequence[Outline]) -> Point:
    """Return a point well inside an area, where a letter may stand."""
    area = region(outlines)
    if area.is_empty:
        return outlines[0].points_mm[0]
    p = area.centroid
    if not area.contains(p):
        p = area.representative_point()
    return (float(p.x), float(p.y))


def band(line: Sequence[Point], half_width: float) -> BaseGeometry:
    """Return the area along a line, for pictures only."""
    return LineString(line).buffer(half_width)


def grown(outlines: Sequence[Outline], by: float) -> list[list[Point]]:
    """Return the rings of an area grown by a distance, for pictures only."""
    area = region(outlines).buffer(by, quad_segs=24)
    rings: list[list[Point]] = []
    for polygon in get_parts(area):
        if polygon.geom_type == "Polygon":
            for ring in (polygon.exterior, *polygon.interiors):
                rings.append([(float(x), float(y)) for x, y in list(ring.coords)[:-1]])
    return rings
