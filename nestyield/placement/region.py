"""The allowed region at one angle: inner fit of the outline less the no-fit of every obstacle."""

from __future__ import annotations

from nestyield.geometry.boolean import FinePaths, combine
from nestyield.geometry.minkowski import inner_paths, meets_paths, no_fit_fine
from nestyield.geometry.transform import place
from nestyield.placement.problem import Problem


def allowed_fine(problem: Problem, angle_deg: float, mirrored: bool) -> FinePaths:
    """Return the shifts at which the part may lie, turned by an angle, on the finer grid.

    Parameters
    ----------
    problem : Problem
    angle_deg : float
    mirrored : bool

    Returns
    -------
    list of IntPoly
        Exact for the turned and rounded part, with area only; see ``contact`` for fits with no play.
    """
    outline = place(problem.shape.outline, angle_deg, mirrored)
    bare: FinePaths = []
    for ring in problem.container:
        paths = inner_paths(ring, outline)
        if paths is not None:
            bare += combine("union", paths, subject_fill="negative") if len(problem.container) > 1 else paths
    if not bare:
        return []
    fill = "positive" if len(problem.container) > 1 else "negative"
    blocked: FinePaths = []
    turned: dict[int, list] = {}  # type: ignore[type-arg]
    for obstacle in problem.obstacles:
        key = id(obstacle.moving)
        if key not in turned:
            turned[key] = place(obstacle.moving, angle_deg, mirrored)
        paths = meets_paths(obstacle.fixed, turned[key])
        blocked += no_fit_fine(obstacle.fixed, turned[key]) if paths is None else paths
    return combine("difference", bare, blocked, subject_fill=fill, clip_fill="positive")  # type: ignore[arg-type]
