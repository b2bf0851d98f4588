"""Pages of paper that fill from the top: headings, paragraphs, tables, figures."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from nestyield.model import Outline, Settings
from nestyield.paperwork import fonts
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.look import LETTER_MM, STYLES, TITLE_MM
from nestyield.paperwork.words import clean
from nestyield.words import MM_PER_INCH, Words

Paper = Literal["a4", "letter"]
#: Width and height, mm: ISO 216 and the North American letter (8 1/2 x 11 in).
SIZES: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
PAPER_NAMES: dict[Paper, str] = {"a4": "A4", "letter": "Letter"}
MARGIN_MM = 12.0
#: From line to line, in sizes of the type.
LEADING = 1.3


#: Spaces at which no line breaks: in a number, before its unit, after X, Y and Z, ø and in ``12 × 30``.
_HELD = re.compile(
    r"(?<=\d) (?=(?:mm|cm²|m|in|sq in|cu in|sq|cu|kN|N|MPa|lbf|psi|%|ml|points)(?![\w]))"
    r"|(?<=sq) (?=in\b)|(?<=cu) (?=in\b)"
    r"|(?<=\d) (?=\d+/\d)"
    r"|(?<=\b[XYZ]) (?=[-−\d])|(?<=ø) (?=\d)"
    r"|(?<=[\d°]) (?=[×÷])|(?<=×) (?=[\dø])|(?<=±) (?=\d)"
)
_GLUE = "\u00a0"
#: Where a size too wide for its line breaks first, its numbers whole: behind ``×``.
_TIMES = re.compile(f"(?<=×){_GLUE}")


def papers_of(settings: Settings) -> list[Paper]:
    """Return the papers that a shop prints on."""
    return [paper for paper in SIZES if settings.paper in (paper, "both")]


def held_together(text: str) -> str:
    """Return text with no-break spaces inside its numbers and before their units."""
    return _HELD.sub(_GLUE, text)


def wrap(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Return the lines into which a text breaks; a word wider than the line is broken anywhere.

    No line breaks inside a number or before its unit, if the line is wide enough for both.
    """
    return [line.replace(_GLUE, " ") for line in _lines(held_together(clean(text)), width, size, bold)]


def _lines(text: str, width: float, size: float, bold: bool) -> list[str]:
    lines: list[str] = []
    line = ""
    words = [
        part
        for word in text.split(" ")
        for size_of in (_TIMES.split(word) if fonts.width(word, size, bold) > width else [word])
        for part in (size_of.split(_GLUE) if fonts.width(size_of, size, bold) > width else [size_of])
    ]
    for word in words:
        trial = f"{line} {word}" if line else word
        if fonts.width(trial, size, bold) <= width:
            line = trial
            continue
        if line:
            lines.append(line)
        while fonts.width(word, size, bold) > width and len(word) > 1:
            n = len(word)
            while n > 1 and fonts.width(word[:n], size, bold) > width:
                n -= 1
            lines.append(word[:n])
            word = word[n:]
        line = word
    if line:
        lines.append(line)
    return lines


@dataclass(slots=True, kw_only=True)
class Pages:
    """Pages in the making; ``y`` is the lowest line used so far on the last page.

    Parameters
    ----------
    paper : {"a4", "letter"}
    heading : str
        Stands at the top of every page after the first.
    foot : str
        Stands at the bottom of every page, with the page's number.
    leading : float
        From line to line, in sizes of the type.
    """

    paper: Paper
    heading: str
    foot: str
    canvases: list[Canvas] = field(default_factory=list)
    y: float = 0.0
    leading: float = LEADING

    def __post_init__(self) -> None:
        self.new_page()

    @property
    def canvas(self) -> Canvas:
        """The last page."""
        return self.canvases[-1]

    @property
    def width(self) -> float:
        """Width between the margins, mm."""
        return SIZES[self.paper][0] - 2 * MARGIN_MM

    @property
    def bottom(self) -> float:
        """Lowest line that may be used, mm."""
        return MARGIN_MM + 10.0

    @property
    def room(self) -> float:
        """Height left on the page, mm."""
        return self.y - self.bottom

    def new_page(self) -> None:
        """Begin a page."""
        width, height = SIZES[self.paper]
        self.canvases.append(Canvas(width_mm=width, height_mm=height, title=clean(self.heading)))
        self.y = height - MARGIN_MM
        if len(self.canvases) > 1:
            self.line(f"{self.heading}, continued", TITLE_MM, "plain-bold")
            self.gap(1.0)

    def need(self, height: float) -> None:
        """Begin a new page unless this much height is left."""
        if self.room < height and self.y < SIZES[self.paper][1] - MARGIN_MM - 10.0:
            self.new_page()

    def gap(self, height: float) -> None:
        """Leave height free."""
        self.y -= height

    def line(self, text: str, size: float, style: str = "plain", x: float = MARGIN_MM) -> None:
        """Write one line."""
        self.y -= size * 1.05
        self.canvas.text((x, self.y), text, size, style)
        self.y -= size * (self.leading - 1.05)

    def paragraph(
        self,
        text: str,
        size: float = LETTER_MM,
        style: str = "plain",
        *,
        x: float = MARGIN_MM,
        width: float | None = None,
        mark: str = "",
    ) -> None:
        """Write a paragraph; ``mark`` hangs before its first line."""
        indent = fonts.width(mark + " ", size) if mark else 0.0
        full = self.width if width is None else width
        lines = wrap(text, full - indent, size, STYLES[style].bold)
        for k, line in enumerate(lines):
            # A short paragraph stays on one page.
            whole = len(lines) if k == 0 and len(lines) <= 4 else 1
            self.need(size * self.leading * whole)
            if k == 0 and mark:
                self.canvas.text((x, self.y - size * 1.05), mark, size, style)
            self.line(line, size, style, x + indent)

    def title(self, text: str, keep: float = 18.0, width: float | None = None) -> None:
        """Write a heading of a section, kept with the first ``keep`` mm of what follows.

        Its line runs over ``width`` mm, over the whole page by default.
        """
        right = MARGIN_MM + (self.width if width is None else width)
        self.need(keep)
        self.gap(2.2)
        self.line(text, TITLE_MM, "plain-bold")
        self.canvas.line((MARGIN_MM, self.y), (right, self.y), "rule")
        self.gap(1.2)

    def table(
        self,
        title: str,
        header: Sequence[str],
        rows: Sequence[Sequence[str]],
        shares: Sequence[float],
        size: float = LETTER_MM,
    ) -> None:
        """Write a table under a title (``""`` for none).

        ``shares`` are the widths of its columns, negative for right-aligned ones.
        A short table stays whole and with its title; a long one carries its header on.
        """
        total = sum(abs(s) for s in shares)
        widths = [abs(s) / total * self.width for s in shares]
        wrapped = [
            [wrap(c, w - (3.6 if s < 0 else 2.0), size) for c, w, s in zip(row, widths, shares)]
            for row in [header, *rows]
        ]
        heights = [max(1, *(len(c) for c in cells)) * size * self.leading + 0.5 for cells in wrapped]
        least = sum(heights) if sum(heights) < 45.0 else sum(heights[:3])
        self.need(least + (9.0 if title else 0.0))
        if title:
            self.title(title, 0.0)
        for k, (cells, height) in enumerate(zip(wrapped, heights)):
            page = self.canvas
            self.need(height)
            if k and self.canvas is not page:
                self._row(wrapped[0], heights[0], widths, shares, size, "plain-soft")
            self._row(cells, height, widths, shares, size, "plain" if k else "plain-soft")
        self.gap(0.6)

    def _row(
        self,
        cells: Sequence[Sequence[str]],
        height: float,
        widths: Sequence[float],
        shares: Sequence[float],
        size: float,
        style: str,
    ) -> None:
        x = MARGIN_MM
        for lines, w, share in zip(cells, widths, shares):
            for n, line in enumerate(lines):
                base = self.y - size * 1.05 - n * size * self.leading
                if share < 0:
                    self.canvas.text((x + w - 3.6, base), line, size, style, "end")
                else:
                    self.canvas.text((x, base), line, size, style)
            x += w
        self.y -= height
        self.canvas.line((MARGIN_MM, self.y + 0.3), (MARGIN_MM + self.width, self.y + 0.3), "rule")

    def finish(self) -> list[Canvas]:
        """Write the feet and return the pages."""
        n = len(self.canvases)
        for k, canvas in enumerate(self.canvases, start=1):
            right = f"page {k} of {n}"
            size = LETTER_MM
            foot = wrap(self.foot, self.width - fonts.width(right, size) - 4.0, size)
            for row, line in enumerate(foot[:2]):
                y = MARGIN_MM + (len(foot[:2]) - 1 - row) * size * 1.25
                canvas.text((MARGIN_MM, y), line, size, "plain-soft")
            canvas.text((MARGIN_MM + self.width, MARGIN_MM), right, size, "plain-soft", "end")
            if n > 1:
                canvas.title = f"{canvas.title}, {right}"
        return self.canvases


def check_square(canvas: Canvas, x: float, y: float, words: Words) -> float:
    """Draw the square that tells whether the page was printed at full size; return its side, mm."""
    side = 50.0 if words.units == "mm" else 2 * MM_PER_INCH
    canvas.area([Outline.rectangle(x, y, x + side, y + side)], "check")
    canvas.text((x + side / 2, y + side / 2 + 2.0), words.length(side), 3.6, "plain-bold", "middle")
    canvas.text(
        (x + side / 2, y + side / 2 - 3.0), "Check: measure this square.", LETTER_MM, "plain", "middle"
    )
    canvas.text(
        (x + side / 2, y + side / 2 - 8.0), "If it is off, print at 100 %.", LETTER_MM, "plain", "middle"
    )
    return side


def scale_bar(canvas: Canvas, x: float, y: float, scale: float, words: Words, most: float = 60.0) -> float:
    """Draw a bar of round true lengths for a figure at ``scale`` paper mm a true mm; return its length."""
    unit = 1.0 if words.units == "mm" else MM_PER_INCH
    steps = (
        (5, 10, 20, 25, 50, 100, 200, 250, 500)
        if words.units == "mm"
        else (0.25, 0.5, 1, 2, 3, 4, 6, 8, 12, 24)
    )
    step = max([s for s in steps if 4 * s * unit * scale <= most] or [steps[0]])
    run = step * unit * scale
    for k in range(4):
        box = [Outline.rectangle(x + k * run, y, x + (k + 1) * run, y + 1.6)]
        canvas.area(box, "scale-dark" if k % 2 == 0 else "scale-light")
    for k in range(5):
        text = (words.length if k == 4 else words.number)(k * step * unit)
        canvas.text((x + k * run, y + 2.4), text, LETTER_MM, "plain", "middle" if k < 4 else "start")
    return 4 * run
