"""What a seam runs through under the parts, and how much wood stays there."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shapely import get_coordinates
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from nestyield.geometry.shape import to_shapely
from nestyield.model import Crossing, Part, Placement, Seam, Shape, Zone
from nestyield.model.pose import Pose

#: Shorter contacts are not told, millimeters.
LEAST_MM = 0.05

#: From and to, below the face of the part that lies up, millimeters.
Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidBefore:
    """Wood that is cut away from a placed part.

    Parameters
    ----------
    name : str
        Of the zone.
    ground : geometry
        Blank coordinates, millimeters.
    span : (float, float)
        Depths taken, below the face that lies up.
    face : {"up", "down", "through"}
    """

    name: str
    ground: BaseGeometry
    span: Span
    face: Literal["up", "down", "through"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPart:
    """A placed part as a seam meets it.

    Parameters
    ----------
    index : int
        In the layout's placements.
    part : Part
    outline : geometry
    taken : tuple of LaidBefore
    """

    index: int
    part: Part
    outline: BaseGeometry
    taken: tuple[LaidBefore, ...]


def laid(index: int, part: Part, placement: Placement) -> LaidPart:
    """Return a part where it lies; a contour counts with its whole depth all over."""
    pose = Pose.of(placement)

    def ground(shape: Shape) -> BaseGeometry:
        return to_shapely(pose.shape(shape))

    taken = []
    for zone in part.zones:
        if zone.shape is None or not zone.does.cuts:
            continue
        span, face = _span(zone, part, placement)
        taken.append(LaidBefore(name=zone.name, ground=ground(zone.shape), span=span, face=face))
    return LaidPart(index=index, part=part, outline=ground(Shape(outer=part.outline)), taken=tuple(taken))


def _span(zone: Zone, part: Part, placement: Placement) -> tuple[Span, Literal["up", "down", "through"]]:
    thick = part.thickness_mm
    depth = zone.depth_mm
    if zone.face == "through" or depth is None or depth >= thick:
        return (0.0, thick), "through"
    if (zone.face == "front") == placement.front_up:
        return (0.0, depth), "up"
    return (thick - depth, thick), "down"


def wood_left(spans: Sequence[Span], thickness_mm: float) -> float:
    """Return how much of a thickness no span takes, millimeters.

    Examples
    --------
    >>> wood_left([(0, 19), (30, 40)], 40), wood_left([(0, 25), (20, 40)], 40)
    (11.0, 0.0)
    """
    left, reached = 0.0, 0.0
    for low, high in sorted(spans):
        left += max(0.0, low - reached)
        reached = max(reached, high)
    return float(left + max(0.0, thickness_mm - reached))


def crossings(seam: Seam, parts: Sequence[LaidPart]) -> tuple[Crossing, ...]:
    """Return the zones that a seam runs through, by part, in drawing order.

    Parameters
    ----------
    seam : Seam
    parts : sequence of LaidPart
    """
    line = LineString(seam.line_mm)
    found = []
    for each in parts:
        inside = line.intersection(each.outline)
        hits = [(t, inside.intersection(t.ground).length) for t in each.taken]
        hits = [(t, mm) for t, mm in hits if mm >= LEAST_MM]
        if not hits:
            continue
        for taken, length in hits:
            left = min(
                (
                    wood_left([t.span for t in here], each.part.thickness_mm)
                    for here in _stretches(line, inside, [t for t, _ in hits])
                    if taken in here
                ),
                default=each.part.thickness_mm,
            )
            found.append(
                Crossing(
                    placement=each.index,
                    zone=taken.name,
                    face=taken.face,
                    length_mm=round(length, 3),
                    wood_left_mm=round(left, 3),
                )
            )
    return tuple(found)


def _stretches(line: LineString, inside: BaseGeometry, taken: Sequence[LaidBefore]) -> list[list[LaidBefore]]:
    """Return which zones take wood on each stretch of a seam from one change to the next."""
    stops = {0.0, float(line.length)}
    for area in (inside, *(t.ground for t in taken)):
        cut = line.intersection(area)
        stops.update(float(line.project(Point(p))) for p in get_coordinates(cut))
    ends = sorted(stops)
    out = []
    for a, b in itertools.pairwise(ends):
        if b - a < LEAST_MM:
            continue
        middle = line.interpolate((a + b) / 2)
        out.append([t for t in taken if t.ground.covers(middle)])
    return out
