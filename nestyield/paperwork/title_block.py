"""The title block of a sheet: what it is of, by which plan and program, in which unit and scale."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from nestyield.model import Layout, Plan
from nestyield.paperwork import fonts
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.page import MARGIN_MM, Pages, wrap
from nestyield.paperwork.words import clean
from nestyield.planfile.text import PlanFileError, dumps
from nestyield.version import VERSION
from nestyield.words import Words

#: Height of one of its two rows, mm.
_ROW_MM = 5.6
#: Height with the gap below it, mm.
HEIGHT_MM = 2 * _ROW_MM + 2.0
_DIGITS = 8
# The plan that was asked for last, with its number: sheets of one plan are made one after the other.
_last: list[tuple[Plan, str]] = []


def plan_number(plan: Plan) -> str:
    """Return the first digits of the SHA-256 of ``plan.json``, as they stand in ``SHA256SUMS``.

    A dash for a plan that no ``plan.json`` can hold.
    """
    if not _last or _last[0][0] is not plan:
        try:
            number = hashlib.sha256(dumps(plan)).hexdigest()[:_DIGITS]
        except PlanFileError:
            number = "–"
        _last[:] = [(plan, number)]
    return _last[0][1]


def orders(layout: Layout) -> str:
    """Return the orders on a blank with the copies that it makes: ``spring, copies 1, 2``."""
    found: dict[str, list[str]] = {}
    for placement in layout.placements:
        found.setdefault(clean(placement.order), []).append(str(placement.copy))
    return "; ".join(
        f"{name}, {'copy' if len(copies) == 1 else 'copies'} {', '.join(copies)}"
        for name, copies in found.items()
    )


def _cells(layout: Layout) -> list[str]:
    parts: dict[str, int] = {}
    for placement in layout.placements:
        parts[clean(placement.part)] = parts.get(clean(placement.part), 0) + 1
    made = ", ".join(name if n == 1 else f"{n} × {name}" for name, n in parts.items())
    return [f"Part: {made}", f"Order: {orders(layout)}"]


def _of_plan(plan: Plan, scale: str) -> list[str]:
    words = Words(plan.shop.units)
    return [
        f"Plan {plan_number(plan)}",
        f"nestyield {VERSION}",
        f"Lengths in {words.unit()}",
        f"Scale {scale}",
        "Date:",
        "Initials:",
    ]


def draw(pages: Pages, plan: Plan, layout: Layout, scale: str, top: float) -> None:
    """Draw the block with its upper edge at ``top``: two rows of cells over the width of the page.

    Parameters
    ----------
    pages : Pages
    plan : Plan
    layout : Layout
    scale : str
        Of the sheet's first picture, ``1:5``.
    top : float
        Millimeters on the page.
    """
    draw_block(pages, plan, _cells(layout), scale, top)


def draw_block(pages: Pages, plan: Plan, first: Sequence[str], scale: str, top: float) -> None:
    """Draw the block as `draw` does, with these two cells in its first row."""
    _row(pages, first, (0.42, 0.58), top)
    _row(pages, _of_plan(plan, scale), (0.16, 0.16, 0.23, 0.14, 0.17, 0.14), top - _ROW_MM)


def _row(pages: Pages, cells: Sequence[str], shares: Sequence[float], top: float) -> None:
    canvas, x = pages.canvas, MARGIN_MM
    low = top - _ROW_MM
    right = MARGIN_MM + pages.width
    canvas.lines([((x, top), (right, top)), ((x, low), (right, low))], "frame")
    for text, share in zip(cells, shares):
        width = share * pages.width
        lines = wrap(text, width - 2.4, LETTER_MM)
        shown = lines[0] if len(lines) == 1 else f"{lines[0]} …"
        while fonts.width(shown, LETTER_MM) > width - 2.0 and " " in shown[:-2]:
            shown = f"{shown[:-2].rpartition(' ')[0]} …"
        canvas.text((x + 1.2, low + 1.6), shown, LETTER_MM, "plain")
        canvas.line((x, top), (x, low), "frame")
        x += width
    canvas.line((right, top), (right, low), "frame")
