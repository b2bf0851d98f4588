"""The layer sheet of a laminated blank: which pieces, where to saw them, what to plane, how to press."""

from __future__ import annotations

from nestyield.model import Laminate, Layout, Plan
from nestyield.model.facts import MachineRule, PlaneBlank
from nestyield.paperwork import cautions, laminate_figure, title_block
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, outlines_of
from nestyield.paperwork.glue_tables import force_words, movement_rows, pressure_words
from nestyield.paperwork.look import LETTER_MM, STEP_MM, TITLE_MM
from nestyield.paperwork.page import MARGIN_MM, Pages, Paper
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.cautions import LAST_WORD
from nestyield.paperwork.phrases.wood import SOURCES
from nestyield.paperwork.sheet_figure import scale_words
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, short
from nestyield.words import Words, listed, plural

#: Highest picture of a piece, and room around it, mm on paper.
_HIGH_MM, _AROUND_MM = 44.0, 7.0
#: Outlines with no more corners than this are told corner by corner.
_MOST_CORNERS = 8


def laminate_sheet(plan: Plan, layout: Layout, paper: Paper) -> list[Canvas]:
    """Return the pages of a layer sheet; an empty list for a blank that is not laminated.

    Parameters
    ----------
    plan : Plan
    layout : Layout
    paper : {"a4", "letter"}
    """
    told = layout.laminate
    if told is None:
        return []
    pages = Pages(
        paper=paper,
        heading=f"Layer sheet {short(layout.blank.name, 48)}",
        foot=f"{short(plan.shop.name, 40)}. {LAST_WORD}",
    )
    shown = _head(pages, plan, layout, told)
    _layers(pages, plan, layout, told)
    shown |= _pieces(pages, plan, layout, told)
    _press(pages, plan, told)
    _order(pages, plan, layout, told)
    pages.title("Cautions")
    for text in _cautions(plan, layout, told):
        pages.paragraph(text, LETTER_MM, mark="•")
    _rests(pages, plan, told)
    movement_rows(pages, plan, told)
    signs(pages, shown)
    return pages.finish()


def _head(pages: Pages, plan: Plan, layout: Layout, told: Laminate) -> set[str]:
    """Write the heading and draw the layers from the end; return what is shown."""
    words, blank = Words(plan.shop.units), layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 5.0), "Layer sheet", TITLE_MM, "plain-soft", "end")
    pages.line(short(blank.name, 34), 7.0, "plain-bold")
    pages.gap(1.0)
    scale = laminate_figure.end_scale(plan, layout, pages.width)
    title_block.draw(pages, plan, layout, scale_words(scale), pages.y)
    pages.gap(title_block.HEIGHT_MM)
    names = ", ".join(f"{t.letter} = {clean(m.label)}" for t, m in zip(told.layers, blank.members))
    parts = ", ".join(dict.fromkeys(clean(p.part) for p in layout.placements))
    finished = told.thickness_mm - told.top_off_mm - told.bottom_off_mm
    pages.paragraph(
        f"{len(told.layers)} layers ({names}, from the top) glued face to face to a blank of "
        f"{words.size(x1 - x0, y1 - y0)}, {words.length(blank.thickness_mm)} thick, planed to "
        f"{words.length(finished)}, for {parts}.",
        LETTER_MM,
    )
    pages.title("Picture 1: the layers, seen from the right end of the blank, top face up")
    high = blank.thickness_mm * scale
    at = Move(scale=scale, dx=MARGIN_MM + 8.0 - y0 * scale, dy=pages.y - 4.0 - high)
    shown = laminate_figure.end_view(pages.canvas, plan, layout, told, at)
    pages.gap(high + 8.0)
    deep = listed(f"{f.name}: {words.length(f.below_front_mm, style='fine')}" for f in told.faces)
    pages.paragraph(f"Glue lines below the finished upper face: {deep}.", LETTER_MM)
    return shown


def _layers(pages: Pages, plan: Plan, layout: Layout, told: Laminate) -> None:
    words = Words(plan.shop.units)
    rows = []
    for one, member in zip(told.layers, layout.blank.members):
        piece = plan.shop.piece(member.piece)
        rows.append(
            [
                one.letter,
                clean(member.label) + (f", shelf {clean(piece.shelf)}" if piece.shelf else ""),
                clean(piece.species),
                words.length(one.rough_mm, style="fine"),
                words.length(one.top_off_mm, style="fine"),
                words.length(one.bottom_off_mm, style="fine"),
                words.length(one.planed_mm, style="fine"),
            ]
        )
    head = ["", "Piece", "Species", "On the rack", "Off the top", "Off the bottom", "When glued"]
    pages.table("Layers, from the top", head, rows, [0.4, 2.2, 1.7, -1.2, -1.2, -1.4, -1.2])


def _pieces(pages: Pages, plan: Plan, layout: Layout, told: Laminate) -> set[str]:
    """Draw each piece with the outline of the blank, and write where its corners are."""
    words = Words(plan.shop.units)
    boxes = [bounds(outlines_of(plan.shop.piece(m.piece).shape)) for m in layout.blank.members]
    wide, high = max(b[2] - b[0] for b in boxes), max(b[3] - b[1] for b in boxes)
    scale = min((pages.width - 2 * _AROUND_MM - 14.0) / wide, _HIGH_MM / high)
    shown: set[str] = set()
    corners = [laminate_figure.on_piece(layout, m) for m in layout.blank.members]
    many = len(corners[0]) > _MOST_CORNERS
    for k, (one, box) in enumerate(zip(told.layers, boxes)):
        tall = (box[3] - box[1]) * scale
        pages.need(tall + 2 * _AROUND_MM + (22.0 if k == 0 else 6.0))
        if k == 0:
            pages.title("Picture 2: the blank on each piece, as measured for the rack, top face up")
        pages.canvas.text((MARGIN_MM, pages.y - _AROUND_MM - tall / 2), one.letter, 6.0, "plain-bold")
        at = Move(
            scale=scale,
            dx=MARGIN_MM + 14.0 - box[0] * scale,
            dy=pages.y - _AROUND_MM - tall - box[1] * scale,
        )
        shown |= laminate_figure.top_view(pages.canvas, plan, layout, told, k, at)
        pages.gap(tall + 2 * _AROUND_MM)
    if many:
        pages.paragraph(
            "Mark the outline out from the template of the blank, or from its drawing at full size.",
            LETTER_MM,
        )
    rows = []
    for one, box, points in zip(told.layers, boxes, corners):
        if many:
            x0, y0 = min(x for x, _ in points), min(y for _, y in points)
            x1, y1 = max(x for x, _ in points), max(y for _, y in points)
            points = [(x0, y0), (x1, y1)]
        told_points = "; ".join(f"{words.column(x - box[0])}, {words.column(y - box[1])}" for x, y in points)
        rows.append([one.letter, told_points])
    what = "Box around it: lower left; upper right" if many else "Corners of the outline, in their order"
    pages.table("Where to saw, along and across from corner 0", ["", what], rows, [0.3, 8.0])
    return shown


def _press(pages: Pages, plan: Plan, told: Laminate) -> None:
    words, p = Words(plan.shop.units), told.press
    pages.title("Clamps", keep=34.0)
    low, high = p.force_n
    given = max(low if p.count >= p.needed else 0.0, min(high, p.count * p.clamp_n))
    pages.paragraph(
        f"{p.count} {plural(p.count, 'clamp')} over the face, each {words.force(p.clamp_n)} (clamp_force "
        f"of the "
        f"shop), between stiff cauls. Wanted: {pressure_words(p.pressure_psi, words)} over "
        f"{words.area(p.area_mm2)} ({p.density} wood), {force_words(low, high, words)} in all; these give "
        f"{words.force(given)} at most. Pressure: {SOURCES[p.source]}; the leaflet of your glue comes first.",
        LETTER_MM,
    )
    if p.count < p.needed:
        pages.paragraph(f"{p.needed} clamps are needed: see the cautions.", LETTER_MM, "plain-bold")


def _order(pages: Pages, plan: Plan, layout: Layout, told: Laminate) -> None:
    words = Words(plan.shop.units)
    pages.title("Order of work")
    for n, step in enumerate(told.steps, start=1):
        text = clean(phrase(step, words))
        if isinstance(step, PlaneBlank):
            _, y0, _, y1 = bounds([layout.blank.shape.outer])
            wide = words.length(y1 - y0, rounding="up")
            text += f" The planer must take {wide} of width; if yours does not, use a router sled."
        pages.paragraph(text, STEP_MM, mark=f"{n}.")


def _cautions(plan: Plan, layout: Layout, told: Laminate) -> list[str]:
    words = Words(plan.shop.units)
    whose: dict[MachineRule, list[str]] = {}
    for one in told.layers:
        for rule in one.machine_rules:
            whose.setdefault(rule, []).append(one.letter)
    out = [f"{', '.join(letters)}: {phrase(rule, words)}" for rule, letters in whose.items()]
    out += [clean(phrase(fact, words)) for fact in told.cautions]
    return out + [c.text for c in cautions.of_wood(plan, layout)]


def _rests(pages: Pages, plan: Plan, told: Laminate) -> None:
    words = Words(plan.shop.units)
    rows = [
        [
            clean(r.name),
            one.letter,
            words.size(*r.rectangle_mm[2:], rounding="wood"),
            words.length(one.rough_mm, style="fine"),
        ]
        for one in told.layers
        for r in one.rests
    ]
    if rows:
        head = ["Name", "Off", "Length × width", "Thick, rough"]
        pages.table("Label and return to the rack", head, rows, [2.0, 0.6, 2.0, 1.4])
