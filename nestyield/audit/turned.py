"""What every turned copy of a region covers, worked out by what its edges run over."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

#: Longest step of a turn, degrees.
_TURN_STEP_DEG = 4.0
#: Edges are cut into pieces no longer than this, millimeters.
_EDGE_MM = 10.0


@dataclass
class Wood:
    """A region of the part in its drawing, mirrored as the branch says, about the center of the turn."""

    shape: BaseGeometry

    def kept(self, half_deg: float) -> BaseGeometry:
        """Return what every copy turned by up to ``half_deg`` either way covers; never more."""
        if half_deg == 0.0 or self.shape.is_empty:
            return self.shape
        return _kept(self.shape.wkb, round(half_deg, 9) + 1e-9)


@lru_cache(maxsize=256)
def _kept(wkb: bytes, half_deg: float) -> BaseGeometry:
    """Take away whatever an edge runs over when the region turns about the origin."""
    shape = shapely.from_wkb(wkb)
    # the hull of a long edge in two positions covers far more than the edge runs over
    cut_up = shapely.segmentize(shape, _EDGE_MM)
    runs = []
    steps = max(2, math.ceil(2.0 * half_deg / _TURN_STEP_DEG))
    turns = np.exp(1j * np.radians(np.linspace(-half_deg, half_deg, steps + 1)))
    far = 0.0
    for ring in _rings(cut_up):
        z = ring[:, 0] + 1j * ring[:, 1]
        a, b = z[:-1], z[1:]
        far = max(far, float(np.abs(z).max()))
        for first, second in itertools.pairwise(turns):
            corners = np.stack([a * first, b * first, a * second, b * second], axis=1)
            index = np.repeat(np.arange(len(a)), 4)
            xy = np.column_stack([corners.real.ravel(), corners.imag.ravel()])
            runs.append(shapely.convex_hull(shapely.multipoints(xy, indices=index)))
    bulge = far * (1.0 - math.cos(math.radians(half_deg / steps)))  # of an arc over its chord
    return shape.difference(shapely.union_all(np.concatenate(runs)).buffer(bulge + 1e-4, quad_segs=4))


def _rings(shape: BaseGeometry) -> list[np.ndarray]:
    return [
        np.asarray(ring.coords)
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors)
    ]
