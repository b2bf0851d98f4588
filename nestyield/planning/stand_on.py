"""On which edge a board stands at the resaw."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely

from nestyield.bed.sweep import outline_polygon, shape_polygon
from nestyield.model import MachineLimits, Piece, Point
from nestyield.model.pose import Pose
from nestyield.placement.remember import remember

#: An edge on which a board stands runs along the grain within this (common practice, no source), degrees.
MOST_OFF_GRAIN_DEG = 10.0
#: An edge counts as straight where the wood comes this near to the line, millimeters.
STRAIGHT_MM = 0.1
#: A board stands on wood for so much of its length at the least (common practice, no source).
LEAST_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """How a board stands at the resaw.

    Parameters
    ----------
    edge_mm : (point, point)
        The edge that is down, from end to end, piece coordinates.
    height_mm : float
        Of the board on it.
    """

    edge_mm: tuple[Point, Point]
    height_mm: float


@remember(256)
def stand_of(piece: Piece, limits: MachineLimits) -> Stand | None:
    """Return the edge on which a piece stands lowest at the resaw; None where it cannot be resawn.

    It is solid wood without seams, as long and as wide as the limits ask, no higher than the resaw takes, and
    stands on a straight edge along its grain: no wane, bark or rough edge there for half of its length.

    Parameters
    ----------
    piece : Piece
    limits : MachineLimits
    """
    if limits.resaw_height_mm is None or piece.grain_deg is None or piece.seams:
        return None
    wood = shape_polygon(piece.shape)
    missing = shapely.union_all(
        [outline_polygon(d.shape.outer) for d in piece.defects if d.traits.wood_missing]
    ).buffer(STRAIGHT_MM)
    corners = shapely.get_coordinates(wood.convex_hull)
    found: list[Stand] = []
    for a, b in itertools.pairwise(corners):
        angle = float(np.degrees(np.arctan2(*(b - a)[::-1])))
        if abs((angle - piece.grain_deg + 90.0) % 180.0 - 90.0) > MOST_OFF_GRAIN_DEG:
            continue
        size = np.ptp(Pose(angle_deg=-angle).array(corners), axis=0)
        line = shapely.LineString([a, b])
        touched = wood.boundary.intersection(line.buffer(STRAIGHT_MM, cap_style="flat"))
        held = float(touched.difference(missing).length)
        if held < max(limits.resaw_shortest_mm - 2 * STRAIGHT_MM, LEAST_SHARE * float(size[0])):
            continue
        height = round(float(size[1]), 4)
        if limits.resaw_narrowest_mm - 1e-6 <= height <= limits.resaw_height_mm + 1e-6:
            ends = sorted((round(float(x), 4), round(float(y), 4)) for x, y in (a, b))
            found.append(Stand(edge_mm=(ends[0], ends[1]), height_mm=height))
    return min(found, key=lambda s: (s.height_mm, s.edge_mm[0][1], s.edge_mm), default=None)
