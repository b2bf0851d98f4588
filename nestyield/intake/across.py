"""Rows whose grain runs across their longer side: are length and width exchanged?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nestyield.intake.columns import MANY_ROWS
from nestyield.intake.problems import Problems
from nestyield.model import Order, Part, Piece, Settings
from nestyield.model.arcs import box_of
from nestyield.model.pose import Pose
from nestyield.words import Words, listed

#: A piece is said to be wider than long from this ratio on.
WIDER = 1.1
#: Sizes of pieces of one kind differ by no more than this share (common practice, no source).
ALIKE = 0.02
#: Parts that may turn farther lie either way.
MOST_TURN_DEG = 45.0


def tell_across(
    pieces: Sequence[Piece],
    said: Mapping[str, bool],
    parts: Sequence[Part],
    orders: Sequence[Order],
    settings: Settings,
    words: Words,
    problems: Problems,
    file: str,
) -> None:
    """Ask about pieces that are wider than long where no grain is entered.

    A warning where something speaks for an exchange: another row of the same sizes the right way round, or an
    order that only fits when the piece is turned round. Otherwise a note. Where a grain is entered only what
    speaks for an exchange is a note.

    Parameters
    ----------
    pieces : sequence of Piece
    said : mapping of str to bool
        Pieces that are written as length and width, and whether a grain is entered.
    parts : sequence of Part
    orders : sequence of Order
    settings : Settings
    words : Words
        In which lengths are told.
    problems : Problems
    file : str
        Name of the rack table.
    """
    wanted = {o.part for o in orders if not (o.hold or o.done)}
    asked = [p for p in parts if p.name in wanted and p.grain_tolerance_deg < MOST_TURN_DEG]
    found: dict[bool, list[tuple[Piece, str]]] = {True: [], False: []}
    for piece in pieces:
        length, width = _size(piece)
        if piece.name not in said or piece.grain_deg != 0.0 or width < WIDER * length or not _at_hand(piece):
            continue
        speaks = _alike(piece, pieces, words) or _let_in(piece, asked, settings)
        if speaks or not said[piece.name]:
            found[bool(speaks) and not said[piece.name]].append((piece, speaks))
    for sure, rows in found.items():
        tell = problems.warning if sure else problems.note
        for piece, speaks in rows if len(rows) < MANY_ROWS else rows[:1]:
            long, wide = (words.length(v, style="setting") for v in _size(piece))
            others = [p.name for p, _ in rows if p is not piece] if len(rows) >= MANY_ROWS else []
            more = f"; the same in {len(others)} more rows ({listed(others[:4])})" if others else ""
            tell(
                "R017",
                f"{piece.name} is {long} long and {wide} wide, so its grain runs the short way{speaks}; "
                f"if length and width are exchanged, change them; if not, write 0 under grain{more}",
                file,
                f"row {piece.row}",
            )


def on_it_if_turned(x_mm: float, y_mm: float, length_mm: float, width_mm: float) -> bool:
    """Tell whether a place outside a piece would lie on it if length and width were exchanged."""
    return 0.0 <= x_mm <= width_mm and 0.0 <= y_mm <= length_mm


def _size(piece: Piece) -> tuple[float, float]:
    box = box_of(piece.shape.outer)
    return box.x1 - box.x0, box.y1 - box.y0


def _at_hand(piece: Piece) -> bool:
    return piece.status != "taken" and piece.count > 0


def _alike(piece: Piece, pieces: Sequence[Piece], words: Words) -> str:
    """Return which other row has the same sizes, the other way round; ``""`` when none has."""
    length, width = _size(piece)
    for other in pieces:
        long, wide = _size(other)
        same = (other.species, other.thickness_mm) == (piece.species, piece.thickness_mm)
        if same and abs(long - width) <= ALIKE * width and abs(wide - length) <= ALIKE * length:
            return f", and that of {other.name} ({words.size(long, wide, style='setting')}) the long way"
    return ""


def _let_in(piece: Piece, parts: Sequence[Part], settings: Settings) -> str:
    """Return which part is too long for a piece as it is, and not when turned round; ``""`` when none is."""
    length, width = _size(piece)
    planed = piece.thickness_mm - 2.0 * settings.planing_mm + settings.thickness_tolerance_mm
    for part in parts:
        if part.grain_deg is None or (part.species and piece.species not in part.species):
            continue
        if (
            planed < part.thickness_mm
            or piece.thickness_mm - part.thickness_mm > settings.most_planed_away_mm
        ):
            continue
        box = box_of(Pose(angle_deg=-part.grain_deg).outline(part.outline))
        along, across = (v + 2.0 * settings.blank_margin_mm for v in (box.x1 - box.x0, box.y1 - box.y0))
        if along > length and along <= width and across <= length:
            return f"; turned round it would hold {part.name}"
    return ""
