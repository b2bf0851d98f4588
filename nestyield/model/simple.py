"""Whether a closed curve of lines and arcs crosses itself."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nestyield.model.arc import Arc, Point

#: Most turn of one chord that stands for a stretch of arc, radians.
_CHORD_RAD = math.pi / 16
#: Curves that overlap themselves by less than so wide a strip along all their length only touch, millimeters.
_TOUCH_MM = 0.001


def crosses_itself(points_mm: Sequence[Point], bulges: Sequence[float]) -> bool:
    """Tell whether a closed curve surely crosses itself.

    Chords stand for arcs. A curve that does not cross itself has its signed area inside; one that does
    has a loop that counts the other way or twice. Loops so small that they may come from the chords or
    from rounding do not count.

    Parameters
    ----------
    points_mm : sequence of (x, y)
    bulges : sequence of float
        Of the segment that starts at each point.
    """
    if len(points_mm) < 3:
        return False  # two arcs between two points share no others, or all
    ring: list[Point] = []
    sagitta = 0.0
    for p, q, bulge in zip(points_mm, (*points_mm[1:], points_mm[0]), bulges, strict=True):
        ring.append(p)
        if bulge != 0.0 and p != q:
            arc = Arc.of(p, q, bulge)
            count = math.ceil(abs(arc.sweep) / _CHORD_RAD)
            ring += arc.inner(count)
            sagitta = max(sagitta, arc.radius * (1.0 - math.cos(0.5 * arc.sweep / count)))
    if len(ring) < 3 or not all(math.isfinite(v) for p in ring for v in p):
        return False
    import shapely  # only where an outline is made: `explain` and the like start without it

    polygon = shapely.Polygon(ring)
    if polygon.is_valid:
        return False
    x, y = shapely.get_coordinates(polygon).T
    signed = 0.5 * abs(float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()))
    # the other method takes a hole that touches the edge along a line for wood
    inside = float(shapely.make_valid(polygon, method="structure", keep_collapsed=False).area)
    return abs(signed - inside) > (_TOUCH_MM + sagitta) * float(polygon.length)
