"""The legend of a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.paperwork import fonts, marks
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.page import MARGIN_MM, Pages

_ROW = 5.0
_TITLE = 10.0
_SAMPLE = 8.0


def _columns(listed: Sequence[marks.KeyEntry], width: float) -> int:
    """Return in how many columns every text stands on one line, four at the most."""
    widest = max(fonts.width(e.text, LETTER_MM) for e in listed)
    return max(1, min(4, int(width // (widest + _SAMPLE + 1.0))))


def height(shown: set[str], width: float) -> float:
    """Return the height of the legend with its heading on a page of some width, mm."""
    listed = marks.entries(shown)
    return _TITLE + -(-len(listed) // _columns(listed, width)) * _ROW if listed else 0.0


def signs(pages: Pages, shown: set[str]) -> None:
    """Draw the legend: the signs of this sheet and no others."""
    listed = marks.entries(shown)
    if not listed:
        return
    columns = _columns(listed, pages.width)
    rows = -(-len(listed) // columns)
    pages.need(height(shown, pages.width))
    pages.title("Key", 0.0)
    top = pages.y
    column = pages.width / columns
    for n, entry in enumerate(listed):
        x, y = MARGIN_MM + (n // rows) * column, top - (n % rows) * _ROW
        marks.draw_swatch(pages.canvas, entry.key, x, y - 4.2, 6.5, 3.4)
        pages.canvas.text((x + _SAMPLE - 0.5, y - 3.6), entry.text, LETTER_MM, "plain")
    pages.y = top - rows * _ROW
