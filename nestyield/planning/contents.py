"""What is in the rack, and what it is worth."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model import Piece, Settings, Shop
from nestyield.model.totals import knows_money
from nestyield.planning.worth import board_feet, size_of, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What the rack has of one wood.

    Parameters
    ----------
    species : str
    rows, pieces, held : int
        Rows, copies, and of those on hold.
    board_feet, value : float
        Of all copies; the value in the shop's money.
    largest : str
        The piece with the largest face.
    largest_mm : (length, width, thickness)
        Its size; the width of what is no rectangle is its area over its length.
    """

    species: str
    rows: int
    pieces: int
    held: int
    board_feet: float
    value: float
    largest: str
    largest_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class RackContents:
    """What is in the rack, and what it is worth.

    Parameters
    ----------
    holdings : tuple of Holding
        By value, the most first. Pieces that are taken do not count.
    knows_money : bool
        Whether any value is stated; else no value means anything.
    """

    holdings: tuple[Holding, ...]
    knows_money: bool


def rack_contents(shop: Shop) -> RackContents:
    """Add up the rack by species.

    Parameters
    ----------
    shop : Shop
    """
    by_species: dict[str, list[Piece]] = {}
    for piece in shop.pieces:
        if piece.status != "taken" and piece.count:
            by_species.setdefault(piece.species, []).append(piece)
    holdings = [_holding(name, pieces, shop.settings) for name, pieces in by_species.items()]
    by_worth = sorted(holdings, key=lambda h: (-h.value, -h.board_feet, h.species))
    return RackContents(holdings=tuple(by_worth), knows_money=knows_money(shop))


def _holding(species: str, pieces: list[Piece], settings: Settings) -> Holding:
    largest = max(pieces, key=lambda p: (p.shape.area_mm2, p.name))
    length, width = size_of(largest.shape, largest.grain_deg, settings)
    return Holding(
        species=species,
        rows=len(pieces),
        pieces=sum(p.count for p in pieces),
        held=sum(p.count for p in pieces if p.status == "hold"),
        board_feet=sum(p.count * board_feet(p.shape.area_mm2, p.thickness_mm) for p in pieces),
        value=sum(p.count * value_of(p, settings) for p in pieces),
        largest=largest.name,
        largest_mm=(length, width, largest.thickness_mm),
    )
