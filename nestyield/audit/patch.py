"""A patch checked again: the damage comes off, nothing that is to stay does, and no lesser cut was missed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import split

from nestyield.audit.curves import points_of, polygon, region
from nestyield.model import Finding, Part, Shape
from nestyield.model.patch import PatchCut

#: Areas and places are compared to this share and length.
_SHARE, _NEAR_MM = 1e-3, 0.02
#: A cut beside the one told, so many degrees off, takes no less.
_BESIDE_DEG = (-0.5, -0.1, 0.1, 0.5)
_FAR_MM = 1e5


def check_patch(
    part: Part, damage: Shape, cut: PatchCut, *, spared_mm: float, beyond_mm: float, off_deg: Sequence[float]
) -> tuple[Finding, ...]:
    """Check a cut that takes a damaged place off a part.

    Parameters
    ----------
    part : Part
    damage : Shape
    cut : PatchCut
    spared_mm, beyond_mm : float
        Wood kept beside what is cut into the part, and taken beyond the damage.
    off_deg : sequence of float
        Cuts within the first of these off the grain come before all others, then those within the second.

    Returns
    -------
    tuple of Finding
        Code A614; empty for a sound cut.
    """
    whole = polygon(points_of(part.outline))
    place = region(damage).intersection(whole)
    (ax, ay), (bx, by) = cut.line_mm
    turn = float(np.degrees(np.arctan2(by - ay, bx - ax)))
    told = _off(whole, place, (ax, ay), turn)
    wrong: list[str] = []
    if told is None:
        return (_say(part, "the line does not cut the part with the damage on its left"),)
    if abs(told.area - cut.area_mm2) > _SHARE * cut.area_mm2 + 1.0:
        wrong.append(f"{told.area:.1f} mm2 come off, {cut.area_mm2:.1f} are told")
    if told.symmetric_difference(region(cut.removed)).area > _SHARE * cut.area_mm2 + 1.0:
        wrong.append("what comes off is not what is told")
    if place.distance(shapely.LineString([(ax, ay), (bx, by)])) < beyond_mm - _NEAR_MM or not told.buffer(
        _NEAR_MM
    ).covers(place):
        wrong.append("the damage does not come off with enough wood")
    zones = [region(z.shape) for z in part.zones if z.shape is not None and z.does.cuts and not z.does.slopes]
    near = [z for z in zones if told.distance(z) < spared_mm - _NEAR_MM]
    if near:
        wrong.append("the cut runs into a pocket, hole or opening")
    most = next(off for off in off_deg if _off_grain(part, turn) <= off + 1e-3)
    for beside in _BESIDE_DEG:
        other = turn + beside
        if _off_grain(part, other) > most:
            continue
        less = _beside(whole, place, other, beyond_mm)
        free = less is not None and all(less.distance(z) >= spared_mm + _NEAR_MM for z in zones)
        if less is not None and free and less.area < cut.area_mm2 * (1 - 5 * _SHARE) - 1.0:
            wrong.append(f"a cut {beside:+g} degrees beside takes {less.area:.1f} mm2 only")
    if part.grain_deg is not None and abs((cut.off_grain_deg or 0.0) - _off_grain(part, turn)) > 0.01:
        wrong.append(f"the cut runs {_off_grain(part, turn):.2f} degrees off the grain")
    return tuple(_say(part, text) for text in wrong)


def _say(part: Part, text: str) -> Finding:
    return Finding(code="A614", severity="error", message=text, file="", where=f"patch of {part.name}")


def _off_grain(part: Part, turn: float) -> float:
    if part.grain_deg is None:
        return 0.0
    off = abs(turn - part.grain_deg) % 180.0
    return min(off, 180.0 - off)


def _off(
    whole: BaseGeometry, place: BaseGeometry, at: tuple[float, float], turn: float
) -> BaseGeometry | None:
    """Return the piece left of a line that holds the damage."""
    ux, uy = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    line = shapely.LineString(
        [(at[0] - _FAR_MM * ux, at[1] - _FAR_MM * uy), (at[0] + _FAR_MM * ux, at[1] + _FAR_MM * uy)]
    )
    for piece in shapely.get_parts(split(whole, line)):
        spot = piece.representative_point()
        if ux * (spot.y - at[1]) - uy * (spot.x - at[0]) > 0 and piece.buffer(_NEAR_MM).covers(place):
            return piece
    return None


def _beside(whole: BaseGeometry, place: BaseGeometry, turn: float, beyond: float) -> BaseGeometry | None:
    """Return what a cut in another direction takes off, as near to the damage as it may be."""
    normal = np.array([-np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    points = shapely.get_coordinates(place)
    low = points[(points @ normal).argmin()] - beyond * normal
    return _off(whole, place, (float(low[0]), float(low[1])), turn)
