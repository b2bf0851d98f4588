"""The one rigid transform: mirror in X, turn, shift, exactly as ``Placement`` says."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from nestyield.model.arc import Point, cos_sin
from nestyield.model.outline import Outline, Shape

IntRing = NDArray[np.int64]
Rings = TypeVar("Rings", IntRing, list[IntRing])

_UM_PER_MM = 1000


class Posed(Protocol):
    """Whatever is mirrored, turned and shifted as a ``Placement`` is: placements, members of a blank."""

    @property
    def angle_deg(self) -> float:
        """Counter-clockwise turn about the origin."""

    @property
    def mirrored(self) -> bool:
        """Whether x becomes -x first."""

    @property
    def x_um(self) -> int:
        """Shift along X, micrometers."""

    @property
    def y_um(self) -> int:
        """Shift along Y, micrometers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A rigid transform of the plane: mirror in X if so, then turn about the origin, then shift.

    Parameters
    ----------
    mirrored : bool
        Whether x becomes -x first.
    angle_deg : float
        Counter-clockwise; multiples of 90 are exact.
    x_mm, y_mm : float
        Shift after everything else, millimeters.
    """

    mirrored: bool = False
    angle_deg: float = 0.0
    x_mm: float = 0.0
    y_mm: float = 0.0

    @classmethod
    def of(cls, posed: Posed) -> Pose:
        """Return the pose of a placement (drawing to blank) or a member (piece to blank)."""
        return cls(
            mirrored=posed.mirrored,
            angle_deg=posed.angle_deg,
            x_mm=posed.x_um / _UM_PER_MM,
            y_mm=posed.y_um / _UM_PER_MM,
        )

    @classmethod
    def reflection(cls, a: Point, b: Point) -> Pose:
        """Return the mirror about the line through two points."""
        along = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
        turn = cls(mirrored=True, angle_deg=2.0 * along + 180.0)
        x, y = turn.point(a)
        return cls(mirrored=True, angle_deg=turn.angle_deg, x_mm=a[0] - x, y_mm=a[1] - y)

    def direction(self, d: Point) -> Point:
        """Return what a direction becomes: mirrored and turned, not shifted."""
        c, s = cos_sin(self.angle_deg)
        x = -d[0] if self.mirrored else d[0]
        return (c * x - s * d[1], s * x + c * d[1])

    def point(self, p: Point) -> Point:
        """Return where a point goes, millimeters."""
        x, y = self.direction(p)
        return (x + self.x_mm, y + self.y_mm)

    def points(self, points: Iterable[Point]) -> tuple[Point, ...]:
        """Return where points go, millimeters."""
        return tuple(self.point(p) for p in points)

    def array(self, points: NDArray[np.int64] | NDArray[np.float64]) -> NDArray[np.float64]:
        """Return where points go, shape (n, 2), in millimeters or, without a shift, in any unit."""
        c, s = cos_sin(self.angle_deg)
        p = np.asarray(points, dtype=np.float64)
        x, y = (-p[:, 0] if self.mirrored else p[:, 0]), p[:, 1]
        out = np.empty((len(p), 2))
        out[:, 0] = c * x - s * y + self.x_mm
        out[:, 1] = s * x + c * y + self.y_mm
        return out

    def on_grid(self, rings: Rings) -> Rings:
        """Return rings of the grid as a ``Placement`` lays them: mirrored, turned, rounded, then shifted.

        Parameters
        ----------
        rings : int64 array, shape (n, 2), or list of them
            Whole micrometers. Rings keep their direction: mirrored rings are run backwards.

        Returns
        -------
        int64 array or list of them
            As given.
        """
        if isinstance(rings, np.ndarray):
            return self._ring(rings)
        return [self._ring(r) for r in rings]

    def _ring(self, ring: IntRing) -> IntRing:
        p = np.asarray(ring, dtype=np.int64).reshape(-1, 2)
        c, s = cos_sin(self.angle_deg)
        x, y = p[:, 0], p[:, 1]
        if self.mirrored:
            x, y = -x[::-1], y[::-1]
        out = np.empty((len(p), 2), dtype=np.int64)
        if s == 0.0:
            out[:, 0], out[:, 1] = (x, y) if c > 0.0 else (-x, -y)
        elif c == 0.0:
            out[:, 0], out[:, 1] = (-y, x) if s > 0.0 else (y, -x)
        else:
            out[:, 0], out[:, 1] = np.rint(c * x - s * y), np.rint(s * x + c * y)
        out += (round(self.x_mm * _UM_PER_MM), round(self.y_mm * _UM_PER_MM))
        return out

    def outline(self, outline: Outline) -> Outline:
        """Return the moved outline; arcs stay arcs, and a mirror turns every bulge over."""
        sign = -1.0 if self.mirrored else 1.0
        return Outline.moved(self.points(outline.points_mm), tuple(sign * b for b in outline.bulges))

    def shape(self, shape: Shape) -> Shape:
        """Return the moved shape."""
        return Shape(outer=self.outline(shape.outer), holes=tuple(self.outline(h) for h in shape.holes))

    def matrix(self) -> list[float]:
        """Return [a, b, d, e, x, y] for shapely: x' = a x + b y + x, y' = d x + e y + y."""
        c, s = cos_sin(self.angle_deg)
        m = -1.0 if self.mirrored else 1.0
        return [m * c, -s, m * s, c, self.x_mm, self.y_mm]

    def then(self, after: Pose) -> Pose:
        """Return the pose that does this one first and ``after`` second."""
        x, y = after.point((self.x_mm, self.y_mm))
        turn = -self.angle_deg if after.mirrored else self.angle_deg
        return Pose(
            mirrored=self.mirrored != after.mirrored, angle_deg=turn + after.angle_deg, x_mm=x, y_mm=y
        )

    def inverse(self) -> Pose:
        """Return the pose that brings everything back."""
        turn = Pose(mirrored=self.mirrored, angle_deg=self.angle_deg if self.mirrored else -self.angle_deg)
        x, y = turn.direction((self.x_mm, self.y_mm))
        return Pose(mirrored=turn.mirrored, angle_deg=turn.angle_deg, x_mm=-x, y_mm=-y)
