"""Where the content of a block comes to lie in the drawing, in millimeters."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestyield.model import Point

#: Relative difference of the scales up to which circles stay circles.
SIMILAR_TOL = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Affine:
    """A map of the plane: x' = xx x + xy y + x0, y' = yx x + yy y + y0; and of heights: z' = zz z + z0.

    Parameters
    ----------
    xx, xy, yx, yy, x0, y0, zz, z0 : float
    """

    xx: float = 1.0
    xy: float = 0.0
    yx: float = 0.0
    yy: float = 1.0
    x0: float = 0.0
    y0: float = 0.0
    zz: float = 1.0
    z0: float = 0.0

    @classmethod
    def scale(cls, x: float, y: float | None = None, z: float | None = None) -> Affine:
        """Make a scaling about the origin; the same on all axes unless told otherwise."""
        return cls(xx=x, yy=x if y is None else y, zz=x if z is None else z)

    @classmethod
    def turn(cls, angle_deg: float) -> Affine:
        """Make a turn about the origin, counter-clockwise; whole quarter turns are exact."""
        quarter, rest = divmod(angle_deg, 90.0)
        cos, sin = math.cos(math.radians(rest)), math.sin(math.radians(rest))
        for _ in range(int(quarter) % 4):
            cos, sin = -sin, cos
        return cls(xx=cos, xy=-sin, yx=sin, yy=cos)

    @classmethod
    def shift(cls, x: float, y: float, z: float = 0.0) -> Affine:
        """Make a shift."""
        return cls(x0=x, y0=y, z0=z)

    @classmethod
    def behind(cls) -> Affine:
        """Make the map from the coordinates of an entity drawn from behind (extrusion 0, 0, -1)."""
        return cls(xx=-1.0, zz=-1.0)

    def __matmul__(self, inner: Affine) -> Affine:
        """Return the map that does ``inner`` first, then this one."""
        x0, y0 = self.point(inner.x0, inner.y0)
        xx, yx = self.vector(inner.xx, inner.yx)
        xy, yy = self.vector(inner.xy, inner.yy)
        return Affine(
            xx=xx, xy=xy, yx=yx, yy=yy, x0=x0, y0=y0, zz=self.zz * inner.zz, z0=self.height(inner.z0)
        )

    def point(self, x: float, y: float) -> Point:
        """Return where a point comes to lie."""
        return (self.xx * x + self.xy * y + self.x0, self.yx * x + self.yy * y + self.y0)

    def vector(self, x: float, y: float) -> Point:
        """Return what a vector becomes."""
        return (self.xx * x + self.xy * y, self.yx * x + self.yy * y)

    def height(self, z: float) -> float:
        """Return what a height becomes."""
        return self.zz * z + self.z0

    @property
    def determinant(self) -> float:
        """Area of the image of a unit square; negative when mirrored."""
        return self.xx * self.yy - self.xy * self.yx

    @property
    def is_similar(self) -> bool:
        """Whether circles stay circles."""
        along, across = math.hypot(self.xx, self.yx), math.hypot(self.xy, self.yy)
        skew = abs(self.xx * self.xy + self.yx * self.yy)
        size = max(along, across)
        return abs(along - across) <= SIMILAR_TOL * size and skew <= SIMILAR_TOL * size * size
