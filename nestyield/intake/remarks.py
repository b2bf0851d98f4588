"""What a rack says by the way: metal or a bow in a note, money in some rows only."""

from __future__ import annotations

import re
from collections.abc import Sequence

from nestyield.intake.problems import Problems, shown
from nestyield.model import Piece, Settings

_METAL = re.compile(r"\b(nail|screw|staple|brad|tack|metal)(s|ed)?\b", re.IGNORECASE)
_GONE = re.compile(r"\b(no|not|without|free|clear|clean|removed|pulled|drawn|out|gone)\b", re.IGNORECASE)


_UNFLAT = re.compile(r"\b(bow(?:ed)?|cup(?:ped)?|twist(?:ed)?|warp(?:ed)?|crook(?:ed)?)\b", re.IGNORECASE)
_FLAT = re.compile(r"\b(no|not|flat|flattened|jointed|planed|thickness)\b", re.IGNORECASE)


def tell_unflat_in_notes(pieces: Sequence[Piece], problems: Problems, file: str) -> None:
    """Warn of pieces that are bowed, cupped or twisted by their note alone: that takes from the thickness.

    Parameters
    ----------
    pieces : sequence of Piece
    problems : Problems
    file : str
        Name of the rack table.
    """
    for piece in pieces:
        said = _UNFLAT.search(piece.note)
        if said is None or _FLAT.search(piece.note) or piece.status != "ready" or piece.grain_deg is None:
            continue
        problems.warning(
            "R018",
            f"the note says {shown(said[0])}, but a plan does not read notes: enter the thickness left "
            'once it is flat, and "flat" in the note; or status hold',
            file,
            f"row {piece.row}, column thickness",
        )


def tell_metal_in_notes(pieces: Sequence[Piece], units: str, problems: Problems, file: str) -> None:
    """Warn of pieces whose note speaks of metal, where neither flaws nor defects have any.

    Parameters
    ----------
    pieces : sequence of Piece
        With their defects.
    units : str
        Of the shop.
    problems : Problems
    file : str
        Name of the rack table.
    """
    example = "1/8 in nail hole at 1 1/4, 5 3/4" if units == "in" else "3 mm nail hole at 30, 145"
    for piece in pieces:
        said = _METAL.search(piece.note)
        entered = any(d.traits.metal or d.traits.may_hold_metal for d in piece.defects)
        if said is None or _GONE.search(piece.note) or entered or piece.status == "taken":
            continue
        problems.warning(
            "R015",
            f"the note says {shown(said[0])}, but a plan does not read notes: write where under flaws, as "
            f'"{example}", or in the note that they are out',
            file,
            f"row {piece.row}, column note",
        )


def tell_money_in_some(pieces: Sequence[Piece], settings: Settings, problems: Problems, file: str) -> None:
    """Warn where some rows say what a piece is worth, others do not, and the shop file knows no prices.

    Parameters
    ----------
    pieces : sequence of Piece
    settings : Settings
    problems : Problems
    file : str
        Name of the rack table.
    """
    here = [p for p in pieces if p.status != "taken" and p.count]
    lacking = [p for p in here if p.value is None]
    if settings.value_per_board_foot or settings.value_classes or not lacking or len(lacking) == len(here):
        return
    money = f"1 {settings.currency}".strip()
    problems.warning(
        "R016",
        f"{len(lacking)} of {len(here)} rows have no value: they count {money} a board foot. Give each row a "
        "value, or the shop file a price a board foot: [value], other = 6",
        file,
        "column value",
    )
