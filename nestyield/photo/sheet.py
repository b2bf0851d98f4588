"""Prints marker sheets: a PDF at exact scale."""

from __future__ import annotations

import io

from nestyield.model import NestyieldError
from nestyield.photo.board import (
    FIELD_MM,
    LEFT_MM,
    LINES_MM,
    MODULES,
    MOST_SHEETS,
    PAPERS,
    SIDE_MM,
    TOP_MM,
    black_modules,
    lower_left,
    markers_of,
)
from nestyield.photo.needs import opencv

_FONT = "MarkerSheet"
_TICK = 3.0
_GAP = 8.0


class SheetError(NestyieldError, ValueError):
    """There is no such sheet."""


def marker_sheets(first: int, count: int, paper: str) -> bytes:
    """Return a PDF of marker sheets, one a page.

    Parameters
    ----------
    first, count : int
        Number of the first sheet, and how many; sheets 1 to ``MOST_SHEETS``.
    paper : {"a4", "letter"}

    Raises
    ------
    SheetError
        When there are no such sheets.
    """
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    from nestyield.paperwork import fonts

    if first < 1 or count < 1 or first + count - 1 > MOST_SHEETS:
        raise SheetError(f"expected sheets from 1 to {MOST_SHEETS}, got {first} to {first + count - 1}")
    if _FONT not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(_FONT, fonts.path(False)))
    stream = io.BytesIO()
    pdf = Canvas(stream, invariant=1, pageCompression=1)
    pdf.setTitle("Marker sheets")
    pdf.setAuthor("nestyield")
    for sheet in range(first, first + count):
        _page(pdf, sheet, PAPERS[paper])
    pdf.save()
    return stream.getvalue()


def _page(pdf: object, sheet: int, size: tuple[float, float]) -> None:
    mm = 72.0 / 25.4
    c = pdf
    wide, high = size
    c.setPageSize((wide * mm, high * mm))  # type: ignore[attr-defined]
    c.scale(mm, mm)  # type: ignore[attr-defined]
    left, low = LEFT_MM, high - TOP_MM - FIELD_MM[1]
    for marker in markers_of(sheet):
        x, y = lower_left(marker)
        _marker(c, marker, left + x, low + y)
    _check_line(c, left, low - _GAP, True)
    _check_line(c, left + FIELD_MM[0] + 2 * _GAP, low + FIELD_MM[1], False)
    _words(c, sheet, left, low - _GAP - 6.0)
    c.showPage()  # type: ignore[attr-defined]


def _marker(c: object, marker: int, x: float, y: float) -> None:
    """Paint the black square and its white modules, so that no seam shows between black ones."""
    step = SIDE_MM / MODULES
    c.setFillGray(0.0)  # type: ignore[attr-defined]
    c.rect(x, y, SIDE_MM, SIDE_MM, stroke=0, fill=1)  # type: ignore[attr-defined]
    c.setFillGray(1.0)  # type: ignore[attr-defined]
    black = black_modules(marker, opencv())
    for row in range(MODULES):
        column = 0
        while column < MODULES:
            run = column
            while run < MODULES and not black[row, run]:
                run += 1
            if run > column:
                low = y + (MODULES - 1 - row) * step
                c.rect(x + column * step, low, (run - column) * step, step, stroke=0, fill=1)  # type: ignore[attr-defined]
            column = max(run, column) + 1
    c.setFillGray(0.0)  # type: ignore[attr-defined]


def _check_line(c: object, x: float, y: float, along_x: bool) -> None:
    length = LINES_MM[0 if along_x else 1]
    c.setLineWidth(0.2)  # type: ignore[attr-defined]
    c.setStrokeGray(0.0)  # type: ignore[attr-defined]
    ends = (x, x + length) if along_x else (y - length, y)
    if along_x:
        c.line(x, y, x + length, y)  # type: ignore[attr-defined]
    else:
        c.line(x, y, x, y - length)  # type: ignore[attr-defined]
    for end in ends:
        if along_x:
            c.line(end, y - _TICK, end, y + _TICK)  # type: ignore[attr-defined]
        else:
            c.line(x - _TICK, end, x + _TICK, end)  # type: ignore[attr-defined]


def _words(c: object, sheet: int, x: float, y: float) -> None:
    lx, ly = LINES_MM
    inches = f"{lx / 25.4:.3f} in and {ly / 25.4:.3f} in"
    lines = (
        f"nestyield marker sheet {sheet}: markers {markers_of(sheet)[0]} to {markers_of(sheet)[-1]}. "
        "Print at 100 %, not fitted to the page. Keep it flat.",
        f"Measure both thin lines between their end marks: {lx:g} mm along and {ly:g} mm up ({inches}). "
        "Enter what you measure with --line-x and --line-y.",
        "Lay pieces, good face up, beside the sheets or on them, on a plain ground unlike wood (gray, green, blue). "
        "At least 8 whole markers must show.",
    )
    for k, line in enumerate(lines):
        text = c.beginText(x, y - 4.2 * k)  # type: ignore[attr-defined]
        text.setFont(_FONT, 3.0)
        text.textOut(line)
        c.drawText(text)  # type: ignore[attr-defined]
