"""The allowed region at one angle: inner fit of the outline less the no-fit of every obstacle."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nestyield.geometry.boolean import SubgridPaths, combine, components
from nestyield.geometry.grid import SUBGRID, IntPoly, Region, bounds
from nestyield.geometry.minkowski import Window, inner_ring_subgrid, meets_paths, no_fit_subgrid
from nestyield.model.pose import Pose
from nestyield.placement.problem import PlacementProblem


def inner_fit(container: Region, pieces: Sequence[IntPoly], window: Window | None = None) -> SubgridPaths:
    """Return the shifts at which all rings of ``pieces`` lie in the container (outer rings only)."""
    out: SubgridPaths | None = None
    for piece in pieces:
        here: SubgridPaths = []
        for ring in container:
            here += inner_ring_subgrid(ring, piece, window)
        out = here if out is None else combine("intersection", out, here)
        if not out:
            return []
        window = window_of(out)
    return out or []


def window_of(paths: SubgridPaths) -> Window:
    """Return the box of fine paths in whole micrometers, rounded outwards."""
    x0, y0, x1, y1 = bounds(paths)
    return x0 // SUBGRID, y0 // SUBGRID, -(-x1 // SUBGRID), -(-y1 // SUBGRID)


def region_subgrid(
    container: Region,
    outline: Region,
    obstacles: Sequence[tuple[Region, Region]] | Callable[[Window], Sequence[tuple[Region, Region]]],
    angle_deg: float,
    mirrored: bool,
    window: Window | None = None,
) -> SubgridPaths:
    """Return the shifts at which an outline lies in a container and clear of obstacles.

    Parameters
    ----------
    container : Region
        Outer rings.
    outline : Region
        What must lie inside: outer rings, before the turn.
    obstacles : sequence of (fixed, moving)
        What must stay clear of what; the moving regions before the turn. Moving regions that are the same
        object are turned once. Or a function that is asked for them, with the shifts that matter, when the outline
        has room in the container.
    angle_deg, mirrored
        Applied to everything that moves.
    window : (x least, y least, x most, y most), optional
        Only shifts in here are wanted, micrometers.

    Returns
    -------
    list of IntPoly
        On the subgrid.
    """
    pose = Pose(mirrored=mirrored, angle_deg=angle_deg)
    pieces = [outer for outer, _ in components(pose.on_grid(outline))]
    bare = inner_fit(container, pieces, window)
    if not bare or not obstacles:
        return bare
    window = window_of(bare)
    if callable(obstacles):
        obstacles = obstacles(window)
    if not obstacles:
        return bare
    blocked: SubgridPaths = []
    turned: dict[int, Region] = {}
    for fixed, moving in obstacles:
        if id(moving) not in turned:
            turned[id(moving)] = pose.on_grid(moving)
        paths = meets_paths(fixed, turned[id(moving)], window)
        blocked += no_fit_subgrid(fixed, turned[id(moving)], window) if paths is None else paths
    return combine("difference", bare, blocked, clip_fill="positive")


def feasible_region(
    problem: PlacementProblem, angle_deg: float, mirrored: bool, window: Window | None = None
) -> SubgridPaths:
    """Return the shifts at which the part may lie, turned by an angle, on the subgrid.

    Parameters
    ----------
    problem : PlacementProblem
    angle_deg : float
    mirrored : bool
    window : (x least, y least, x most, y most), optional
        Only shifts in here are wanted, micrometers.

    Returns
    -------
    list of IntPoly
        Exact for the turned and rounded part, with area only; see ``contact`` for fits with no play.
    """
    obstacles = [(o.fixed, o.moving) for o in problem.obstacles]
    return region_subgrid(problem.container, [problem.shape.outline], obstacles, angle_deg, mirrored, window)
