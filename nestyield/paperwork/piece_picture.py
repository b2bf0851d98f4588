"""The answer to "does this part go on this piece" as a picture: one page to look at, SVG or PDF."""

from __future__ import annotations

from pathlib import Path

from nestyield.model import Layout, NestyieldError, Plan
from nestyield.paperwork import fonts, marks, pdf, room, sheet_figure, svg
from nestyield.paperwork.blank_picture import describe
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.words import clean, short
from nestyield.words import Words

WIDTH_MM, HIGHEST_MM, MARGIN_MM = 210.0, 1000.0, 12.0
#: Most that the figure may be high, and a line of text.
FIGURE_MM, LINE_MM = 190.0, 4.6
_COLUMNS = 3
#: Stands in every picture that this room writes.
_OURS = b"nestyield"
SUFFIXES = (".svg", ".pdf")


class PictureError(NestyieldError, ValueError):
    """A picture cannot be written where it was asked for."""


def check_picture(path: Path) -> None:
    """Refuse a file of another kind, and one that is there and is no such picture.

    Raises
    ------
    PictureError
    """
    if path.suffix.lower() not in SUFFIXES:
        raise PictureError(f"expected a picture {' or '.join(SUFFIXES)}, got {path.name!r}")
    if not path.parent.is_dir():
        raise PictureError(f"the folder of {path.name!r} does not exist: {str(path.parent)!r}")
    if path.exists() and (not path.is_file() or _OURS not in path.read_bytes()):
        raise PictureError(f"{path.name!r} is there and is no picture of nestyield; name another file")


def write_picture(path: Path, plan: Plan, layout: Layout) -> None:
    """Write the picture of a layout: the part on its blank, defects, datum, measures, room to move.

    Parameters
    ----------
    path : Path
        ``.svg`` or ``.pdf``; an earlier picture is replaced.
    plan : Plan
        For shop and parts.
    layout : Layout

    Raises
    ------
    PictureError
        As `check_picture`.
    """
    check_picture(path)
    canvas = page(plan, layout)
    if path.suffix.lower() == ".pdf":
        data = pdf.document([canvas], canvas.title, canvas.description)
    else:
        data = svg.document(canvas).encode()
    new = path.with_name(f".{path.name}.new")
    new.write_bytes(data)
    new.replace(path)


def page(plan: Plan, layout: Layout) -> Canvas:
    """Return the page, as high as what stands on it."""
    least = _drawn(plan, layout, HIGHEST_MM)[1]
    return _drawn(plan, layout, HIGHEST_MM - least)[0]


def _drawn(plan: Plan, layout: Layout, height: float) -> tuple[Canvas, float]:
    """Return a page of some height, and how much of it is left free at its foot."""
    title = f"{_parts(layout)} on {short(layout.blank.name, 60)}"
    canvas = Canvas(
        width_mm=WIDTH_MM, height_mm=height, title=f"nestyield: {title}", description=describe(plan, layout)
    )
    wide = WIDTH_MM - 2 * MARGIN_MM
    y = height - MARGIN_MM - 4.0
    canvas.text((MARGIN_MM, y), title, 5.0, "plain-bold")
    y -= 6.0
    figure = sheet_figure.draw(canvas, plan, layout, y, MARGIN_MM, wide, FIGURE_MM)
    y -= figure.height + 2.0
    for line in _lines(plan, layout, figure.scale, wide):
        y -= LINE_MM
        canvas.text((MARGIN_MM, y), line, LETTER_MM, "plain")
    y -= 3.0
    keys = marks.entries(figure.shown)
    rows = -(-len(keys) // _COLUMNS)
    for k, entry in enumerate(keys):
        x, at = MARGIN_MM + (k // rows) * wide / _COLUMNS, y - LINE_MM * (k % rows + 1)
        marks.draw_swatch(canvas, entry.key, x, at - 0.8, 7.0, 3.6)
        canvas.text((x + 9.0, at), entry.text, LETTER_MM, "plain-soft")
    return canvas, y - LINE_MM * rows - MARGIN_MM


def _parts(layout: Layout) -> str:
    return ", ".join(dict.fromkeys(short(p.part, 60) for p in layout.placements))


def _lines(plan: Plan, layout: Layout, scale: float, width: float) -> list[str]:
    """Return what stands under the figure, in lines that fit."""
    words = Words(plan.shop.units)
    blank = layout.blank
    wood = f"{blank.species}, {words.thickness(blank.thickness_mm)} thick"
    scaled = sheet_figure.scale_words(scale)
    texts = [f"{wood}; {scaled}; lengths in {words.unit()}, from the datum corner."]
    if len(blank.members) == 1 and blank.members[0].cut is not None:
        resawn = blank.members[0].layer is not None
        how = "a leaf of the piece, resawn" if resawn else "sawn off the piece"
        texts.append(f"The blank is {how} first.")
    texts += [room.sentence(plan, layout, each) for each in layout.rooms]
    return [line for text in texts for line in _wrapped(clean(text), width)]


def _wrapped(text: str, width: float) -> list[str]:
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if fonts.width(longer, LETTER_MM) <= width or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
