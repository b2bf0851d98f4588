"""Tables of the wood's defects: on the whole blank, and in a leftover."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from nestyield.model import Defect, Layout, Leftover, LeftoverDefects, Plan
from nestyield.paperwork import marks, placing
from nestyield.paperwork.curves import bounds, outlines_of
from nestyield.paperwork.phrases.work import hole
from nestyield.paperwork.words import clean
from nestyield.words import Words

#: Longest table of defects.
MOST_ROWS = 16


def inside(layout: Layout, leftover: Leftover) -> str:
    """Return which defects and holes a leftover holds: ``3 × screw hole, wane, H1``; ``none``."""
    kinds = kinds_in(leftover, _held(layout), layout.blank.defects)
    made = layout.work.holes_in(leftover.name) if layout.work is not None else ()
    new = ", ".join(hole(each.name) for each in made)
    return f"{kinds}, {new}" if made and kinds != "none" else new or kinds


def kinds_in(leftover: Leftover, held: Sequence[LeftoverDefects], defects: Sequence[Defect]) -> str:
    """Return which of these defects a leftover is told to hold: ``3 × screw hole, wane``; ``none``."""
    names = {name for one in held if one.leftover == leftover.name for name in one.defects}
    many = Counter({d.name: d.kind for d in defects if d.name in names}.values())
    return ", ".join(k if n == 1 else f"{n} × {k}" for k, n in sorted(many.items())) or "none"


def clear_of(layout: Layout, leftover: Leftover, words: Words) -> str:
    """Return the size of the largest rectangle of a leftover that is clear of its defects, or ``none``."""
    return clear_size(leftover, _held(layout), words)


def clear_size(leftover: Leftover, held: Sequence[LeftoverDefects], words: Words) -> str:
    """Return the size of the largest clear rectangle that is told of a leftover, or ``none``."""
    size = next((one.clear_mm[2:] for one in held if one.leftover == leftover.name), (0.0, 0.0))
    return words.size(*size, rounding="wood") if min(size) > 0.0 else "none"


def _held(layout: Layout) -> tuple[LeftoverDefects, ...]:
    return layout.inspection.leftovers if layout.inspection is not None else ()


def rows(plan: Plan, layout: Layout, skip: Sequence[str] = ()) -> list[list[str]]:
    """Return one row a defect: sign, kind, face, depth, left, bottom, size; those named in ``skip`` left out.

    Left and bottom as in ``placing``.
    """
    words = Words(plan.shop.units)
    dx, dy, _, _ = bounds([layout.blank.shape.outer])
    out = []
    for defect in layout.blank.defects:
        if defect.name in skip:
            continue
        out.append(
            [
                marks.letters(defect.kind),
                clean(defect.kind),
                {"through": "both"}.get(defect.face, defect.face),
                "–" if defect.depth_mm is None else words.depth(defect.depth_mm),
                *placing.columns(outlines_of(defect.shape), (dx, dy), words),
            ]
        )
    return out
