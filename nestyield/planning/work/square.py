"""The sound edge of a blank by which it is laid square on its bed."""

from __future__ import annotations

import shapely

from nestyield.bed.positions import pose_of
from nestyield.bed.sweep import shape_polygon
from nestyield.model import Layout, SquareEdge
from nestyield.model.arcs import bounds
from nestyield.model.axis import BlankEdge

#: Defects that take wood off an edge, so that nothing is measured from there.
MISSING = ("wane", "bark", "rot", "split", "loose knot", "dent", "mortise")
#: What lies so near to an edge lies on it; what is shorter along it does not count, mm.
ON_MM = 0.5
SHORT_MM = 5.0
#: Least length of an edge to lay a blank square by, mm.
LEAST_MM = 20.0
#: A share of an edge that is worth a caution, and sound wood that serves on any edge, mm.
MUCH = 0.2
ENOUGH_MM = 100.0


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
        if strip.is_empty or strip.bounds[2] - strip.bounds[0] <= LEAST_MM or not _sound(layout, edge):
            continue
        ends = [pose.point((x, y)) for x in (strip.bounds[0], strip.bounds[2])]
        return SquareEdge(edge=edge, from_mm=ends[0], to_mm=ends[1])
    return None


def _sound(layout: Layout, edge: BlankEdge) -> bool:
    """Tell whether one may measure from the lower or upper edge."""
    wood = shape_polygon(layout.blank.shape)
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    low, high = (y0 - 1.0, y0 + ON_MM) if edge == "lower" else (y1 - ON_MM, y1 + 1.0)
    band = shapely.box(x0, low, x1, high)
    wood = wood.intersection(band)
    gone = 0.0
    for defect in layout.blank.defects:
        if defect.kind in MISSING:
            ground = shape_polygon(defect.shape)
            hit = ground.intersection(band)
            if not hit.is_empty and hit.bounds[2] - hit.bounds[0] > SHORT_MM:
                gone += hit.bounds[2] - hit.bounds[0]
                wood = wood.difference(ground.buffer(ON_MM))
    lengths = [part.bounds[2] - part.bounds[0] for part in shapely.get_parts(wood) if not part.is_empty]
    kept = sum(length for length in lengths if length > SHORT_MM)
    whole = x1 - x0
    return bool(gone < MUCH * whole and kept > min(MUCH * whole, ENOUGH_MM))
