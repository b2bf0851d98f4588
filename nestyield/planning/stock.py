"""Which pieces of the rack may serve a part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.bed.words import format_length
from nestyield.model import Blank, Member, Part, Piece, Settings, Units

Cause = Literal["taken", "on hold", "species", "too thin", "too thick", "shape", "bed", "spent", "not tried"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why one piece does not serve one part.

    Parameters
    ----------
    piece : str
    cause : str
        What kind of reason it is; the summary of a plan counts by it.
    text : str
        The reason with its numbers, to follow the piece's name.
    short_mm : float
        How far the piece is from serving, millimetres; infinity when no number says it.
    """

    piece: str
    cause: Cause
    text: str
    short_mm: float = float("inf")


def planed_away(piece: Piece, settings: Settings) -> float:
    """Return the thickness in mm that planing takes from a piece; nothing from sheets without grain."""
    return 0.0 if piece.grain_deg is None else 2 * settings.planing_mm


def unsuitable(part: Part, piece: Piece, settings: Settings, units: Units = "mm") -> Refusal | None:
    """Return why a piece cannot serve a part whatever its shape, or None when it may.

    Parameters
    ----------
    part : Part
    piece : Piece
        Status is not looked at: a piece on hold may be suitable.
    settings : Settings
    units : {"mm", "in"}
        For the reason.
    """
    if part.species and piece.species not in part.species:
        return Refusal(piece=piece.name, cause="species", text=f"is {piece.species}")
    away = planed_away(piece, settings)
    short = part.thickness_mm - (piece.thickness_mm - away) - settings.thickness_tolerance_mm
    if short > 1e-9:
        after = f" ({format_length(piece.thickness_mm - away, units)} after planing)" if away else ""
        return Refusal(
            piece=piece.name,
            cause="too thin",
            text=f"is {format_length(piece.thickness_mm, units)} thick{after}, {format_length(short, units, up=True)} too thin",
            short_mm=short,
        )
    sheet = piece.grain_deg is None
    most = settings.thickness_tolerance_mm if sheet else settings.most_planed_away_mm
    over = piece.thickness_mm - part.thickness_mm - most
    if over > 1e-9:
        told = "too thick: sheets are not planed" if sheet else "more than may be planed away"
        return Refusal(
            piece=piece.name,
            cause="too thick",
            text=f"is {format_length(piece.thickness_mm, units)} thick, {format_length(over, units, up=True)} {told}",
            short_mm=over,
        )
    return None


def blank_of(piece: Piece, copy: int = 1) -> Blank:
    """Return one copy of a piece as a blank, in the piece's own coordinates.

    Parameters
    ----------
    piece : Piece
    copy : int
        From 1; further copies carry ``/2``, ``/3`` ... in their name.
    """
    return Blank(
        name=piece.name if copy == 1 else f"{piece.name}/{copy}",
        members=(Member(piece=piece.name, copy=copy),),
        species=piece.species,
        thickness_mm=piece.thickness_mm,
        shape=piece.shape,
        grain_deg=piece.grain_deg,
        seams=piece.seams,
        defects=piece.defects,
    )
