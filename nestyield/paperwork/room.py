"""Where a part may still be shifted and turned to, and lines along edges that may tear."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from shapely import affinity, get_parts, union_all
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from nestyield.model import Layout, Outline, Plan, Point, Slack
from nestyield.paperwork.curves import bounds, move_of, outlines_of
from nestyield.paperwork.hatch import region
from nestyield.words import Words, listed

#: For pictures only: how far the drawn reach may be off, mm.
_ERROR_MM = 0.25
#: Shifts are told on a grid of this, mm.
_GRID_MM = 0.001
#: Turns below this are no turns, degrees.
_TURN_DEG = 0.1


#: What the room keeps to.
KEPT = "Margins, gaps, defects, screws and pins still keep their distance."
#: What the room leaves aside, for whoever uses it.
ASIDE = "Leftovers shrink by it. Bed, seams and filler are not checked: plan again before you use much."


#: What is said where there is none.
NONE = "It has no room to be shifted or turned."
#: Shorter slides are of no use at the bench and are not printed, millimeters.
LEAST_SLIDE_MM = 0.5


def play(room: Slack) -> tuple[float, float, float, float]:
    """Return how far a part may go straight left, right, down and up from where it lies, millimeters.

    Each by itself: a part that is shifted to the right first may go farther down than it may from its place.
    """
    if room.slide is None:
        return 0.0, 0.0, 0.0, 0.0
    outlines = outlines_of(room.slide)
    x0, y0, x1, y1 = bounds(outlines)
    free = region(outlines, _ERROR_MM / 10.0).buffer(_GRID_MM)
    ends = ((min(x0, 0.0), 0.0), (max(x1, 0.0), 0.0), (0.0, min(y0, 0.0)), (0.0, max(y1, 0.0)))
    left, right, down, up = (_straight(free, end) for end in ends)
    return left, right, down, up


def _straight(free: BaseGeometry, end: Point) -> float:
    """Return how far a line from 0, 0 to a point runs before it leaves a region, mm."""
    if end == (0.0, 0.0):
        return 0.0
    beyond = LineString([(0.0, 0.0), end]).difference(free)
    return float(math.hypot(*end) if beyond.is_empty else beyond.distance(ShapelyPoint(0.0, 0.0)))


def turns(room: Slack, angle_deg: float) -> tuple[float, float]:
    """Return how far a part may be turned clockwise and counter-clockwise from where it lies, degrees."""
    return max(0.0, angle_deg - room.from_deg), max(0.0, room.to_deg - angle_deg)


def _span(less: float, more: float) -> str:
    """Return ``−3.2° to +1.5°``, rounded towards none; nothing one way is 0°."""
    tenths = [(sign, math.floor(turn * 10.0 + 1e-6)) for sign, turn in (("−", less), ("+", more))]
    return " to ".join(f"{sign}{n / 10:.1f}°" if n else "0°" for sign, n in tenths)


def rows(plan: Plan, layout: Layout) -> list[list[str]]:
    """Return one row a part that has any room: number, left, right, down, up, turn."""
    words = Words(plan.shop.units)
    out = []
    for room in layout.rooms:
        less, more = turns(room, layout.placements[room.placement].angle_deg)
        turn = "–" if max(less, more) < _TURN_DEG else _span(less, more)
        if max(*play(room), less, more) < _TURN_DEG:
            continue
        reach = [words.column(v, rounding="down") if v >= LEAST_SLIDE_MM else "–" for v in play(room)]
        out.append([str(room.placement + 1), *reach, turn])
    return out


def sentence(plan: Plan, layout: Layout, room: Slack) -> str:
    """Return in a sentence how far one part may be shifted and turned."""
    words = Words(plan.shop.units)
    ways = [
        f"{words.length(v, rounding='down')} {way}"
        for v, way in zip(play(room), ("to the left", "to the right", "down", "up"))
        if v >= LEAST_SLIDE_MM
    ]
    less, more = turns(room, layout.placements[room.placement].angle_deg)
    turn = f"turned by {_span(less, more)} (shifted as that needs)" if max(less, more) >= _TURN_DEG else ""
    if not ways and not turn:
        return NONE
    shift = f"shifted straight, up to {listed(ways, 'or')}" if ways else ""
    may = ", or else ".join(w for w in (shift, turn) if w)
    one = ": one of these." if len(ways) + bool(turn) > 1 else "."
    return f"The part can be {may}{one} {KEPT} {ASIDE}"


def reach(plan: Plan, layout: Layout, room: Slack) -> list[Outline]:
    """Return the outer line of all that a part covers when it is shifted as far as it goes, blank mm.

    For pictures only. Empty when there is no room.
    """
    if room.slide is None or max(play(room)) < 0.5:
        return []
    placement = layout.placements[room.placement]
    return list(_reach(move_of(placement).outline(plan.shop.part(placement.part).outline), room.slide.outer))


@lru_cache(maxsize=64)
def _reach(outline: Outline, slide: Outline) -> tuple[Outline, ...]:
    """Return it for an outline where it lies; every paper of a blank asks for the same."""
    body = region([outline], _ERROR_MM).simplify(_ERROR_MM)
    if not isinstance(body, Polygon):
        return ()
    ring = region([slide], _ERROR_MM).simplify(_ERROR_MM)
    stops = list(ring.exterior.coords) if isinstance(ring, Polygon) else []
    swept: list[BaseGeometry] = []
    for (ax, ay), (bx, by) in pairwise(stops):
        swept.append(affinity.translate(body, ax, ay))
        edge = list(body.exterior.coords)
        swept += [
            Polygon([(px + ax, py + ay), (qx + ax, qy + ay), (qx + bx, qy + by), (px + bx, py + by)]).buffer(
                0
            )
            for (px, py), (qx, qy) in pairwise(edge)
        ]
    whole = union_all([body, *swept])
    parts = [g for g in get_parts(whole) if isinstance(g, Polygon)]
    biggest = max(parts, key=lambda g: g.area, default=None)
    if biggest is None:
        return ()
    return (Outline.polygon([(float(x), float(y)) for x, y in list(biggest.exterior.coords)[:-1]]),)


def _outwards(a: Point, b: Point, body: BaseGeometry) -> Point:
    """Return the unit normal of a short step along an outline that points away from the body."""
    run = math.dist(a, b)
    nx, ny = -(b[1] - a[1]) / run, (b[0] - a[0]) / run
    probe = ShapelyPoint((a[0] + b[0]) / 2 + 0.3 * nx, (a[1] + b[1]) / 2 + 0.3 * ny)
    return (-nx, -ny) if body.contains(probe) else (nx, ny)


def _stops(line: Sequence[Point], step: float) -> list[Point]:
    """Return points along a line, about a step apart, none on the one before."""
    path = LineString(line)
    count = max(1, round(path.length / step))
    found = [path.interpolate(k / count, normalized=True) for k in range(count + 1)]
    out = [(found[0].x, found[0].y)]
    for p in found[1:]:
        if math.dist(out[-1], (p.x, p.y)) > 1e-6:
            out.append((p.x, p.y))
    return out


def teeth(
    line: Sequence[Point], body: BaseGeometry, step: float = 1.3, high: float = 1.1
) -> list[tuple[Point, ...]]:
    """Return a saw-toothed line along a stretch of outline, outside the body (canvas mm)."""
    out: list[Point] = []
    for a, b in pairwise(_stops(line, step)):
        nx, ny = _outwards(a, b, body)
        out += [a, (a[0] + nx * high, a[1] + ny * high), b]
    return [tuple(out)] if out else []


def beside(
    line: Sequence[Point], body: BaseGeometry, step: float = 1.0, off: float = 1.0
) -> list[tuple[Point, ...]]:
    """Return a second line along a stretch of outline, outside the body (canvas mm)."""
    out = []
    for a, b in pairwise(_stops(line, step)):
        nx, ny = _outwards(a, b, body)
        out += [(a[0] + nx * off, a[1] + ny * off), (b[0] + nx * off, b[1] + ny * off)]
    return [tuple(out)] if out else []
