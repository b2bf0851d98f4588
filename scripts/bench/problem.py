"""A nesting problem on its own integer grid, and layouts of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.shapes import grid_scale, same_outline, turned
from bench.turning import first_turns, turns_each
from nestyield.model import ModelError
from nestyield.nesting.shapes import IntPoly, OrientedShape, ring_area2


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Copies of one part.

    Parameters
    ----------
    name : str
    rings : sequence of (n, 2) float
        Outer ring first, then holes; any direction, any unit of length.
    count : int
    angles_deg : sequence of float, or None
        Turns that it may take; None for any angle.
    mirror : bool
        Whether it may also be mirrored.
    value : float
        Worth of one copy, for layouts that cannot hold all.
    """

    name: str
    rings: Sequence[Sequence[tuple[float, float]]]
    count: int = 1
    angles_deg: Sequence[float] | None = (0.0,)
    mirror: bool = False
    value: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a copy lies: its given polygon mirrored in x if so, turned about the origin, then shifted.

    Parameters
    ----------
    item : int
    angle_deg : float
    mirrored : bool
    x, y : float
        Shift in the unit of the problem.
    bin : int
    """

    item: int
    angle_deg: float
    mirrored: bool
    x: float
    y: float
    bin: int = 0


@dataclass(frozen=True, slots=True)
class Grid:
    """Items on the integer grid.

    Parameters
    ----------
    scale : int
        Grid units per unit of length.
    shapes : tuple of OrientedShape
    counts : tuple of int
        Copies by item.
    kinds : (n,) int32
        Item of each copy.
    area : float
        Total area, square grid units.
    exact : bool
        Whether every turn is exact on the grid (whole quarter turns).
    """

    scale: int
    shapes: tuple[OrientedShape, ...]
    counts: tuple[int, ...]
    kinds: NDArray[np.int32]
    area: float
    exact: bool

    def spot(self, shape: int, x: int, y: int, bin_: int = 0) -> Spot:
        """Translate a place on the grid (lower left corner of bounds) to a spot."""
        s = self.shapes[shape]
        return Spot(
            item=s.kind,
            angle_deg=s.angle_deg,
            mirrored=s.mirrored,
            x=(x - s.corner[0]) / self.scale,
            y=(y - s.corner[1]) / self.scale,
            bin=bin_,
        )


def _ring(points: Sequence[tuple[float, float]], scale: int, outer: bool, name: str) -> IntPoly:
    ring = np.rint(np.asarray(points, dtype=np.float64) * scale).astype(np.int64)
    if len(ring) > 1 and (ring[0] == ring[-1]).all():
        ring = ring[:-1]
    ring = ring[(ring != np.roll(ring, 1, axis=0)).any(axis=1)]
    if len(ring) < 3:
        raise ModelError(f"expected a ring of at least 3 different corners in {name}, got {len(ring)}")
    area = ring_area2(ring)
    if area == 0:
        raise ModelError(f"expected a ring with area in {name}, got 0")
    return ring if (area > 0) == outer else np.ascontiguousarray(ring[::-1])


def make_grid(items: Sequence[Item], lengths: Sequence[float], largest: float) -> Grid:
    """Put items on a grid on which their coordinates and ``lengths`` are whole.

    Parameters
    ----------
    items : sequence of Item
    lengths : sequence of float
        Sizes of containers; parts that may lie at any angle are also turned so as to fill them.
    largest : float
        Largest coordinate that a layout may need.

    Raises
    ------
    ModelError
        When a ring has no area, or an item no copies.
    """
    values = [v for it in items for r in it.rings for p in r for v in p]
    values += list(lengths)
    if not all(math.isfinite(v) for v in values):
        raise ModelError("expected finite coordinates in every item")
    scale = grid_scale(values, largest)
    shapes: list[OrientedShape] = []
    kinds: list[int] = []
    counts: list[int] = []
    exact = True
    for k, it in enumerate(items):
        if it.count < 1:
            raise ModelError(f"expected count >= 1 for {it.name}, got {it.count}")
        angles = it.angles_deg
        if angles is None:
            angles = first_turns(it.rings[0], lengths, turns_each(sum(1 + it.mirror for it in items)))
        if not angles:
            raise ModelError(f"expected at least one turn for {it.name}, got none")
        rings = [_ring(r, scale, i == 0, it.name) for i, r in enumerate(it.rings)]
        own: list[OrientedShape] = []
        for mirrored in (False, True) if it.mirror else (False,):
            for angle in angles:
                exact = exact and (angle % 90.0 == 0.0)
                t = turned(k, rings, angle, mirrored)
                if not any(same_outline(t, o) for o in own):
                    own.append(t)
        shapes += own
        counts.append(it.count)
        kinds += [k] * it.count
    area = float(sum(counts[k] * next(s.area for s in shapes if s.kind == k) for k in range(len(items))))
    return Grid(scale, tuple(shapes), tuple(counts), np.array(kinds, dtype=np.int32), area, exact)
