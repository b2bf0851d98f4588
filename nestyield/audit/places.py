"""Every part inside its blank, clear of holes and of other parts, grain and face as the shop asks."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, points_of, polygon, thickness_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement

#: Angles closer than this are the same.
ANGLE_TOL_DEG = 1e-6


def check_places(bench: CheckedBlank) -> None:
    """Check each placement on its own, then all against each other."""
    for i, placement in enumerate(bench.layout.placements):
        if placement.part not in bench.sheet.parts:
            bench.say("A201", f"placement {i + 1} is of part {placement.part!r}, which is unknown")
    for laid in bench.laid:
        check_way(bench, laid)
        check_inside(bench, laid)
        check_holes(bench, laid)
        check_run_out(bench, laid)
    _gaps(bench)


def check_way(bench: CheckedBlank, laid: CheckedPlacement) -> None:
    """Check the grain and the face of one placed part."""
    part, p = laid.part, laid.placement
    wood = bench.layout.blank.grain_deg
    if part.grain_deg is not None and wood is not None:
        # the direction of the part's grain as a line, after mirroring and turning
        x, y = math.cos(math.radians(part.grain_deg)), math.sin(math.radians(part.grain_deg))
        lies = math.degrees(math.atan2(y, -x if p.mirrored else x)) + p.angle_deg
        off = abs((lies - wood + 90.0) % 180.0 - 90.0)
        if off > part.grain_tolerance_deg + ANGLE_TOL_DEG:
            bench.say(
                "A202",
                f"{laid.name} lies {off:.3f} degrees off the grain; "
                f"at most {part.grain_tolerance_deg:g} is allowed",
            )
    # seen from the front face the part is mirrored once more when its back is up
    image = p.mirrored == p.front_up
    if image and part.mirrored == "no":
        bench.say("A203", f"{laid.name} is cut as its mirror image, which the part does not allow")
    if not image and part.mirrored == "only":
        bench.say("A203", f"{laid.name} is cut as drawn; the part is wanted only as its mirror image")
    if part.show_face == "top":
        over = [m.label for m in bench.layout.blank.members if m.mirrored]
        if not p.front_up:
            bench.say("A207", f"{laid.name} lies back up; its front must be on the top of the piece")
        elif over:
            bench.say(
                "A207", f"{laid.name} must show the top of its pieces; {', '.join(over)} lies bottom up"
            )


def check_inside(bench: CheckedBlank, laid: CheckedPlacement) -> None:
    """Check that one placed part keeps the margin from the edge of the blank."""
    outer = polygon(points_of(bench.layout.blank.shape.outer))
    margin = margin_of(bench)
    room = clearance_inside(laid.outline, outer)
    if room < margin - TOL_MM:
        what = f"comes within {room:.3f} mm of" if room >= 0 else f"reaches {-room:.3f} mm past"
        bench.say("A204", f"{laid.name} {what} the edge of the blank; at least {margin:g} mm must stay")


def margin_of(bench: CheckedBlank) -> float:
    """Return the wood that must stay between a part and an edge as it was measured, millimeters."""
    return bench.sheet.plan.shop.settings.blank_margin_mm + bench.layout.blank.measured_mm


def clearance_inside(inner: BaseGeometry, outer: BaseGeometry) -> float:
    """Return the least distance of a region from the edge of the one around it; negative when outside."""
    if outer.covers(inner):
        return float(shapely.distance(inner.boundary, outer.boundary))
    out = inner.difference(outer)
    far = shapely.points(shapely.get_coordinates(out))
    past = float(np.max(shapely.distance(far, outer), initial=0.0))
    return -max(past, thickness_of(out))


def check_holes(bench: CheckedBlank, laid: CheckedPlacement) -> None:
    """Check that one placed part keeps the margin from the blank's holes, or has them in an opening."""
    margin = margin_of(bench)
    for k, hole in enumerate(bench.layout.blank.shape.holes):
        ground = polygon(points_of(hole))
        if any(clearance_inside(ground, o) >= margin - TOL_MM for o in shapely.get_parts(laid.openings)):
            continue
        room = distance_apart(laid.outline, ground)
        if room < margin - TOL_MM:
            bench.say(
                "A205",
                f"{laid.name} comes within {room:.3f} mm of hole {k + 1} of the blank; "
                f"at least {margin:g} mm must stay",
            )


def distance_apart(a: BaseGeometry, b: BaseGeometry) -> float:
    """Return the distance of two regions; negative, by the width of the overlap, when they overlap."""
    if not a.intersects(b):
        return float(shapely.distance(a, b))
    return -thickness_of(a.intersection(b))


def _gaps(bench: CheckedBlank) -> None:
    gap = bench.sheet.plan.shop.settings.gap_mm
    laid = bench.laid
    if len(laid) < 2:
        return
    outlines = [p.outline for p in laid]
    pairs = bench.tree.query(outlines, predicate="dwithin", distance=max(0.0, gap - TOL_MM))
    for i, j in sorted((int(a), int(b)) for a, b in pairs.T if a < b):
        check_gap(bench, laid[i], laid[j])


def check_gap(bench: CheckedBlank, one: CheckedPlacement, other: CheckedPlacement) -> None:
    """Check that two placed parts keep their gap."""
    gap = bench.sheet.plan.shop.settings.gap_mm
    if _inside_opening(one, other, gap) or _inside_opening(other, one, gap):
        return
    room = distance_apart(one.outline, other.outline)
    if room < gap - TOL_MM:
        what = f"lies {room:.3f} mm from" if room >= 0 else f"overlaps by {-room:.3f} mm"
        bench.say("A206", f"{one.name} {what} {other.name}; at least {gap:g} mm must stay")


def check_run_out(bench: CheckedBlank, one: CheckedPlacement) -> None:
    """Check that zones that run out over an edge, beyond the part's groove, reach into no other part."""
    groove = one.outline.buffer(bench.sheet.plan.shop.settings.cutter_diameter_mm + TOL_MM)
    for zone in one.part.zones:
        if zone.shape is None or not zone.does.cuts:
            continue
        beyond = one.zone(zone.shape).difference(groove)
        for k in bench.tree.query(beyond, predicate="intersects") if not beyond.is_empty else ():
            other = bench.laid[int(k)]
            if (
                other.index != one.index
                and (deep := thickness_of(beyond.intersection(other.outline))) > TOL_MM
            ):
                bench.say("A208", f"{zone.name} of {one.name} reaches {deep:.3f} mm into {other.name}")


def _inside_opening(inner: CheckedPlacement, outer: CheckedPlacement, gap: float) -> bool:
    """Whether a part lies in an opening of another, with the gap all round."""
    return any(
        clearance_inside(inner.outline, opening) >= gap - TOL_MM
        for opening in shapely.get_parts(outer.openings)
    )
