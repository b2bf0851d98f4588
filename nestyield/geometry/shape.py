"""Regions on the grid to shapes of the model, and to shapely for checks and pictures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from nestyield.geometry.boolean import components
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import UM_PER_MM, IntPoly, Region, to_mm
from nestyield.model import Outline, Shape


def region_to_shape(region: Sequence[IntPoly]) -> list[Shape]:
    """Return each connected piece of a region as a shape of straight lines, millimeters.

    A ring that touches itself, as around a hole on the edge, becomes the pieces that it goes around.
    """
    return [
        Shape(
            outer=Outline.polygon([(x, y) for x, y in to_mm(outer).tolist()]),
            holes=tuple(Outline.polygon([(x, y) for x, y in to_mm(h).tolist()]) for h in holes),
        )
        for piece in components(region)
        for outer, holes in _apart(*piece)
    ]


def _apart(outer: IntPoly, holes: list[IntPoly]) -> list[tuple[IntPoly, list[IntPoly]]]:
    """Return an outer ring with its holes as rings of which none touches itself along a line."""
    alone = shapely.Polygon(outer)
    if alone.is_valid:
        return [(outer, holes)]
    made = shapely.make_valid(shapely.Polygon(outer, holes), method="structure", keep_collapsed=False)
    polygons = [g for g in shapely.get_parts(made) if g.geom_type == "Polygon"]
    if not polygons:
        return [(outer, holes)]
    out = []
    for polygon in shapely.orient_polygons(polygons):
        rings = [polygon.exterior, *polygon.interiors]
        first, *rest = (np.rint(np.asarray(r.coords)[:-1]).astype(np.int64) for r in rings)
        out.append((first, rest))
    return out


def to_shapely(shape: Shape | Sequence[IntPoly], chord_error_mm: float = 0.005) -> Any:
    """Return a shapely geometry in millimeters.

    Parameters
    ----------
    shape : Shape or Region
        Arcs of a shape become chords and tangents on the outside, within ``chord_error_mm``.

    Returns
    -------
    shapely.Polygon or shapely.MultiPolygon
        Empty polygon for the empty region.
    """
    region: Region = (
        flatten_shape(shape, chord_error_mm, "outside") if isinstance(shape, Shape) else list(shape)
    )
    return pieces_to_shapely(components(region))


def pieces_to_shapely(pieces: Sequence[tuple[IntPoly, Sequence[IntPoly]]]) -> Any:
    """Return outer rings with their holes as a shapely geometry in millimeters; see `to_shapely`."""
    polygons = [
        shapely.Polygon(np.asarray(outer) / UM_PER_MM, [np.asarray(h) / UM_PER_MM for h in holes])
        for outer, holes in pieces
    ]
    if not polygons:
        return shapely.Polygon()
    whole = polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)
    return whole if whole.is_valid else shapely.make_valid(whole)
