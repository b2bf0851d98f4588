"""What a glue-up asks of each piece, measured from the plan: where to rip, what comes off, how far to slide.

Members of a blank lie in order, lowest first; seam ``k`` joins member ``k`` to member ``k + 1``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import affinity, get_parts, make_valid
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nestyield.model import Layout, Member, Outline, Piece, Plan, Point, Seam
from nestyield.paperwork.curves import move_of, outlines_of
from nestyield.paperwork.hatch import region

_FAR = 1.0e5


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One edge of a piece that is ripped and jointed to a seam.

    Parameters
    ----------
    seam : Seam
    upper : bool
        Whether the neighbour lies beyond the piece's upper edge.
    start, end : (x, y)
        Ends of the jointed edge on this piece, in order of the seam's direction.
    mark : (x, y)
        Where the mark stands that meets the neighbour's.
    mark_mm : float
        From the start of the edge to the mark.
    off_start_mm, off_end_mm : float
        Width that comes off beyond the edge at both ends of the seam.
    """

    seam: Seam
    upper: bool
    start: Point
    end: Point
    mark: Point
    mark_mm: float
    off_start_mm: float
    off_end_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stave:
    """A piece as it goes into a glue-up.

    Parameters
    ----------
    letter : str
        ``A`` is lowest.
    piece : Piece
    member : Member
    whole, used : geometry
        Before and after ripping, blank coordinates.
    edges : tuple of Edge
    """

    letter: str
    piece: Piece
    member: Member
    whole: BaseGeometry
    used: BaseGeometry
    edges: tuple[Edge, ...]


def rings(area: BaseGeometry) -> list[Outline]:
    """Return the rings of an area as outlines of straight lines."""
    out = []
    for polygon in get_parts(area):
        if polygon.geom_type == "Polygon" and not polygon.is_empty:
            for ring in (polygon.exterior, *polygon.interiors):
                out.append(Outline.polygon([(float(x), float(y)) for x, y in list(ring.coords)[:-1]]))
    return out


def _frame(seam: Seam) -> tuple[Point, Point]:
    """Return the direction of a seam (towards +x, or +y when upright) and its normal to the left."""
    (ax, ay), (bx, by) = seam.line_mm[0], seam.line_mm[-1]
    run = math.hypot(bx - ax, by - ay)
    u = ((bx - ax) / run, (by - ay) / run)
    if u[0] < -1e-9 or (abs(u[0]) <= 1e-9 and u[1] < 0):
        u = (-u[0], -u[1])
    return u, (-u[1], u[0])


def _half(seam: Seam, upper: bool) -> Polygon:
    """Return a half plane beside a seam: above it, or below."""
    p = seam.line_mm[0]
    u, n = _frame(seam)
    s = 1.0 if upper else -1.0
    corners = [
        (p[0] + a * u[0] + b * s * n[0], p[1] + a * u[1] + b * s * n[1])
        for a, b in ((-_FAR, 0.0), (_FAR, 0.0), (_FAR, _FAR), (-_FAR, _FAR))
    ]
    return Polygon(corners)


def _along(whole: BaseGeometry, seam: Seam) -> tuple[float, float]:
    """Return where a seam's line enters and leaves a piece: distances from the seam's first point."""
    p = seam.line_mm[0]
    u, _ = _frame(seam)
    line = LineString([(p[0] - _FAR * u[0], p[1] - _FAR * u[1]), (p[0] + _FAR * u[0], p[1] + _FAR * u[1])])
    # A hair of room: an edge may lie on the line itself.
    cut = whole.buffer(0.01).intersection(line)
    if cut.is_empty:
        return 0.0, 0.0
    values = [
        (x - p[0]) * u[0] + (y - p[1]) * u[1]
        for part in get_parts(cut)
        for x, y in getattr(part, "coords", [])
    ]
    return min(values), max(values)


def _beyond(whole: BaseGeometry, at: Point, normal: Point) -> float:
    """Return how far a piece reaches beyond a point along a normal."""
    ray = LineString([at, (at[0] + _FAR * normal[0], at[1] + _FAR * normal[1])])
    cut = whole.buffer(0.01).intersection(ray)
    if cut.is_empty:
        return 0.0
    x0, y0, x1, y1 = cut.bounds
    reach = max((x - at[0]) * normal[0] + (y - at[1]) * normal[1] for x in (x0, x1) for y in (y0, y1))
    return max(0.0, float(reach) - 0.01)


def regular(layout: Layout) -> bool:
    """Return whether a blank is glued from staves, one seam between neighbours."""
    blank = layout.blank
    return len(blank.members) > 1 and len(blank.seams) == len(blank.members) - 1


def staves(plan: Plan, layout: Layout) -> list[Stave]:
    """Return the pieces of a glue-up, lowest first; an empty list when the blank is not made so."""
    blank = layout.blank
    pieces = {p.name: p for p in plan.shop.pieces}
    if not regular(layout) or any(m.piece not in pieces for m in blank.members):
        return []
    wholes = []
    for member in blank.members:
        shape = move_of(member).shape(pieces[member.piece].shape)
        wholes.append(make_valid(region(outlines_of(shape), 0.02)))
    out = []
    for k, (member, whole) in enumerate(zip(blank.members, wholes)):
        used = whole
        edges = []
        for j, upper in ((k - 1, False), (k, True)):
            if not 0 <= j < len(blank.seams):
                continue
            seam = blank.seams[j]
            used = used.intersection(_half(seam, not upper))
            edges.append(_edge(seam, upper, whole, wholes[j + 1 if upper else j]))
        out.append(
            Stave(
                letter=chr(ord("A") + k),
                piece=pieces[member.piece],
                member=member,
                whole=whole,
                used=used,
                edges=tuple(edges),
            )
        )
    return out


def _edge(seam: Seam, upper: bool, whole: BaseGeometry, neighbour: BaseGeometry) -> Edge:
    p = seam.line_mm[0]
    u, n = _frame(seam)

    def at(s: float) -> Point:
        return (p[0] + s * u[0], p[1] + s * u[1])

    mine, other = _along(whole, seam), _along(neighbour, seam)
    low, high = max(mine[0], other[0]), min(mine[1], other[1])
    middle = (low + high) / 2
    normal = n if upper else (-n[0], -n[1])
    return Edge(
        seam=seam,
        upper=upper,
        start=at(mine[0]),
        end=at(mine[1]),
        mark=at(middle),
        mark_mm=middle - mine[0],
        off_start_mm=_beyond(whole, at(low + 0.5), normal),
        off_end_mm=_beyond(whole, at(high - 0.5), normal),
    )


def shifted(area: BaseGeometry, dy: float) -> BaseGeometry:
    """Return an area moved up."""
    return affinity.translate(area, 0.0, dy)
