"""Cautions of what holds still: wood that stays beside the cutter's path, and how far from the screws it cuts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.bed.holding import window
from nestyield.bed.sweep import grown, outline_polygon, shape_polygon
from nestyield.bed.work import section_axis
from nestyield.model import Layout, Shop
from nestyield.model.facts import Caution, FarFromScrews, FrameCutOpen, WoodEnd
from nestyield.model.micrometers import nearest_um
from nestyield.model.pose import Pose

#: Wood beside the cutter's path that is narrower comes off as a sliver (common practice, no source), mm.
LEAST_FRAME_MM = 3.0
#: Shorter stretches of an edge are not told, mm.
_LEAST_MM = 0.5
#: The cutter works so far beyond the screws at the most (common practice, no source), mm.
BEYOND_SCREWS_MM = 200.0


def frame_cautions(layout: Layout, shop: Shop) -> Iterator[Caution]:
    """Yield where the frame of waste is cut open, and where the cutter works far beyond the screws.

    Parameters
    ----------
    layout : Layout
        With its work: positions and screws.
    shop : Shop
    """
    bodies = [outline_polygon(shop.part(p.part).outline, Pose.of(p)) for p in layout.placements]
    wood = shape_polygon(layout.blank.shape)
    cutter = shop.settings.cutter_diameter_mm
    thin = tuple(k for k, body in enumerate(bodies) if _left(grown(body, cutter), wood) < LEAST_FRAME_MM)
    if thin:
        ends = tuple(_ends(grown(bodies[k], cutter + LEAST_FRAME_MM), wood) for k in thin)
        yield FrameCutOpen(placements=thin, under_um=nearest_um(LEAST_FRAME_MM), ends=ends)
    work = layout.work
    if work is None or layout.chosen is None or not work.hold_downs:
        return
    setup = layout.setups[layout.chosen]
    far = []
    for position in work.positions:
        driven = [(h.x_mm, h.y_mm) for h in work.hold_downs if h.driven_in(position.section)]
        screws = shapely.MultiPoint(driven).convex_hull
        here = window(position, setup.sections, section_axis(setup))
        cut = shapely.union_all([body.intersection(here) for body in bodies])
        points = shapely.points(shapely.get_coordinates(cut.convex_hull))
        if driven and len(points) and float(shapely.distance(points, screws).max()) > BEYOND_SCREWS_MM:
            far.append(position.name)
    if far:
        yield FarFromScrews(positions=tuple(far), beyond_um=nearest_um(BEYOND_SCREWS_MM))


def _left(cut: shapely.Geometry, wood: shapely.Geometry) -> float:
    """Return how much wood stays beside what is cut, at the narrowest place, mm; 0 where it is cut through."""
    return float(cut.distance(wood.boundary)) if wood.covers(cut) else 0.0


def _ends(near: BaseGeometry, wood: BaseGeometry) -> tuple[WoodEnd, ...]:
    """Return where a blank ends within a region, by the way that its edge faces there; the nearest end at least."""
    found: dict[WoodEnd, float] = {}
    for part in shapely.get_parts(shapely.orient_polygons(wood)):
        for hole, ring in ((False, part.exterior), *((True, r) for r in part.interiors)):
            xy = shapely.get_coordinates(ring)
            lines = shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1))
            long = shapely.length(shapely.intersection(lines, near)).tolist()
            for (dx, dy), length in zip(np.diff(xy, axis=0).tolist(), long):
                end = "hole" if hole else _faces(dx, dy)
                found[end] = found.get(end, 0.0) + length
    clear = [end for end, length in found.items() if length > _LEAST_MM]
    return tuple(sorted(clear or [max(found, key=lambda end: found[end])]))


def _faces(dx: float, dy: float) -> WoodEnd:
    """Return the way in which an edge faces that runs with the wood on its left."""
    if abs(dx) >= abs(dy):
        return "lower" if dx > 0 else "upper"
    return "right" if dy > 0 else "left"
