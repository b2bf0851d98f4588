"""The pieces of a glue-up as they lie: where each is ripped, what stays, what is slid how far.

Members of a blank lie in order, lowest first; seam ``k`` joins member ``k`` to member ``k + 1``. A seam runs
from left to right, or upwards when it stands upright.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely import get_coordinates, get_parts, union_all
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry

from nestyield.geometry.shape import to_shapely
from nestyield.model import Blank, GlueEdge, Member, Outline, Piece, Point, Seam, Shape, Units
from nestyield.model.pose import Pose
from nestyield.placement.stock import leaf_of

#: Longer than any blank, millimeters.
FAR_MM = 1.0e5
#: An edge may lie on the line itself: room that is given when lines are cut, millimeters.
_HAIR_MM = 0.01
#: Chords of the pieces' arcs lie within this, millimeters.
_CHORD_MM = 0.02
#: A piece is measured as on the rack while it lies no more askew, and has wood so near its corner.
MOST_ASKEW_DEG = 10.0
NO_CORNER_MM = 5.0
#: A piece that is crosscut loses more than this at an end, millimeters.
LEAST_SAWN_OFF_MM = 1.0
#: What comes off is measured this far in from the ends of the jointed edge: 25 mm, or 1 in.
IN_MM: dict[Units, float] = {"mm": 25.0, "in": 25.4}


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The line of a seam.

    Parameters
    ----------
    origin : point
        First point of the seam.
    along, left : point
        Unit vectors: to the right end of the seam, and towards the upper member.
    """

    origin: Point
    along: Point
    left: Point

    @classmethod
    def of(cls, seam: Seam) -> Frame:
        """Return the frame of a straight seam."""
        (ax, ay), (bx, by) = seam.line_mm[0], seam.line_mm[-1]
        run = math.hypot(bx - ax, by - ay)
        u = ((bx - ax) / run, (by - ay) / run)
        if u[0] < -1e-9 or (abs(u[0]) <= 1e-9 and u[1] < 0):
            u = (-u[0], -u[1])
        return cls(origin=(ax, ay), along=u, left=(-u[1], u[0]))

    def point(self, s: float, t: float = 0.0) -> Point:
        """Return the point ``s`` along the seam from its origin and ``t`` towards the upper member."""
        (x, y), (ux, uy), (nx, ny) = self.origin, self.along, self.left
        return (x + s * ux + t * nx, y + s * uy + t * ny)

    def where(self, p: Point) -> tuple[float, float]:
        """Return a point's ``s`` and ``t``."""
        dx, dy = p[0] - self.origin[0], p[1] - self.origin[1]
        (ux, uy), (nx, ny) = self.along, self.left
        return (dx * ux + dy * uy, dx * nx + dy * ny)

    def half(self, upper: bool, beyond_mm: float = 0.0) -> Polygon:
        """Return the half plane above the seam (or below), begun so far beyond it."""
        sign = 1.0 if upper else -1.0
        near, far = sign * beyond_mm, sign * FAR_MM
        return Polygon(
            [self.point(s, t) for s, t in ((-FAR_MM, near), (FAR_MM, near), (FAR_MM, far), (-FAR_MM, far))]
        )

    def band(self, upper: bool, deep_mm: float) -> Polygon:
        """Return the strip along the seam above it (or below), so deep."""
        deep = deep_mm if upper else -deep_mm
        return Polygon(
            [self.point(s, t) for s, t in ((-FAR_MM, 0.0), (FAR_MM, 0.0), (FAR_MM, deep), (-FAR_MM, deep))]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """How places on a piece are told: from a corner along one way and across another.

    Parameters
    ----------
    corner : point
        Blank coordinates.
    along, across : point
        Unit vectors, blank coordinates.
    on_rack : bool
        Whether that is how the piece is measured on the rack; otherwise as it lies.
    """

    corner: Point
    along: Point
    across: Point
    on_rack: bool

    def tell(self, p: Point) -> Point:
        """Return a point of the blank as a maker measures it."""
        dx, dy = p[0] - self.corner[0], p[1] - self.corner[1]
        s = dx * self.along[0] + dy * self.along[1]
        t = dx * self.across[0] + dy * self.across[1]
        return (round(s, 4) + 0.0, round(t, 4) + 0.0)

    def size(self, area: BaseGeometry) -> Point:
        """Return the greatest extent of an area along and across."""
        told = [self.tell((x, y)) for x, y in area.convex_hull.exterior.coords]
        xs, ys = [s for s, _ in told], [t for _, t in told]
        return (round(max(xs) - min(xs), 4), round(max(ys) - min(ys), 4))

    @classmethod
    def of(cls, piece: Piece, member: Member, whole: BaseGeometry, frame: Frame) -> Ruler:
        """Return the ruler of a piece: as on the rack where its corner and its length can be found on it.

        A piece that lies askew of how it was measured, or whose measuring box has no wood at its corner, is
        measured as it lies: from the lower left of the box around it, along the joint and square to it.
        """
        x0, y0 = corner(piece, member)
        at = in_blank((x0, y0), member)
        x, y = in_blank((x0 + 1.0, y0), member), in_blank((x0, y0 + 1.0), member)
        along, across = (x[0] - at[0], x[1] - at[1]), (y[0] - at[0], y[1] - at[1])
        askew = abs(along[0] * frame.left[0] + along[1] * frame.left[1])
        if askew <= math.sin(math.radians(MOST_ASKEW_DEG)) and whole.distance(Spot(at)) <= NO_CORNER_MM:
            return cls(corner=at, along=along, across=across, on_rack=True)
        box = [frame.where((x, y)) for x, y in whole.convex_hull.exterior.coords]
        low = frame.point(min(s for s, _ in box), min(t for _, t in box))
        return cls(corner=low, along=frame.along, across=frame.left, on_rack=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A piece as it goes into a glue-up.

    Parameters
    ----------
    letter : str
        ``A`` is lowest.
    piece : Piece
    member : Member
    whole, used : geometry
        Before and after ripping, blank coordinates.
    ruler : Ruler
    edges : tuple of GlueEdge
        Lower one first.
    """

    letter: str
    piece: Piece
    member: Member
    whole: BaseGeometry
    used: BaseGeometry
    ruler: Ruler
    edges: tuple[GlueEdge, ...]


def shapes(area: BaseGeometry, least_mm2: float = 1.0) -> tuple[Shape, ...]:
    """Return the connected pieces of an area as shapes of straight lines, without dust, largest first."""
    found = [p for p in get_parts(area) if p.geom_type == "Polygon" and p.area >= least_mm2]

    def outline(ring: BaseGeometry) -> Outline:
        points = [(round(x, 4) + 0.0, round(y, 4) + 0.0) for x, y in list(ring.coords)[:-1]]
        return Outline.polygon(points)

    found.sort(key=lambda p: (-round(p.area, 3), p.bounds))
    return tuple(
        Shape(outer=outline(p.exterior), holes=tuple(outline(h) for h in p.interiors)) for p in found
    )


def on_piece(p: Point, member: Member) -> Point:
    """Return a point of the blank in the piece's own coordinates."""
    return Pose.of(member).inverse().point(p)


def in_blank(p: Point, member: Member) -> Point:
    """Return a point of the piece in blank coordinates."""
    return Pose.of(member).point(p)


def corner(piece: Piece, member: Member) -> Point:
    """Return the corner where length and width begin of what becomes a member, the piece's coordinates."""
    x0, y0, _, _ = to_shapely(wood_of(piece, member), _CHORD_MM).bounds
    return (float(x0), float(y0))


def joins(blank: Blank) -> tuple[tuple[int, int], ...]:
    """Return which members each seam joins, the lower first; none for a blank that is not of boards."""
    if len(blank.members) < 2 or len(blank.seams) != len(blank.members) - 1:
        return ()
    return tuple((k, k + 1) for k in range(len(blank.seams)))


def wood_of(piece: Piece, member: Member) -> Shape:
    """Return what a member is ripped from, the piece's own coordinates: the piece, or what it was sawn to."""
    return piece.shape if member.cut is None else member.cut


def shortened(cut: Sequence[Board]) -> dict[tuple[str, int], list[Board]]:
    """Return the members of each copy of a piece that is crosscut before gluing: they do not reach from end to end.

    Parameters
    ----------
    cut : sequence of Board
    """
    groups: dict[tuple[str, int], list[Board]] = {}
    for board in cut:
        if board.member.cut is not None and board.member.layer is None:
            groups.setdefault((board.piece.name, board.member.copy), []).append(board)
    return {copy: boards for copy, boards in groups.items() if _short_of_ends(boards)}


def _short_of_ends(boards: Sequence[Board]) -> bool:
    """Tell whether members of one copy reach less far than it does, its measuring error aside."""
    piece = boards[0].piece
    x0, y0, x1, y1 = union_all([to_shapely(b.member.cut) for b in boards if b.member.cut is not None]).bounds
    whole = to_shapely(piece.shape).bounds
    off = (x0 - whole[0], y0 - whole[1], whole[2] - x1, whole[3] - y1)
    return float(max(off)) > piece.measured_mm + LEAST_SAWN_OFF_MM


def member_piece(piece: Piece, member: Member) -> Piece:
    """Return a piece as it becomes a member: all of its thickness, or the leaf of it that the member is."""
    return piece if member.layer is None else leaf_of(piece, member.layer)


def boards_of(
    blank: Blank, pieces: Mapping[str, Piece], jointing_mm: float, units: Units = "mm"
) -> tuple[Board, ...]:
    """Return the pieces of a glue-up, lowest first; none when the blank is not made so.

    Parameters
    ----------
    blank : Blank
    pieces : mapping of str to Piece
    jointing_mm : float
        Comes off each jointed edge after the saw.
    units : {"mm", "in"}
        For round figures of where to measure.
    """
    joined = joins(blank)
    if not joined or any(m.piece not in pieces for m in blank.members):
        return ()
    wholes = [_laid(pieces[m.piece], m) for m in blank.members]
    frames = [Frame.of(seam) for seam in blank.seams]
    out = []
    for k, (member, whole) in enumerate(zip(blank.members, wholes)):
        used, edges = whole, []
        piece = member_piece(pieces[member.piece], member)
        own = next(j for j, ends in enumerate(joined) if k in ends)
        ruler = Ruler.of(piece, member, whole, frames[own])
        for j, (lower, above) in sorted(enumerate(joined), key=lambda join: join[1][0] == k):
            if k in (lower, above):
                upper = k == lower
                used = used.intersection(frames[j].half(not upper))
                neighbor = wholes[above if upper else lower]
                edges.append(_edge(blank.seams[j], upper, ruler, whole, neighbor, jointing_mm, units))
        if piece.measured_mm:  # the blank is only what is there in any case
            used = used.intersection(to_shapely(blank.shape, _CHORD_MM))
        letter = chr(ord("A") + k)
        out.append(
            Board(
                letter=letter,
                piece=piece,
                member=member,
                whole=whole,
                used=used,
                ruler=ruler,
                edges=tuple(edges),
            )
        )
    return tuple(out)


def _laid(piece: Piece, member: Member) -> BaseGeometry:
    """Return a piece where it lies, millimeters."""
    return to_shapely(Pose.of(member).shape(wood_of(piece, member)), _CHORD_MM)


def along(whole: BaseGeometry, frame: Frame) -> tuple[float, float]:
    """Return where the line of a seam enters and leaves a piece, from the seam's origin."""
    line = LineString([frame.point(-FAR_MM), frame.point(FAR_MM)])
    cut = whole.buffer(_HAIR_MM).intersection(line)
    values = [frame.where((x, y))[0] for x, y in get_coordinates(cut).tolist()]
    return (min(values) + _HAIR_MM, max(values) - _HAIR_MM) if values else (0.0, 0.0)


def _beyond(whole: BaseGeometry, frame: Frame, s: float, sign: float) -> float:
    """Return how far a piece reaches beyond the seam at ``s``."""
    ray = LineString([frame.point(s), frame.point(s, sign * FAR_MM)])
    cut = whole.buffer(_HAIR_MM).intersection(ray)
    reach = [sign * frame.where((x, y))[1] for x, y in get_coordinates(cut).tolist()]
    return max(0.0, max(reach, default=0.0) - _HAIR_MM)


def _edge(
    seam: Seam,
    upper: bool,
    ruler: Ruler,
    whole: BaseGeometry,
    neighbor: BaseGeometry,
    jointing_mm: float,
    units: Units,
) -> GlueEdge:
    frame = Frame.of(seam)
    mine, other = along(whole, frame), along(neighbor, frame)
    low, high = max(mine[0], other[0]), min(mine[1], other[1])
    middle = (low + high) / 2
    sign = 1.0 if upper else -1.0

    def measured(s: float, t: float) -> Point:
        return ruler.tell(frame.point(s, t))

    inside = min(IN_MM[units], (mine[1] - mine[0]) / 4)
    stations = (mine[0] + inside, mine[1] - inside)
    return GlueEdge(
        seam=seam.name,
        upper=upper,
        line_mm=(_round(frame.point(mine[0])), _round(frame.point(mine[1]))),
        on_piece_mm=(measured(mine[0], 0.0), measured(mine[1], 0.0)),
        rip_on_piece_mm=(measured(mine[0], sign * jointing_mm), measured(mine[1], sign * jointing_mm)),
        off_at_mm=(round(stations[0] - mine[0], 4), round(stations[1] - mine[0], 4)),
        off_mm=(
            round(_beyond(whole, frame, stations[0], sign), 4),
            round(_beyond(whole, frame, stations[1], sign), 4),
        ),
        mark_mm=round(middle - mine[0], 4),
        mark_at_mm=_round(frame.point(middle)),
    )


def _round(p: Point) -> Point:
    return (round(p[0], 4) + 0.0, round(p[1], 4) + 0.0)
