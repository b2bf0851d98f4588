"""Pieces that are sawn apart before gluing, because several members come out of one."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from shapely import box, get_coordinates, union_all
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from nestyield.geometry.shape import to_shapely
from nestyield.glueup.boards import FAR_MM, Board
from nestyield.model import Piece, PieceCut, Point
from nestyield.model.arc import cos_sin

_Ways = tuple[tuple[Point, bool], ...]


def sawn(cut: Sequence[Board]) -> tuple[PieceCut, ...]:
    """Return the cuts that divide pieces into members, by piece and from its corner on.

    Parameters
    ----------
    cut : sequence of Board
    """
    groups: dict[tuple[str, int], list[Board]] = {}
    for board in cut:
        if board.member.cut is not None and board.member.layer is None:
            groups.setdefault((board.piece.name, board.member.copy), []).append(board)
    return tuple(c for boards in groups.values() if len(boards) > 1 for c in _divided(boards))


def _ways(piece: Piece) -> _Ways:
    """Return in which directions members may follow each other, and whether cuts then go across the grain."""
    c, s = cos_sin(piece.grain_deg or 0.0)
    out = []
    for (x, y), across in (((c, s), True), ((-s, c), False)):
        # away from the corner where length and width begin
        sign = math.copysign(1.0, x if abs(x) > abs(y) else y)
        out.append(((sign * x, sign * y), across))
    return tuple(out)


def _divided(boards: Sequence[Board]) -> list[PieceCut]:
    piece = boards[0].piece
    whole = to_shapely(piece.shape)
    x0, y0, _, _ = whole.bounds
    # of a piece that is crosscut first, only what stays of it is sawn apart
    stays = union_all([to_shapely(b.member.cut) for b in boards if b.member.cut is not None])
    whole = whole.intersection(box(*stays.bounds))
    parts = [(s, to_shapely(s.member.cut)) for s in boards if s.member.cut is not None]
    for (ux, uy), across in _ways(piece):
        reach = sorted((*_reach(area, (ux, uy)), s.letter) for s, area in parts)
        gaps = [(a[1], b[0]) for a, b in itertools.pairwise(reach)]
        if any(high < low for low, high in gaps):
            continue
        out = []
        for (low, high), (one, other) in zip(gaps, itertools.pairwise(reach)):
            m = (low + high) / 2
            foot = (ux * m, uy * m)
            ends = [(foot[0] - s * uy * FAR_MM, foot[1] + s * ux * FAR_MM) for s in (-1.0, 1.0)]
            found = whole.intersection(LineString(ends))
            if found.is_empty:
                continue
            points = sorted(
                ((float(x), float(y)) for x, y in get_coordinates(found)),
                key=lambda p: p[1] * ux - p[0] * uy,
            )
            (ax, ay), (bx, by) = points[0], points[-1]
            out.append(
                PieceCut(
                    piece=piece.name,
                    copy=boards[0].member.copy,
                    before=one[2],
                    after=other[2],
                    across=across,
                    line_mm=(_told(ax - x0, ay - y0), _told(bx - x0, by - y0)),
                    kerf_mm=round(high - low, 3),
                )
            )
        return out
    return []


def _reach(area: BaseGeometry, way: Point) -> tuple[float, float]:
    values = [x * way[0] + y * way[1] for x, y in area.exterior.coords]
    return (min(values), max(values))


def _told(x: float, y: float) -> Point:
    return (round(x, 4) + 0.0, round(y, 4) + 0.0)
