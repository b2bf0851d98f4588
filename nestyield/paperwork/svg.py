"""A canvas as SVG."""

from __future__ import annotations

import math
from xml.sax.saxutils import escape, quoteattr

from nestyield.model import Outline
from nestyield.paperwork.canvas import Area, Canvas, Item, Text
from nestyield.paperwork.curves import segments
from nestyield.paperwork.direction import runs_right
from nestyield.paperwork.look import PAPER, STYLES, Style
from nestyield.paperwork.words import clean

FAMILY = "'DejaVu Sans', Verdana, 'Bitstream Vera Sans', sans-serif"


def _n(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path_data(outline: Outline, height: float, digits: int = 3) -> str:
    """Return the path of a closed outline with true arcs; y is turned to run downwards.

    Parameters
    ----------
    outline : Outline
    height : float
        Height of the canvas, mm.
    digits : int
        Decimals of a millimeter.
    """
    x, y = outline.points_mm[0]
    out = [f"M{_n(x, digits)} {_n(height - y, digits)}"]
    for p, q, b in segments(outline):
        qx, qy = _n(q[0], digits), _n(height - q[1], digits)
        if b == 0.0:
            out.append(f"L{qx} {qy}")
        else:
            r = math.hypot(q[0] - p[0], q[1] - p[1]) * (1.0 + b * b) / (4.0 * abs(b))
            rr = _n(r, digits + 2)
            out.append(f"A{rr} {rr} 0 {int(abs(b) > 1.0)} {int(b < 0.0)} {qx} {qy}")
    return "".join(out) + "Z"


def _attributes(style: Style, is_text: bool) -> str:
    parts = [f'fill="{style.fill[0]}"' if style.fill else 'fill="none"']
    if style.stroke:
        parts.append(f'stroke="{style.stroke[0]}"')
    if is_text and style.halo:
        parts.append(f'stroke="{PAPER[0]}"')
    return " ".join(parts)


def _shape(style: Style) -> str:
    parts = []
    if style.stroke:
        parts.append(f'stroke-width="{_n(style.width, 3)}"')
        parts.append(
            'stroke-linejoin="round" stroke-linecap="round"' if not style.dash else 'stroke-linejoin="round"'
        )
        if style.dash:
            parts.append(f'stroke-dasharray="{" ".join(_n(d, 2) for d in style.dash)}"')
    return " ".join(parts)


def _text(item: Text, height: float, paint: str) -> str:
    style = STYLES[item.style]
    x, y = _n(item.x, 3), _n(height - item.y, 3)
    parts = [f'x="{x}" y="{y}" font-size="{_n(item.size, 3)}" {paint}']
    if item.anchor != "start":
        parts.append(f'text-anchor="{item.anchor}"')
    if style.bold:
        parts.append('font-weight="bold"')
    if runs_right(item.text):
        parts.append('unicode-bidi="plaintext"')
    if style.halo:
        parts.append(f'paint-order="stroke" stroke-width="{_n(item.size * 0.28, 3)}" stroke-linejoin="round"')
    if item.angle_deg % 360.0 != 0.0:
        parts.append(f'transform="rotate({_n(-item.angle_deg, 3)} {x} {y})"')
    return f"<text {' '.join(parts)}>{escape(item.text)}</text>"


def _item(item: Item, height: float, digits: int, classes: bool) -> str:
    style = STYLES[item.style]
    paint = f'class="{item.style}"' if classes else _attributes(style, isinstance(item, Text))
    if isinstance(item, Text):
        return _text(item, height, paint)
    if item.layer:
        paint = f"data-layer={quoteattr(item.layer)} {paint}"
    if isinstance(item, Area):
        data = "".join(path_data(o, height, digits) for o in item.outlines)
        rule = ' fill-rule="evenodd"' if style.fill and len(item.outlines) > 1 else ""
        return f'<path {paint} {_shape(style)}{rule} d="{data}"/>'.replace("  ", " ")
    data = "".join(
        "M" + "L".join(f"{_n(x, digits)} {_n(height - y, digits)}" for x, y in line) for line in item.lines
    )
    return f'<path {paint} {_shape(style)} d="{data}"/>'.replace("  ", " ")


def inline(canvas: Canvas, *, hidden: bool = False, extra_class: str = "") -> str:
    """Return a picture to set into a page: painted by classes, with a name for those who hear it.

    Parameters
    ----------
    canvas : Canvas
    hidden : bool
        True when words beside it say the same; it is then hidden from readers aloud.
    extra_class : str
        Further class of the picture.
    """
    body = "".join(_item(i, canvas.height_mm, 2, True) for i in canvas.items)
    label = f"{canvas.title}. {canvas.description}" if canvas.description else canvas.title
    role = (
        'aria-hidden="true" focusable="false"'
        if hidden
        else f'role="img" aria-label={quoteattr(clean(label))}'
    )
    name = f"picture {extra_class}".strip()
    box = f"0 0 {_n(canvas.width_mm, 2)} {_n(canvas.height_mm, 2)}"
    return f'<svg class="{name}" viewBox="{box}" {role}>{body}</svg>'


def document(canvas: Canvas, *, digits: int = 3, origin: tuple[float, float] | None = None) -> str:
    """Return a whole SVG file at 1:1: one user unit is one millimeter.

    Parameters
    ----------
    canvas : Canvas
    digits : int
        Decimals of a millimeter.
    origin : (x, y), optional
        Canvas point of the lower left corner. When given, the file keeps the canvas's own coordinates
        with y turned: a point (x, y) stands at (x, -y).
    """
    w, h = _n(canvas.width_mm, digits), _n(canvas.height_mm, digits)
    left, top, down = "0", "0", canvas.height_mm
    if origin is not None:
        left, top, down = _n(origin[0], digits), _n(-origin[1] - canvas.height_mm, digits), 0.0
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="{left} {top} {w} {h}"'
        f' role="img" font-family="{FAMILY}">',
        f"<title>{escape(clean(canvas.title))}</title>",
    ]
    if canvas.description:
        out.append(f"<desc>{escape(clean(canvas.description))}</desc>")
    out.append(f'<rect x="{left}" y="{top}" width="{w}" height="{h}" fill="#ffffff"/>')
    out += [_item(i, down, digits, False) for i in canvas.items]
    out.append("</svg>\n")
    return "\n".join(out)
