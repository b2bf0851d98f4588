"""Regions of shifts that are next to nothing: what of them is true, and what rounding made."""

from __future__ import annotations

import numpy as np
import shapely

from nestyield.geometry.boolean import SubgridPaths
from nestyield.geometry.grid import SUBGRID, UM_PER_MM, IntPoly, Region
from nestyield.geometry.shape import to_shapely

#: Regions narrower than this are looked at closely, micrometers.
THIN_UM = 1.0
#: So far wood may reach past its container at a corner of a region, by rounding, micrometers.
_PAST_UM = 2.0


def sound(shifts: SubgridPaths, container: Region, wood: Region) -> SubgridPaths:
    """Return a region of shifts without slivers at which wood does not lie in its container.

    Where two edges of a region run nearly along each other, rounding may leave a sliver that is as long as they
    are, however far apart the container's sides are. Of a thin path with corners at which wood does not lie in the container
    a point at each of the others is left.

    Parameters
    ----------
    shifts : list of IntPoly
        On the subgrid.
    container, wood : Region
        Micrometers.
    """
    if not any(_thin(path) for path in shifts):
        return shifts
    home = to_shapely(container).buffer(_PAST_UM / UM_PER_MM)
    shapely.prepare(home)
    body = to_shapely(wood)
    out: SubgridPaths = []
    for path in shifts:
        holds = [True] * len(path)
        if _thin(path):
            holds = [bool(home.covers(_moved(body, corner))) for corner in path]
        if all(holds):
            out.append(path)
        else:
            out += [_point(corner) for corner, good in zip(path, holds) if good]
    return out


def _thin(path: IntPoly) -> bool:
    """Tell whether a path is narrower than so much all along, about."""
    at = path.astype(np.float64) / SUBGRID
    step = np.roll(at, -1, axis=0) - at
    area = abs(float((at[:, 0] * np.roll(at[:, 1], -1) - at[:, 1] * np.roll(at[:, 0], -1)).sum())) / 2
    around = float(np.hypot(step[:, 0], step[:, 1]).sum())
    return 2.0 * area < THIN_UM * around


def _moved(body: shapely.Geometry, corner: IntPoly) -> shapely.Geometry:
    by = corner / SUBGRID / UM_PER_MM
    return shapely.transform(body, lambda at: at + by)


def _point(corner: IntPoly) -> IntPoly:
    """Return the smallest path about a shift."""
    return corner + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=np.int64)
