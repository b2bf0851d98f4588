"""The sound edge of a blank by which it is laid square on its bed."""

from __future__ import annotations

import shapely

from nestyield.bed.positions import pose_of
from nestyield.bed.sweep import shape_polygon
from nestyield.model import Layout, SquareEdge
from nestyield.model.arcs import bounds
from nestyield.model.axis import BlankEdge
from nestyield.planning.work.edges import ON_MM, edge_check

#: Least length of an edge to lay a blank square by, mm.
LEAST_MM = 20.0


def square_edge(layout: Layout) -> SquareEdge | None:
    """Return the lower edge, or the upper if that is not sound, as it lies in the first position.

    Parameters
    ----------
    layout : Layout
        With its work.

    Returns
    -------
    SquareEdge or None
        None for a blank in sections, which lies on pins, and when neither edge is sound.
    """
    work = layout.work
    if work is None or not work.positions or work.positions[0].section:
        return None
    pose = pose_of(work.positions[0])
    wood = shape_polygon(layout.blank.shape)
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    edges: tuple[tuple[BlankEdge, float], ...] = (("lower", y0), ("upper", y1))
    for edge, y in edges:
        strip = wood.intersection(shapely.box(x0, y - ON_MM, x1, y + ON_MM))
        if strip.is_empty or strip.bounds[2] - strip.bounds[0] <= LEAST_MM:
            continue
        if edge_check(layout.blank, edge).sound:
            ends = [pose.point((x, y)) for x in (strip.bounds[0], strip.bounds[2])]
            return SquareEdge(edge=edge, from_mm=ends[0], to_mm=ends[1])
    return None
