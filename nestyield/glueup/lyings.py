"""The ways in which a part is laid in a blank to be glued."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.glueup.band import OrientedPart, lay
from nestyield.glueup.turned import tapers_of
from nestyield.model import GlueUpRules, Part, Piece, Settings
from nestyield.placement.candidates import orientations

#: Most directions of tapered edges along which a part is laid.
_MOST_TAPERS = 6
#: Directions closer than this are tried as one, degrees.
_SAME_TAPER_DEG = 0.1

_USUAL = GlueUpRules()


def lyings(
    part: Part, settings: Settings, pieces: Sequence[Piece] = (), rules: GlueUpRules = _USUAL
) -> list[OrientedPart]:
    """Return the ways to lay a part in a blank to be glued that differ by more than turning the blank over.

    Pieces are turned freely, so front up and head first stand for all; mirrored parts are another case. Where
    pieces have tapered edges, the part is also laid along the grain of such a piece.
    """
    tapers: list[float] = []
    for piece in sorted(pieces, key=lambda p: (-p.shape.area_mm2, p.name)):
        for off in tapers_of(piece, rules):
            if len(tapers) < _MOST_TAPERS and all(abs(abs(off) - t) > _SAME_TAPER_DEG for t in tapers):
                tapers.append(abs(off))
    out = []
    for way in orientations(part, 0.0):
        if way.front_up and way.middle_deg < 180.0:
            angles = list(way.angles(1))
            more = [way.middle_deg + sign * off for off in tapers for sign in (1.0, -1.0)]
            angles += [a for a in more if all(abs(a - b) > _SAME_TAPER_DEG for b in angles)]
            out += [lay(part, settings, angle, way.mirrored) for angle in angles]
    return sorted(out, key=lambda lying: min(lying.angle_deg % 180.0, -lying.angle_deg % 180.0))
