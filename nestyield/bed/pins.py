"""Flip axis and pins: the blank goes down in two ways only, one a face.

The holes are the same from both faces when the flip axis mirrors them onto themselves: they lie on the
axis or in pairs across it. Two pins alone also take the blank turned end for end, whatever their
places; three that are no mirror image of themselves the other way, or two unequal pairs, do not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.model import Axis, HoldPlace, Point

#: Ways to lay the blank that differ by less than this cannot be told apart, millimeters.
TELL_MM = 8.0
#: Pins stand at least this many diameters apart.
APART_DIAMETERS = 4.0
#: Directions in which the corners of the free wood are looked for.
_LOOKS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class PinSet:
    """Pins about one axis.

    Parameters
    ----------
    axis : {"x", "y"}
        Direction of the flip axis in the blank.
    at_mm : float
        Where it lies: its y when it runs along X, its x when along Y.
    points_mm : tuple of (x, y)
    places : tuple of {"waste", "cutout"}
    sure : bool
        Whether the blank goes down no other way.
    """

    axis: Axis
    at_mm: float
    points_mm: tuple[Point, ...]
    places: tuple[HoldPlace, ...]
    sure: bool


def ways_down(points: Sequence[Point], tell_mm: float = TELL_MM) -> list[tuple[float, bool, Point]]:
    """Return every way in which a blank with these holes goes down on pins at the same points.

    Parameters
    ----------
    points : sequence of (x, y)
        At least two, millimeters.
    tell_mm : float
        A hole this far off its pin is no match.

    Returns
    -------
    list of (turn_rad, turned_over, shift)
        Rigid moves z -> turn z + shift, of the conjugate of z when turned over.
    """
    z = np.array([complex(x, y) for x, y in points])
    far = max(range(1, len(z)), key=lambda k: abs(z[k] - z[0]))
    ways = []
    for i in range(len(z)):
        for j in range(len(z)):
            if i == j or abs(abs(z[j] - z[i]) - abs(z[far] - z[0])) > tell_mm:
                continue
            for over in (False, True):
                w = z.conjugate() if over else z
                turn = (z[j] - z[i]) / (w[far] - w[0])
                turn /= abs(turn)
                lies = turn * (w - w[0]) + z[i]
                distance = np.abs(lies[:, None] - z[None, :])
                if distance.min(axis=1).max() <= tell_mm and len(set(distance.argmin(axis=1))) == len(z):
                    shift = z[i] - turn * w[0]
                    ways.append((float(np.angle(turn)), over, (float(shift.real), float(shift.imag))))
    return ways


def only_flip(points: Sequence[Point]) -> bool:
    """Tell whether the blank goes down in two ways only: as it is, and turned over about its axis."""
    return len(ways_down(points)) == 2


def find_pins(
    free: dict[HoldPlace, BaseGeometry],
    axis: Axis,
    at_mm: float,
    pin_diameter_mm: float,
    grid: float = 1.0,
) -> PinSet | None:
    """Choose pins about one flip axis: three or four that are sure if there is room, else two.

    Parameters
    ----------
    free : dict
        From ``waste.free_wood``.
    axis : {"x", "y"}
    at_mm : float
    pin_diameter_mm : float
    grid : float
        Step to which places are rounded, millimeters.
    """
    apart = APART_DIAMETERS * pin_diameter_mm
    tries: tuple[tuple[HoldPlace, ...], ...] = (("waste",), ("waste", "cutout"))
    for places in tries:
        ground = shapely.union_all([free[p] for p in places])
        if axis == "y":  # swap the axes, so that the flip axis always runs along X here
            ground = shapely.transform(ground, lambda c: c[:, ::-1])
        both = ground.intersection(_across(ground, at_mm))
        found = _best(_on_axis(ground, at_mm, grid), _corners(both, at_mm, grid), at_mm, apart)
        if found is not None:
            points, sure = found
            if axis == "y":
                points = tuple((y, x) for x, y in points)
            kinds: list[HoldPlace] = [
                "cutout" if "cutout" in places and free["cutout"].intersects(shapely.Point(p)) else "waste"
                for p in points
            ]
            return PinSet(axis=axis, at_mm=at_mm, points_mm=points, places=tuple(kinds), sure=sure)
    return None


def _across(ground: BaseGeometry, at_mm: float) -> BaseGeometry:
    return shapely.transform(ground, lambda c: np.column_stack([c[:, 0], 2.0 * at_mm - c[:, 1]]))


def _on_axis(ground: BaseGeometry, at_mm: float, grid: float) -> list[float]:
    """Ends and middles of the stretches where the axis crosses free wood, and places a third along."""
    x0, _, x1, _ = ground.bounds if not ground.is_empty else (0.0, 0.0, 0.0, 0.0)
    line = ground.intersection(shapely.LineString([(x0 - 1.0, at_mm), (x1 + 1.0, at_mm)]))
    found: set[int] = set()
    for stretch in shapely.get_parts(line):
        if stretch.geom_type != "LineString" or stretch.is_empty:
            continue
        xs = sorted(x for x, _ in stretch.coords)
        low, high = math.ceil(xs[0] / grid), math.floor(xs[-1] / grid)  # whole steps
        if low <= high:
            found.update((low, high, round((low + high) / 2), round(low + (high - low) / 3)))
    return sorted(round(x * grid, 4) for x in found)


def _corners(both: BaseGeometry, at_mm: float, grid: float) -> list[Point]:
    """Places above the axis whose mirror image is free as well, farthest in several directions."""
    upper: list[Point] = []
    for part in shapely.get_parts(both):
        if part.geom_type != "Polygon":
            continue
        c = shapely.get_coordinates(part)
        c = c[c[:, 1] > at_mm]
        for k in range(_LOOKS if len(c) else 0):
            t = 2.0 * math.pi * k / _LOOKS
            x, y = c[int(np.argmax(c @ np.array([math.cos(t), math.sin(t)])))]
            spot = _round_into(part, float(x), float(y), grid)
            if spot is not None and spot[1] > at_mm:
                upper.append(spot)
    return sorted(set(upper))


def _round_into(part: BaseGeometry, x: float, y: float, grid: float) -> Point | None:
    """Return the place on the grid, or half-way, nearest to a corner that lies in the region."""
    for step in (grid, grid / 2.0):
        x0, y0 = math.floor(x / step) * step, math.floor(y / step) * step
        options = [(round(x0 + i * step, 4), round(y0 + j * step, 4)) for i in (0, 1) for j in (0, 1)]
        inside = [p for p in options if part.covers(shapely.Point(p))]
        if inside:
            return min(inside, key=lambda p: (math.hypot(p[0] - x, p[1] - y), p))
    return None


def _sets(axis_xs: list[float], upper: list[Point], at_mm: float) -> Iterator[tuple[Point, ...]]:
    on = [(x, at_mm) for x in axis_xs]

    def pair(p: Point) -> tuple[Point, Point]:
        return p, (p[0], 2.0 * at_mm - p[1])

    yield from combinations(on, 3)
    for p in upper:
        for a in on:
            yield (*pair(p), a)
    for p, q in combinations(upper, 2):
        yield (*pair(p), *pair(q))
    yield from combinations(on, 2)
    for p in upper:
        yield pair(p)


def _best(
    axis_xs: list[float], upper: list[Point], at_mm: float, apart_mm: float
) -> tuple[tuple[Point, ...], bool] | None:
    best: tuple[tuple[float, ...], tuple[Point, ...], bool] | None = None
    for points in _sets(axis_xs, upper, at_mm):
        least = min(math.dist(p, q) for p, q in combinations(points, 2))
        if least < apart_mm:
            continue
        span = max(math.dist(p, q) for p, q in combinations(points, 2))
        along = sorted({p[0] for p in points})
        uneven = min((abs(a) for a in np.diff(np.diff(along))), default=0.0) if len(along) > 2 else 0.0
        sure = only_flip(points)
        # sure sets first, then wide ones, then few pins
        rank = (float(sure), round(span - 15.0 * len(points), 3), round(uneven, 3))
        if best is None or rank > best[0]:
            best = (rank, tuple(sorted(points)), sure)
    return None if best is None else (best[1], best[2])
