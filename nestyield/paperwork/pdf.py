"""Canvases as the pages of a PDF; the typeface goes into the file, nothing of the clock does."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas as PdfCanvas
from reportlab.pdfgen.pathobject import PDFPathObject

from nestyield.model import Outline
from nestyield.model.arc import Arc
from nestyield.paperwork import fonts
from nestyield.paperwork.canvas import Area, Canvas, Item, Text
from nestyield.paperwork.curves import segments
from nestyield.paperwork.direction import visual
from nestyield.paperwork.look import STYLES, Style

POINTS_PER_MM = 72.0 / 25.4
_NAMES = {False: "Sheet", True: "Sheet-Bold"}
# Largest turn of one cubic: its distance from the true arc is then under 5e-6 of the radius.
_STEP = math.pi / 4


def _register() -> None:
    known = set(pdfmetrics.getRegisteredFontNames())
    for bold, name in _NAMES.items():
        if name not in known:
            pdfmetrics.registerFont(TTFont(name, fonts.path(bold)))


def _numbers(*lengths: float) -> str:
    # to 0.1 um; the library's own way of writing them took a quarter of the time of all papers
    return " ".join(f"{v:.4f}" for v in lengths)


def _trace(outline: Outline) -> Iterator[str]:
    """Give the commands of a PDF's path along an outline."""
    yield f"{_numbers(*outline.points_mm[0])} m"
    for p, q, b in segments(outline):
        if b == 0.0 or p == q:
            yield f"{_numbers(*q)} l"
            continue
        cx, cy, r, start, sweep = Arc.of(p, q, b)
        n = max(1, math.ceil(abs(sweep) / _STEP))
        k = 4.0 / 3.0 * math.tan(sweep / n / 4.0) * r
        for i in range(n):
            a0, a1 = start + sweep * i / n, start + sweep * (i + 1) / n
            end = q if i == n - 1 else (cx + r * math.cos(a1), cy + r * math.sin(a1))
            yield (
                _numbers(
                    cx + r * math.cos(a0) - k * math.sin(a0),
                    cy + r * math.sin(a0) + k * math.cos(a0),
                    cx + r * math.cos(a1) + k * math.sin(a1),
                    cy + r * math.sin(a1) - k * math.cos(a1),
                    *end,
                )
                + " c"
            )
    yield "h"


def _set(pdf: PdfCanvas, style: Style) -> None:
    if style.fill:
        pdf.setFillColor(HexColor(style.fill[0]))
    if style.stroke:
        pdf.setStrokeColor(HexColor(style.stroke[0]))
        pdf.setLineWidth(style.width)
        pdf.setDash(list(style.dash)) if style.dash else pdf.setDash()
        pdf.setLineCap(0 if style.dash else 1)
        pdf.setLineJoin(1)


def _text(pdf: PdfCanvas, item: Text, style: Style) -> None:
    line = visual(fonts.drawable(item.text, style.bold))
    wide = fonts.width(item.text, item.size, style.bold)
    shift = {"start": 0.0, "middle": -wide / 2, "end": -wide}[item.anchor]
    for halo in (True, False) if style.halo else (False,):
        pdf.saveState()
        pdf.translate(item.x, item.y)
        if item.angle_deg % 360.0:
            pdf.rotate(item.angle_deg)
        text = pdf.beginText(shift, 0.0)
        text.setFont(_NAMES[style.bold], item.size)
        if halo:
            pdf.setStrokeColor(HexColor("#ffffff"))
            pdf.setLineWidth(item.size * 0.28)
            pdf.setLineJoin(1)
            pdf.setDash()
            text.setTextRenderMode(1)
        else:
            pdf.setFillColor(HexColor(style.fill[0] if style.fill else "#000000"))
        text.textOut(line)
        pdf.drawText(text)
        pdf.restoreState()


def _item(pdf: PdfCanvas, item: Item) -> None:
    style = STYLES[item.style]
    if isinstance(item, Text):
        _text(pdf, item, style)
        return
    _set(pdf, style)
    if isinstance(item, Area):
        path = PDFPathObject([command for outline in item.outlines for command in _trace(outline)])
        pdf.drawPath(path, stroke=int(style.stroke is not None), fill=int(style.fill is not None), fillMode=0)
        return
    lines = (f"{_numbers(*point)} {'l' if k else 'm'}" for line in item.lines for k, point in enumerate(line))
    pdf.drawPath(PDFPathObject(list(lines)), stroke=1, fill=0)


@contextmanager
def _binary() -> Iterator[None]:
    """Write streams as they are: the library's text form of them is larger and slow."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def document(pages: Sequence[Canvas], title: str, subject: str = "") -> bytes:
    """Return a PDF, one page a canvas, at 1:1.

    Parameters
    ----------
    pages : sequence of Canvas
        At least one.
    title, subject : str
        For the file's own description.
    """
    _register()
    stream = io.BytesIO()
    pdf = PdfCanvas(stream, invariant=1, pageCompression=1)
    pdf.setTitle(title)
    pdf.setSubject(subject)
    pdf.setAuthor("nestyield")
    pdf.setCreator("nestyield")
    for page in pages:
        pdf.setPageSize((page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM))
        pdf.scale(POINTS_PER_MM, POINTS_PER_MM)
        for item in page.items:
            _item(pdf, item)
        with _binary():
            pdf.showPage()
    with _binary():
        pdf.save()
    return stream.getvalue()
