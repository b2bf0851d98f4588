"""Defects to be filled: where they are and how much filler each takes."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model import Defect, Layout, Plan
from nestyield.paperwork import marks, measure
from nestyield.paperwork.curves import bounds, outlines_of
from nestyield.paperwork.words import clean


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


def amount(volume_ml: float) -> str:
    """Return how much filler, as one measures it: ``1.2 ml``."""
    return "under 0.1 ml" if volume_ml < 0.095 else f"{volume_ml:.1f} ml"


def rows(plan: Plan, layout: Layout) -> list[list[str]]:
    """Return one row a filling: part, sign, defect, face, left, bottom, size, filler.

    Left and bottom run from the blank's datum edges to the nearest edges of the defect.
    """
    u = plan.shop.units
    dx, dy, _, _ = bounds([layout.blank.shape.outer])
    out = []
    for item in fillings(layout):
        x0, y0, x1, y1 = bounds(outlines_of(item.defect.shape))
        out.append(
            [
                str(item.number),
                marks.letters(item.defect.kind),
                f"{item.defect.kind} ({clean(item.defect.name)})",
                {"through": "both"}.get(item.defect.face, item.defect.face),
                measure.number(x0 - dx, u),
                measure.number(y0 - dy, u),
                f"{measure.plain(x1 - x0, u)} × {measure.plain(y1 - y0, u)}",
                amount(item.volume_ml),
            ]
        )
    return out


def total(layout: Layout) -> str:
    """Return all filler of a blank together."""
    return amount(sum(f.volume_ml for f in layout.fills))
