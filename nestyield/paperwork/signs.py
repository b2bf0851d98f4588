"""The legend of a sheet."""

from __future__ import annotations

from nestyield.paperwork import marks
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.page import MARGIN_MM, Pages, wrap

_ROW = 5.0
_TITLE = 10.0
_COLUMNS = 3


def _rows(shown: set[str]) -> int:
    return -(-len(marks.entries(shown)) // _COLUMNS)


def height(shown: set[str]) -> float:
    """Return the height of the legend with its heading, mm."""
    return _TITLE + _rows(shown) * _ROW


def signs(pages: Pages, shown: set[str]) -> None:
    """Draw the legend: the signs of this sheet and no others."""
    listed = marks.entries(shown)
    if not listed:
        return
    rows = _rows(shown)
    pages.need(height(shown))
    pages.title("Key", 0.0)
    top = pages.y
    column = pages.width / _COLUMNS
    for n, entry in enumerate(listed):
        x, y = MARGIN_MM + (n // rows) * column, top - (n % rows) * _ROW
        marks.draw_swatch(pages.canvas, entry.key, x, y - 4.2, 6.5, 3.4)
        text = wrap(entry.text, column - 8.0, LETTER_MM)[0]
        pages.canvas.text((x + 7.5, y - 3.6), text, LETTER_MM, "plain")
    pages.y = top - rows * _ROW
