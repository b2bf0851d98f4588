"""Parts in every turn that they may take, on one integer grid, and the no-fit regions between them."""

from __future__ import annotations

import math
from collections.abc import Container, Sequence
from dataclasses import dataclass

import numpy as np
import pyclipper
from numpy.typing import NDArray

from nestyield.geometry.boolean import difference, intersection
from nestyield.geometry.grid import bounds, ring_area_um2
from nestyield.geometry.minkowski import no_fit_region
from nestyield.geometry.offset import grow
from nestyield.nesting.depth import MOST_CELLS, build_table
from nestyield.nesting.moves import Tables
from nestyield.nesting.quick_convolution import install

IntPoly = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrientedShape:
    """A part's outline in one turn, its lower left corner of bounds at the origin.

    Parameters
    ----------
    kind : int
    angle_deg : float
    mirrored : bool
    rings : tuple of (n, 2) int64
        Outer ring counter-clockwise, then holes clockwise.
    corner : (int, int)
        Lower left corner of the bounds before the shift to the origin.
    size : (int, int)
    area : float
    wider : int
        So much wider are its gaps than asked for, grid units: where its outline is rounded.
    """

    kind: int
    angle_deg: float
    mirrored: bool
    rings: tuple[IntPoly, ...]
    corner: tuple[int, int]
    size: tuple[int, int]
    area: float
    wider: int = 0


def ring_area2(ring: IntPoly) -> int:
    """Twice the signed area, exact."""
    xs = [int(v) for v in ring[:, 0]]
    ys = [int(v) for v in ring[:, 1]]
    return sum(xs[i - 1] * ys[i] - xs[i] * ys[i - 1] for i in range(len(xs)))


def _drop_slivers(rings: list[IntPoly], least: int) -> list[IntPoly]:
    """Drop holes that are nowhere wider than ``least`` grid units: rounding makes such holes."""
    out = []
    for ring in rings:
        if ring_area_um2(ring) > 0:
            out.append(ring)
            continue
        off = pyclipper.PyclipperOffset()
        off.AddPath(ring[::-1].tolist(), pyclipper.JT_MITER, pyclipper.ET_CLOSEDPOLYGON)
        if off.Execute(-least / 2.0):
            out.append(ring)
    return out


def no_fit(standing: OrientedShape, moving: OrientedShape, gap: int = 0) -> list[IntPoly]:
    """Places of ``moving`` (its corner, seen from that of ``standing``) nearer than ``gap`` and more."""
    return _no_fit(grow(list(standing.rings), gap + max(standing.wider, moving.wider)), moving)


def _no_fit(grown: list[IntPoly], moving: OrientedShape) -> list[IntPoly]:
    return _drop_slivers(no_fit_region(grown, list(moving.rings)), 8)


Bounds = tuple[float, float, float, float]


#: Where a sheet's end is left open, parts that cannot lie at it must lie so far beyond it, as a share of the
#: length that their places take.
BEYOND = 0.125


def _blocked(region: Sequence[IntPoly]) -> tuple[list[IntPoly], Bounds]:
    """Complement of a region of feasible positions, and bounds of the positions to be looked at."""
    x0, y0, x1, y1 = bounds(region)
    far = 2 * (x1 - x0 + y1 - y0) + 1000
    if _is_box(region, (x0, y0, x1, y1)):
        return [], (x0, y0, x1, y1)
    frame = _box(x0 - far, y0 - far, x1 + far, y1 + far)
    return [frame, *(np.ascontiguousarray(r[::-1]) for r in region)], (x0, y0, x1, y1)


def _blocked_before(region: Sequence[IntPoly], end: int) -> tuple[list[IntPoly], Bounds]:
    """As ``_blocked``, for a search that begins with more than goes in: it ends some way beyond ``end``.

    Up to there what lies at the end may go on, so that no place at the end is on the edge of what is blocked.
    """
    if not any(ring_area2(r) for r in region):
        return _blocked(region)
    x0, y0, x1, y1 = bounds(region)
    right = max(end, x1)
    if _is_box(region, (x0, y0, right, y1)):
        return [], (x0, y0, math.inf, y1)
    far = 2 * (x1 - x0 + y1 - y0) + 1000
    beyond = right + beyond_end(x0, end)
    onward = []
    for ring in intersection(list(region), [_box(right - 1, y0, right, y1)]):
        _, low, _, high = bounds([ring])
        onward.append(_box(right - 1, low, beyond, high))
    frame = _box(x0 - far, y0 - far, beyond, y1 + far)
    return difference([frame], [*region, *onward]), (x0, y0, math.inf, y1)


def beyond_end(least: float, end: float) -> int:
    """Return how far beyond the end of a sheet parts must lie that cannot lie at it, grid units.

    Parameters
    ----------
    least, end : float
        Least x and the end of the places of a part, grid units.
    """
    return round(BEYOND * max(0.0, end - least)) + 1


def _box(x0: int, y0: int, x1: int, y1: int) -> IntPoly:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.int64)


def _is_box(region: Sequence[IntPoly], box: Bounds) -> bool:
    area2 = 2 * (box[2] - box[0]) * (box[3] - box[1])
    return len(region) == 1 and ring_area2(region[0]) == area2


FeasibleRegions = Sequence[Sequence[IntPoly] | None]
"""By shape: feasible positions of its corner in one container; empty for nowhere, None for the whole box."""


def build_tables(
    shapes: Sequence[OrientedShape],
    kinds: int,
    *,
    gap: int = 0,
    feasible: Sequence[FeasibleRegions] = (),
    ends: Sequence[int] = (),
    single: Container[int] = (),
    most_cells: int = MOST_CELLS,
) -> Tables:
    """Compute all pairwise no-fit regions and lay them out for the kernels.

    Parameters
    ----------
    shapes : sequence of OrientedShape
    kinds : int
    gap : int
        Least distance between parts, grid units.
    feasible : sequence of FeasibleRegions
        One a container; none means a single plain box. The complement of the feasible region of
        ``feasible[b]`` is the obstacle with shape index ``len(shapes) + b``.
    ends : sequence of int
        Greatest x of each container, grid units. Given, each container is there once more, with bounds and
        obstacles ``len(feasible) + b``, as for a search that begins with more than goes in: parts may lie
        beyond its end, and ``State.bin_box`` says how far.
    single : container of int
        Kinds of which there is one copy: their turns never meet each other.
    most_cells : int
        As for `build_table`.
    """
    install()
    count = len(shapes)
    bins = max(1, len(feasible) + len(ends))
    pair = np.full((count + bins, count + bins), -1, dtype=np.int32)
    sign = np.ones((count + bins, count + bins))
    scale = np.zeros((count + bins, count + bins))
    pos_bounds = np.empty((bins, count, 4))
    pos_bounds[:, :] = (-math.inf, -math.inf, math.inf, math.inf)
    regions: list[list[IntPoly]] = []
    unit = float(np.mean([math.sqrt(s.area) for s in shapes]))
    cache: dict[object, int] = {}

    def keep(rings: list[IntPoly]) -> int:
        key = tuple(r.tobytes() for r in rings)
        k = cache.get(key)
        if k is None:
            k = cache[key] = len(regions)
            regions.append(rings)
        return k

    for i, a in enumerate(shapes):
        grown = {wider: grow(list(a.rings), gap + wider) for wider in {max(a.wider, b.wider) for b in shapes}}
        for j in range(i, count):
            b = shapes[j]
            if a.kind == b.kind and a.kind in single:
                continue
            pair[i, j] = pair[j, i] = keep(_no_fit(grown[max(a.wider, b.wider)], b))
            if i != j:
                sign[j, i] = -1.0
            scale[i, j] = scale[j, i] = math.sqrt(min(a.area, b.area)) / unit
    for c, own in enumerate([*feasible, *feasible] if ends else feasible):
        for i, region in enumerate(own):
            if region is None:
                continue
            if not region:
                pos_bounds[c, i] = (math.inf, math.inf, -math.inf, -math.inf)
                continue
            if c < len(feasible):
                blocked, pos_bounds[c, i] = _blocked(region)
            else:
                blocked, pos_bounds[c, i] = _blocked_before(
                    region, ends[c - len(feasible)] - shapes[i].size[0]
                )
            if blocked:
                pair[count + c, i] = keep(blocked)
                scale[count + c, i] = math.sqrt(shapes[i].area) / unit
    starts, flat = [0], []
    for kind in range(kinds):
        flat += [i for i, s in enumerate(shapes) if s.kind == kind]
        starts.append(len(flat))
    return Tables(
        depth=build_table([[r.astype(np.float64) for r in rings] for rings in regions], most_cells),
        pair_region=pair,
        pair_sign=sign,
        pair_scale=scale,
        size=np.array([s.size for s in shapes], dtype=np.float64),
        pos_bounds=pos_bounds,
        shapes_start=np.array(starts, dtype=np.int32),
        shapes=np.array(flat, dtype=np.int32),
    )
