"""A part flattened for placement: its outline, its zones, and where they take wood away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from nestyield.geometry.boolean import difference, intersection, union
from nestyield.geometry.flatten import Side, flatten, flatten_shape, opposite
from nestyield.geometry.grid import CONTACT_TOL_UM, UM_PER_MM, IntPoly, Region, bounds
from nestyield.geometry.offset import grow, shrink
from nestyield.model import Part, PartFace, Zone
from nestyield.placement.remember import remember

#: ``safe`` never misses a clash (for placements); ``lenient`` never invents one (for proofs); ``even`` makes
#: curves that are alike into polygons that are alike (to find fits with no play; each is then checked).
Rounding = Literal["safe", "lenient", "even"]

#: The side on which the wood of a part is flattened.
PART_SIDE: dict[Rounding, Side] = {"safe": "outside", "lenient": "inside", "even": "nearest"}

#: Fractions of a contour's width, counted from its inner edge, at which its depth is taken in steps.
CONTOUR_STEPS = (0.5, 0.7, 0.85, 0.95)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartShape:
    """A part on the grid, drawing coordinates.

    Parameters
    ----------
    outline : IntPoly
    removals : tuple of (Region, face, depth_mm)
        Where wood is taken away; face ``through`` has the part's thickness.
    zone_regions : dict of str to Region
        Every zone with a shape, by name.
    openings : Region
        Through cutouts and through holes, outer rings counter-clockwise.
    thickness_mm : float
    """

    outline: IntPoly
    removals: tuple[tuple[Region, PartFace, float], ...]
    zone_regions: dict[str, Region]
    openings: Region
    thickness_mm: float


def contour_depth_mm(depth_mm: float, fraction: float) -> float:
    """Return the depth that a contour surely removes at a fraction of its width from the inner edge.

    A contour may be slanted (depth x fraction) or rounded over (a quarter ellipse). The lesser of the
    two is the round-over: depth (1 - sqrt(1 - fraction^2)).
    """
    return depth_mm * (1.0 - math.sqrt(max(0.0, 1.0 - fraction * fraction)))


def _contour(region: Region, outline: IntPoly, depth_mm: float) -> list[tuple[Region, float]]:
    """Bands of a contour and the depth that each surely loses.

    The width W is the largest distance from the contour's inner edge. A point farther than u W from the
    inner edge and nearer than (1 - u) W to the outline lies beyond fraction u of the way between the two.
    """
    inner = difference([outline], region)
    if not inner:
        return []
    width = _reach(intersection(region, [outline]), inner)
    bands = []
    for u in CONTOUR_STEPS:
        far = shrink([outline], (1.0 - u) * width + CONTACT_TOL_UM, "outside")
        band = difference(region, union(grow(inner, u * width), far))
        if band:
            bands.append((band, contour_depth_mm(depth_mm, u)))
    return bands


def _reach(region: Region, inner: Region) -> float:
    """Largest distance of a vertex of ``region`` from ``inner`` plus its own to the outline, micrometers."""
    import shapely

    from nestyield.geometry.shape import to_shapely

    far = shapely.points([p for ring in region for p in ring / UM_PER_MM])
    return float(shapely.distance(far, to_shapely(inner)).max()) * UM_PER_MM


def _removals(
    zone: Zone, region: Region, part: Part, outline: IntPoly
) -> list[tuple[Region, PartFace, float]]:
    t = part.thickness_mm
    if not zone.does.cuts or not region:
        return []
    depth = t if zone.depth_mm is None else min(zone.depth_mm, t)
    if zone.does.slopes:
        return [(band, zone.face, d) for band, d in _contour(region, outline, depth)]
    if zone.goes_through(t):
        return [(region, "through", t)]
    return [(region, zone.face, depth)]


@remember(64)
def part_shape(part: Part, chord_error_mm: float, rounding: Rounding = "safe") -> PartShape:
    """Return a part flattened to a chord error; the last few answers are kept.

    Parameters
    ----------
    part : Part
    chord_error_mm : float
    rounding : {"safe", "lenient", "even"}
        Safe: outline outside, zones that remove wood inside. Lenient: the opposite. Even: chords for all.
    """
    outer = PART_SIDE[rounding]
    inner = opposite(outer)
    outline = flatten(part.outline, chord_error_mm, outer)
    regions: dict[str, Region] = {}
    removals: list[tuple[Region, PartFace, float]] = []
    openings: Region = []
    for zone in part.zones:
        if zone.shape is None:
            continue
        # Removals are not cut off at the outline: a border of theirs along it, rounded, would leave slivers.
        whole = flatten_shape(zone.shape, chord_error_mm, inner)
        region = intersection(whole, [outline])
        regions[zone.name] = region
        taken = _removals(zone, whole, part, outline) if region else []
        removals += taken
        openings += [r for z, face, _ in taken if face == "through" for r in z]
    return PartShape(
        outline=outline,
        removals=tuple(removals),
        zone_regions=regions,
        openings=union(openings) if openings else [],
        thickness_mm=part.thickness_mm,
    )


def size_mm(outline: IntPoly) -> tuple[float, float]:
    """Return the length and width of a ring's box, millimeters."""
    x0, y0, x1, y1 = bounds([outline])
    return (x1 - x0) / UM_PER_MM, (y1 - y0) / UM_PER_MM
