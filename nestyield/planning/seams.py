"""Where the seams of a blank run under its parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from shapely import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.shape import to_shapely
from nestyield.glueup.under import crossings, laid
from nestyield.model import Blank, Part, Placement, SeamUnderPart, Settings, Zone
from nestyield.model.pose import Pose

#: Shorter contacts than this are not a seam under a part, millimeters.
LEAST_SEAM_MM = 0.05

Visible = Literal["front", "back", "edge"]


def seams_under(
    blank: Blank, placements: Sequence[tuple[Part, Placement]], settings: Settings
) -> tuple[SeamUnderPart, ...]:
    """Return every seam that runs under a part, with its length and the zones that it crosses.

    A seam shows on the front where wood of the front stays: outside cutouts, holes and pockets cut from the
    front; likewise on the back; and on the edge where it meets the outline.

    Parameters
    ----------
    blank : Blank
    placements : sequence of (Part, Placement)
        In the layout's order.
    settings : Settings
        Gives the chord error.

    Returns
    -------
    tuple of SeamUnderPart
        By placement, then by seam.
    """
    found: list[SeamUnderPart] = []
    for index, (part, placement) in enumerate(placements if blank.seams else ()):
        pose = Pose.of(placement)
        cut = laid(index, part, placement)
        outline = to_shapely([pose.on_grid(flatten(part.outline, settings.chord_error_mm, "outside"))])
        zones = [
            (zone, to_shapely(pose.on_grid(flatten_shape(zone.shape, settings.chord_error_mm, "inside"))))
            for zone in part.zones
            if zone.shape is not None
        ]
        for seam in blank.seams:
            line = LineString(seam.line_mm)
            inside = line.intersection(outline)
            if inside.length < LEAST_SEAM_MM:
                continue
            crossed = [(zone.name, inside.intersection(region).length) for zone, region in zones]
            found.append(
                SeamUnderPart(
                    seam=seam.name,
                    placement=index,
                    length_mm=round(inside.length, 3),
                    zones=tuple((n, round(mm, 3)) for n, mm in crossed if mm >= LEAST_SEAM_MM),
                    visible=_visible(line, inside, outline, zones),
                    wood_left_mm=tuple((c.zone, c.wood_left_mm) for c in crossings(seam, [cut])),
                )
            )
    return tuple(found)


def _visible(
    line: BaseGeometry,
    inside: BaseGeometry,
    outline: BaseGeometry,
    zones: Sequence[tuple[Zone, BaseGeometry]],
) -> tuple[Visible, ...]:
    seen: list[Visible] = []
    faces: tuple[Literal["front", "back"], ...] = ("front", "back")
    for face in faces:
        gone = [
            region
            for zone, region in zones
            if zone.does.cuts
            and not zone.does.slopes
            and (zone.depth_mm is None or zone.face in (face, "through"))
        ]
        rest = inside.difference(unary_union(gone)) if gone else inside
        if rest.length >= LEAST_SEAM_MM:
            seen.append(face)
    if line.intersects(outline.boundary):
        seen.append("edge")
    return tuple(seen)
