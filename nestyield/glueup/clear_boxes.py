"""Whether boxes clear of boxes have room in a box: tells that a band surely fits a board with defects, without regions."""

from __future__ import annotations

from collections.abc import Sequence

#: (x least, y least, x most, y most), micrometers.
Box = tuple[float, float, float, float]


def has_room(container: Box, needed: Box, pairs: Sequence[tuple[Box, Box]], spare: float) -> bool:
    """Tell whether a shift keeps a box in a container and moving boxes clear of fixed ones, all with something to spare.

    Parameters
    ----------
    container, needed : Box
    pairs : sequence of (fixed, moving)
        Moving boxes are shifted with the needed one.
    spare : float
        Room asked for on every side, micrometers.
    """
    x0, x1 = container[0] - needed[0] + spare, container[2] - needed[2] - spare
    y0, y1 = container[1] - needed[1] + spare, container[3] - needed[3] - spare
    if x0 > x1 or y0 > y1:
        return False
    barred = [
        (f[0] - m[2] - spare, f[1] - m[3] - spare, f[2] - m[0] + spare, f[3] - m[1] + spare) for f, m in pairs
    ]
    barred = [b for b in barred if b[0] < x1 and b[2] > x0 and b[1] < y1 and b[3] > y0]
    # where there is room there is room as far to the left and down as may be: at the window's edge or a barred box's
    across = [x0, *(b[2] for b in barred if b[2] <= x1)]
    along = [y0, *(b[3] for b in barred if b[3] <= y1)]
    return any(not any(b[0] < x < b[2] and b[1] < y < b[3] for b in barred) for x in across for y in along)
