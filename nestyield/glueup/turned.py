"""A rack piece as it lies in a glue-up: end for end, face for face, its grain along X."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from nestyield.geometry.flatten import flatten
from nestyield.model import Blank, GlueUpRules, Member, Piece, PieceFace
from nestyield.model.pose import Pose
from nestyield.wood.joints import END_GRAIN_DEG

#: A straight edge shorter than this part of the piece's length gives no tapered joint line.
_LEAST_EDGE = 0.5
_OTHER_FACE: dict[PieceFace, PieceFace] = {"top": "bottom", "bottom": "top", "through": "through"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedMember:
    """One piece laid so that its joint lines run along X.

    Parameters
    ----------
    row : int
        Index of the piece in the list searched.
    piece : Piece
    mirrored : bool
        Bottom face up.
    angle_deg : float
        Turn after mirroring; a few degrees off the grain for a tapered edge.
    grain_deg : float
        Direction of the piece's grain from the joint line, -90 to 90.
    blank : Blank
        The piece in turned coordinates, not yet shifted.
    """

    row: int
    piece: Piece
    mirrored: bool
    angle_deg: float
    grain_deg: float
    blank: Blank

    @property
    def pose(self) -> Pose:
        """From the piece to turned coordinates."""
        return Pose(mirrored=self.mirrored, angle_deg=self.angle_deg)


def turn(piece: Piece, row: int, mirrored: bool, angle_deg: float) -> TurnedMember:
    """Return a piece mirrored in X if so, then turned.

    Parameters
    ----------
    piece : Piece
    row : int
    mirrored : bool
    angle_deg : float
    """
    pose = Pose(mirrored=mirrored, angle_deg=angle_deg)
    grain = piece.grain_deg or 0.0
    seen = (180.0 - grain if mirrored else grain) + angle_deg
    off = (seen + 90.0) % 180.0 - 90.0
    defects = tuple(
        replace(d, shape=pose.shape(d.shape), face=_OTHER_FACE[d.face] if mirrored else d.face)
        for d in piece.defects
    )
    blank = Blank(
        name=piece.name,
        members=(Member(piece=piece.name, copy=1, angle_deg=angle_deg, mirrored=mirrored),),
        species=piece.species,
        thickness_mm=piece.thickness_mm,
        shape=pose.shape(piece.shape),
        grain_deg=0.0,
        defects=defects,
    )
    return TurnedMember(
        row=row, piece=piece, mirrored=mirrored, angle_deg=angle_deg, grain_deg=off, blank=blank
    )


def turnings(piece: Piece, row: int, rules: GlueUpRules) -> Iterator[TurnedMember]:
    """Give every way to lay a piece: end for end, face for face, and with a tapered edge on the joint line.

    Parameters
    ----------
    piece : Piece
    row : int
    rules : GlueUpRules
        The largest angle between a long straight edge and the grain that a joint line may follow. Where
        crossed grain is allowed, any at which the seam is no end-grain joint.
    """
    grain = piece.grain_deg or 0.0
    tapers = [0.0, *tapers_of(piece, rules)]
    for mirrored in (False, True):
        base = -(180.0 - grain) if mirrored else -grain
        for off in tapers:
            straight = (base - (-off if mirrored else off)) % 180.0
            for end in (0.0, 180.0):
                yield turn(piece, row, mirrored, (straight + end) % 360.0)


def tapers_of(piece: Piece, rules: GlueUpRules) -> list[float]:
    """Return the angles of long straight edges off the grain, degrees, within the taper allowed."""
    grain_deg = piece.grain_deg or 0.0
    taper_deg = END_GRAIN_DEG - 1e-6 if rules.crossing_allowed else rules.taper_deg
    ring = flatten(piece.shape.outer, 0.1, "inside").astype(float)
    steps = ring.take(range(1, len(ring) + 1), axis=0, mode="wrap") - ring
    lengths = [math.hypot(x, y) for x, y in steps.tolist()]
    found: list[float] = []
    for (x, y), length in zip(steps.tolist(), lengths):
        off = (math.degrees(math.atan2(y, x)) - grain_deg + 90.0) % 180.0 - 90.0
        if (
            0.02 < abs(off) <= taper_deg
            and length >= _LEAST_EDGE * max(lengths)
            and all(abs(off - o) > 0.01 for o in found)
        ):
            found.append(off)
    return sorted(found, key=abs)
