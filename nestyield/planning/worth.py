"""What stock is worth: by species, thickness and size, the rack's pieces and what comes back alike."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from shapely import box

from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import UM_PER_MM
from nestyield.geometry.shape import to_shapely
from nestyield.model import Blank, Layer, Part, Piece, Placement, Settings, Shape
from nestyield.model.pose import Pose
from nestyield.placement.stock import leaf_of

#: Cubic millimeters in a board foot: 144 cubic inches of exactly 25.4 mm.
MM3_PER_BOARD_FOOT = 144 * 25.4**3
#: A piece short of the least size of a class by no more than this belongs to it, millimeters.
SIZE_SLACK_MM = 0.5


def board_feet(area_mm2: float, thickness_mm: float) -> float:
    """Return the volume in board feet (144 cubic inches of exactly 25.4 mm)."""
    return area_mm2 * thickness_mm / MM3_PER_BOARD_FOOT


def size_of(shape: Shape, grain_deg: float | None, settings: Settings) -> tuple[float, float]:
    """Return length along the grain and mean width of a shape, millimeters.

    The width of what is no rectangle is its area over its length, as for grades (P). Without grain the
    length is the longer side of the box around it.
    """
    points = flatten(shape.outer, settings.chord_error_mm, "nearest") / UM_PER_MM
    size = np.ptp(Pose(angle_deg=-(grain_deg or 0.0)).array(points), axis=0)
    length = float(size.max() if grain_deg is None else size[0])
    return length, shape.area_mm2 / length


def rate_of(
    species: str, thickness_mm: float, shape: Shape, grain_deg: float | None, settings: Settings
) -> float:
    """Return what a board foot of stock is worth by the shop file.

    The value of the species, or that of ``other``, or 1 when there is no table of values at all; and of the
    size classes the first that the stock is thick, long and wide enough for.
    """
    table = settings.value_per_board_foot
    rate = table.get(species, table.get("", 0.0 if table else 1.0))
    if not settings.value_classes:
        return rate
    length, width = size_of(shape, grain_deg, settings)
    for kind in settings.value_classes:
        reaches = (
            thickness_mm >= kind.least_thickness_mm - SIZE_SLACK_MM
            and length >= kind.least_length_mm - SIZE_SLACK_MM
            and width >= kind.least_width_mm - SIZE_SLACK_MM
        )
        if reaches and (not kind.species or species in kind.species):
            return rate * kind.times if kind.per_board_foot is None else kind.per_board_foot
    return rate


def by_table(piece: Piece, settings: Settings) -> float:
    """Return what one copy of a piece is worth by the shop file, whatever its row says."""
    rate = rate_of(piece.species, piece.thickness_mm, piece.shape, piece.grain_deg, settings)
    return board_feet(piece.shape.area_mm2, piece.thickness_mm) * rate


def value_of(piece: Piece, settings: Settings) -> float:
    """Return what one copy of a piece is worth: what its row says, else what the shop file says.

    Returns
    -------
    float
        In the maker's money, or board feet when the shop knows no money.
    """
    return by_table(piece, settings) if piece.value is None else piece.value


def left_thickness_mm(blank: Blank, parts: Iterable[Part]) -> float:
    """Return how thick leftovers are: wood was planed to the thickest part on it, sheets stay as they are."""
    if blank.grain_deg is None:
        return blank.thickness_mm
    return min(blank.thickness_mm, max((p.thickness_mm for p in parts), default=blank.thickness_mm))


def left_value(
    blank: Blank, shape: Shape, thickness_mm: float, taken: Sequence[Piece], settings: Settings
) -> float:
    """Return what a leftover is worth: its share of the wood at what its own size makes of it.

    A board foot of it is worth what a board foot of the pieces taken is worth, or less when the shop file
    gives wood of its size less; never more, so that cutting makes nothing dearer. Of a glue-up each board's
    wood in it counts by that board.

    Parameters
    ----------
    blank : Blank
    shape : Shape
        Of the leftover.
    thickness_mm : float
        Of the leftover.
    taken : sequence of Piece
        Of which the blank is made, each copy once.
    settings : Settings
    """
    boards = _areas(blank, shape, taken) or [(taken, shape.area_mm2)]
    worth = 0.0
    for pieces, area in boards:
        feet = sum(board_feet(p.shape.area_mm2, p.thickness_mm) for p in pieces)
        value = sum(value_of(p, settings) for p in pieces)
        usual = sum(by_table(p, settings) for p in pieces)
        if feet <= 0 or value <= 0:
            continue
        species = pieces[0].species if len(pieces) == 1 else blank.species
        rate = rate_of(species, thickness_mm, shape, blank.grain_deg, settings)
        share = min(1.0, rate * feet / usual) if usual > 0 else 1.0
        worth += value / feet * board_feet(area, thickness_mm) * share
    return worth


def _areas(blank: Blank, shape: Shape, taken: Sequence[Piece]) -> list[tuple[Sequence[Piece], float]]:
    """Return how much of a leftover of a glue-up is off which board; nothing for any other blank.

    Seams of a glue-up run along x, each with the next board above it.
    """
    joints = [seam.line_mm[0][1] for seam in blank.seams]
    leaves = any(m.layer is not None for m in blank.members)
    if (
        len(blank.members) < 2
        or blank.stack
        or blank.on_edge
        or leaves
        or len(joints) != len(blank.members) - 1
    ):
        return []
    board = dict(zip(blank.copies, taken, strict=True))
    wood = to_shapely(shape)
    x0, y0, x1, y1 = wood.bounds
    edges = [y0, *joints, y1]
    return [
        ([board[m.piece, m.copy]], float(wood.intersection(box(x0, low, x1, high)).area))
        for m, low, high in zip(blank.members, edges, edges[1:])
        if high > low
    ]


def taken_by(blank: Blank, pieces: Iterable[Piece]) -> list[Piece]:
    """Return the pieces that a blank takes, one for each copy; of one that it is sawn off, its share."""
    by_name = {p.name: p for p in pieces}
    leaves = [m for m in blank.members if m.layer is not None and m.cut is not None]
    if leaves:
        return [share_of(by_name[m.piece], m.cut, m.layer) for m in leaves if m.cut is not None]
    if len(blank.members) == 1 and blank.members[0].cut is not None:
        return [share_of(by_name[blank.members[0].piece], blank.members[0].cut)]
    return [by_name[name] for name, _ in blank.copies]


def share_of(piece: Piece, cut: Shape, layer: Layer | None = None) -> Piece:
    """Return what is sawn off a piece as a piece of its own, worth its share by area where a row says its value.

    Of a leaf of the piece the share is one of its thickness, too.
    """
    piece = piece if layer is None else leaf_of(piece, layer)
    value = None if piece.value is None else piece.value * cut.area_mm2 / piece.shape.area_mm2
    return replace(piece, shape=cut, value=value)


def back_value(
    blank: Blank,
    placements: Sequence[tuple[Part, Placement]],
    usable: Iterable[Shape],
    taken: Sequence[Piece],
    settings: Settings,
) -> float:
    """Return what all usable leftovers of a blank are worth together."""
    thickness = left_thickness_mm(blank, [part for part, _ in placements])
    return sum(left_value(blank, shape, thickness, taken, settings) for shape in usable)
