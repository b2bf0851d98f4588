"""What lies on a bed, and the keep-outs that it must leave alone."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from nestyield.bed.extents import LIMIT_TOL_MM
from nestyield.bed.sweep import outline_polygon, touch_region
from nestyield.model import KeepOut, Outline
from nestyield.model.arcs import Box, join_boxes
from nestyield.model.facts import AnyKeepOutInTheWay, BedRefusal, KeepOutInTheWay, KeepOutsTogether


@dataclass(frozen=True, kw_only=True)
class BedLoad:
    """What goes on the bed in one turn, in the blank's turned coordinates, millimeters.

    Parameters
    ----------
    cut : Box
        Around the path of the cutter's center.
    radius_mm : float
        Of the cutter.
    blank : Box or None
        Around the blank; None when only a part is asked about.
    swept : callable
        Returns the polygons that the cutter's body sweeps.
    wood : callable
        Returns the polygons of the blank.
    deep_mm : float or None
        Depth of the deepest cut; None leaves Z out.
    """

    cut: Box
    radius_mm: float
    blank: Box | None
    swept: Callable[[], list[BaseGeometry]]
    wood: Callable[[], list[BaseGeometry]]
    deep_mm: float | None = None

    @cached_property
    def swept_polygons(self) -> list[BaseGeometry]:
        """What the cutter's body sweeps."""
        return self.swept()

    @cached_property
    def wood_polygons(self) -> list[BaseGeometry]:
        """What the blank covers."""
        return self.wood()


@lru_cache(maxsize=64)
def ground_of(outline: Outline, shrunk_mm: float = 0.0) -> BaseGeometry:
    """Return what a keep-out covers, or less by so much, as a polygon, millimeters."""
    polygon = outline_polygon(outline)
    return polygon.buffer(-shrunk_mm) if shrunk_mm else polygon


def hits(keep_out: KeepOut, load: BedLoad, x_mm: float, y_mm: float) -> bool:
    """Tell whether a keep-out is entered when the load lies at (x, y)."""
    ground = translate(ground_of(keep_out.outline, LIMIT_TOL_MM), -x_mm, -y_mm)
    return bool(np.any(shapely.intersects(bodies_for(keep_out, load), ground)))


def bodies_for(keep_out: KeepOut, load: BedLoad) -> NDArray[np.object_]:
    """Return the bodies that may not enter a keep-out: what the cutter sweeps, the blank, or both."""
    bodies: list[BaseGeometry] = []
    if keep_out.blocks in ("cutter", "both"):
        bodies += load.swept_polygons
    if keep_out.blocks in ("blank", "both"):
        bodies += load.wood_polygons
    return np.array(bodies, dtype=np.object_)


def reachable(keep_out: KeepOut, load: BedLoad, places: Box) -> bool:
    """Whether the load can come to a keep-out from any of the places."""
    ground = ground_of(keep_out.outline).bounds
    body = load.cut
    if keep_out.blocks != "cutter" and load.blank is not None:
        body = join_boxes([load.blank, body]) if keep_out.blocks == "both" else load.blank
    body = body.grown(load.radius_mm)
    within: bool = (
        places.x0 + body.x0 < ground[2]
        and places.x1 + body.x1 > ground[0]
        and places.y0 + body.y0 < ground[3]
        and places.y1 + body.y1 > ground[1]
    )
    return within


def forbidden_positions(keep_out: KeepOut, load: BedLoad, places: Box) -> BaseGeometry:
    """Return the places among ``places`` at which a load would enter a keep-out."""
    ground = ground_of(keep_out.outline)
    return shapely.union_all(
        [
            touch_region(ground, body, LIMIT_TOL_MM)
            for body in bodies_for(keep_out, load)
            if _in_reach(keep_out, body, places)
        ]
    )


def _in_reach(keep_out: KeepOut, body: BaseGeometry, places: Box) -> bool:
    """Whether a body can come to a keep-out from any of the places."""
    a, b = ground_of(keep_out.outline).bounds, body.bounds
    return bool(
        places.x0 + b[0] < a[2]
        and places.x1 + b[2] > a[0]
        and places.y0 + b[1] < a[3]
        and places.y1 + b[3] > a[1]
    )


def in_the_way(ground: BaseGeometry, shadows: dict[str, BaseGeometry]) -> BedRefusal:
    """Return which keep-outs leave no place: those that alone are to blame, else all of them together."""
    alone = []
    for name in shadows:
        rest = shapely.union_all([s for other, s in shadows.items() if other != name])
        if not ground.difference(rest).is_empty:
            alone.append(name)
    if len(alone) > 1:
        return AnyKeepOutInTheWay(names=tuple(alone))
    return KeepOutInTheWay(name=alone[0]) if alone else KeepOutsTogether(names=tuple(shadows))


def widest(free: BaseGeometry) -> tuple[float, float]:
    """Middle of the widest circle inside a region; the first of equals in coordinate order."""
    best: tuple[float, float, float] | None = None
    for region in shapely.get_parts(shapely.normalize(free)):
        if region.geom_type != "Polygon":
            continue
        tolerance = max(1e-4, min(0.05, 0.01 * math.sqrt(region.area)))
        circle = shapely.maximum_inscribed_circle(region, tolerance=tolerance)
        (x, y) = circle.coords[0]
        found = (-round(circle.length, 3), x, y)
        if best is None or found < best:
            best = found
    if best is None:
        point = free.representative_point()
        return point.x, point.y
    return best[1], best[2]
