"""Where an outline is, as a maker measures it: what is round by its middle, all else by its nearest edges."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model import Outline, Point
from nestyield.paperwork.curves import bounds, circle_of
from nestyield.words import Words

#: What the columns of such a place mean, for the foot of a table.
MEANING = "Left, bottom: from the datum edges to the middle of what is round (ø), else to the nearest edges."


def place(outlines: Sequence[Outline], datum: Point) -> tuple[float, float]:
    """Return how far an outline is from the left and the bottom datum edge, millimeters.

    Parameters
    ----------
    outlines : sequence of Outline
        The outer one first.
    datum : (x, y)
        Corner that is measured from.
    """
    found = circle_of(outlines[0])
    x, y = (found[0], found[1]) if found is not None else bounds(outlines)[:2]
    return x - datum[0], y - datum[1]


def columns(outlines: Sequence[Outline], datum: Point, words: Words) -> list[str]:
    """Return left, bottom and size of an outline for a table: ``94.4``, ``179.1``, ``ø 11``."""
    found = circle_of(outlines[0])
    x0, y0, x1, y1 = bounds(outlines)
    size = (
        f"ø {words.number(2 * found[2], style='fine')}"
        if found is not None
        else f"{words.number(x1 - x0)} × {words.number(y1 - y0)}"
    )
    return [*(words.column(v) for v in place(outlines, datum)), size]
