"""How much wood worth keeping a place would leave, roughly and fast: counted on a raster."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.geometry.shape import to_shapely
from nestyield.model import Settings
from nestyield.model.pose import Pose

#: Cells of the raster over a piece, about.
CELLS = 20_000

Mask = NDArray[np.bool_]


class RoughLeft:
    """Counts wood that lies in some rectangle of the least size, for many places of one part.

    Parameters
    ----------
    free : Region
        Wood of the piece without what other parts take, micrometres.
    grain_deg : float or None
        Rectangles lie along it; None lets them lie both ways.
    settings : Settings
        ``leftover_shortest_mm`` and ``leftover_narrowest_mm``.
    """

    def __init__(self, free: Region, grain_deg: float | None, settings: Settings) -> None:
        self._back = Pose(angle_deg=-(grain_deg or 0.0))
        wood = to_shapely([np.rint(self._back.array(ring)).astype(np.int64) for ring in free])
        x0, y0, x1, y1 = wood.bounds if not wood.is_empty else (0.0, 0.0, 1.0, 1.0)
        self._cell = max(1.0, ((x1 - x0) * (y1 - y0) / CELLS) ** 0.5)
        self._low = (x0, y0)
        self._wood = self._mask(wood, x0, y0, x1, y1)
        least = (settings.leftover_shortest_mm, settings.leftover_narrowest_mm)
        cells = tuple(max(1, int(v / self._cell)) for v in least)
        self._sizes = [cells] if grain_deg is not None else [cells, cells[::-1]]
        self._gone: dict[object, tuple[Mask, int, int]] = {}

    @property
    def cell_mm2(self) -> float:
        """Area of a cell, square millimetres."""
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
        mask, i, j = self._gone[key]
        x, y = self._back.array(np.array([[x_um, y_um]], dtype=np.float64))[0] / UM_PER_MM
        i += round(float(x - self._low[0]) / self._cell)
        j += round(float(y - self._low[1]) / self._cell)
        left = self._wood.copy()
        n, m = left.shape
        a, b = max(i, 0), max(j, 0)
        c, d = min(i + mask.shape[0], n), min(j + mask.shape[1], m)
        if a < c and b < d:
            left[a:c, b:d] &= ~mask[a - i : c - i, b - j : d - j]
        kept = np.zeros_like(left)
        for length, width in self._sizes:
            if length <= n and width <= m:
                kept |= _opened(left, length, width)
        return int(kept.sum())


def _opened(wood: Mask, length: int, width: int) -> Mask:
    """Return the cells that lie in some rectangle of that many cells which is all wood."""
    corners = _box_sums(wood, length, width) == length * width
    padded = np.pad(corners, ((length - 1, length - 1), (width - 1, width - 1)))
    return np.asarray(_box_sums(padded, length, width) > 0)


def _box_sums(cells: Mask, length: int, width: int) -> NDArray[np.int64]:
    total = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=np.int64)
    total[1:, 1:] = cells.cumsum(axis=0).cumsum(axis=1)
    return (
        total[length:, width:] - total[:-length, width:] - total[length:, :-width] + total[:-length, :-width]
    )
