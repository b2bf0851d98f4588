"""What is ripped off the boards of a glue-up and goes back on the rack, rough: strips along its seams."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from nestyield.glueup.boards import Board, boards_of
from nestyield.glueup.record import glue_up
from nestyield.glueup.rip_offcuts import strips
from nestyield.model import Blank, GlueUp, Layout, Piece, RipOffcut, Shop
from nestyield.model.pose import Pose
from nestyield.placement.stock import blank_of
from nestyield.planning.worth import board_feet, left_value


def ripped_off(blank: Blank, pieces: Mapping[str, Piece], shop: Shop) -> tuple[float, float]:
    """Return value and board feet of the strips that are worth keeping; zeros for a blank of one board.

    Parameters
    ----------
    blank : Blank
    pieces : mapping of str to Piece
        Those that it is made of, by name.
    shop : Shop
    """
    settings = shop.settings
    seams = {seam.name: seam for seam in blank.seams}
    value = feet = 0.0
    for board in boards_of(blank, pieces, settings.jointing_mm, shop.units):
        for strip in strips(board, seams, settings):
            value += _worth(strip, board, shop)
            feet += board_feet(strip.area_mm2, board.piece.thickness_mm) if strip.usable else 0.0
    return value, feet


def glue_up_of(layout: Layout, shop: Shop) -> GlueUp | None:
    """Return how a layout's blank is glued up, with what each strip is worth."""
    glued = glue_up(layout, shop)
    if glued is None:
        return None
    pieces = {m.piece: shop.piece(m.piece) for m in layout.blank.members}
    boards = boards_of(layout.blank, pieces, shop.settings.jointing_mm, shop.units)
    members = tuple(
        replace(told, strips=tuple(replace(s, value=_worth(s, board, shop)) for s in told.strips))
        for told, board in zip(glued.members, boards, strict=True)
    )
    return replace(glued, members=members)


def _worth(strip: RipOffcut, board: Board, shop: Shop) -> float:
    if not strip.usable:
        return 0.0
    piece = board.piece
    shape = Pose.of(board.member).inverse().shape(strip.shape)
    return left_value(blank_of(piece), shape, piece.thickness_mm, [piece], shop.settings)
