"""A display list in millimeters, y up: areas with true arcs, lines, patterns, texts, dimensions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from nestyield.model import Outline, Point
from nestyield.paperwork import fonts, hatch
from nestyield.paperwork.look import LETTER_MM, STYLES
from nestyield.paperwork.words import clean

Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """Closed outlines painted by the even-odd rule."""

    outlines: tuple[Outline, ...]
    style: str
    layer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Open polylines of one style."""

    lines: tuple[tuple[Point, ...], ...]
    style: str
    layer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text; ``y`` is its base line, ``size`` its font size in mm."""

    x: float
    y: float
    text: str
    size: float
    style: str
    anchor: Anchor = "start"
    angle_deg: float = 0.0


Item = Area | Lines | Text


@dataclass(slots=True, kw_only=True)
class Canvas:
    """A sheet of paper to draw on.

    Parameters
    ----------
    width_mm, height_mm : float
    title, description : str
        What a person who cannot see it is told.
    items : list of Item
        In painting order.
    """

    width_mm: float
    height_mm: float
    title: str = ""
    description: str = ""
    items: list[Item] = field(default_factory=list)

    def area(self, outlines: Iterable[Outline], style: str, layer: str = "") -> None:
        """Paint closed outlines; ``layer`` names what they are in a drawing that is worked from."""
        if style not in STYLES:
            raise KeyError(style)
        self.items.append(Area(outlines=tuple(outlines), style=style, layer=layer))

    def lines(self, lines: Iterable[Sequence[Point]], style: str, layer: str = "") -> None:
        """Draw open polylines; does nothing for none."""
        if style not in STYLES:
            raise KeyError(style)
        kept = tuple(tuple(line) for line in lines)
        if kept:
            self.items.append(Lines(lines=kept, style=style, layer=layer))

    def line(self, a: Point, b: Point, style: str) -> None:
        """Draw one straight line."""
        self.lines([(a, b)], style)

    def text(
        self,
        at: Point,
        text: str,
        size: float,
        style: str = "text",
        anchor: Anchor = "start",
        angle_deg: float = 0.0,
    ) -> None:
        """Write one line of text, cleaned; does nothing when none is left."""
        line = clean(text)
        if line:
            self.items.append(
                Text(x=at[0], y=at[1], text=line, size=size, style=style, anchor=anchor, angle_deg=angle_deg)
            )

    def hatch(self, outlines: Sequence[Outline], style: str, angle_deg: float, spacing: float) -> None:
        """Fill an area with parallel lines."""
        self.lines(hatch.lines(outlines, angle_deg, spacing), style)

    def dots(self, outlines: Sequence[Outline], style: str, spacing: float, radius: float) -> None:
        """Fill an area with dots."""
        found = hatch.dots(outlines, spacing)
        if found:
            self.area([Outline.circle(x, y, radius) for x, y in found], style)

    def head(self, tip: Point, angle_deg: float, size: float, style: str) -> None:
        """Draw an arrow head that points along ``angle_deg`` (degrees, y up)."""
        a = math.radians(angle_deg)
        ux, uy = math.cos(a), math.sin(a)
        back = (tip[0] - size * ux, tip[1] - size * uy)
        w = size * 0.32
        self.area(
            [
                Outline.polygon(
                    [tip, (back[0] - w * uy, back[1] + w * ux), (back[0] + w * uy, back[1] - w * ux)]
                )
            ],
            style,
        )

    def arrow(self, a: Point, b: Point, style: str, head_style: str, size: float, both: bool = False) -> None:
        """Draw a line with an arrow head at its end, or at both ends."""
        angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
        self.line(a, b, style)
        self.head(b, angle, size, head_style)
        if both:
            self.head(a, angle + 180.0, size, head_style)

    def dimension(self, a: Point, b: Point, offset: float, text: str, size: float = LETTER_MM) -> None:
        """Dimension the distance from ``a`` to ``b``, drawn ``offset`` mm to the left of that direction.

        Lines that are not long enough for arrows inside carry them outside.
        """
        run = math.hypot(b[0] - a[0], b[1] - a[1])
        if run == 0.0:
            return
        ux, uy = (b[0] - a[0]) / run, (b[1] - a[1]) / run
        nx, ny = -uy, ux
        p = (a[0] + offset * nx, a[1] + offset * ny)
        q = (b[0] + offset * nx, b[1] + offset * ny)
        past = math.copysign(1.2, offset)
        gap = math.copysign(min(0.8, abs(offset) / 2), offset)
        self.lines(
            [
                ((a[0] + gap * nx, a[1] + gap * ny), (p[0] + past * nx, p[1] + past * ny)),
                ((b[0] + gap * nx, b[1] + gap * ny), (q[0] + past * nx, q[1] + past * ny)),
            ],
            "dim",
        )
        angle = math.degrees(math.atan2(uy, ux))
        if run >= 7.0:
            self.arrow(p, q, "dim", "dim-head", 1.8, both=True)
        else:
            for tip, side in ((p, 0.0), (q, 180.0)):
                sx = -math.cos(math.radians(angle + side)) * 4.0
                sy = -math.sin(math.radians(angle + side)) * 4.0
                self.arrow((tip[0] + sx, tip[1] + sy), tip, "dim", "dim-head", 1.8)
        turn = angle
        if turn > 90.0 + 1e-9 or turn <= -90.0 + 1e-9:
            turn += 180.0
        # Text stands above its line as one reads it.
        t = math.radians(turn)
        mid = ((p[0] + q[0]) / 2 - 0.8 * math.sin(t), (p[1] + q[1]) / 2 + 0.8 * math.cos(t))
        wide = fonts.width(text, size)
        if wide > run - 4.0 and run < 7.0:
            mid = (
                mid[0] + (run / 2 + 4.5 + wide / 2) * math.cos(t),
                mid[1] + (run / 2 + 4.5 + wide / 2) * math.sin(t),
            )
        self.text(mid, text, size, "text", "middle", turn)
