"""The body of the saw sheet of a piece that is resawn into leaves."""

from __future__ import annotations

from nestyield.model import Plan, Resaw, Sawing
from nestyield.model.facts import ResawSafely
from nestyield.paperwork import flaws, resaw_figure
from nestyield.paperwork.curves import Move, bounds, outlines_of
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.page import MARGIN_MM, Pages
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.cautions import OPERATOR
from nestyield.paperwork.words import clean
from nestyield.words import Words, listed, plural

#: Highest view from the end, and room around it, mm on paper.
_HIGH_MM, _AROUND_MM = 52.0, 8.0
#: Larger than life no more than this.
_MOST = 2.0


def end_scale(width_mm: float, plan: Plan, sawing: Sawing, resaw: Resaw) -> float:
    """Return at which scale the leaves are drawn from the end, in so much width."""
    thick = plan.shop.piece(sawing.piece).thickness_mm
    return min(_MOST, (width_mm - 2 * _AROUND_MM) / resaw.height_mm, _HIGH_MM / thick)


def body(pages: Pages, plan: Plan, sawing: Sawing, resaw: Resaw) -> set[str]:
    """Write view from the end, cuts, steps, what comes of it and cautions; return what is shown.

    Parameters
    ----------
    pages : Pages
    plan : Plan
    sawing : Sawing
    resaw : Resaw
        Of the sawing.
    """
    words = Words(plan.shop.units)
    thick = plan.shop.piece(sawing.piece).thickness_mm
    scale = end_scale(pages.width, plan, sawing, resaw)
    pages.title("Leaves, seen from the end away from 0, top face up", keep=thick * scale + 12.0)
    at = Move(scale=scale, dx=MARGIN_MM + _AROUND_MM, dy=pages.y - 3.0 - thick * scale)
    shown = resaw_figure.end_view(pages.canvas, plan, sawing, resaw, at)
    pages.gap(thick * scale + 8.0)
    pages.table(
        "Cuts", resaw_figure.HEAD, resaw_figure.rows(plan, sawing, resaw), [0.6, -1.6, 2.2, -1.2, 2.6]
    )
    pages.paragraph(meaning(words, sawing, resaw), LETTER_MM, "plain-soft")
    pages.title("Order of work")
    for number, text in enumerate(steps(words, sawing, resaw), start=1):
        pages.paragraph(text, LETTER_MM, mark=str(number))
    _leaves(pages, plan, sawing, resaw, words)
    pages.title("Cautions")
    for text in cautions(plan, sawing, resaw, words):
        pages.paragraph(text, LETTER_MM, mark="•")
    return shown


def meaning(words: Words, sawing: Sawing, resaw: Resaw) -> str:
    """Return what the table of cuts means, in words."""
    kerf, planed = (words.length(v, style="fine") for v in (sawing.kerf_mm, resaw.planing_mm))
    return (
        f"Fence to blade: what comes off, rough, with {planed} for planing its sawn face. The blade takes "
        f"{kerf}. Stays: thickness behind the blade."
    )


def steps(words: Words, sawing: Sawing, resaw: Resaw) -> list[str]:
    """Return what is done, in order."""
    planed = words.length(resaw.planing_mm, style="fine")
    high = words.length(resaw.height_mm)
    out = [
        "Search the board for metal and take loose knots off. Mark the top face, the end at 0 and the edge "
        "that is down (thick line) so that every leaf shows them: a triangle across the other edge.",
        f"Joint the top face flat and the edge that is down straight and square to it, as little as it "
        f"takes. The board stands {high} high.",
        "Stand it on that edge, top face against the fence, and set the fence for cut 1. Feed slowly with "
        "push blocks; do not force it.",
    ]
    if len(resaw.cuts) > 1:
        out.append(
            f"Before each further cut plane the face just sawn flat ({planed}) and lay it against the fence."
        )
    return [
        *out,
        "Write its name on each leaf. Stand the leaves on stickers, air on both faces, weight on top, "
        "until they no longer move: days to weeks. They cup where wood was under stress or is damper inside.",
        f"Plane the sawn faces flat, {planed} off each. A leaf that cups more than that is too thin for "
        f"its part: plan again without it.",
    ]


def _leaves(pages: Pages, plan: Plan, sawing: Sawing, resaw: Resaw, words: Words) -> None:
    made = {
        layout.blank.name: listed(dict.fromkeys(clean(p.part) for p in layout.placements))
        for layout in plan.layouts
    }
    piece = plan.shop.piece(sawing.piece)
    x0, y0, x1, y1 = bounds(outlines_of(piece.shape))
    rests = {rest.name: rest for rest in sawing.rests}
    rows = []
    for leaf in resaw_figure.leaves(plan, sawing, resaw):
        layer, name = leaf.layer, leaf.name
        if name in rests:
            held = flaws.kinds_in(rests[name], sawing.flaws, piece.defects)
            what = f"label and return to the rack; defects in it: {held}" if rests[name].usable else "waste"
        elif name == leaf.blank:
            what = f"blank for {made[name]}: see its shop sheet"
        else:
            turned = "turned over, " if leaf.over else ""
            what = f"book match for {made[leaf.blank]}, {turned}see its glue-up sheet"
        faces = [
            "board's top" if layer.top_mm <= 0.0 else "sawn",
            "board's bottom" if layer.bottom_mm >= piece.thickness_mm - 1e-6 else "sawn",
        ]
        rows.append(
            [
                clean(name),
                f"{words.size(x1 - x0, y1 - y0, rounding='wood')} × "
                f"{words.length(layer.thickness_mm, style='fine')}",
                f"{words.column(layer.top_mm)} to {words.column(layer.bottom_mm)}",
                " / ".join(faces),
                what,
            ]
        )
    head = [
        "Leaf",
        "Size, sawn faces planed",
        f"Below the top face, {words.units}",
        "Top / bottom face",
        "For",
    ]
    pages.table("What comes of it", head, rows, [1.1, 2.2, 1.6, 1.9, 2.8])


def cautions(plan: Plan, sawing: Sawing, resaw: Resaw, words: Words) -> list[str]:
    """Return what to mind at the resaw, what is loose in its cuts first."""
    limits = plan.shop.settings.machines
    loose = list(dict.fromkeys(name for cut in resaw.cuts for name in cut.defects))
    out = []
    if loose:
        out.append(
            f"{plural(len(loose), 'defect')} in the cut may come loose "
            f"({listed(clean(n) for n in loose)}): take the wood there out, or do not make the cut."
        )
    safely = ResawSafely(
        highest_um=round(1000 * (limits.resaw_height_mm or 0.0)),
        shortest_um=round(1000 * limits.resaw_shortest_mm),
    )
    return [*out, clean(phrase(safely, words)), OPERATOR]
