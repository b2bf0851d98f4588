"""What of the rack a blank takes."""

from __future__ import annotations

from dataclasses import replace

from nestyield.audit.curves import region
from nestyield.audit.leaves import leaf
from nestyield.model import Blank, Member, Piece, Shape

#: A piece that is crosscut loses more than this at an end, millimeters.
_SAWN_OFF_MM = 1.0


def sawn_off(blank: Blank) -> tuple[Member, Shape] | None:
    """Return the one member of a blank that is sawn off its piece, and what of the piece it is."""
    if len(blank.members) != 1 or blank.members[0].cut is None:
        return None
    return blank.members[0], blank.members[0].cut


def taken(blank: Blank, pieces: dict[str, Piece]) -> list[Piece | None]:
    """Return the pieces that a blank takes, one a copy; what is sawn off, and a leaf, counts by its own "
    "size."""
    sawn = sawn_off(blank)
    leaves = [m for m in blank.members if m.layer is not None]
    if sawn is None and not leaves:
        return [pieces.get(name) for name, _ in blank.copies]
    return [_share(m, pieces.get(m.piece)) for m in blank.members]


def _share(member: Member, piece: Piece | None) -> Piece | None:
    if piece is None:
        return None
    cut = piece.shape if member.cut is None else member.cut
    own = leaf(piece, member.layer)
    value = None if own.value is None else own.value * cut.area_mm2 / piece.shape.area_mm2
    return replace(own, shape=cut, value=value)


def shortened_copies(blank: Blank, pieces: dict[str, Piece]) -> list[tuple[str, int]]:
    """Return the copies of pieces of a glue-up that are crosscut before gluing, by their lowest member.

    What is cut from one copy into several members reaches from end to end of it, unless an end is sawn off
    first.
    """
    if len(blank.members) < 2 or blank.stack:
        return []
    if blank.on_edge:
        return list(blank.copies)
    cuts: dict[tuple[str, int], list[tuple[float, ...]]] = {}
    for m in blank.members:
        if m.cut is not None and m.layer is None and m.piece in pieces:
            cuts.setdefault((m.piece, m.copy), []).append(region(m.cut).bounds)
    out = []
    for (name, copy), boxes in cuts.items():
        whole = region(pieces[name].shape).bounds
        reach = [f(b[k] for b in boxes) for k, f in enumerate((min, min, max, max))]
        if any(abs(a - b) > pieces[name].measured_mm + _SAWN_OFF_MM for a, b in zip(reach, whole)):
            out.append((name, copy))
    return out
