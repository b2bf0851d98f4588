"""Mirror, turn and shift, exactly as ``model.Placement`` says."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.grid import IntPoly, Region
from nestyield.model import Outline, Shape

T = TypeVar("T", IntPoly, Region)

_QUARTERS = {0: (1.0, 0.0), 1: (0.0, 1.0), 2: (-1.0, 0.0), 3: (0.0, -1.0)}


def cos_sin(angle_deg: float) -> tuple[float, float]:
    """Return cosine and sine of an angle in degrees, exact at multiples of 90."""
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        return _QUARTERS[int(quarter) % 4]
    a = math.radians(angle_deg)
    return math.cos(a), math.sin(a)


def turned(points: NDArray[np.int64] | NDArray[np.float64], angle_deg: float) -> NDArray[np.float64]:
    """Turn points counter-clockwise about the origin, without rounding, shape (n, 2)."""
    c, s = cos_sin(angle_deg)
    p = np.asarray(points, dtype=np.float64)
    return np.column_stack([p[:, 0] * c - p[:, 1] * s, p[:, 0] * s + p[:, 1] * c])


def _place_ring(poly: IntPoly, angle_deg: float, mirrored: bool, x_um: int, y_um: int) -> IntPoly:
    p = np.asarray(poly, dtype=np.int64).reshape(-1, 2)
    if mirrored:
        p = (p * np.array([-1, 1]))[::-1]
    out: IntPoly = np.rint(turned(p, angle_deg)).astype(np.int64) + np.array([x_um, y_um])
    return out


def place(shape: T, angle_deg: float, mirrored: bool = False, x_um: int = 0, y_um: int = 0) -> T:
    """Mirror in X (x becomes -x), turn about the origin, round to the grid, shift.

    Parameters
    ----------
    shape : IntPoly or Region
        Rings keep their direction: mirrored rings are run backwards.
    angle_deg : float
        Counter-clockwise.
    mirrored : bool
    x_um, y_um : int
        Shift, micrometres.

    Returns
    -------
    IntPoly or Region
        As given.
    """
    if isinstance(shape, np.ndarray):
        return _place_ring(shape, angle_deg, mirrored, x_um, y_um)
    return [_place_ring(r, angle_deg, mirrored, x_um, y_um) for r in shape]


def transform_outline(
    outline: Outline, angle_deg: float, mirrored: bool = False, x_mm: float = 0.0, y_mm: float = 0.0
) -> Outline:
    """Mirror in X, turn and shift an outline; arcs stay arcs. Nothing is rounded."""
    c, s = cos_sin(angle_deg)
    m = -1.0 if mirrored else 1.0
    points = tuple((m * x * c - y * s + x_mm, m * x * s + y * c + y_mm) for x, y in outline.points_mm)
    return Outline(points_mm=points, bulges=tuple(m * b for b in outline.bulges))


def transform_shape(
    shape: Shape, angle_deg: float, mirrored: bool = False, x_mm: float = 0.0, y_mm: float = 0.0
) -> Shape:
    """Mirror in X, turn and shift a shape; arcs stay arcs. Nothing is rounded."""
    move = (angle_deg, mirrored, x_mm, y_mm)
    return Shape(
        outer=transform_outline(shape.outer, *move),
        holes=tuple(transform_outline(h, *move) for h in shape.holes),
    )
