"""Which of the allowed places is best: weights of the shop file, and places searched inside the region."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pyclipper

from nestyield.geometry.boolean import SubgridPaths, components
from nestyield.geometry.grid import SUBGRID, IntPoly, bounds
from nestyield.model import Preferences
from nestyield.model.arc import cos_sin

Box = tuple[int, int, int, int]
Score = tuple[float, ...]

# Rows and columns of places looked at inside a region.
_LATTICE = 7
# Steps in which the best place is shifted: from this part of the region's size, halved so often.
_REFINE = 5


class Wishes:
    """Scores shifts of one turned outline in one blank, the lower the better.

    Parameters
    ----------
    weights : Preferences
        Only the ratio of the weights matters.
    outline : IntPoly
        Turned, before the shift.
    blank_box : (x least, y least, x most, y most)
    used : sequence of boxes
        Of parts that lie there.
    grain_deg : float or None
        Of the blank.
    short : float
        Part of the outline that runs across short grain at this angle, 0 to 1.
    """

    def __init__(
        self,
        weights: Preferences,
        outline: IntPoly,
        blank_box: Box,
        used: Sequence[Box],
        grain_deg: float | None,
        short: float,
    ) -> None:
        self._weights, self._blank, self._used = weights, blank_box, tuple(used)
        self._box = bounds([outline])
        self._across = cos_sin((grain_deg or 0.0) + 90.0)
        self._short = short

    def score(self, x: int, y: int) -> Score:
        """Return the score of a shift; ties go to the lower left."""
        b, box = self._blank, self._box
        boxes = [*self._used, (box[0] + x, box[1] + y, box[2] + x, box[3] + y)]
        left = min(r[0] for r in boxes) - b[0]
        right = b[2] - max(r[2] for r in boxes)
        below = min(r[1] for r in boxes) - b[1]
        above = b[3] - max(r[3] for r in boxes)
        length, width = max(b[2] - b[0], 1), max(b[3] - b[1], 1)
        strip = max(max(left, right) / length, max(below, above) / width)
        dx = (box[0] + box[2]) / 2 + x - (b[0] + b[2]) / 2
        dy = (box[1] + box[3]) / 2 + y - (b[1] + b[3]) / 2
        off = abs(dx * self._across[0] + dy * self._across[1]) / max(length, width)
        w = self._weights
        cost = w.short_grain * self._short + w.center_figure * off - w.largest_leftover * strip
        hug = (min(left, right) + min(below, above)) if w.largest_leftover else 0
        return (round(cost, 9), float(hug), float(x), float(y))


def places(
    paths: SubgridPaths, score: Callable[[int, int], Score], most: int
) -> list[tuple[Score, int, int]]:
    """Return places in a region, best first: its corners, a lattice inside, and the best of them improved.

    Parameters
    ----------
    paths : list of IntPoly
        The region on the subgrid.
    score : callable
    most : int
        Most places returned.

    Returns
    -------
    list of (score, x, y)
        Whole micrometers; a corner may lie outside the region by the rounding.
    """
    spots = {tuple(p) for ring in paths for p in np.rint(ring / SUBGRID).astype(np.int64).tolist()}
    x0, y0, x1, y1 = bounds(paths)
    pieces = [(outer.tolist(), [h.tolist() for h in holes]) for outer, holes in components(paths)]

    def inside(x: int, y: int) -> bool:
        at = (x * SUBGRID, y * SUBGRID)
        for outer, holes in pieces:
            if pyclipper.PointInPolygon(at, outer) and all(
                pyclipper.PointInPolygon(at, h) != 1 for h in holes
            ):
                return True
        return False

    for k in range(_LATTICE):
        for m in range(_LATTICE):
            x = round((x0 + (x1 - x0) * (k + 0.5) / _LATTICE) / SUBGRID)
            y = round((y0 + (y1 - y0) * (m + 0.5) / _LATTICE) / SUBGRID)
            if inside(x, y):
                spots.add((x, y))
    scored = sorted((score(x, y), x, y) for x, y in spots)
    best, bx, by = scored[0]
    step = max(x1 - x0, y1 - y0) / SUBGRID / _LATTICE
    for _ in range(_REFINE):
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            x, y = bx + round(dx * step), by + round(dy * step)
            if (x, y) != (bx, by) and inside(x, y) and (s := score(x, y)) < best:
                best, bx, by = s, x, y
        step /= 2
    if (bx, by) != scored[0][1:]:
        scored.insert(0, (best, bx, by))
    return scored[:most]
