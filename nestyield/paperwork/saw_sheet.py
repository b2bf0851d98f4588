"""The saw sheet of a piece that is sawn into blanks before any of them goes on a bed."""

from __future__ import annotations

from nestyield.model import Plan, Sawing
from nestyield.model.facts import CrosscutSafely, RipNarrow
from nestyield.paperwork import flaws, resaw_figure, resaw_sheet, saw_figure, title_block
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, outlines_of
from nestyield.paperwork.look import LETTER_MM, TITLE_MM
from nestyield.paperwork.page import MARGIN_MM, Pages, Paper, scale_bar
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.cautions import LAST_WORD, OPERATOR
from nestyield.paperwork.sheet_figure import scale_words
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, short
from nestyield.words import Words, listed

#: Highest picture, mm on paper.
_HIGH_MM = 95.0
#: Highest top view of a piece that is resawn, mm on paper.
_RESAWN_HIGH_MM = 46.0
#: Room for cut numbers around the picture, mm on paper.
_AROUND_MM = 8.0


def label(sawing: Sawing) -> str:
    """Return what the sawn copy of a piece is called."""
    return sawing.piece if sawing.copy == 1 else f"{sawing.piece}/{sawing.copy}"


def saw_sheet(plan: Plan, sawing: Sawing, paper: Paper) -> list[Canvas]:
    """Return the pages of the saw sheet of one piece.

    Parameters
    ----------
    plan : Plan
    sawing : Sawing
    paper : {"a4", "letter"}
    """
    words = Words(plan.shop.units)
    piece = plan.shop.piece(sawing.piece)
    pages = Pages(
        paper=paper,
        heading=f"Saw sheet {short(label(sawing), 48)}",
        foot=f"{short(plan.shop.name, 40)}. {LAST_WORD}",
    )
    box = bounds(outlines_of(piece.shape))
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 5.0), "Saw sheet", TITLE_MM, "plain-soft", "end")
    pages.line(short(label(sawing), 34), 7.0, "plain-bold")
    pages.gap(1.0)
    most = _HIGH_MM if sawing.resaw is None else _RESAWN_HIGH_MM
    scale = min((pages.width - 2 * _AROUND_MM) / (box[2] - box[0]), most / (box[3] - box[1]))
    title_block.draw_block(
        pages,
        plan,
        [f"Piece: {clean(label(sawing))}", f"Blanks: {listed(clean(b) for b in sawing.blanks)}"],
        scale_words(scale),
        pages.y,
    )
    pages.gap(title_block.HEIGHT_MM)
    facts = [
        clean(piece.species),
        words.size(box[2] - box[0], box[3] - box[1]),
        f"{words.length(piece.thickness_mm)} thick",
        *([f"shelf {clean(piece.shelf)}"] if piece.shelf else []),
    ]
    pages.paragraph(
        f"{', '.join(facts)}. Top view, as measured for the rack. {what_for(plan, sawing)}",
        LETTER_MM,
    )
    high = (box[3] - box[1]) * scale
    top = pages.y - _AROUND_MM
    at = Move(scale=scale, dx=MARGIN_MM + _AROUND_MM - box[0] * scale, dy=top - high - box[1] * scale)
    if sawing.resaw is None:
        shown = saw_figure.draw(pages.canvas, plan, sawing, at)
    else:
        shown = resaw_figure.top_view(pages.canvas, piece, sawing.resaw, at)
    pages.gap(high + 2 * _AROUND_MM)
    scale_bar(pages.canvas, MARGIN_MM + pages.width - 84.0, pages.y - 3.0, scale, words)
    pages.gap(6.0)
    if sawing.resaw is None:
        _cuts(pages, plan, sawing, words)
    else:
        shown |= resaw_sheet.body(pages, plan, sawing, sawing.resaw)
    signs(pages, shown)
    return pages.finish()


def what_for(plan: Plan, sawing: Sawing) -> str:
    """Return why a piece is sawn first."""
    if sawing.resaw is None:
        if any(layout.on_edge is not None for _, layout, _ in saw_figure.boards_of(plan, sawing)):
            return "Strips of it are turned onto their edges and glued: saw them first."
        if any(layout.glueup is not None for _, layout, _ in saw_figure.boards_of(plan, sawing)):
            return "No bed takes a glue-up with all of its length: crosscut it before gluing."
        return "No bed takes it in one go: saw it into blanks first."
    return "It is thick enough for thinner blanks: saw it into leaves first."


def _cuts(pages: Pages, plan: Plan, sawing: Sawing, words: Words) -> None:
    """Write the cuts across and along, what comes of them, and cautions."""
    pages.table("Cuts", saw_figure.HEAD, saw_figure.rows(plan, sawing), [0.5, 2.0, -1.5, -1.0, -1.7, 3.0])
    kerf = words.length(sawing.kerf_mm, style="fine")
    pages.paragraph(saw_figure.MEANING.format(kerf=kerf), LETTER_MM, "plain-soft")
    _what_comes_of_it(pages, plan, sawing, words)
    pages.title("Cautions")
    usual = [clean(phrase(CrosscutSafely(), words)), *_narrow(plan, sawing, words), OPERATOR]
    for text in [*_metal(sawing), *usual]:
        pages.paragraph(text, LETTER_MM, mark="•")


def _what_comes_of_it(pages: Pages, plan: Plan, sawing: Sawing, words: Words) -> None:
    rows = []
    piece = plan.shop.piece(sawing.piece)
    boards = saw_figure.boards_of(plan, sawing)
    what = (
        "board: see its glue-up sheet" if len(boards) == 1 else "board: sawn apart as its glue-up sheet says"
    )
    for name, layout, member in boards:
        if layout.on_edge is not None and member.cut is not None:
            x0, y0, x1, y1 = bounds(outlines_of(member.cut))
            rows.append([clean(name), words.size(x1 - x0, y1 - y0), "strip: see its strip sheet"])
        elif layout.glueup is not None and member.cut is not None:
            x0, y0, x1, y1 = bounds(outlines_of(member.cut))
            rows.append([clean(name), words.size(x1 - x0, y1 - y0), what])
        else:
            x0, y0, x1, y1 = bounds(outlines_of(layout.blank.shape))
            made = listed(dict.fromkeys(clean(p.part) for p in layout.placements))
            rows.append(
                [
                    clean(layout.blank.name),
                    words.size(x1 - x0, y1 - y0),
                    f"blank for {made}: see its shop sheet",
                ]
            )
    for rest in sawing.rests:
        x0, y0, x1, y1 = bounds(outlines_of(rest.shape))
        held = flaws.kinds_in(rest, sawing.flaws, piece.defects)
        clear = "" if held == "none" else f", {flaws.clear_size(rest, sawing.flaws, words)} clear of them"
        what = f"label and return to the rack; defects in it: {held}{clear}" if rest.usable else "waste"
        rows.append([clean(rest.name), words.size(x1 - x0, y1 - y0, rounding="wood"), what])
    pages.table("What comes of it", ["Name", "Length × width", "For"], rows, [1.6, 1.6, 3.6])


def _narrow(plan: Plan, sawing: Sawing, words: Words) -> list[str]:
    """Return what to mind where strips for the edge are ripped, once."""
    layouts = [layout for _, layout, _ in saw_figure.boards_of(plan, sawing)]
    told = [f for x in layouts if x.on_edge is not None for f in x.on_edge.cautions]
    return list(dict.fromkeys(clean(phrase(f, words)) for f in told if isinstance(f, RipNarrow)))


def _metal(sawing: Sawing) -> list[str]:
    """Return a caution for each cut whose blade may meet metal."""
    return [
        f"Cut {number} runs through what may hold metal ({listed(clean(m) for m in cut.defects)}). Search "
        f"it, take the metal out, or do not make the cut."
        for number, cut in enumerate(sawing.cuts, start=1)
        if cut.defects
    ]
