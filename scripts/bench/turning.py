"""Turns for parts that may lie at any angle: some to begin with, then ones near those of a layout."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.model.pose import Pose

Ring = Sequence[tuple[float, float]]

#: OrientedShape outlines of all parts together; their tables grow with the square of it.
MOST_OUTLINES = 96
#: Sides and distances shorter than this share of a part's greatest extent do not count.
SMALL = 0.1


def turns_each(kinds: int) -> int:
    """Return how many turns each of some kinds of parts may have; one that may be mirrored counts as two."""
    return max(8, min(64, MOST_OUTLINES // kinds))


def first_turns(ring: Ring, limits: Iterable[float], most: int) -> tuple[float, ...]:
    """Return turns to begin with: evenly spread, long sides along the axes, extents equal to a limit.

    Parameters
    ----------
    ring : (n, 2) float
    limits : iterable of float
        Widths that the part's extent along y, or x, might just fill.
    most : int

    Returns
    -------
    tuple of float
        Degrees, each once.
    """
    spread = next(n for n in (24, 12, 8, 4) if 2 * n <= most or n == 4)
    turns = [360.0 * k / spread for k in range(spread)]
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(np.asarray(ring, dtype=float))))
    sides = np.diff(hull, axis=0)
    long = np.hypot(sides[:, 0], sides[:, 1])
    leaning = [
        (-math.degrees(math.atan2(sides[k, 1], sides[k, 0])) + 90.0 * q) % 360.0
        for k in np.argsort(-long, kind="stable")
        if long[k] > SMALL * long.max()
        for q in range(4)
    ]
    for turn in (*_filling(hull, limits), *leaning):
        if len(turns) >= most:
            break
        _add(turns, turn)
    return tuple(turns)


def _add(turns: list[float], turn: float) -> None:
    turn = round(turn % 360.0, 9) % 360.0
    if all(abs((turn - t + 180.0) % 360.0 - 180.0) > 1e-6 for t in turns):
        turns.append(turn)


def _filling(hull: NDArray[np.float64], limits: Iterable[float]) -> list[float]:
    """Return turns at which the extent along y equals a limit, on the side where it is less."""

    def extent(deg: float) -> float:
        a = math.radians(deg)
        y = math.sin(a) * hull[:, 0] + math.cos(a) * hull[:, 1]
        return float(y.max() - y.min())

    out = []
    for limit in limits:
        aim = limit * (1.0 - 1e-7)
        over = [extent(0.5 * k) > aim for k in range(721)]
        for k in range(720):
            if over[k] == over[k + 1]:
                continue
            inside, outside = (0.5 * k, 0.5 * (k + 1)) if over[k + 1] else (0.5 * (k + 1), 0.5 * k)
            for _ in range(60):
                middle = 0.5 * (inside + outside)
                inside, outside = (inside, middle) if extent(middle) > aim else (middle, outside)
            out.append(inside)
    return out


def finer_turns(
    rings: Sequence[Ring],
    placed: Sequence[tuple[int, float, bool, float, float]],
    step_deg: float,
    most: int,
) -> list[tuple[float, ...]]:
    """Return turns of each part near those that its copies have in a layout.

    Parameters
    ----------
    rings : sequence of (n, 2) float
        Outlines as given.
    placed : sequence of (item, angle_deg, mirrored, x, y)
        The layout: mirrored in x if so, turned about the origin, then shifted.
    step_deg : float
        How far the new turns are from the present ones; those at which a side comes to lie along a
        neighbour's, or along an axis, may be twice as far.
    most : int
        Turns of a part; the present ones are always kept.

    Returns
    -------
    list of tuple of float
        Degrees, by item.
    """
    turns: list[list[float]] = [[] for _ in rings]
    for item, angle, _, _, _ in placed:
        _add(turns[item], angle)
    for item, turn in (*_flush(rings, placed, 2.0 * step_deg), *_beside(placed, step_deg)):
        if len(turns[item]) < most:
            _add(turns[item], turn)
    return [tuple(t) for t in turns]


def _beside(
    placed: Sequence[tuple[int, float, bool, float, float]], step_deg: float
) -> list[tuple[int, float]]:
    return [(p[0], p[1] + sign * step_deg) for sign in (1.0, -1.0) for p in placed]


def _flush(
    rings: Sequence[Ring], placed: Sequence[tuple[int, float, bool, float, float]], reach_deg: float
) -> list[tuple[int, float]]:
    """Return (item, turn) that lays a side along an axis or a neighbour's near side, least change first."""
    outlines = []
    for item, angle, mirrored, x, y in placed:
        p = np.asarray(rings[item], dtype=np.float64)
        turned = Pose(mirrored=mirrored, angle_deg=angle, x_mm=x, y_mm=y).array(p)
        outlines.append(turned if shapely.linearrings(turned).is_ccw else turned[::-1])
    found: list[tuple[float, int, float]] = []
    sides = [_sides(p) for p in outlines]
    lines = [shapely.linestrings(s) for s in sides]
    bearing = [np.degrees(np.arctan2(*(s[:, 1] - s[:, 0]).T[::-1])) for s in sides]
    reach = [SMALL * float(np.ptp(p, axis=0).max()) for p in outlines]
    boxes = [shapely.bounds(shapely.linearrings(p)) for p in outlines]
    for i, (item, angle, _, _, _) in enumerate(placed):
        for b in bearing[i]:
            found.append((abs(d := (-b + 45.0) % 90.0 - 45.0), item, angle + d))
        for j in range(len(placed)):
            gap = max(*(boxes[i][:2] - boxes[j][2:]), *(boxes[j][:2] - boxes[i][2:]))
            if i == j or gap > reach[i]:
                continue
            change = (bearing[j][None, :] + 180.0 - bearing[i][:, None] + 180.0) % 360.0 - 180.0
            for a, c in zip(*np.nonzero(np.abs(change) <= reach_deg)):
                if shapely.distance(lines[i][a], lines[j][c]) <= reach[i]:
                    found.append((abs(change[a, c]), item, angle + change[a, c]))
    found.sort()
    return [(item, float(turn)) for size, item, turn in found if 1e-6 < size <= reach_deg]


def _sides(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the longer sides of a ring, (m, 2, 2)."""
    ends = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
    long = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    least = min(SMALL * float(np.ptp(ring, axis=0).max()), float(long.max()))
    kept: NDArray[np.float64] = ends[long >= least]
    return kept
