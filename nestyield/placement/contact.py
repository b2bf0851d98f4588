"""Fits with no play: the allowed region is a line or a point, which a region with area does not show.

Everything fixed gives way by ``CONTACT_TOL_UM``; the places that this opens are thinned again as far as
they bear it, so that the points left exceed the true edges as little as possible. Each is then checked on
its own (``check``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nestyield.geometry.boolean import SubgridPaths, combine, components, to_grid
from nestyield.geometry.convolution import convolution
from nestyield.geometry.grid import CONTACT_TOL_UM, SUBGRID, IntPoly, Region
from nestyield.geometry.minkowski import Window, inner_fit_subgrid, no_fit_subgrid
from nestyield.placement.problem import PlacementProblem
from nestyield.placement.region import feasible_region
from nestyield.placement.remember import remember

# How far the opened places are thinned, in parts of the tolerance, most first.
_THINNING = (0.95, 0.8, 0.6, 0.4, 0.2, 0.0)


def square(half: int) -> IntPoly:
    """Return a square about the origin, counter-clockwise."""
    return np.array([[-half, -half], [half, -half], [half, half], [-half, half]], dtype=np.int64)


@remember(16)
def giving(problem: PlacementProblem, um: int) -> PlacementProblem:
    """Return the problem with its container grown and its obstacles shrunk by a distance in x and in y.

    Parameters
    ----------
    problem : PlacementProblem
    um : int
        Whole micrometers, 0 or more.
    """
    if um == 0:
        return problem
    tool = square(um)
    container = [r for ring in problem.container for r in to_grid(no_fit_subgrid(ring, tool))[:1]]
    obstacles = []
    for obstacle in problem.obstacles:
        fixed: Region = []
        for outer, holes in components(obstacle.fixed):
            fixed += to_grid(inner_fit_subgrid([outer, *holes], tool))
        obstacles.append(replace(obstacle, fixed=fixed))
    return replace(problem, container=container, obstacles=tuple(obstacles))


def thinned(paths: SubgridPaths, by: float) -> SubgridPaths:
    """Return fine paths shrunk by a distance in x and in y, micrometers; holes stay as they are."""
    half = int(by * SUBGRID)
    if half == 0:
        return paths
    out: SubgridPaths = []
    for outer, holes in components(paths):
        inner = combine("union", convolution(outer[::-1], square(half)), subject_fill="negative")
        out += combine("difference", inner, holes) if holes and inner else inner
    return out


def contact_subgrid(
    problem: PlacementProblem, angle_deg: float, mirrored: bool, window: Window | None = None
) -> SubgridPaths:
    """Return where the part lies with no play to speak of, as slivers on the subgrid."""
    opened = feasible_region(giving(problem, CONTACT_TOL_UM), angle_deg, mirrored, window)
    for part in _THINNING if opened else ():
        left = thinned(opened, part * CONTACT_TOL_UM)
        if left:
            return left
    return []
