"""Growing and shrinking by a distance, with round corners on the safe side.

A region is grown by its Minkowski sum with a many-sided disc. The disc has a side (outside) or a corner
(inside) square to every edge of the region longer than 1 mm, so straight edges move by the distance itself,
to 1 micrometer; a rounded corner lies within ``ARC_TOL_UM`` of its arc, on the side asked for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from nestyield.geometry.boolean import SubgridPaths, combine, components, to_grid
from nestyield.geometry.grid import ARC_TOL_UM, IntPoly, Region, tidy
from nestyield.geometry.minkowski import inner_fit_subgrid, no_fit_subgrid
from nestyield.geometry.remember import remember_regions

OffsetSide = Literal["outside", "inside"]

_LONG_EDGE_UM = 1000.0
# Answers kept: a blank is asked about again for each part and each way to lay it.
_KEPT = 1000


def disc(
    radius_um: float, side: OffsetSide, normals: IntPoly | None = None, tol_um: float = ARC_TOL_UM
) -> IntPoly:
    """Return a polygon around (outside) or within (inside) a circle about the origin.

    Parameters
    ----------
    radius_um : float
    side : {"outside", "inside"}
    normals : IntPoly, optional
        Directions in which the polygon reaches exactly as far as the circle.
    tol_um : float
        Farthest that the polygon may lie from the circle, the grid aside.

    Returns
    -------
    IntPoly
        Counter-clockwise; empty for a circle (inside) in which no polygon on the grid lies.
    """
    tol = min(tol_um, radius_um / 4)
    step = 2.0 * math.acos(radius_um / (radius_um + tol) if side == "outside" else 1.0 - tol / radius_um)
    count = 4 * max(1, math.ceil(math.pi / (2 * step)))
    turns = np.arange(count) * (2 * math.pi / count)
    if normals is not None and len(normals):
        extra = np.arctan2(normals[:, 1].astype(float), normals[:, 0].astype(float)) % (2 * math.pi)
        turns = np.unique(np.concatenate([turns, extra]))
        apart = np.concatenate([[True], np.diff(turns) > 1e-9])
        turns = turns[apart]
    if side == "inside":
        points = radius_um * np.column_stack([np.cos(turns), np.sin(turns)])
        whole = np.sign(points) * np.floor(np.abs(points) + 1e-6)
    else:
        following = np.roll(turns, -1)
        following[-1] += 2 * math.pi
        middle, halfway = (turns + following) / 2, (following - turns) / 2
        points = (radius_um / np.cos(halfway))[:, None] * np.column_stack([np.cos(middle), np.sin(middle)])
        whole = np.sign(points) * np.ceil(np.abs(points) - 1e-6)
    return tidy(whole.astype(np.int64))


def _normals(region: Sequence[IntPoly]) -> IntPoly:
    """Outward normals of long edges (as whole vectors)."""
    edges = [np.concatenate([r[1:], r[:1]]) - r for r in region if len(r) >= 3]
    if not edges:
        return np.empty((0, 2), dtype=np.int64)
    e = np.concatenate(edges)
    e = e[np.hypot(e[:, 0], e[:, 1]) >= _LONG_EDGE_UM]
    return np.column_stack([e[:, 1], -e[:, 0]])


@remember_regions(_KEPT)
def grow(
    region: Sequence[IntPoly], um: float, side: OffsetSide = "outside", tol_um: float = ARC_TOL_UM
) -> Region:
    """Return all points within a distance of a region.

    Parameters
    ----------
    region : Region
    um : float
        Distance, micrometers, not negative; 0 returns the region as it is.
    side : {"outside", "inside"}
        Outside: the result is never too small; inside: never too large.
    tol_um : float
        Farthest that a rounded corner may lie from its arc.
    """
    if um < 0:
        raise ValueError(f"expected a distance >= 0, got {um}")
    if um == 0 or not region:
        return list(region)
    tool = disc(um, side, _normals(region), tol_um)
    return to_grid(no_fit_subgrid(region, -tool)) if len(tool) else list(region)


@remember_regions(_KEPT)
def shrink(
    region: Sequence[IntPoly], um: float, side: OffsetSide = "inside", tol_um: float = ARC_TOL_UM
) -> Region:
    """Return all points farther than a distance from everything outside a region.

    Parameters
    ----------
    region : Region
    um : float
        Distance, micrometers, not negative; 0 returns the region as it is.
    side : {"outside", "inside"}
        Inside: the result is never too large; outside: never too small.
    tol_um : float
        Farthest that a rounded corner may lie from its arc.
    """
    if um < 0:
        raise ValueError(f"expected a distance >= 0, got {um}")
    if um == 0 or not region:
        return list(region)
    flat = _normals(region)
    tool = disc(um, "outside" if side == "inside" else "inside", np.concatenate([flat, -flat]), tol_um)
    if not len(tool):
        return list(region)
    out: SubgridPaths = []
    for outer, holes in components(region):
        out += inner_fit_subgrid([outer, *holes], tool)
    return to_grid(combine("union", out))
