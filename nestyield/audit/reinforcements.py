"""Splines and dowels: nothing that is cut later comes near one.

Measured in space, across the face and through the thickness; contours count with their whole depth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, points_of, polygon
from nestyield.audit.depth import planed_off
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, cut_through
from nestyield.model import JointReinforcement, Point, Seam, Zone

#: How far a key may lie off its seam.
_OFF_SEAM_MM = 0.05
#: How far a drawing may be off, square millimeters.
SAME_AREA_MM2 = 0.5


def line_of(seam: Seam) -> tuple[complex, complex]:
    """Return a seam's first point and its direction to the right (or upwards)."""
    (x0, y0), (x1, y1) = seam.line_mm[0], seam.line_mm[-1]
    along = complex(x1 - x0, y1 - y0)
    along /= abs(along)
    if along.real < -1e-9 or (abs(along.real) <= 1e-9 and along.imag < 0):
        along = -along
    return complex(x0, y0), along


def on_line(p: Point, start: complex, along: complex) -> complex:
    """Return a point along the seam (real) and to its left (imaginary)."""
    return (complex(*p) - start) * along.conjugate()


def span_of(zone: Zone, laid: CheckedPlacement) -> tuple[float, float] | None:
    """Return from where to where a zone takes wood, below the face of the part that lies up."""
    thick = laid.part.thickness_mm
    if zone.shape is None or not zone.does.cuts:
        return None
    if zone.depth_mm is None or zone.face == "through" or cut_through(zone, laid.part):
        return 0.0, thick
    if (zone.face == "front") == laid.placement.front_up:
        return 0.0, min(thick, zone.depth_mm)
    return max(0.0, thick - zone.depth_mm), thick


def check_key(bench: CheckedBlank, key: JointReinforcement, seams: dict[str, Seam]) -> None:
    """Check that nothing that is cut later comes near a spline or dowel."""
    where = f"{key.name}, {key.seam}"
    if key.seam not in seams:
        bench.say("A118", "there is no such seam", where)
        return
    start, along = line_of(seams[key.seam])
    z0, z1 = (on_line(p, start, along) for p in key.line_mm)
    if max(abs(z0.imag), abs(z1.imag)) > _OFF_SEAM_MM:
        bench.say("A118", f"it lies {max(abs(z0.imag), abs(z1.imag)):.3f} mm off the seam", where)
    half = key.thick_mm / 2 if key.kind == "dowel" else 0.0
    ground = _box(start, along, (z0.real - half, z1.real + half), key.depth_mm)
    differs = polygon(points_of(key.outline)).symmetric_difference(ground).area
    if differs > SAME_AREA_MM2:
        bench.say("A118", f"it is drawn {differs:.2f} mm2 beside where it is told", where)
    over = [laid for laid in bench.laid if laid.outline.intersects(ground)]
    if not over:
        bench.say("A118", "it lies under no part", where)
    least = bench.sheet.plan.shop.settings.glueup.reinforce_clearance_mm
    for laid in over:
        _clear(bench, key, ground, laid, least, where)


def _box(start: complex, along: complex, ends: Sequence[float], depth: float) -> BaseGeometry:
    corners = [
        start + along * complex(u, v) for u, v in zip((*ends, *ends[::-1]), (-depth, -depth, depth, depth))
    ]
    return shapely.Polygon([(z.real, z.imag) for z in corners])


def _clear(
    bench: CheckedBlank,
    key: JointReinforcement,
    ground: BaseGeometry,
    laid: CheckedPlacement,
    least: float,
    where: str,
) -> None:
    room = laid.outline.boundary.distance(ground) if laid.outline.covers(ground) else 0.0
    if room < least - TOL_MM:
        bench.say(
            "A118", f"it lies {room:.3f} mm from the outline of {laid.name}, at least {least:g} mm", where
        )
    middle = key.below_top_mm - planed_off(bench, laid)[0]
    low, high = middle - key.thick_mm / 2, middle + key.thick_mm / 2
    wall = min(low, laid.part.thickness_mm - high)
    if wall < key.thick_mm - TOL_MM:
        bench.say(
            "A118",
            f"{wall:.3f} mm of wood between it and a face of {laid.name}, at least {key.thick_mm:g} mm",
            where,
        )
    for zone in laid.part.zones:
        span = span_of(zone, laid)
        if span is None or zone.shape is None:
            continue
        across = laid.zone(zone.shape).distance(ground)
        room = math.hypot(across, max(0.0, span[0] - high, low - span[1]))
        if room < least - TOL_MM:
            bench.say(
                "A118", f"it lies {room:.3f} mm from {zone.name} of {laid.name}, at least {least:g} mm", where
            )
