"""Where the seams of a blank run under its parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shapely import LineString, get_coordinates
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.shape import to_shapely
from nestyield.glueup.under import crossings, laid
from nestyield.model import Blank, Part, Placement, Point, SeamUnderPart, Settings, Zone
from nestyield.model.pose import Pose

#: Shorter contacts than this are not a seam under a part, millimeters.
LEAST_SEAM_MM = 0.05

Visible = Literal["front", "back", "edge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamOnPart:
    """Where a seam falls on a part.

    Parameters
    ----------
    seam : str
    boards : tuple of str
        The two that meet in it, the one below first; empty for a seam of a piece that was glued up before.
    from_mm, to_mm : point
        Where it comes under the part and where it leaves it, from the corner that the part's place is told from.
    length_mm : float
        Length inside the part's outline.
    zones : tuple of (str, float)
        Zones that it crosses, with the length inside each, millimeters.
    """

    seam: str
    boards: tuple[str, ...]
    from_mm: Point
    to_mm: Point
    length_mm: float
    zones: tuple[tuple[str, float], ...]


def seams_on(
    blank: Blank, part: Part, placement: Placement, corner: Point, settings: Settings
) -> tuple[SeamOnPart, ...]:
    """Return where each seam that runs under a part falls on it.

    Parameters
    ----------
    blank : Blank
    part : Part
    placement : Placement
        Of the part, on the blank.
    corner : point
        What places are told from, blank coordinates, millimeters.
    settings : Settings
    """
    outline = to_shapely(
        [Pose.of(placement).on_grid(flatten(part.outline, settings.chord_error_mm, "outside"))]
    )
    out = []
    for told in seams_under(blank, [(part, placement)], settings):
        number = next(k for k, seam in enumerate(blank.seams) if seam.name == told.seam)
        inside = get_coordinates(LineString(blank.seams[number].line_mm).intersection(outline)).tolist()
        ends = [(round(x - corner[0], 3), round(y - corner[1], 3)) for x, y in (min(inside), max(inside))]
        out.append(
            SeamOnPart(
                seam=told.seam,
                boards=tuple(m.label for m in blank.members[number : number + 2] if len(blank.members) > 1),
                from_mm=ends[0],
                to_mm=ends[1],
                length_mm=told.length_mm,
                zones=told.zones,
            )
        )
    return tuple(out)


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
