"""Zones that are drawn out over the edge of their part: as far as the cutter has to go, and no farther."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from nestyield.intake.rack import region_of
from nestyield.model import ROLES, Outline, Part, Shape, Zone

#: A zone that goes farther over the edge by less is left as it is drawn, square millimeters.
LITTLE_MM2 = 0.01
#: Corners are rounded to so many decimals of a millimeter.
DECIMALS = 3


def run_out(parts: Sequence[Part], cutter_mm: float) -> list[Part]:
    """Cut off what zones have beyond the groove around their part: it would be cut into what lies beside it.

    The groove that the cutter leaves around an outline is as wide as the cutter. A zone that ends in it is
    cut to the very edge of the part.

    Parameters
    ----------
    parts : sequence of Part
    cutter_mm : float
        Diameter of the cutter.

    Returns
    -------
    list of Part
        Parts whose zones keep within the groove are the same objects.
    """
    return [_of_part(part, cutter_mm) for part in parts]


def _of_part(part: Part, cutter_mm: float) -> Part:
    limit = region_of(Shape(outer=part.outline)).buffer(cutter_mm, quad_segs=32)
    zones = tuple(_of_zone(zone, limit) for zone in part.zones)
    return part if zones == part.zones else replace(part, zones=zones)


def _of_zone(zone: Zone, limit: shapely.Geometry) -> Zone:
    if zone.shape is None or not ROLES[zone.role].cuts:
        return zone
    drawn = region_of(zone.shape)
    if drawn.difference(limit).area <= LITTLE_MM2:
        return zone
    kept = [g for g in shapely.get_parts(drawn.intersection(limit)) if g.area > LITTLE_MM2]
    if len(kept) != 1 or not isinstance(kept[0], shapely.Polygon):
        return zone  # two grounds under one name: the audit sees to it that they reach into no other part
    ground = kept[0].normalize()
    return replace(
        zone,
        shape=Shape(outer=_ring(ground.exterior), holes=tuple(_ring(hole) for hole in ground.interiors)),
    )


def _ring(ring: shapely.LinearRing) -> Outline:
    points: list[tuple[float, float]] = []
    for x, y in ring.coords[:-1]:
        point = (round(x, DECIMALS) + 0.0, round(y, DECIMALS) + 0.0)
        if not points or point != points[-1]:
            points.append(point)
    return Outline(points_mm=tuple(points), bulges=(0.0,) * len(points))
