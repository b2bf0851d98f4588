"""Minkowski sums, no-fit regions and inner-fit regions, exact on the grid.

All regions here are closed sets with area: what shrinks to a line or a point is not returned. Touching is
allowed: the border of a no-fit region is where the two only touch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from nestyield.geometry.boolean import SubgridPaths, combine, components, to_grid
from nestyield.geometry.convolution import convolution, near
from nestyield.geometry.grid import SUBGRID, IntPoly, Region, bounds, ring_area_um2

Shapes = IntPoly | Sequence[IntPoly]


def _region(shape: Shapes) -> list[IntPoly]:
    rings = [shape] if isinstance(shape, np.ndarray) else list(shape)
    rings = [np.asarray(r, dtype=np.int64) for r in rings if len(r) >= 3]
    if len(rings) == 1 and ring_area_um2(rings[0]) < 0:
        return [rings[0][::-1]]
    return rings


def _size(ring: IntPoly) -> tuple[int, int]:
    x0, y0, x1, y1 = bounds([ring])
    return x1 - x0, y1 - y0


def fits_box(inner: IntPoly, outer: IntPoly) -> bool:
    """Whether the box of ``inner`` is no larger than the box of ``outer`` in both directions."""
    (w, h), (a, b) = _size(inner), _size(outer)
    return w <= a and h <= b


Window = tuple[int, int, int, int]


#: Convolution of two rings, shortened to a window if there is one, and larger by a whole number.
Convolve = Callable[[IntPoly, IntPoly, Window | None, int], SubgridPaths]


def plain_convolution(a: IntPoly, b: IntPoly, window: Window | None, times: int) -> SubgridPaths:
    """Return the convolution of two rings without the compiler; see ``use``."""
    paths = convolution(a, b)
    if window is not None:
        paths = [q for q in (near(p, window) for p in paths) if len(q)]
    return [p * times for p in paths]


_convolve: list[Convolve] = [plain_convolution]


def use(quick: Convolve) -> None:
    """Let regions be worked out by another convolution with the same paths, a compiled one."""
    _convolve[0] = quick


def _laid(a: IntPoly, b: IntPoly, window: Window | None) -> SubgridPaths:
    return _convolve[0](a, b, window, SUBGRID)


def meets_paths(fixed: Shapes, moving: Shapes, window: Window | None = None) -> SubgridPaths | None:
    """Paths of positive winding where ``moving`` shifted by t meets ``fixed``, on the subgrid.

    Parameters
    ----------
    fixed, moving : IntPoly or Region
    window : (x least, y least, x most, y most), optional
        Shifts that matter, micrometers; elsewhere the winding is not to be trusted.

    Returns
    -------
    list of IntPoly, or None
        None when a hole of one is large enough to hold the other: then use ``no_fit_subgrid``.
    """
    paths: SubgridPaths = []
    pieces = components(_region(moving))
    for outer, holes in components(_region(fixed)):
        for piece, openings in pieces:
            if any(fits_box(piece, h) for h in holes) or any(fits_box(outer, h) for h in openings):
                return None
            if window is None or near_boxes(outer, piece, window):
                paths += _laid(outer, -piece, window)
    return paths


def near_boxes(fixed: IntPoly, moving: IntPoly, window: Window) -> bool:
    """Whether the boxes of two rings can meet at a shift in a window."""
    a, b = bounds([fixed]), bounds([moving])
    reach = (a[0] - b[2], a[1] - b[3], a[2] - b[0], a[3] - b[1])
    return overlap(reach, window) is not None


def no_fit_subgrid(fixed: Shapes, moving: Shapes, window: Window | None = None) -> SubgridPaths:
    """As ``no_fit_region``, on the subgrid; with a window only what lies in it is to be trusted."""
    paths = meets_paths(fixed, moving, window)
    if paths is not None:
        return combine("union", paths, subject_fill="positive")
    negated = None if window is None else (-window[2], -window[3], -window[0], -window[1])
    out: SubgridPaths = []
    pieces = components(_region(moving))
    for outer, holes in components(_region(fixed)):
        for piece, openings in pieces:
            if window is not None and not near_boxes(outer, piece, window):
                continue
            touch = combine("union", _laid(outer, -piece, window), subject_fill="positive")
            free: SubgridPaths = []
            for hole in holes:
                free += inner_ring_subgrid(hole[::-1], piece, window)
            for opening in openings:
                # fixed inside opening + t  <=>  -fixed + t inside -opening, with t negated
                free += [-p for p in inner_ring_subgrid(opening[::-1], outer, negated)]
            out += combine("difference", touch, free) if free else touch
    return combine("union", out)


def no_fit_region(obstacle: Shapes, moving: Shapes) -> Region:
    """Return the shifts t for which ``moving`` + t overlaps ``obstacle``.

    Parameters
    ----------
    obstacle, moving : IntPoly or Region
        Any number of pieces, with holes. A moving piece may lie inside a hole of the obstacle, and the
        obstacle inside a hole of the moving piece.

    Returns
    -------
    Region
        Closure of the forbidden shifts, micrometers.
    """
    return to_grid(no_fit_subgrid(obstacle, moving))


def minkowski_sum(a: Shapes, b: Shapes) -> Region:
    """Return all sums of a point of ``a`` and a point of ``b``, holes included."""
    flipped = [-r for r in _region(b)]
    return to_grid(no_fit_subgrid(_region(a), flipped))


def inner_window(container: IntPoly, moving: IntPoly) -> Window | None:
    """Shifts that keep the box of ``moving`` in the box of ``container``; None when there are none."""
    a, b = bounds([container]), bounds([moving])
    window = (a[0] - b[0], a[1] - b[1], a[2] - b[2], a[3] - b[3])
    return window if window[0] <= window[2] and window[1] <= window[3] else None


def overlap(a: Window, b: Window | None) -> Window | None:
    """Return what two windows share; None for nothing."""
    if b is None:
        return a
    both = (max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3]))
    return both if both[0] <= both[2] and both[1] <= both[3] else None


def window_ring(window: Window) -> IntPoly:
    """Return a window as a ring on the subgrid."""
    x0, y0, x1, y1 = (v * SUBGRID for v in window)
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.int64)


def is_box(ring: IntPoly) -> bool:
    """Tell whether a ring is a rectangle along X and Y."""
    if len(ring) != 4:
        return False
    step = (ring != np.concatenate([ring[1:], ring[:1]])).tolist()
    return bool(step[0] != step[1] and sum(step[0]) == sum(step[1]) == 1 and step[:2] == step[2:])


def inner_ring_subgrid(container: IntPoly, moving: IntPoly, window: Window | None = None) -> SubgridPaths:
    """Return the shifts for which the ring ``moving`` lies in the ring ``container``, on the subgrid.

    The complement of the container is the plane less the container, so the convolution runs around it
    backwards, and a shift is free where the winding number is -1. Exact as long as the container cannot lie
    wholly inside the moving ring, which the comparison of boxes rules out. A container that is a box along
    X and Y holds whatever box the moving ring has: the shifts are those of the boxes, with no convolution.

    Parameters
    ----------
    container, moving : IntPoly
    window : (x least, y least, x most, y most), optional
        Only shifts in here are wanted.
    """
    box = inner_window(container, moving)
    box = None if box is None else overlap(box, window)
    if box is None:
        return []
    if is_box(container):
        flat = box[0] == box[2] or box[1] == box[3]
        return [] if flat else [window_ring(box)[[2, 3, 0, 1]]]
    paths = _laid(container[::-1], -moving, box)
    return combine("intersection", paths, [window_ring(box)], subject_fill="negative")


def inner_fit_subgrid(container: Shapes, moving: Shapes) -> SubgridPaths:
    """As ``inner_fit_region``, on the subgrid."""
    homes = components(_region(container))
    allowed: SubgridPaths | None = None
    for piece, _ in components(_region(moving)):
        here: SubgridPaths = []
        for outer, holes in homes:
            room = inner_ring_subgrid(outer, piece)
            if room and holes:
                # A ring around a hole of the container would enclose it: solid piece, so it meets the hole.
                room = combine("difference", room, no_fit_subgrid([h[::-1] for h in holes], piece))
            here += room
        allowed = here if allowed is None else combine("intersection", allowed, here)
        if not allowed:
            return []
    return allowed or []


def inner_fit_region(container: Shapes, moving: Shapes) -> Region:
    """Return the shifts t for which ``moving`` + t lies in ``container``.

    Parameters
    ----------
    container, moving : IntPoly or Region
        Holes of the moving region are taken as filled; each of its pieces lies in the container, holes of
        which it does not overlap.

    Returns
    -------
    Region
        Allowed shifts, micrometers; without area (a fit with no play) means not returned.
    """
    return to_grid(inner_fit_subgrid(container, moving))
