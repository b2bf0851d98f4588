"""Where a blank may be pierced or pressed on: waste around the parts, and openings cut out at the end."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from nestyield.bed.sweep import SWEEP_ERROR_MM, grown, outline_polygon, shape_polygon
from nestyield.model import Bed, Blank, HoldPlace, Part, Placement, Section, Settings, Setup
from nestyield.model.pose import Pose

#: Least wood between a pin and a part's outline beyond the cutter's radius, millimeters (common practice,
#: no source), and between a pin and the groove that the cutter leaves.
BESIDE_PIN_MM = 6.0
WEB_MM = 3.0
#: Pins and screws stand so much farther off what is cut, so that a part's play, worked out with coarser chords, can
#: keep the whole of their clearance, millimeters.
SPARE_MM = 0.04
#: Least wood between a pin or screw head and a stain or sapwood, millimeters.
BESIDE_STAIN_MM = 1.0

Pairs = Sequence[tuple[Part, Placement]]


def clear_of_outline_mm(settings: Settings) -> float:
    """Return how far a pin's or screw's edge must stay outside an outline, millimeters.

    The cutter's radius + 6 mm (common practice, no source), but never less than the groove, which is a
    whole diameter wide, + 3 mm.
    """
    diameter = settings.cutter_diameter_mm
    return max(diameter / 2.0 + BESIDE_PIN_MM, diameter + WEB_MM)


def free_wood(
    blank: Blank, pairs: Pairs, settings: Settings, radius_mm: float
) -> dict[HoldPlace, BaseGeometry]:
    """Return where the middle of something round may stand, by kind of place.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    settings : Settings
    radius_mm : float
        Of the pin, or of the screw's head.

    Returns
    -------
    dict
        ``waste``: inside the blank, clear of its edge, its flaws and seams, the parts and the cutter.
        ``cutout``: in openings so large that a core stays when the cutter has gone round.
        Blank coordinates, millimeters.
    """
    clear = clear_of_outline_mm(settings) + radius_mm
    holding = settings.holding
    wood = _inset(shape_polygon(blank.shape), holding.edge_clearance_mm + radius_mm)
    flaws = [
        grown(
            shape_polygon(d.shape),
            radius_mm + (BESIDE_STAIN_MM if d.traits.sound else holding.defect_clearance_mm),
        )
        for d in blank.defects
    ]
    seams = [grown(shapely.LineString(s.line_mm), radius_mm + WEB_MM) for s in blank.seams]
    wood = wood.difference(shapely.union_all([*flaws, *seams]))
    parts, cores = [], []
    for part, placement in pairs:
        move = Pose.of(placement)
        parts.append(grown(outline_polygon(part.outline, move), clear + SPARE_MM))
        for zone in part.zones:
            if zone.shape is not None and zone.goes_through(part.thickness_mm):
                inset = settings.cutter_diameter_mm + WEB_MM + radius_mm + SPARE_MM
                cores.append(_inset(shape_polygon(zone.shape, move), inset))
    return {
        "waste": wood.difference(shapely.union_all(parts)),
        "cutout": shapely.union_all(cores).intersection(wood) if cores else shapely.Polygon(),
    }


def over_table(bed: Bed, places: Sequence[Setup | Section], inset_mm: float) -> BaseGeometry:
    """Return the part of a blank that lies over the table in every position, blank coordinates.

    Parameters
    ----------
    bed : Bed
    places : sequence of Setup or Section
        Positions of the blank with its top up.
    inset_mm : float
        How far from the table's edge and from keep-outs it stays.
    """
    (x0, x1), (y0, y1) = bed.table_x_mm, bed.table_y_mm
    table = shapely.box(x0 + inset_mm, y0 + inset_mm, x1 - inset_mm, y1 - inset_mm)
    blocked = [grown(outline_polygon(k.outline), inset_mm) for k in bed.keep_outs]
    return _in_blank(table.difference(shapely.union_all(blocked)), places)


def in_reach(bed: Bed, places: Sequence[Setup | Section]) -> BaseGeometry:
    """Return the part of a blank to which the spindle's axis can come in every position, blank coordinates.

    Parameters
    ----------
    bed : Bed
    places : sequence of Setup or Section
        Positions of the blank with its top up.
    """
    return _in_blank(shapely.box(0.0, 0.0, bed.travel_x_mm, bed.travel_y_mm), places)


def _in_blank(ground: BaseGeometry, places: Sequence[Setup | Section]) -> BaseGeometry:
    """Bring a region of the bed into blank coordinates: what lies in it in every position."""
    return shapely.intersection_all(
        [rotate(translate(ground, -p.x_mm, -p.y_mm), -p.turned_deg, origin=(0, 0)) for p in places]
    )


def _inset(region: BaseGeometry, by_mm: float) -> BaseGeometry:
    """Shrink a region, never less than by the distance, also around corners that turn inwards."""
    segments = 32
    return region.buffer(-(by_mm + SWEEP_ERROR_MM) / math.cos(math.pi / (4 * segments)), quad_segs=segments)
