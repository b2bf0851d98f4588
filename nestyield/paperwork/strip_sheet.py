"""The strip sheet of a blank of strips on edge: which strips, how they stand, what to plane, how to press."""

from __future__ import annotations

from nestyield.model import Layout, OnEdge, Plan
from nestyield.model.facts import MachineRule
from nestyield.paperwork import cautions, strip_figure, title_block
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, outlines_of
from nestyield.paperwork.glue_tables import force_words, pressure_words
from nestyield.paperwork.look import LETTER_MM, STEP_MM, TITLE_MM
from nestyield.paperwork.page import MARGIN_MM, Pages, Paper
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.cautions import LAST_WORD, OPERATOR
from nestyield.paperwork.phrases.wood import SOURCES
from nestyield.paperwork.sheet_figure import scale_words
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, short
from nestyield.words import Words, listed, plural


def strip_sheet(plan: Plan, layout: Layout, paper: Paper) -> list[Canvas]:
    """Return the pages of a strip sheet; an empty list for a blank that is not of strips.

    Parameters
    ----------
    plan : Plan
    layout : Layout
    paper : {"a4", "letter"}
    """
    told = layout.on_edge
    if told is None:
        return []
    pages = Pages(
        paper=paper,
        heading=f"Strip sheet {short(layout.blank.name, 48)}",
        foot=f"{short(plan.shop.name, 40)}. {LAST_WORD}",
    )
    shown = _head(pages, plan, layout, told)
    shown |= _from_above(pages, plan, layout, told)
    _strips(pages, plan, layout, told)
    _press(pages, plan, told)
    words = Words(plan.shop.units)
    pages.title("Order of work")
    for n, step in enumerate(told.steps, start=1):
        pages.paragraph(clean(phrase(step, words)), STEP_MM, mark=f"{n}.")
    pages.title("Cautions")
    for text in [*_cautions(plan, layout, told), OPERATOR]:
        pages.paragraph(text, LETTER_MM, mark="•")
    signs(pages, shown)
    return pages.finish()


def _head(pages: Pages, plan: Plan, layout: Layout, told: OnEdge) -> set[str]:
    """Write the heading and draw the strips from the end; return what is shown."""
    words, blank = Words(plan.shop.units), layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 5.0), "Strip sheet", TITLE_MM, "plain-soft", "end")
    pages.line(short(blank.name, 34), 7.0, "plain-bold")
    pages.gap(1.0)
    scale, _ = strip_figure.scale_of(layout, pages.width)
    title_block.draw(pages, plan, layout, scale_words(scale), pages.y)
    pages.gap(title_block.HEIGHT_MM)
    parts = ", ".join(dict.fromkeys(clean(p.part) for p in layout.placements))
    finished = told.thickness_mm - told.top_off_mm - told.bottom_off_mm
    boards = listed(clean(label) for label in blank.stock)
    pages.paragraph(
        f"{len(told.strips)} strips of {boards} ({clean(blank.species)}), turned onto their edges and "
        f"glued face to "
        f"face to a blank of {words.size(x1 - x0, y1 - y0)}, {words.length(blank.thickness_mm)} thick, "
        f"planed to "
        f"{words.length(finished)}, for {parts}. Where to saw each board: see its saw sheet.",
        LETTER_MM,
    )
    pages.title("Picture 1: the strips, seen from the right end of the blank, top face up")
    high = blank.thickness_mm * scale
    at = Move(scale=scale, dx=MARGIN_MM + strip_figure.SIDE_MM - y0 * scale, dy=pages.y - 4.0 - high)
    shown = strip_figure.end_view(pages.canvas, layout, told, at)
    pages.gap(high + 13.0)
    return shown


def _from_above(pages: Pages, plan: Plan, layout: Layout, told: OnEdge) -> set[str]:
    """Draw the blank from above, and write where its seams lie."""
    words = Words(plan.shop.units)
    x0, y0, _, y1 = bounds([layout.blank.shape.outer])
    _, scale = strip_figure.scale_of(layout, pages.width)
    high = (y1 - y0) * scale
    pages.need(high + 24.0)
    pages.title("Picture 2: the blank from above, with its seams and the part")
    at = Move(
        scale=scale,
        dx=MARGIN_MM + strip_figure.SIDE_MM - x0 * scale,
        dy=pages.y - 3.0 - high - y0 * scale,
    )
    shown = strip_figure.top_view(pages.canvas, plan, layout, told, at)
    pages.gap(high + 7.0)
    lines = listed(
        f"{s.name}: {words.length(s.line_mm[0][1] - y0, style='fine')}" for s in layout.blank.seams
    )
    pages.paragraph(f"Seams from the lower edge of the blank: {lines}.", LETTER_MM)
    return shown


def _strips(pages: Pages, plan: Plan, layout: Layout, told: OnEdge) -> None:
    words = Words(plan.shop.units)
    rows = []
    for one, member in zip(told.strips, layout.blank.members):
        piece = plan.shop.piece(member.piece)
        corner = bounds(outlines_of(piece.shape))[:2]
        cut = bounds(outlines_of(member.cut)) if member.cut is not None else (*corner, *corner)
        rows.append(
            [
                one.letter,
                clean(member.label) + (f", shelf {clean(piece.shelf)}" if piece.shelf else ""),
                f"{words.column(cut[0] - corner[0])}, {words.column(cut[1] - corner[1])}",
                words.column(one.ripped_mm),
                words.column(one.rough_mm),
                words.column(one.planed_mm),
                f"the {'edge away from' if one.up == 'far' else 'edge toward'} corner 0",
                "right" if one.end_for_end else "left",
                "away" if one.top_face == "upper" else "toward you",
            ]
        )
    head = [
        "",
        "Of board",
        "From 0",
        "Ripped",
        "Board",
        "When glued",
        "Up is",
        "Its first end",
        "Board's top looks",
    ]
    pages.table(
        "Strips, from the lower edge of the blank up",
        head,
        rows,
        [0.3, 1.7, -1.5, -1.2, -1.1, -1.2, 2.2, 1.1, 1.4],
    )
    pages.paragraph(
        "From 0: where the strip begins on its board, along and across. Ripped: width of the strip, the "
        "thickness of the blank. Board, when glued: thickness on the rack "
        "and "
        "once planed, so much of the blank's width. Its first end: where the end lies at which the board's "
        "length begins.",
        LETTER_MM,
        "plain-soft",
    )


def _press(pages: Pages, plan: Plan, told: OnEdge) -> None:
    words, p = Words(plan.shop.units), told.press
    pages.title("Clamps", keep=30.0)
    low, high = p.force_n
    given = max(low if p.count >= p.needed else 0.0, min(high, p.count * p.clamp_n))
    pages.paragraph(
        f"{p.count} {plural(p.count, 'clamp')} across the strips, bars above and below in turn, each "
        f"{words.force(p.clamp_n)} (clamp_force of the shop). Wanted: "
        f"{pressure_words(p.pressure_psi, words)} over "
        f"{words.area(p.area_mm2)} of each seam ({p.density} wood), {force_words(low, high, words)} in "
        f"all; these give "
        f"{words.force(given)} at most. Pressure: {SOURCES[p.source]}; the leaflet of your glue comes first.",
        LETTER_MM,
    )
    if p.count < p.needed:
        pages.paragraph(f"{p.needed} clamps are needed: see the cautions.", LETTER_MM, "plain-bold")


def _cautions(plan: Plan, layout: Layout, told: OnEdge) -> list[str]:
    words = Words(plan.shop.units)
    whose: dict[MachineRule, list[str]] = {}
    for one in told.strips:
        for rule in one.machine_rules:
            whose.setdefault(rule, []).append(one.letter)
    out = [clean(phrase(fact, words)) for fact in told.cautions]
    out += [f"{', '.join(letters)}: {phrase(rule, words)}" for rule, letters in whose.items()]
    return out + [c.text for c in cautions.of_wood(plan, layout)]
