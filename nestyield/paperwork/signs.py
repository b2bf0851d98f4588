"""The legend of a sheet, and the check square beside it."""

from __future__ import annotations

from nestyield.model import Units
from nestyield.paperwork import marks
from nestyield.paperwork.page import MARGIN_MM, Pages, check_square, wrap


def signs(pages: Pages, shown: set[str], units: Units) -> None:
    """Draw the legend, and the check square beside it."""
    side = 50.0 if units == "mm" else 50.8
    listed = marks.entries(shown)
    rows = (len(listed) + 1) // 2
    pages.need(max(rows * 4.4, side + 1.0) + 9.0)
    pages.title("Signs")
    top = pages.y
    column = (pages.width - side - 4.0) / 2
    for n, entry in enumerate(listed):
        x, y = MARGIN_MM + (n // rows) * column, top - (n % rows) * 4.4
        marks.draw_swatch(pages.canvas, entry.key, x, y - 3.9, 7.0, 3.6)
        lines = wrap(entry.text, column - 9.0, 2.3)
        pages.canvas.text((x + 8.2, y - 2.9), lines[0], 2.3, "plain")
    check_square(pages.canvas, MARGIN_MM + pages.width - side, top - side - 0.5, units)
    pages.y = top - max(rows * 4.4, side + 1.0)
