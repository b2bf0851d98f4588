"""Whether a piece is still the piece that a plan was made with."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model import Defect, Piece
from nestyield.words import Words

#: What a plan rests on; shelf, note, value, parent and the row's number may change freely.
_FIELDS = (
    ("species", "species"),
    ("thickness_mm", "thickness"),
    ("shape", "outline"),
    ("grain_deg", "grain"),
    ("moisture_pct", "moisture"),
    ("measured_mm", "measuring error"),
)


def differences(planned: Piece, now: Piece | None, copies: int, words: Words) -> tuple[str, ...]:
    """Tell what about a piece has changed since the plan that matters to the copies it uses.

    Parameters
    ----------
    planned : Piece
        As the plan has it.
    now : Piece or None
        As the rack table has it now; None when the row is gone.
    copies : int
        Copies of the row that are to be used.
    words : Words
        Writes lengths as the shop does.

    Returns
    -------
    tuple of str
        One reason each; empty when the plan still holds.
    """
    name = planned.name
    if now is None:
        return (f"{name} is no longer in the rack table",)
    reasons = []
    if now.status != "ready":
        reasons.append(f"{name} is now {'on hold' if now.status == 'hold' else now.status}")
    if now.count < copies:
        reasons.append(f"{name}: {copies} wanted, {now.count} left")
    for field, word in _FIELDS:
        before, after = getattr(planned, field), getattr(now, field)
        if before != after:
            shown = words.thickness if field.endswith("_mm") else _shown
            values = "" if field == "shape" else f" from {shown(before)} to {shown(after)}"
            reasons.append(f"{name}: the {word} was changed{values}")
    if _plain(planned.defects) != _plain(now.defects):
        reasons.append(f"{name}: its defects were changed")
    if [s.line_mm for s in planned.seams] != [s.line_mm for s in now.seams]:
        reasons.append(f"{name}: its seams were changed")
    return tuple(reasons)


def _plain(defects: Sequence[Defect]) -> list[str]:
    """Return defects without their names (a row may have moved), in an order of their own."""
    return sorted(repr((d.kind, d.shape, d.face, d.depth_mm)) for d in defects)


def _shown(value: object) -> str:
    if value is None:
        return "none"
    return f"{value:g}" if isinstance(value, float) else str(value)
