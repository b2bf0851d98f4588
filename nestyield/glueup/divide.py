"""Several members out of one piece: strips ripped from it, or lengths cut off it, one saw kerf apart.

A cut runs straight across the piece's grain, or straight along it, right through. Where members lie in a
piece is then told by an interval each, and in a given order the first is best laid as near to the piece's
end as may be, the next as near to that, and so on: whether they all find room is answered exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.boolean import SubgridPaths, combine, intersection
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import SUBGRID, UM_PER_MM, IntPoly, Region
from nestyield.geometry.shape import region_to_shape, to_shapely
from nestyield.glueup.oracle import FeasibilityOracle, SeamFit
from nestyield.model import Piece, Shape
from nestyield.model.arc import cos_sin

#: Longer than any piece, micrometers.
_FAR = 10**7
#: Room on top of the kerf for what rounding takes, micrometers.
_ROUNDING_UM = 4

#: A direction in the plane, of length 1.
DivideWay = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class DividedPart:
    """A member's place in the piece that it is cut from.

    Parameters
    ----------
    server : FeasibilityOracle
    shift : (int, int)
        Of the part's frame into the turned piece's, micrometers.
    cut : Shape
        What of the piece becomes this member, in the piece's coordinates.
    """

    server: FeasibilityOracle
    shift: tuple[int, int]
    cut: Shape


def divide(
    piece: Piece,
    wanted: Sequence[tuple[Region, Sequence[tuple[FeasibilityOracle, SeamFit]]]],
    kerf_um: int,
    error_mm: float,
) -> tuple[DividedPart, ...] | None:
    """Return how members are cut from one copy of a piece, or None when they do not find room.

    Parameters
    ----------
    piece : Piece
    wanted : sequence of (Region, sequence of (FeasibilityOracle, SeamFit))
        For each member what it must hold, and the turnings in which the piece holds that.
    kerf_um : int
        Least between two members.
    error_mm : float
        Chord error.

    Returns
    -------
    tuple of DividedPart
        In the order asked.
    """
    along = np.array(cos_sin(piece.grain_deg or 0.0))
    across = np.array([-along[1], along[0]])
    for way in (along, across):
        for choice in product(*(turnings for _, turnings in wanted)):
            orientations = [_turned(way, server) for server, _ in choice]
            reach = [_reach(needed, w) for (needed, _), w in zip(wanted, orientations)]
            for order in permutations(range(len(wanted))):
                laid = _lay(choice, orientations, reach, order, kerf_um)
                if laid is not None:
                    return _parts(piece, wanted, choice, laid, order, way, kerf_um, error_mm)
    return None


def _turned(way: DivideWay, server: FeasibilityOracle) -> DivideWay:
    """Return a direction of the piece as it lies when turned."""
    return np.array(server.turned.pose.direction((float(way[0]), float(way[1]))))


def _reach(region: Region, way: DivideWay) -> tuple[float, float]:
    along = np.concatenate([ring @ way for ring in region])
    return float(along.min()), float(along.max())


@dataclass(frozen=True, slots=True)
class _Laid:
    """Shifts of all members, and where each begins and ends along the way."""

    shifts: dict[int, tuple[int, int]]
    ends: dict[int, tuple[float, float]]


def _lay(
    choice: Sequence[tuple[FeasibilityOracle, SeamFit]],
    orientations: Sequence[DivideWay],
    reach: Sequence[tuple[float, float]],
    order: Sequence[int],
    kerf_um: int,
) -> _Laid | None:
    """Lay members one after the other along a way, each as early as may be."""
    laid = _Laid({}, {})
    start = -math.inf
    for k in order:
        (_, fit), way, (least, most) = choice[k], orientations[k], reach[k]
        paths: SubgridPaths = fit.shifts
        if start > -math.inf:
            paths = _beyond(paths, way, (start - least) * SUBGRID)
        if not paths:
            return None
        corners = np.rint(np.concatenate(paths) / SUBGRID).astype(np.int64)
        at = corners @ way
        best = int(np.lexsort((corners[:, 1], corners[:, 0], np.round(at, 3)))[0])
        x, y = (int(v) for v in corners[best])
        shift = float(at[best])
        laid.shifts[k] = (x, y)
        laid.ends[k] = (shift + least, shift + most)
        start = shift + most + kerf_um + _ROUNDING_UM
    return laid


def _beyond(paths: SubgridPaths, way: DivideWay, least: float) -> SubgridPaths:
    """Return what of fine paths lies at least so far along a way."""
    far = float(_FAR * SUBGRID)
    normal = np.array([-way[1], way[0]])
    foot = way * least
    ring: IntPoly = np.rint(
        np.array([foot - normal * far, foot + way * far - normal * far, foot + way * far + normal * far,
                  foot + normal * far])
    ).astype(np.int64)  # fmt: skip
    return combine("intersection", paths, [ring])


def _point(server: FeasibilityOracle, shift: tuple[int, int], needed: Region) -> shapely.Point:
    """Return a point of what a member holds, in the piece's coordinates, millimeters."""
    x, y = ((needed[0][0] + np.array(shift)) / UM_PER_MM).tolist()
    return shapely.Point(server.turned.pose.inverse().point((x, y)))


def _parts(
    piece: Piece,
    wanted: Sequence[tuple[Region, Sequence[tuple[FeasibilityOracle, SeamFit]]]],
    choice: Sequence[tuple[FeasibilityOracle, SeamFit]],
    laid: _Laid,
    order: Sequence[int],
    way: DivideWay,
    kerf_um: int,
    error_mm: float,
) -> tuple[DividedPart, ...]:
    """Cut the piece: the first and the last keep what lies beyond them."""
    whole = flatten_shape(piece.shape, error_mm, "inside")
    normal = np.array([-way[1], way[0]])
    out: dict[int, DividedPart] = {}
    low = -float(_FAR)
    for n, k in enumerate(order):
        high = float(_FAR) if n + 1 == len(order) else laid.ends[k][1] + _ROUNDING_UM / 2
        corners = [way * low - normal * _FAR, way * high - normal * _FAR, way * high + normal * _FAR,
                   way * low + normal * _FAR]  # fmt: skip
        ring: IntPoly = np.rint(np.array(corners)).astype(np.int64)
        shapes = region_to_shape(intersection(whole, [ring]))
        spot = _point(choice[k][0], laid.shifts[k], wanted[k][0])
        cut = min(shapes, key=lambda shape: to_shapely(shape).distance(spot))
        out[k] = DividedPart(server=choice[k][0], shift=laid.shifts[k], cut=cut)
        low = high + kerf_um
    return tuple(out[k] for k in sorted(out))
