"""Laid at an angle: every angle at which the cutter's path keeps within the travel.

The extent of a convex outline in a turning direction is, between two turns of its support
points, one cosine: ``d cos(t - a) + diameter``. So the angles at which both extents keep within
the travel are found exactly, interval by interval, from the convex hull (rotating calipers).
Arcs enter as circumscribed chords that lie at most ``ARC_ERROR_MM`` outside the true arc.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.bed.extents import LIMIT_TOL_MM
from nestyield.bed.sweep import circumscribed
from nestyield.model import Outline
from nestyield.model.pose import Pose

#: Farthest a circumscribed chord may lie outside its arc.
ARC_ERROR_MM = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilt:
    """Angles at which a part can be cut on a bed.

    Parameters
    ----------
    angles_deg : tuple of (low, high)
        All intervals of turn from 0 to 360 degrees that keep within the travel.
    best_deg : float
        The turn with most spare travel on the scarcer axis.
    spare_mm : float
        That spare.
    """

    angles_deg: tuple[tuple[float, float], ...]
    best_deg: float
    spare_mm: float


def hull_of(outline: Outline, pose: Pose = Pose()) -> NDArray[np.float64]:  # noqa: B008
    """Return the convex hull of a moved outline, counter-clockwise, arcs circumscribed, shape (n, 2), mm."""
    points = pose.array(circumscribed(outline, ARC_ERROR_MM))
    hull = shapely.convex_hull(shapely.multipoints(points))
    if hull.geom_type != "Polygon":
        return np.unique(points, axis=0)
    ring = np.asarray(hull.exterior.coords)[:-1]
    return ring if shapely.is_ccw(hull.exterior) else ring[::-1]


def _pieces(hull: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Turn intervals in [0, 360) and, for each, the two extent vectors (x, y) in the drawing."""
    edges = np.roll(hull, -1, axis=0) - hull
    normals = np.degrees(np.arctan2(-edges[:, 0], edges[:, 1]))  # outward normal of each edge
    # turning the part by t brings the drawing's direction (a - t) to the bed's direction a
    cuts = np.unique(np.concatenate([(a - normals) % 360.0 for a in (0.0, 90.0, 180.0, 270.0)]))
    cuts = np.unique(np.concatenate([[0.0], cuts, [360.0]]))
    low, high = cuts[:-1], cuts[1:]
    keep = high - low > 1e-12
    low, high = low[keep], high[keep]
    middle = np.radians(0.5 * (low + high))

    def support(direction_deg: float) -> NDArray[np.float64]:
        angle = math.radians(direction_deg) - middle
        # vertex i is extreme for directions between the normals of edges i - 1 and i
        order = np.argsort(np.radians(normals) % (2 * math.pi))
        sorted_normals = (np.radians(normals) % (2 * math.pi))[order]
        k = np.searchsorted(sorted_normals, angle % (2 * math.pi)) % len(hull)
        found: NDArray[np.float64] = hull[order[k]]
        return found

    return low, high, support(0.0) - support(180.0), support(90.0) - support(270.0)


def _widths(
    turn_rad: NDArray[np.float64], dx: NDArray[np.float64], dy: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    return c * dx[:, 0] - s * dx[:, 1], s * dy[:, 0] + c * dy[:, 1]


def tilt(hull: NDArray[np.float64], extra_mm: float, travel_x_mm: float, travel_y_mm: float) -> Tilt | None:
    """Find every turn at which a hull grown by ``extra_mm / 2`` keeps within the travel.

    Parameters
    ----------
    hull : array, shape (n, 2)
        From ``hull_of``, millimeters.
    extra_mm : float
        The cutter's diameter.
    travel_x_mm, travel_y_mm : float

    Returns
    -------
    Tilt or None
        None when no turn does.
    """
    low, high, dx, dy = _pieces(hull)
    lim_x, lim_y = travel_x_mm - extra_mm + LIMIT_TOL_MM, travel_y_mm - extra_mm + LIMIT_TOL_MM
    lo, hi = np.radians(low), np.radians(high)
    # x extent: |dx| cos(t + arg dx); y extent: |dy| sin(t + arg dy)
    rx, ax = np.hypot(dx[:, 0], dx[:, 1]), np.arctan2(dx[:, 1], dx[:, 0])
    ry, ay = np.hypot(dy[:, 0], dy[:, 1]), np.arctan2(dy[:, 1], dy[:, 0]) - 0.5 * math.pi
    corners = [lo, hi]
    for radius, phase, limit in ((rx, ax, lim_x), (ry, ay, lim_y)):
        bend = np.arccos(np.clip(limit / np.maximum(radius, 1e-12), -1.0, 1.0))
        for sign in (1.0, -1.0):
            corners.append(np.clip(_near(sign * bend - phase, 0.5 * (lo + hi)), lo, hi))
    # where the two spares are equal, the lesser of them is largest
    real = rx * np.cos(ax) - ry * np.cos(ay)
    imag = rx * np.sin(ax) - ry * np.sin(ay)
    size, phase = np.hypot(real, imag), np.arctan2(imag, real)
    bend = np.arccos(np.clip((lim_x - lim_y) / np.maximum(size, 1e-12), -1.0, 1.0))
    for sign in (1.0, -1.0):
        corners.append(np.clip(_near(sign * bend - phase, 0.5 * (lo + hi)), lo, hi))
    stack = np.sort(np.stack(corners), axis=0)
    wx, wy = _widths(stack, dx, dy)
    spare = np.minimum(lim_x - wx, lim_y - wy)
    most = float(np.max(spare))
    if most < 0.0:
        return None
    # of equals the one least off square, then the first
    turns = np.degrees(stack[spare >= most - 1e-4]) % 360.0
    askew = np.abs((turns + 45.0) % 90.0 - 45.0)
    best_deg = float(turns[np.lexsort((turns, np.round(askew, 6)))[0]])
    spans: list[tuple[float, float]] = []
    for k in range(len(stack) - 1):
        first, second = stack[k], stack[k + 1]
        wx, wy = _widths(0.5 * (first + second), dx, dy)
        inside = (wx <= lim_x) & (wy <= lim_y) & (second > first)
        spans += [(float(a), float(b)) for a, b in zip(first[inside], second[inside])]
    if not spans:  # a single angle
        spans = [(math.radians(best_deg), math.radians(best_deg))]
    return Tilt(angles_deg=_joined(spans), best_deg=best_deg, spare_mm=max(0.0, most - LIMIT_TOL_MM))


def least_travel(
    hull: NDArray[np.float64], extra_mm: float, other_travel_mm: float
) -> tuple[float, float] | None:
    """Return the least travel along X that would do at any turn when Y has ``other_travel_mm``.

    Returns
    -------
    (travel_mm, turn_deg) or None
        None when the part is too wide for Y at every turn.
    """
    low, high, dx, dy = _pieces(hull)
    limit = other_travel_mm - extra_mm + LIMIT_TOL_MM
    lo, hi = np.radians(low), np.radians(high)
    ry, ay = np.hypot(dy[:, 0], dy[:, 1]), np.arctan2(dy[:, 1], dy[:, 0]) - 0.5 * math.pi
    bend = np.arccos(np.clip(limit / np.maximum(ry, 1e-12), -1.0, 1.0))
    best: tuple[float, float] | None = None
    # a cosine is concave where it is a width, so the least is at an end of what Y allows
    for turn in (lo, hi, *(np.clip(_near(s * bend - ay, 0.5 * (lo + hi)), lo, hi) for s in (1.0, -1.0))):
        wx, wy = _widths(turn, dx, dy)
        wx = np.where(wy <= limit + 1e-9, wx, np.inf)
        i = int(np.argmin(wx))
        if math.isfinite(wx[i]) and (best is None or wx[i] < best[0] - 1e-9):
            best = (float(wx[i]), float(turn[i]))
    return None if best is None else (best[0] + extra_mm, math.degrees(best[1]) % 360.0)


def _near(angle: NDArray[np.float64], to: NDArray[np.float64]) -> NDArray[np.float64]:
    """The angle plus whole turns that lies nearest to another."""
    return angle + 2 * math.pi * np.round((to - angle) / (2 * math.pi))


def _joined(spans: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    out: list[list[float]] = []
    for a, b in sorted(spans):
        if out and a <= out[-1][1] + 1e-9:
            out[-1][1] = max(out[-1][1], b)
        else:
            out.append([a, b])
    return tuple((math.degrees(a), math.degrees(b)) for a, b in out)
