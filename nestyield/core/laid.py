"""A blank with parts on it, as shapely geometry."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import shapely

from nestyield.geometry.flatten import points_along
from nestyield.model import Blank, Outline, Part, Placement, Settings, Shape
from nestyield.model.pose import Pose
from nestyield.placement.leftovers import leftovers_of

#: Chords of arcs lie this close to them, millimeters.
CHORD_MM = 0.005


def polygon_of(shape: Shape) -> Any:
    """Return a shape as a shapely polygon, millimeters, arcs as chords."""

    def points(outline: Outline) -> list[tuple[float, float]]:
        return points_along(outline, CHORD_MM)

    return shapely.Polygon(points(shape.outer), [points(h) for h in shape.holes])


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """Parts on one blank: a piece or a glue-up. All geometry in the blank's coordinates, millimeters.

    Parameters
    ----------
    blank : Blank
    placed : tuple of (Part, Placement)
    settings : Settings
    """

    blank: Blank
    placed: tuple[tuple[Part, Placement], ...]
    settings: Settings

    @property
    def wood(self) -> Any:
        """The blank, a shapely polygon."""
        return polygon_of(self.blank.shape)

    @property
    def outlines(self) -> tuple[Any, ...]:
        """Outline of each part where it lies, shapely polygons in the order of ``placed``."""
        return tuple(polygon_of(Shape(outer=Pose.of(at).outline(part.outline))) for part, at in self.placed)

    @property
    def zones(self) -> tuple[tuple[tuple[str, Any], ...], ...]:
        """Name and polygon of the zones of each part where they lie."""
        return tuple(
            tuple((z.name, polygon_of(Pose.of(at).shape(z.shape))) for z in part.zones if z.shape is not None)
            for part, at in self.placed
        )

    @property
    def defects(self) -> tuple[tuple[str, Any], ...]:
        """Kind and polygon of each defect."""
        return tuple((d.kind, polygon_of(d.shape)) for d in self.blank.defects)

    @property
    def seams(self) -> tuple[Any, ...]:
        """Glued joint lines, shapely line strings."""
        return tuple(shapely.LineString(s.line_mm) for s in self.blank.seams)

    @property
    def leftovers(self) -> tuple[Any, ...]:
        """What is worth putting back on the rack, by the settings: shapely polygons, largest first."""
        found: Iterable[Any] = leftovers_of(self.blank, self.placed, self.settings)
        return tuple(polygon_of(left.shape) for left in found if left.usable)
