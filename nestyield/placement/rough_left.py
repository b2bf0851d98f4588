"""How much wood worth keeping a place would leave, roughly and fast: counted on a raster."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.geometry.shape import to_shapely
from nestyield.model import Settings
from nestyield.model.pose import Pose

#: Cells of the raster over a piece, about, and their least side, millimeters.
CELLS = 20_000
LEAST_CELL_MM = 2.5

Mask = NDArray[np.bool_]


class RoughLeft:
    """Counts wood that lies in some rectangle of the least size, for many places of one part.

    Parameters
    ----------
    free : Region
        Wood of the piece without what other parts take, micrometers.
    grain_deg : float or None
        Rectangles lie along it; None lets them lie both ways.
    settings : Settings
        ``leftover_shortest_mm`` and ``leftover_narrowest_mm``.
    """

    def __init__(self, free: Region, grain_deg: float | None, settings: Settings) -> None:
        self._back = Pose(angle_deg=-(grain_deg or 0.0))
        wood = to_shapely([np.rint(self._back.array(ring)).astype(np.int64) for ring in free])
        x0, y0, x1, y1 = wood.bounds if not wood.is_empty else (0.0, 0.0, 1.0, 1.0)
        self._cell = max(LEAST_CELL_MM, ((x1 - x0) * (y1 - y0) / CELLS) ** 0.5)
        self._low = (x0, y0)
        self._wood = self._mask(wood, x0, y0, x1, y1)
        least = (settings.leftover_shortest_mm, settings.leftover_narrowest_mm)
        cells = tuple(max(1, int(v / self._cell)) for v in least)
        self._sizes = [cells] if grain_deg is not None else [cells, cells[::-1]]
        self._gone: dict[object, tuple[Mask, int, int]] = {}
        self._known: dict[tuple[object, int, int], int] = {}
        self._kept = self._opened(self._wood)
        self._most = int(self._kept.sum())

    @property
    def cell_mm2(self) -> float:
        """Area of a cell, square millimeters."""
        return float(self._cell) ** 2

    def _mask(self, shape: shapely.Geometry, x0: float, y0: float, x1: float, y1: float) -> Mask:
        """Return the cells of a box whose middles lie in a shape."""
        x = np.arange(x0 + self._cell / 2, max(x1, x0 + self._cell), self._cell)
        y = np.arange(y0 + self._cell / 2, max(y1, y0 + self._cell), self._cell)
        shapely.prepare(shape)
        return np.asarray(shapely.contains_xy(shape, *np.meshgrid(x, y, indexing="ij")))

    def take(self, key: object, gone: Region) -> None:
        """Remember what the cutter takes around a part that lies at the origin, under a key."""
        shape = to_shapely([np.rint(self._back.array(ring)).astype(np.int64) for ring in gone])
        x0, y0, x1, y1 = shape.bounds
        i, j = int(np.floor(x0 / self._cell)), int(np.floor(y0 / self._cell))
        mask = self._mask(shape, i * self._cell, j * self._cell, x1 + self._cell, y1 + self._cell)
        self._gone[key] = (mask, i, j)

    def cells(self, key: object, x_um: int, y_um: int) -> int:
        """Return how many cells are left when the part of a key is shifted so."""
        at = self._back.array(np.array([[x_um, y_um]], dtype=np.float64))[0] / UM_PER_MM
        i = round(float(at[0] - self._low[0]) / self._cell)
        j = round(float(at[1] - self._low[1]) / self._cell)
        if (key, i, j) not in self._known:
            self._known[key, i, j] = self._left(key, i, j)
        return self._known[key, i, j]

    def _left(self, key: object, i: int, j: int) -> int:
        """Count the cells that are left when the part of a key is shifted by whole cells."""
        mask, low_i, low_j = self._gone[key]
        i, j = i + low_i, j + low_j
        n, m = self._wood.shape
        a, b = max(i, 0), max(j, 0)
        c, d = min(i + mask.shape[0], n), min(j + mask.shape[1], m)
        kept = self._most
        if a >= c or b >= d:
            return kept
        # only rectangles that meet the part's box change, and they lie within twice their length around it
        far_x, far_y = (max(size[k] for size in self._sizes) for k in (0, 1))
        near = _window((a, c), n, far_x), _window((b, d), m, far_y)
        wide = _window((a, c), n, 2 * far_x), _window((b, d), m, 2 * far_y)
        left = self._wood[wide].copy()
        x, y = wide[0].start, wide[1].start
        left[a - x : c - x, b - y : d - y] &= ~mask[a - i : c - i, b - j : d - j]
        inside = tuple(slice(s.start - w.start, s.stop - w.start) for s, w in zip(near, wide))
        return kept - int(self._kept[near].sum()) + int(self._opened(left)[inside].sum())

    def _opened(self, wood: Mask) -> Mask:
        kept = np.zeros_like(wood)
        for length, width in self._sizes:
            if length <= wood.shape[0] and width <= wood.shape[1]:
                kept |= _opened(wood, length, width)
        return kept


def _window(span: tuple[int, int], size: int, more: int) -> slice:
    return slice(max(span[0] - more, 0), min(span[1] + more, size))


def _opened(wood: Mask, length: int, width: int) -> Mask:
    """Return the cells that lie in some rectangle of that many cells which is all wood."""
    corners = _joined(_joined(wood, length, 0, np.logical_and), width, 1, np.logical_and)
    if not corners.any():
        return np.zeros_like(wood)
    padded = np.pad(corners, ((length - 1, length - 1), (width - 1, width - 1)))
    return _joined(_joined(padded, length, 0, np.logical_or), width, 1, np.logical_or)


def _joined(cells: Mask, run: int, axis: int, join: np.ufunc) -> Mask:
    """Join each run of so many cells along an axis, by runs of twice the length each time."""
    have = 1
    while have < run:
        step = min(have, run - have)
        long = cells.shape[axis] - step
        cells = join(cells[:long], cells[step:]) if axis == 0 else join(cells[:, :long], cells[:, step:])
        have += step
    return cells
