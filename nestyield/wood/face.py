"""A board's face as boxes: where it is clear and where it is not.

A defect counts as the box around it, sides parallel to the board's. One that fills little of its box,
as a slanting split does, counts as a few boxes side by side; so does the wood that is missing from a
board that is no rectangle. Boxes are never smaller than what they stand for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from nestyield.model import Defect, Outline, Piece, Shape
from nestyield.model.arc import Arc
from nestyield.wood.clear import Box
from nestyield.wood.measure import inches

Face = Literal["top", "bottom"]

#: Ticks in an inch: both 1/128 in and 1 micrometer are whole ticks.
TICKS_PER_IN = 406400

#: A shape that fills less of its box than this is taken in slices (a circle fills 0.785).
_FULL = 0.7
#: Slices at most, for a defect and for missing wood.
_DEFECT_SLICES, _VOID_SLICES = 4, 8
#: Step between points on an arc.
_STEP = math.radians(2.0)


def ticks(mm: float) -> int:
    """Return a length in ticks."""
    return int(inches(mm) * TICKS_PER_IN)


def mm(value: int) -> float:
    """Return ticks in millimeters."""
    return value * 25.4 / TICKS_PER_IN


def polygon(shape: Shape) -> tuple[BaseGeometry, float]:
    """Return a shape with arcs as chords, and how far an arc may lie from its chords, millimeters."""
    rings = [_ring(outline) for outline in (shape.outer, *shape.holes)]
    made = Polygon(rings[0][0], [ring for ring, _ in rings[1:]])
    return shapely.make_valid(made), max(off for _, off in rings)


def _ring(outline: Outline) -> tuple[list[tuple[float, float]], float]:
    points, off = [], 0.0
    n = len(outline.points_mm)
    for i, (start, bulge) in enumerate(zip(outline.points_mm, outline.bulges, strict=True)):
        points.append(start)
        if not bulge:
            continue
        end = outline.points_mm[(i + 1) % n]
        arc = Arc.of(start, end, bulge)
        steps = max(2, math.ceil(abs(arc.sweep) / _STEP))
        inner = (arc.start + arc.sweep * k / steps for k in range(1, steps))
        points += [arc.at(a) for a in sorted({*inner, *arc.quarters()}, reverse=arc.sweep < 0)]
        off = max(off, arc.radius * (1.0 - math.cos(arc.sweep / steps / 2.0)))
    return points, off


def boxes_around(
    geometry: BaseGeometry, grow_mm: float, slices: int
) -> list[tuple[float, float, float, float]]:
    """Return boxes that cover a geometry: one around each part, or a few side by side, millimeters."""
    found = []
    for part in _polygons(geometry):
        x0, y0, x1, y1 = part.bounds
        if part.area >= _FULL * (x1 - x0) * (y1 - y0) or part.area == 0:
            found.append((x0, y0, x1, y1))
            continue
        along = x1 - x0 >= y1 - y0
        low, high = (x0, x1) if along else (y0, y1)
        for k in range(slices):
            a, b = low + (high - low) * k / slices, low + (high - low) * (k + 1) / slices
            piece = shapely.intersection(part, box(a, y0, b, y1) if along else box(x0, a, x1, b))
            for slice_ in _polygons(piece):
                s = slice_.bounds
                found.append(
                    (
                        max(x0, s[0] - grow_mm),
                        max(y0, s[1] - grow_mm),
                        min(x1, s[2] + grow_mm),
                        min(y1, s[3] + grow_mm),
                    )
                )
    return found


def _polygons(geometry: BaseGeometry) -> Iterable[BaseGeometry]:
    if geometry.is_empty:
        return []
    parts = shapely.get_parts(geometry)
    return [p for p in parts if p.geom_type == "Polygon"]


def shows_on(defect: Defect, face: Face, thickness_mm: float) -> bool:
    """Return whether a defect is seen on a face."""
    deep = defect.depth_mm is None or defect.depth_mm >= thickness_mm
    return defect.face in ("through", face) or deep


class BoardFace:
    """One face of a board, turned so that its grain runs along X, corner at the origin.

    Parameters
    ----------
    piece : Piece
    face : {"top", "bottom"}
        Both are seen from the top.

    Attributes
    ----------
    length, width : int
        Of the box around the board, ticks.
    boxes : tuple of (x0, y0, x1, y1)
        Defects and missing wood, ticks.
    knots : tuple of (name, float)
        Average diameter of each knot, inches.
    """

    def __init__(self, piece: Piece, face: Face) -> None:
        grain = (piece.grain_deg or 0.0) % 180.0
        self.upright = 45.0 < grain < 135.0
        shape, off = polygon(piece.shape)
        self.origin = shape.bounds[:2]
        x0, y0, x1, y1 = shape.bounds
        sides = ticks(x1 - x0), ticks(y1 - y0)
        self.length, self.width = sides[::-1] if self.upright else sides
        self.area_mm2 = piece.shape.area_mm2
        self.rectangle = self.area_mm2 >= (x1 - x0) * (y1 - y0) * (1 - 1e-9)
        found = []
        if not self.rectangle:
            found += boxes_around(shapely.difference(box(x0, y0, x1, y1), shape), off, _VOID_SLICES)
        knots = []
        for defect in piece.defects:
            if defect.traits.clear or not shows_on(defect, face, piece.thickness_mm):
                continue
            flaw, off = polygon(defect.shape)
            found += boxes_around(flaw, off, _DEFECT_SLICES)
            if defect.traits.knot:
                a, b, c, d = flaw.bounds
                knots.append((defect.name, (c - a + d - b) / 2 / 25.4))
        self.knots = tuple(knots)
        self.boxes = tuple(sorted({self._in(b) for b in found}))

    def _in(self, bounds: tuple[float, float, float, float]) -> Box:
        ox, oy = self.origin
        x0, y0, x1, y1 = (ticks(v - o) for v, o in zip(bounds, (ox, oy, ox, oy), strict=True))
        return (y0, x0, y1, x1) if self.upright else (x0, y0, x1, y1)

    def out(self, inside: Box) -> tuple[float, float, float, float]:
        """Return a box of this face in the piece's coordinates, millimeters."""
        x0, y0, x1, y1 = (mm(v) for v in inside)
        if self.upright:
            x0, y0, x1, y1 = y0, x0, y1, x1
        ox, oy = self.origin
        return (ox + x0, oy + y0, ox + x1, oy + y1)
