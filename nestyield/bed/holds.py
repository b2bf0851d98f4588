"""Places for screws or small clamps in the waste, clear of the cutter."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.bed.steps import grid_mm
from nestyield.bed.waste import Pairs, free_wood
from nestyield.model import Blank, HoldDown, HoldPlace, Pin, Point, Settings, Units

#: Diameter of a screw's head or a small clamp pad (common practice, no source), millimeters: where the
#: shop works in millimeters, and in inches (7/16).
HEAD_MM = 10.0
HEAD_IN_MM = 25.4 * 7.0 / 16.0
#: Hold-downs wanted, how far apart they are worth having, and how far from pins, millimeters.
HOLDS = 4
HOLDS_APART_MM = 60.0
BESIDE_PIN_MM = 5.0
#: And rather so far, so that a sheet can show both and hands can reach both.
FROM_PIN_MM = (25.0, 15.0)
#: As long as the holes lie no nearer to each other than this share of what they could.
SPREAD = 0.8


def hold_downs(
    blank: Blank,
    pairs: Pairs,
    settings: Settings,
    pins: Sequence[Pin],
    keep: BaseGeometry,
    units: Units = "mm",
    table: BaseGeometry | None = None,
    given: Sequence[HoldDown] = (),
) -> tuple[HoldDown, ...]:
    """Choose places for screws, far from each other, clear of cutter, pins and flaws.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    settings : Settings
    pins : sequence of Pin
    keep : geometry
        Leftovers, pierced only when there is no room for two elsewhere; what has room elsewhere stays there.
    units : {"mm", "in"}
        Places are whole steps of what the shop measures in.
    table : geometry, optional
        Where the blank lies over the table; a screw elsewhere holds nothing.
    given : sequence of HoldDown
        Screws that are there already: those that serve are taken first.
    """
    head = HEAD_MM if units == "mm" else HEAD_IN_MM
    radius, grid = head / 2.0, grid_mm(units)
    free = free_wood(blank, pairs, settings, radius)

    def around(by_mm: float) -> BaseGeometry:
        grown = [shapely.Point(p.x_mm, p.y_mm).buffer(p.diameter_mm / 2.0 + radius + by_mm) for p in pins]
        return shapely.union_all(grown)

    apart = keep.buffer(radius + BESIDE_PIN_MM)
    if table is not None:
        free = {kind: ground.intersection(table) for kind, ground in free.items()}
    near = around(BESIDE_PIN_MM)
    clear = {kind: ground.difference(near) for kind, ground in free.items()}
    spared = {kind: ground.difference(apart) for kind, ground in clear.items()}

    there = [((h.x_mm, h.y_mm), h.place) for h in given]

    def away(grounds: dict[HoldPlace, BaseGeometry]) -> list[tuple[Point, HoldPlace]]:
        found = _choose(grounds, grid, head + BESIDE_PIN_MM, there)
        for by_mm in FROM_PIN_MM if pins else ():
            far = around(by_mm)
            spaced = {kind: ground.difference(far) for kind, ground in grounds.items()}
            other = _choose(spaced, grid, head + BESIDE_PIN_MM, there)
            if len(other) == len(found) and _nearest(other) >= SPREAD * _nearest(found):
                return other
        return found

    chosen = away(spared)
    if len(chosen) < 2:
        there = list(dict.fromkeys([*chosen, *there]))
        chosen = away(clear)
    return tuple(
        HoldDown(name=f"screw {k + 1}", x_mm=p[0], y_mm=p[1], diameter_mm=head, place=kind)
        for k, (p, kind) in enumerate(chosen)
    )


def _choose(
    free: dict[HoldPlace, BaseGeometry],
    grid: float,
    beside: float,
    given: Sequence[tuple[Point, HoldPlace]] = (),
) -> list[tuple[Point, HoldPlace]]:
    """From those given or one corner on, always the place farthest from those chosen, waste before openings.

    None nearer than ``beside`` to any of those given, millimeters between centers.
    """
    spots = [
        (p, kind)
        for kind, ground in sorted(free.items(), reverse=True)
        for p in _spots(ground, grid)
        if all(
            _apart(p, q) >= beside for q, _ in given
        )  # one that serves elsewhere has its head there all the same
    ]
    chosen = [(p, kind) for p, kind in given if free[kind].covers(shapely.Point(p))][:HOLDS]
    if not spots:
        return sorted(chosen)
    if not chosen:
        first = [s for s in spots if s[1] == "waste"] or spots
        chosen = [min(first, key=lambda s: (s[0][0] + s[0][1], s[0]))]
    while len(chosen) < HOLDS:
        best = max(spots, key=lambda s: (min(_apart(s[0], c[0]) for c in chosen), s[1] == "waste", s[0]))
        if min(_apart(best[0], c[0]) for c in chosen) < HOLDS_APART_MM:
            break
        chosen.append(best)
    return sorted(chosen)


def _nearest(chosen: Sequence[tuple[Point, HoldPlace]]) -> float:
    """Least distance between two of some places."""
    return min((_apart(p, q) for (p, _), (q, _) in combinations(chosen, 2)), default=0.0)


def _apart(p: Point, q: Point) -> float:
    return float(np.hypot(p[0] - q[0], p[1] - q[1]))


def _spots(ground: BaseGeometry, grid: float) -> list[Point]:
    """Places of a region on a grid near its corners."""
    out: set[Point] = set()
    for part in shapely.get_parts(ground):
        if part.geom_type != "Polygon":
            continue
        corners = shapely.get_coordinates(part.simplify(0.5))
        for x, y in corners:
            for dx in (0, 1):
                for dy in (0, 1):
                    spot = (
                        round((float(np.floor(x / grid)) + dx) * grid, 4),
                        round((float(np.floor(y / grid)) + dy) * grid, 4),
                    )
                    if part.covers(shapely.Point(spot)):
                        out.add(spot)
    return sorted(out)
