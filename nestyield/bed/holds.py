"""Places for screws or small clamps in the waste, clear of the cutter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.bed.waste import Pairs, free_wood
from nestyield.model import Blank, HoldDown, HoldPlace, Pin, Point, Settings

#: Diameter of a screw's head or a small clamp pad (common practice, no source), millimetres.
HEAD_MM = 10.0
#: Hold-downs wanted, how far apart they are worth having, and how far from pins, millimetres.
HOLDS = 4
HOLDS_APART_MM = 60.0
BESIDE_PIN_MM = 5.0


def hold_downs(
    blank: Blank, pairs: Pairs, settings: Settings, pins: Sequence[Pin], keep: BaseGeometry
) -> tuple[HoldDown, ...]:
    """Choose places for screws, far from each other, clear of cutter, pins and flaws.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    settings : Settings
    pins : sequence of Pin
    keep : geometry
        Leftovers, pierced only when there is no room for two elsewhere.
    """
    radius = HEAD_MM / 2.0
    free = free_wood(blank, pairs, settings, radius)
    holes = shapely.union_all(
        [shapely.Point(p.x_mm, p.y_mm).buffer(p.diameter_mm / 2.0 + radius + BESIDE_PIN_MM) for p in pins]
    )
    apart = keep.buffer(radius + BESIDE_PIN_MM)
    chosen = _choose({kind: ground.difference(holes).difference(apart) for kind, ground in free.items()})
    if len(chosen) < 2:
        chosen = _choose({kind: ground.difference(holes) for kind, ground in free.items()})
    return tuple(
        HoldDown(name=f"screw {k + 1}", x_mm=p[0], y_mm=p[1], diameter_mm=HEAD_MM, place=kind)
        for k, (p, kind) in enumerate(chosen)
    )


def _choose(free: dict[HoldPlace, BaseGeometry]) -> list[tuple[Point, HoldPlace]]:
    """From one corner on, always the place farthest from those chosen, waste before openings."""
    spots = [(p, kind) for kind, ground in sorted(free.items(), reverse=True) for p in _spots(ground)]
    if not spots:
        return []
    first = [s for s in spots if s[1] == "waste"] or spots
    chosen = [min(first, key=lambda s: (s[0][0] + s[0][1], s[0]))]
    while len(chosen) < HOLDS:
        best = max(spots, key=lambda s: (min(_apart(s[0], c[0]) for c in chosen), s[1] == "waste", s[0]))
        if min(_apart(best[0], c[0]) for c in chosen) < HOLDS_APART_MM:
            break
        chosen.append(best)
    return sorted(chosen)


def _apart(p: Point, q: Point) -> float:
    return float(np.hypot(p[0] - q[0], p[1] - q[1]))


def _spots(ground: BaseGeometry) -> list[Point]:
    """Whole-millimetre places of a region near its corners."""
    out: set[Point] = set()
    for part in shapely.get_parts(ground):
        if part.geom_type != "Polygon":
            continue
        corners = shapely.get_coordinates(part.simplify(0.5))
        for x, y in corners:
            for dx in (0, 1):
                for dy in (0, 1):
                    spot = (float(np.floor(x)) + dx, float(np.floor(y)) + dy)
                    if part.covers(shapely.Point(spot)):
                        out.add(spot)
    return sorted(out)
