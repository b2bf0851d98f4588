"""True outlines as fine polygons, by this room's own arithmetic.

Nothing here is shared with the search: arcs are cut into chords that lie at most ``FINE_MM`` inside
them, points are moved in floating point without rounding to the grid.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestyield.model import Member, Outline, Placement, Shape

#: Farthest a chord lies from its arc.
FINE_MM = 0.0005
#: Most chords for one arc.
MOST_CHORDS = 20_000

#: How far a sound plan may pass a limit: 2 micrometers of contact that placement allows, a vertex
#: rounded to the grid on either side (0.71 each), and this room's own chords on either side.
TOL_MM = 0.0045

Points = NDArray[np.float64]


@lru_cache(maxsize=1024)
def points_of(outline: Outline) -> Points:
    """Return points along an outline, shape (n, 2), millimeters."""
    corners = [complex(x, y) for x, y in outline.points_mm]
    pieces: list[NDArray[np.complex128]] = []
    for i, start in enumerate(corners):
        end, bulge = corners[(i + 1) % len(corners)], outline.bulges[i]
        if bulge == 0.0 or start == end:
            pieces.append(np.array([start]))
            continue
        half = 2.0 * math.atan(bulge)  # half of the included angle
        radius = abs(end - start) / (2.0 * abs(math.sin(half)))
        step = 2.0 * math.acos(max(0.0, 1.0 - FINE_MM / radius))
        count = min(MOST_CHORDS, max(2, math.ceil(2.0 * abs(half) / step)))
        u = np.arange(count) / count
        # a point of the arc sees start and end under constant angles: law of sines along the chord
        ratio = np.sin(half * u) / math.sin(half) * np.exp(1j * half * (u - 1.0))
        pieces.append(start + (end - start) * ratio)
    flat = np.concatenate(pieces)
    return np.column_stack([flat.real, flat.imag])


def moved(points: Points, move: Placement | Member) -> Points:
    """Return points as a placement (or a member of a blank) lays them: mirror in X, turn, shift; mm."""
    z = points[:, 0] + 1j * points[:, 1]
    if move.mirrored:
        z = -z.conjugate()
    z = z * unit(move.angle_deg) + complex(move.x_um / 1000.0, move.y_um / 1000.0)
    return np.column_stack([z.real, z.imag])


def unit(angle_deg: float) -> complex:
    """Return the unit vector of an angle, without rounding error at quarter turns."""
    turns = angle_deg / 90.0
    if turns == math.floor(turns):
        return (1, 1j, -1, -1j)[int(turns) % 4] + 0j
    return complex(math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg)))


def polygon(points: Points) -> BaseGeometry:
    """Return a valid geometry for a closed ring of points."""
    shape = shapely.polygons(points)
    return shape if shape.is_valid else shapely.make_valid(shape)


def region(shape: Shape, move: Placement | Member | None = None) -> BaseGeometry:
    """Return a shape with its holes, moved where a move is given."""
    outer, *holes = (points_of(o) for o in (shape.outer, *shape.holes))
    if move is not None:
        outer, *holes = (moved(p, move) for p in (outer, *holes))
    whole = polygon(outer)
    for hole in holes:
        whole = whole.difference(polygon(hole))
    return whole


def thickness_of(sliver: BaseGeometry) -> float:
    """Return how wide a region is at its widest, in the sense of its largest inscribed circle, mm."""
    widest = 0.0
    for part in shapely.get_parts(sliver):
        if part.geom_type == "GeometryCollection":
            widest = max(widest, thickness_of(part))
        elif part.geom_type == "Polygon" and part.area > 1e-12:
            # no circle inside is larger than this, which spares the search for tiny slivers
            bound = 2.0 * part.area / max(part.length / 2.0, 1e-12)
            if bound > TOL_MM:
                circle = shapely.maximum_inscribed_circle(part, tolerance=max(1e-4, bound * 1e-2))
                widest = max(widest, 2.0 * circle.length)
    return widest
