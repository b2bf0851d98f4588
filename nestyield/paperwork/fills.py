"""Defects to be filled: where they are and how much filler each takes."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model import Defect, Layout, Plan
from nestyield.paperwork import marks, placing
from nestyield.paperwork.curves import bounds, outlines_of
from nestyield.paperwork.words import clean
from nestyield.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """One filling, with the defect that it closes.

    Parameters
    ----------
    number : int
        Of the part on the blank, from 1.
    defect : Defect
    volume_ml : float
    """

    number: int
    defect: Defect
    volume_ml: float


def fillings(layout: Layout) -> list[Filling]:
    """Return the fillings of a layout, by part and defect."""
    defects = {d.name: d for d in layout.blank.defects}
    return [
        Filling(number=f.placement + 1, defect=defects[f.defect], volume_ml=f.volume_ml)
        for f in layout.fills
        if f.defect in defects
    ]


def rows(plan: Plan, layout: Layout) -> list[list[str]]:
    """Return one row a filling: part, sign, defect, face, left, bottom, size, filler.

    Left and bottom as in ``placing``.
    """
    words = Words(plan.shop.units)
    dx, dy, _, _ = bounds([layout.blank.shape.outer])
    out = []
    for item in fillings(layout):
        out.append(
            [
                str(item.number),
                marks.letters(item.defect.kind),
                f"{item.defect.kind} ({clean(item.defect.name)})",
                {"through": "both"}.get(item.defect.face, item.defect.face),
                *placing.columns(outlines_of(item.defect.shape), (dx, dy), words),
                words.volume(item.volume_ml, rounding="up"),
            ]
        )
    return out


def total(plan: Plan, layout: Layout) -> str:
    """Return all filler of a blank together, rounded up as each filling is."""
    return Words(plan.shop.units).volume(sum(f.volume_ml for f in layout.fills), rounding="up")
