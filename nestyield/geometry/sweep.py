"""What of a region stays covered while it turns: the intersection of all its turned copies."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.boolean import SubgridPaths, combine, components, fine
from nestyield.geometry.grid import SUBGRID, IntPoly, Region, tidy
from nestyield.geometry.remember import remember_regions

#: The kept region is this much smaller than true on every edge, so that it stays inside the true one when
#: its vertices are turned and rounded, and so that a fit with no play still leaves a region with area.
SLACK_UM = 2.0
# Answers kept: a part is asked about on one blank after the other, and with one rule after the other relaxed.
_KEPT = 2000


def swept_edges(
    ring: IntPoly, half_deg: float, center: tuple[float, float], slack_um: float
) -> list[IntPoly]:
    """Return a convex polygon around all places that each edge passes while the ring turns.

    Parameters
    ----------
    ring : IntPoly
    half_deg : float
        The ring turns this much either way, below 45 degrees.
    center : (float, float)
        Center of the turn, micrometers.
    slack_um : float
        Added all round.

    Returns
    -------
    list of IntPoly
        One for each edge, on the subgrid. An end of an edge runs on an arc; the arc lies in the triangle
        of its ends and the point where the tangents there meet, so the hull of both ends' triangles holds
        every place of the edge.
    """
    a = math.radians(half_deg)
    c, s, out = math.cos(a), math.sin(a), 1.0 / math.cos(a)
    p = np.asarray(ring, dtype=np.float64) - np.array(center)
    # Points of one vertex's arc: the two ends, and where the tangents meet.
    low = np.column_stack([p[:, 0] * c + p[:, 1] * s, p[:, 1] * c - p[:, 0] * s])
    high = np.column_stack([p[:, 0] * c - p[:, 1] * s, p[:, 1] * c + p[:, 0] * s])
    arc = np.stack([low, p * out, high], axis=1) + np.array(center)
    corners: NDArray[np.float64] = slack_um * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    wide = arc[:, :, None, :] + corners[None, None, :, :]
    spots = np.rint(wide.reshape(len(p), 12, 2) * SUBGRID)
    both = np.concatenate([spots, np.roll(spots, -1, axis=0)], axis=1)
    hulls = shapely.convex_hull(shapely.linestrings(both))
    corners_of, which = shapely.get_coordinates(shapely.orient_polygons(hulls), return_index=True)
    ends = np.searchsorted(which, np.arange(1, len(p)))
    # the last corner of each repeats its first
    return [r[:-1] for r in np.split(corners_of.astype(np.int64), ends)]


@remember_regions(_KEPT)
def rotation_intersection(
    region: Sequence[IntPoly], half_deg: float, center: tuple[float, float], slack_um: float = SLACK_UM
) -> Region:
    """Return what every copy of a region turned by up to ``half_deg`` either way covers.

    A point is lost only when an edge passes over it, so the region less the places that its edges pass is
    what stays. Never too large: too small by the slack, and by the difference between arcs and tangents.

    Parameters
    ----------
    region : Region
    half_deg : float
        0 to 45 degrees.
    center : (float, float)
        Center of the turn, micrometers.
    slack_um : float
        Further shrink, micrometers.

    Returns
    -------
    Region
        Rounded inwards by the slack; may be empty or fall apart into pieces.
    """
    if not 0 <= half_deg < 45:
        raise ValueError(f"expected 0 <= half_deg < 45, got {half_deg}")
    swept: SubgridPaths = []
    for ring in region:
        swept += swept_edges(ring, half_deg, center, slack_um)
    left = combine("difference", fine(region), swept, clip_fill="positive")
    rings = [tidy(np.rint(r / SUBGRID).astype(np.int64)) for r in left]
    return [r for r in rings if len(r) >= 3]


@remember_regions(_KEPT)
def simplified(region: Sequence[IntPoly], within_um: float) -> Region:
    """Return a region of fewer vertices whose border and that of the given one lie within a distance.

    Parameters
    ----------
    region : Region
    within_um : float
        0 or more; 0 returns the region as it is.

    Returns
    -------
    Region
        Some of the given vertices. A point farther than ``within_um`` from its border lies in it just when it
        lies in the given region; pieces narrower than that may vanish.
    """
    if within_um <= 0.0:
        return list(region)
    out: Region = []
    for outer, holes in components(region):
        polygon = shapely.simplify(shapely.Polygon(outer, holes), within_um, preserve_topology=True)
        if polygon.geom_type != "Polygon" or polygon.is_empty:
            continue
        polygon = shapely.orient_polygons(polygon)
        rings = [polygon.exterior, *polygon.interiors]
        out += [np.asarray(r.coords)[:-1].astype(np.int64) for r in rings]
    return [r for r in (tidy(r) for r in out) if len(r) >= 3]
