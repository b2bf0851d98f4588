"""The legend of a sheet, and the check square beside it."""

from __future__ import annotations

from nestyield.model import Units
from nestyield.paperwork import fonts, marks
from nestyield.paperwork.page import MARGIN_MM, Pages, check_square, wrap

_ROW = 4.4


def _side(units: Units) -> float:
    return 50.0 if units == "mm" else 50.8


def height(pages: Pages, shown: set[str], units: Units) -> float:
    """Return the height of the legend with its heading, mm."""
    rows = (len(marks.entries(shown)) + 1) // 2
    return max(rows * _ROW, _side(units) + 1.0) + 9.0


def signs(pages: Pages, shown: set[str], units: Units) -> None:
    """Draw the legend, and the check square beside it."""
    side = _side(units)
    listed = marks.entries(shown)
    rows = (len(listed) + 1) // 2
    pages.need(height(pages, shown, units))
    pages.title("Signs")
    top = pages.y
    column = (pages.width - side - 4.0) / 2
    for n, entry in enumerate(listed):
        x, y = MARGIN_MM + (n // rows) * column, top - (n % rows) * _ROW
        marks.draw_swatch(pages.canvas, entry.key, x, y - 3.9, 7.0, 3.6)
        size = 2.3
        while fonts.width(entry.text, size) > column - 9.0 and size > 1.8:
            size -= 0.1
        pages.canvas.text((x + 8.2, y - 2.9), wrap(entry.text, column - 9.0, size)[0], size, "plain")
    check_square(pages.canvas, MARGIN_MM + pages.width - side, top - side - 0.5, units)
    pages.y = top - max(rows * _ROW, side + 1.0)
