"""Several members out of one piece of the rack: each within it, the saw's kerf apart."""

from __future__ import annotations

from itertools import combinations

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, region, thickness_of
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import Blank, Member, Piece


def sure_region(piece: Piece, member: Member | None = None) -> BaseGeometry:
    """Return the wood that a piece has in any case: its measuring error is taken off."""
    whole = region(piece.shape, member)
    return whole.buffer(-piece.measured_mm, join_style="mitre") if piece.measured_mm else whole


def check_cuts(bench: CheckedBlank, blank: Blank) -> None:
    """Check the members of a glue-up that are only part of their piece."""
    kerf = bench.sheet.plan.shop.settings.machines.saw_kerf_mm
    cuts = []
    for member in blank.members:
        piece = bench.sheet.pieces.get(member.piece)
        if member.cut is None or piece is None:
            continue
        ground = region(member.cut)
        cuts.append((member, ground))
        glued = len(blank.members) > 1
        past = thickness_of(ground.difference(sure_region(piece) if glued else region(piece.shape)))
        if past > TOL_MM:
            bench.say("A120", f"what is cut from piece {piece.name} reaches {past:.3f} mm past it")
    for (one, ground), (other, beside) in combinations(cuts, 2):
        if (one.piece, one.copy) != (other.piece, other.copy) or (one.layer and other.layer):
            continue  # leaves lie below each other, see check_book
        room = float(shapely.distance(ground, beside))
        if room < kerf - TOL_MM:
            bench.say(
                "A120",
                f"two members cut from piece {one.piece} lie {room:.3f} mm apart in it; "
                f"the saw takes {kerf:g} mm",
            )
