"""The repair of a part on paper: where to cut the damage away, and what is glued on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nestyield.model import Outline, Part, Piece, Plan, Shape, Shop
from nestyield.model.patch import PatchCut
from nestyield.paperwork import marks, pdf, svg, title_block
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, outlines_of
from nestyield.paperwork.look import LETTER_MM, TITLE_MM
from nestyield.paperwork.page import MARGIN_MM, Pages, Paper, scale_bar
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.cautions import LAST_WORD, OPERATOR
from nestyield.paperwork.piece_picture import check_picture
from nestyield.paperwork.sheet_figure import scale_words
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, short
from nestyield.words import Words, listed

#: Highest picture, and room around it, mm on paper.
_HIGH_MM, _AROUND_MM = 84.0, 10.0
_SVG_MM = 190.0
#: Cautions of sawing and gluing a small part (HSE circular saw guidance; P).
CAUTIONS = (
    "A small or curved part may tip and be thrown: hold it on a carrier that keeps the cut straight, or saw "
    "it by hand.",
    "The blade or cutter runs beyond the part: clear what lies behind it.",
)


def no_cut(part: str, in_the_way: Sequence[str]) -> list[str]:
    """Return that no straight cut serves, in lines."""
    way = f"; {listed(clean(z) for z in in_the_way)} would be cut" if in_the_way else ""
    return [f"{clean(part)}: no straight cut takes the damage off and leaves the rest of the part{way}"]


def ends(part: Part, cut: PatchCut, words: Words) -> list[str]:
    """Return where a cut meets the outline: from the left and the lower end of the part."""
    x0, y0, _, _ = bounds([part.outline])
    return [
        f"{words.length(x - x0, style='fine')} from the left, {words.length(y - y0, style='fine')} from below"
        for x, y in cut.line_mm
    ]


def cut_lines(part: Part, cut: PatchCut, in_the_way: Sequence[str], words: Words) -> list[str]:
    """Return what is to be said of a cut, a line each."""
    a, b = ends(part, cut, words)
    x0, y0, x1, y1 = bounds(outlines_of(cut.removed))
    out = [
        f"{clean(part.name)}: cut straight through from {a} to {b}, {words.length(cut.length_mm)} long",
        f"  it takes off {words.area(cut.area_mm2)}, {words.size(x1 - x0, y1 - y0, rounding='up')}"
        f" and {words.length(part.thickness_mm)} thick",
    ]
    if cut.joint is not None and cut.off_grain_deg is not None:
        out.append(f"  {words.angle(cut.off_grain_deg)} off the grain: {phrase(cut.joint, words)}")
    if in_the_way:
        out.append(f"  it goes round {listed(clean(z) for z in in_the_way)}")
    return out


def write_patch(
    path: Path,
    shop: Shop,
    part: Part,
    damage: Shape,
    cut: PatchCut,
    piece: Piece | None,
    in_the_way: Sequence[str],
) -> None:
    """Write the picture of a repair as SVG, or its sheet as PDF (A4).

    Parameters
    ----------
    path : Path
        ``.svg`` or ``.pdf``; an earlier picture is replaced.
    shop : Shop
    part : Part
    damage : Shape
    cut : PatchCut
    piece : Piece or None
        The piece of the rack that gives the patch.
    in_the_way : sequence of str
        Zones that the cut goes round.

    Raises
    ------
    PictureError
        As `check_picture`.
    """
    check_picture(path)
    if path.suffix.lower() == ".pdf":
        pages = sheet(shop, part, damage, cut, piece, in_the_way, "a4")
        data = pdf.document(pages, f"nestyield: patch of {clean(part.name)}", "")
    else:
        data = svg.document(picture(part, damage, cut)).encode()
    new = path.with_name(f".{path.name}.new")
    new.write_bytes(data)
    new.replace(path)


def picture(part: Part, damage: Shape, cut: PatchCut) -> Canvas:
    """Return the figure alone."""
    x0, y0, x1, y1 = bounds([part.outline])
    scale = min(_SVG_MM / (x1 - x0), _SVG_MM / (y1 - y0))
    width, height = ((v * scale + 2 * _AROUND_MM) for v in (x1 - x0, y1 - y0))
    canvas = Canvas(width_mm=width, height_mm=height, title=f"nestyield: patch of {clean(part.name)}")
    draw(canvas, part, damage, cut, Move(scale=scale, dx=_AROUND_MM - x0 * scale, dy=_AROUND_MM - y0 * scale))
    return canvas


def draw(canvas: Canvas, part: Part, damage: Shape, cut: PatchCut, at: Move) -> set[str]:
    """Draw part, zones, damage and cut; return the legend keys of what is shown."""
    outline = [at.outline(part.outline)]
    off = [at.outline(o) for o in outlines_of(cut.removed)]
    shown = {"part", "saw-cut", "leftover"}
    canvas.area(outline, "part")
    marks.leftover(canvas, off)
    for zone in part.zones:
        if zone.shape is None or not zone.does.cuts:
            continue
        style = zone.does.drawn if zone.face != "back" else "pocket-under"
        canvas.area([at.outline(o) for o in outlines_of(zone.shape)], style)
    canvas.area(outline, "outline")
    marks.defect(canvas, [at.outline(o) for o in outlines_of(damage)], "other", part.grain_deg or 0.0)
    shown.add("defect other")
    (a, b) = (at.point(p) for p in cut.line_mm)
    ux, uy = b[0] - a[0], b[1] - a[1]
    far = 4.0 / max(1e-9, (ux * ux + uy * uy) ** 0.5)
    canvas.line((a[0] - far * ux, a[1] - far * uy), (b[0] + far * ux, b[1] + far * uy), "saw-cut")
    for name, p, side in (("A", a, -1.0), ("B", b, 1.0)):
        canvas.area([Outline.circle(*p, 0.8)], "zero")
        spot = (p[0] + side * 1.8 * far * ux, p[1] + side * 1.8 * far * uy - LETTER_MM / 3)
        canvas.text(spot, name, LETTER_MM, "text-bold", "middle")
    x0, y0, _, _ = bounds(outline)
    canvas.area([Outline.circle(x0, y0, 1.0)], "zero")
    canvas.text((x0 - 3.6, y0 - 3.4), "0", LETTER_MM, "text-bold")
    return shown


def sheet(
    shop: Shop,
    part: Part,
    damage: Shape,
    cut: PatchCut,
    piece: Piece | None,
    in_the_way: Sequence[str],
    paper: Paper,
) -> list[Canvas]:
    """Return the pages of the sheet of a repair."""
    words = Words(shop.units)
    pages = Pages(
        paper=paper,
        heading=f"Patch of {short(part.name, 48)}",
        foot=f"{short(shop.name, 40)}. {LAST_WORD}",
    )
    x0, y0, x1, y1 = bounds([part.outline])
    scale = min((pages.width - 2 * _AROUND_MM) / (x1 - x0), _HIGH_MM / (y1 - y0))
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 5.0), "Patch sheet", TITLE_MM, "plain-soft", "end")
    pages.line(short(f"Patch of {part.name}", 34), 7.0, "plain-bold")
    pages.gap(1.0)
    plan = Plan(shop=shop, seed=0, effort=0, layouts=(), orders=())
    title_block.draw_block(
        pages,
        plan,
        [f"Part: {clean(part.name)}", f"Patch from: {clean(piece.name) if piece else 'no piece'}"],
        scale_words(scale),
        pages.y,
    )
    pages.gap(title_block.HEIGHT_MM)
    pages.paragraph(
        "Front face up, as the part is drawn. Lengths from 0, the left and the lower end of the part, in "
        f"{words.unit()}.",
        LETTER_MM,
    )
    high = (y1 - y0) * scale
    at = Move(
        scale=scale,
        dx=MARGIN_MM + _AROUND_MM - x0 * scale,
        dy=pages.y - _AROUND_MM - high - y0 * scale,
    )
    shown = draw(pages.canvas, part, damage, cut, at)
    pages.gap(high + 2 * _AROUND_MM)
    scale_bar(pages.canvas, MARGIN_MM + pages.width - 84.0, pages.y - 3.0, scale, words)
    pages.gap(6.0)
    pages.table(
        "Cut",
        ["End", "From the left", "From below"],
        [[name, words.column(x - x0), words.column(y - y0)] for name, (x, y) in zip(("A", "B"), cut.line_mm)],
        [0.5, -1.5, -1.5, 4.0][:3],
    )
    for text in cut_lines(part, cut, in_the_way, words)[1:]:
        pages.paragraph(text.strip()[:1].upper() + text.strip()[1:] + ".", LETTER_MM)
    pages.title("Order of work")
    for text in steps(part, cut, piece, words):
        pages.paragraph(text, LETTER_MM, mark="•")
    pages.title("Cautions")
    for text in (*CAUTIONS, OPERATOR):
        pages.paragraph(text, LETTER_MM, mark="•")
    signs(pages, shown)
    return pages.finish()


def steps(part: Part, cut: PatchCut, piece: Piece | None, words: Words) -> list[str]:
    """Return the order of work, a sentence each."""
    x0, y0, x1, y1 = bounds(outlines_of(cut.removed))
    size = words.size(x1 - x0, y1 - y0, rounding="up")
    wood = f"piece {clean(piece.name)}" if piece is not None else "a piece of the same wood"
    grain = "" if part.grain_deg is None else ", grain along that of the part"
    thick = words.length(part.thickness_mm)
    return [
        "Mark A and B on the outline and draw the line between them on both faces.",
        "Saw on the side of the damage and joint the cut to the line. Keep what comes off as a pattern.",
        f"Saw the patch from {wood}: {size}, fuller all around, at least {thick} thick{grain}.",
        "Joint its edge to the cut, glue and clamp it square to the joint, and leave it as the glue asks.",
        f"Level both faces to {thick}, and bring the patch to the outline by the part's drawing or template.",
    ]
