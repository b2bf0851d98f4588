"""Fine chords of outlines, for the checks of intake only."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from nestyield.model import Outline, Point

#: Distance between arcs and chords in the checks of intake.
CHECK_CHORD_MM = 0.002


def sampled(outline: Outline) -> shapely.Polygon:
    """Return an outline as a polygon with chords within ``CHECK_CHORD_MM``; for checks only."""
    points = (*outline.points_mm, outline.points_mm[0])
    return shapely.Polygon(np.array(sample(points, outline.bulges, closed=True)))


def sample(points: Sequence[Point], bulges: Sequence[float], closed: bool) -> list[Point]:
    """Return points of a run with arcs as chords; the last point only when it is not closed."""
    out: list[Point] = []
    for (x0, y0), (x1, y1), b in zip(points, points[1:], bulges):
        out.append((x0, y0))
        chord = math.hypot(x1 - x0, y1 - y0)
        # of an outline of two arcs both are needed, however small it is
        if b == 0.0 or chord == 0.0 or (abs(b) * chord / 2 < CHECK_CHORD_MM and len(bulges) > 2):
            continue
        half = 2.0 * math.atan(b)
        radius = chord * (1.0 + b * b) / (4.0 * abs(b))
        pieces = math.ceil(abs(half) / math.acos(max(0.0, 1.0 - CHECK_CHORD_MM / radius)))
        k = (1.0 - b * b) / (4.0 * b)
        cx, cy = 0.5 * (x0 + x1) - k * (y1 - y0), 0.5 * (y0 + y1) + k * (x1 - x0)
        t = 2.0 * half * np.arange(1, pieces) / pieces
        dx, dy = x0 - cx, y0 - cy
        xs, ys = cx + dx * np.cos(t) - dy * np.sin(t), cy + dx * np.sin(t) + dy * np.cos(t)
        out += zip(xs.tolist(), ys.tolist())
    if not closed:
        out.append(points[-1])
    return out
