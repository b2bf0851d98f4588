"""The glue-up sheet of one blank: which pieces, which edges, how far to slide, how to clamp."""

from __future__ import annotations

from nestyield.model import GlueUp, Layout, Plan
from nestyield.model.facts import MachineRule, MovementUnknown, PlaneBlank, SeasonalStep, WidthMoves
from nestyield.paperwork import cautions, glue_figures, glue_tables, title_block
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import bounds
from nestyield.paperwork.look import LETTER_MM, STEP_MM, TITLE_MM
from nestyield.paperwork.page import MARGIN_MM, SIZES, Pages, Paper
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.cautions import LAST_WORD
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, listed, short
from nestyield.words import Words

#: The second picture stays on the first page if it is not drawn smaller than so much of what a page gives.
_SMALLER = 0.5
#: Facts of the wood that the sheet's tables show already.
_IN_TABLES = (WidthMoves, MovementUnknown, SeasonalStep)


def _head(pages: Pages, plan: Plan, layout: Layout, told: GlueUp) -> float:
    """Write the heading; return the upper edge of the room for the title block."""
    words = Words(plan.shop.units)
    blank = layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    pages.canvas.text(
        (MARGIN_MM + pages.width, pages.y - 5.0), "Glue-up sheet", TITLE_MM, "plain-soft", "end"
    )
    pages.line(short(blank.name, 34), 7.0, "plain-bold")
    pages.gap(1.0)
    top = pages.y
    pages.gap(title_block.HEIGHT_MM)
    whose: dict[tuple[str, int], list[str]] = {}
    for t, m in zip(told.members, blank.members):
        whose.setdefault((m.piece, m.copy), []).append(t.letter)
    made = "resawn" if blank.members[0].layer is not None else "sawn"
    names = ", ".join(
        f"{letters[0]} = {clean(piece)}"
        if len(letters) == 1
        else f"{listed(letters)} {made} from {clean(piece)}"
        for piece, letters in zip(blank.stock, whose.values())
    )
    parts = ", ".join(dict.fromkeys(clean(p.part) for p in layout.placements))
    pages.paragraph(
        f"{len(told.members)} pieces of {clean(blank.species)} ({names}) to a blank of "
        f"{words.size(x1 - x0, y1 - y0)}, {words.length(blank.thickness_mm)} thick, "
        f"for {parts}.",
        LETTER_MM,
    )
    pages.title("Picture 1: glued up, top view (top face of the shop sheet)")
    return top


def _cautions(plan: Plan, layout: Layout, told: GlueUp) -> list[str]:
    words = Words(plan.shop.units)
    whose: dict[MachineRule, list[str]] = {}
    for member in told.members:
        for rule in member.machine_rules:
            whose.setdefault(rule, []).append(member.letter)
    out = [f"{', '.join(letters)}: {phrase(rule, words)}" for rule, letters in whose.items()]
    facts = (*told.conflicts, *(f for f in layout.wood if not isinstance(f, _IN_TABLES)), *told.cautions)
    out += [clean(phrase(fact, words)) for fact in facts]
    return out + [c.text for c in cautions.of_wood(plan, layout)]


def _order(pages: Pages, plan: Plan, layout: Layout, told: GlueUp) -> None:
    pages.title("Order of work")
    words = Words(plan.shop.units)
    for n, step in enumerate(told.steps, start=1):
        text = clean(phrase(step, words))
        if isinstance(step, PlaneBlank):
            text += f" {_planer(layout, words)}"
        pages.paragraph(text, STEP_MM, mark=f"{n}.")


def _planer(layout: Layout, words: Words) -> str:
    """Return how wide a planer the blank needs, and what to do without one."""
    _, y0, _, y1 = bounds([layout.blank.shape.outer])
    wide = words.length(y1 - y0, rounding="up")
    return f"The planer must take {wide} of width; if yours does not, flatten the blank with a router sled."


def _full(paper: Paper) -> float:
    """Return the height of an empty page, mm."""
    return SIZES[paper][1] - 2 * MARGIN_MM - 14.0


def glue_sheet(plan: Plan, layout: Layout, paper: Paper) -> list[Canvas]:
    """Return the pages of a glue-up sheet; an empty list for a blank that is not glued up from pieces.

    Parameters
    ----------
    plan : Plan
    layout : Layout
    paper : {"a4", "letter"}
    """
    told = layout.glueup
    if told is None:
        return []
    pages = Pages(
        paper=paper,
        heading=f"Glue-up sheet {short(layout.blank.name, 48)}",
        foot=f"{short(plan.shop.name, 40)}. {LAST_WORD}",
    )
    members = glue_figures.lying(plan, layout, told)
    top = _head(pages, plan, layout, told)
    shown, scale = glue_figures.assembled(pages, plan, layout, told)
    title_block.draw(pages, plan, layout, scale, top)
    here = glue_figures.scale_here(pages, members, pages.room)
    best = glue_figures.scale_here(pages, members, _full(paper))
    first = here >= _SMALLER * best
    if first:
        shown |= glue_figures.pieces_apart(pages, plan, members, told.keys, here)
    glue_tables.pieces(pages, plan, members)
    glue_tables.edges(pages, plan, members)
    if not first:
        pages.new_page()
        shown |= glue_figures.pieces_apart(pages, plan, members, told.keys, best)
    shown |= glue_figures.sawn_apart(pages, plan, members, told)
    glue_tables.keys(pages, plan, told)
    glue_tables.seams(pages, plan, told)
    glue_tables.clamps(pages, plan, told)
    _order(pages, plan, layout, told)
    pages.title("Cautions")
    for text in _cautions(plan, layout, told):
        pages.paragraph(text, LETTER_MM, mark="•")
    glue_tables.strips(pages, plan, members)
    glue_tables.movement(pages, plan, told)
    signs(pages, shown)
    return pages.finish()
