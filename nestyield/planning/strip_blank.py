"""The blank of strips on edge: each ripped off its board, turned by a quarter and glued face to face."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely import box as rectangle

from nestyield.geometry.shape import to_shapely
from nestyield.model import Blank, Defect, Member, Outline, Piece, Seam, Settings, Shape, Strip
from nestyield.model.arcs import box_of
from nestyield.model.pose import Pose
from nestyield.placement.stock import SAME_MM
from nestyield.planning.laminated_blank import at_depth

#: What of a defect lies in a strip and is smaller is not told, square millimeters.
_LEAST_MM2 = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class RippedStrip:
    """A strip as it lies in its board.

    Parameters
    ----------
    row : int
        Of the board.
    copy : int
        Which of the row's copies, from 1, among those that the blank takes.
    low_um : (int, int)
        Its corner nearest to where length and width begin, piece coordinates.
    long_um, wide_um : int
        Along and across the grain.
    """

    row: int
    copy: int
    low_um: tuple[int, int]
    long_um: int
    wide_um: int

    @property
    def cut(self) -> Shape:
        """Its outline on the board, millimeters."""
        (x, y), (a, b) = self.low_um, (self.long_um, self.wide_um)
        return Shape(outer=Outline.rectangle(x / 1000, y / 1000, (x + a) / 1000, (y + b) / 1000))


#: How a strip lies once it is turned: end for end, and with the nearer edge up.
Lies = tuple[bool, bool]


def glued_um(piece: Piece, settings: Settings) -> int:
    """Return how much of a blank's width a strip of a board makes, once both faces are planed, micrometers."""
    return round(1000 * (piece.thickness_mm - 2.0 * settings.planing_mm))


def strip_blank(
    pieces: Sequence[Piece], strips: Sequence[RippedStrip], lies: Sequence[Lies], settings: Settings
) -> Blank:
    """Return the blank of strips, the lowest along its lower edge, grain along X.

    Parameters
    ----------
    pieces : sequence of Piece
        The rack.
    strips : sequence of RippedStrip
        All of one length and width, lowest first.
    lies : sequence of (bool, bool)
        How each lies.
    settings : Settings
    """
    off = settings.planing_mm
    members: list[Member] = []
    defects: list[Defect] = []
    edges = [0]
    for strip, (ended, near_up) in zip(strips, lies, strict=True):
        piece = pieces[strip.row]
        thick = glued_um(piece, settings)
        # the pose mirrors in X first: a strip that is end for end only is turned by half, and its faces change sides
        turned = ended != near_up
        x0, x1 = strip.low_um[0], strip.low_um[0] + strip.long_um
        member = Member(
            piece=piece.name,
            copy=strip.copy,
            angle_deg=180.0 if turned else 0.0,
            mirrored=near_up,
            x_um=x1 if ended else -x0,
            y_um=edges[-1] + (thick if turned else 0),
            cut=strip.cut,
            strip=Strip(top_off_mm=off, bottom_off_mm=off),
        )
        members.append(member)
        defects += turned_defects(piece, member)
        edges.append(edges[-1] + thick)
    long = strips[0].long_um / 1000
    return Blank(
        name="strips",
        members=tuple(members),
        species=" + ".join(dict.fromkeys(pieces[s.row].species for s in strips)),
        thickness_mm=strips[0].wide_um / 1000,
        shape=Shape(outer=Outline.rectangle(0.0, 0.0, long, edges[-1] / 1000)),
        grain_deg=0.0,
        seams=tuple(
            Seam(name=f"seam {k}", line_mm=((0.0, y / 1000), (long, y / 1000)))
            for k, y in enumerate(edges[1:-1], start=1)
        ),
        defects=tuple(defects),
    )


def turned_defects(piece: Piece, member: Member) -> list[Defect]:
    """Return what of a board's defects is in a strip of it, as it lies in the blank, never smaller than it is.

    The box around what lies in the strip is turned: its width becomes depth, its depth becomes width.

    Parameters
    ----------
    piece : Piece
    member : Member
    """
    assert member.cut is not None
    assert member.strip is not None
    cut, off = box_of(member.cut.outer), member.strip
    wood = rectangle(cut.x0, cut.y0, cut.x1, cut.y1)
    wide, thick = cut.height, piece.thickness_mm - off.top_off_mm - off.bottom_off_mm
    pose = Pose.of(member)
    out = []
    for defect in piece.defects:
        here = to_shapely(defect.shape).intersection(wood)
        top, bottom = defect.span_mm(piece.thickness_mm)
        low, high = max(0.0, top - off.top_off_mm), min(thick, bottom - off.top_off_mm)
        if here.area <= _LEAST_MM2 or high - low <= SAME_MM:
            continue
        x0, y0, x1, y1 = here.bounds
        first, last = cut.y1 - y1, cut.y1 - y0
        if member.mirrored:
            first, last = wide - last, wide - first
        shape = pose.shape(Shape(outer=Outline.rectangle(x0, low, x1, high)))
        out.append(replace(at_depth(defect, max(0.0, first), min(wide, last), wide), shape=shape))
    return out
