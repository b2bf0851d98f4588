"""How long and wide a part must find a piece, at the very least: a quick and safe refusal."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import UM_PER_MM
from nestyield.model import Blank, Outline, Part, Settings
from nestyield.model.facts import TooNarrow, TooNarrowAnyWay, TooShort, TooShortAndNarrow
from nestyield.model.micrometers import up_um
from nestyield.model.pose import Pose
from nestyield.placement.candidates import orientations
from nestyield.placement.remember import remember

#: Slack for rounding and flattening; a piece is never refused for less, millimeters.
SLACK_MM = 0.1

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """By how much a piece is too small for a part, whatever its shape between the extremes.

    Parameters
    ----------
    along_mm, across_mm : float
        Missing length along the grain and width across it; 0 or less when there is enough. For wood or
        parts without grain ``along_mm`` is 0 and ``across_mm`` compares the narrowest directions.
    """

    along_mm: float
    across_mm: float
    grain: bool

    @property
    def worst_mm(self) -> float:
        """The greater of the two."""
        return max(self.along_mm, self.across_mm)

    def refusal(self, piece: str) -> TooShort | TooNarrow | TooShortAndNarrow | TooNarrowAnyWay:
        """Return it as the refusal of a piece that is too small by more than `SLACK_MM`."""
        far_um = up_um(self.worst_mm)
        if not self.grain:
            return TooNarrowAnyWay(piece=piece, far_um=far_um)
        if self.across_mm <= SLACK_MM:
            return TooShort(piece=piece, far_um=far_um)
        if self.along_mm <= SLACK_MM:
            return TooNarrow(piece=piece, far_um=far_um)
        return TooShortAndNarrow(
            piece=piece, along_um=up_um(self.along_mm), across_um=up_um(self.across_mm), far_um=far_um
        )


def hull(outline: Outline, chord_error_mm: float) -> Points:
    """Return the corners of an outline's convex hull, millimeters, shape (n, 2)."""
    points = flatten(outline, chord_error_mm, "outside") / UM_PER_MM
    corners: Points = shapely.get_coordinates(shapely.MultiPoint(points).convex_hull)
    return corners[:-1] if len(corners) > 1 and (corners[0] == corners[-1]).all() else corners


def spread(points: Points, angle_deg: float) -> tuple[float, float]:
    """Return the extent of points along a direction and across it, millimeters."""
    p = Pose(angle_deg=-angle_deg).array(points)
    size = p.max(axis=0) - p.min(axis=0)
    return float(size[0]), float(size[1])


def least_spread(points: Points, middle_deg: float, tolerance_deg: float) -> tuple[float, float]:
    """Return the least extents along X and Y that points can have when turned within a range of angles.

    Each is the least on its own, so together they are never more than any one turn needs.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Corners of a convex hull, in order, millimeters.
    middle_deg, tolerance_deg : float
        The turn lies in middle +- tolerance.
    """
    edges = np.roll(points, -1, axis=0) - points
    first, last = middle_deg - tolerance_deg, middle_deg + tolerance_deg
    # an extent is least where an edge lies along or across it, or at an end of the range
    turns = first + (-np.degrees(np.arctan2(edges[:, 1], edges[:, 0])) - first) % 90.0
    quarters = 90.0 * np.arange(int(2 * tolerance_deg // 90.0) + 1)
    all_turns = (turns[:, None] + quarters).ravel()
    kept = np.concatenate([[first, middle_deg, last], all_turns[all_turns <= last]])
    a = np.radians(kept)
    x = np.outer(np.cos(a), points[:, 0]) - np.outer(np.sin(a), points[:, 1])
    y = np.outer(np.sin(a), points[:, 0]) + np.outer(np.cos(a), points[:, 1])
    return float(np.ptp(x, axis=1).min()), float(np.ptp(y, axis=1).min())


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """The least that a part needs of any wood, margins not included, millimeters.

    Parameters
    ----------
    ways : tuple of (along, across)
        For wood with grain: least extents along and across it, for each way in which the part may lie.
    narrowest : float
        For wood without grain: its narrowest extent.
    circle : float
        Radius of a circle that lies in it.
    """

    orientations: tuple[tuple[float, float], ...]
    narrowest: float
    circle: float


@remember(256)
def needs_of(part: Part, chord_error_mm: float) -> Needs:
    """Return the least that a part needs."""
    corners = hull(part.outline, chord_error_mm)
    mirror = corners * np.array([-1.0, 1.0])
    ring = flatten(part.outline, chord_error_mm, "inside") / UM_PER_MM
    return Needs(
        orientations=tuple(
            least_spread(mirror if way.mirrored else corners, way.middle_deg, min(way.tolerance_deg, 180.0))
            for way in orientations(part, 0.0)
        ),
        narrowest=min(least_spread(corners, 0.0, 180.0)),
        circle=float(shapely.maximum_inscribed_circle(shapely.Polygon(ring), tolerance=0.5).length),
    )


def shortfall(part: Part, blank: Blank, settings: Settings) -> Shortfall:
    """Return by how much a blank is too small for a part, from their extents alone.

    A blank that is too small by more than `SLACK_MM` cannot take the part in any way; one that is not
    may still be of the wrong shape.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
        Gives margin and chord error.
    """
    margin = 2 * (settings.blank_margin_mm + blank.measured_mm)
    needs = needs_of(part, settings.chord_error_mm)
    blank_hull = hull(blank.shape.outer, settings.chord_error_mm)
    if part.grain_deg is None or blank.grain_deg is None:
        have = min(least_spread(blank_hull, 0.0, 180.0))
        return Shortfall(along_mm=0.0, across_mm=needs.narrowest + margin - have, grain=False)
    length, width = spread(blank_hull, blank.grain_deg)
    found = [
        Shortfall(along_mm=along + margin - length, across_mm=across + margin - width, grain=True)
        for along, across in needs.orientations
    ]
    return min(found, key=lambda short: short.worst_mm)


def smallest_boards(part: Part, settings: Settings) -> tuple[tuple[float, float], ...]:
    """Return the length along the grain and the width of the least rectangles that hold a part.

    First the one with the least area of all turns that the grain allows, then the one with grain along
    grain; margins of the blank included.

    Parameters
    ----------
    part : Part
    settings : Settings

    Returns
    -------
    tuple of (length_mm, width_mm)
    """
    corners = hull(part.outline, settings.chord_error_mm)
    margin = 2 * settings.blank_margin_mm
    middle = -(part.grain_deg or 0.0)
    tolerance = 90.0 if part.grain_deg is None else part.grain_tolerance_deg
    turns = np.linspace(middle - tolerance, middle + tolerance, 2 * max(1, math.ceil(tolerance * 4)) + 1)
    sizes = [spread(corners, -turn) for turn in turns]
    least = min(sizes, key=lambda s: ((s[0] + margin) * (s[1] + margin), s[1], s[0]))
    return tuple((length + margin, width + margin) for length, width in (least, sizes[len(sizes) // 2]))
