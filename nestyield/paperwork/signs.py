"""The legend of a sheet, and the check square beside it."""

from __future__ import annotations

from nestyield.paperwork import fonts, marks
from nestyield.paperwork.page import MARGIN_MM, Pages, check_square, wrap
from nestyield.words import Words

_ROW = 4.4
_TITLE = 8.2
_COLUMNS = 3
_TEXT_MM = 2.3
_LEAST_MM = 1.9


def _side(words: Words) -> float:
    return 50.0 if words.units == "mm" else 50.8


def _rows(shown: set[str]) -> int:
    return -(-len(marks.entries(shown)) // _COLUMNS)


def height(shown: set[str], words: Words) -> float:
    """Return the height of the legend with its heading, mm."""
    return max(_TITLE + _rows(shown) * _ROW, _side(words) + 2.7)


def signs(pages: Pages, shown: set[str], words: Words) -> None:
    """Draw the legend, and the check square beside it."""
    side = _side(words)
    listed = marks.entries(shown)
    rows = _rows(shown)
    pages.need(height(shown, words))
    above = pages.y
    pages.title("Key", 0.0, pages.width - side - 6.0)
    top = pages.y
    column = (pages.width - side - 6.0) / _COLUMNS
    for n, entry in enumerate(listed):
        x, y = MARGIN_MM + (n // rows) * column, top - (n % rows) * _ROW
        marks.draw_swatch(pages.canvas, entry.key, x, y - 3.9, 6.5, 3.4)
        size = _TEXT_MM
        while fonts.width(entry.text, size) > column - 9.0 and size > _LEAST_MM:
            size -= 0.1
        pages.canvas.text((x + 7.5, y - 2.9), wrap(entry.text, column - 8.0, size)[0], size, "plain")
    check_square(pages.canvas, MARGIN_MM + pages.width - side, above - side - 2.2, words)
    pages.y = above - height(shown, words)
