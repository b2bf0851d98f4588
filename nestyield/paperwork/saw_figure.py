"""The picture of a piece that is sawn before the bed: cuts with their numbers, blanks, what is left over."""

from __future__ import annotations

from nestyield.model import Layout, Member, Outline, Piece, Plan, SawCut, Sawing
from nestyield.paperwork import marks
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Box, Move, bounds, move_of, outlines_of
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.words import clean, short
from nestyield.words import Words, listed

#: Cut numbers stand so far outside the piece, mm on paper.
_OUT_MM = 2.4


def direction(piece: Piece, cut: SawCut) -> str:
    """Return how a cut goes: by the grain, or by the length of a sheet."""
    if piece.grain_deg is None:
        return "across the length" if cut.across == "x" else "along the length"
    along_x = abs((piece.grain_deg + 90.0) % 180.0 - 90.0) <= 45.0
    return "crosscut" if along_x == (cut.across == "x") else "rip"


def _blocks(plan: Plan, sawing: Sawing) -> list[tuple[str, tuple[Outline, ...]]]:
    """Return each blank, or each board of a glue-up, with its outline on the piece."""
    return [
        (label, outlines_of(member.cut))
        for label, _, member in boards_of(plan, sawing)
        if member.cut is not None
    ]


def boards_of(plan: Plan, sawing: Sawing) -> list[tuple[str, Layout, Member]]:
    """Return what comes of a sawn piece: its name, its blank, and the member that it is.

    Parameters
    ----------
    plan : Plan
    sawing : Sawing
    """
    by_name = {layout.blank.name: layout for layout in plan.layouts}
    found = []
    for name in sawing.blanks:
        layout = by_name[name]
        for k, member in enumerate(layout.blank.members):
            if (member.piece, member.copy) == (sawing.piece, sawing.copy):
                board = f"{_letter(layout, k)} of " if layout.glueup or layout.on_edge else ""
                found.append((f"{board}{name}", layout, member))
    return found


def _letter(layout: Layout, k: int) -> str:
    """Return the letter of a board of a glue-up, or of a strip on edge."""
    if layout.glueup is not None:
        return layout.glueup.members[k].letter
    return "" if layout.on_edge is None else layout.on_edge.strips[k].letter


def gives(plan: Plan, sawing: Sawing, cut: SawCut) -> str:
    """Return what lies before a cut: the blank or rest, or the blanks that later cuts make of it."""
    inside = []
    rests = [(rest.name, outlines_of(rest.shape)) for rest in sawing.rests]
    for name, outlines in [*_blocks(plan, sawing), *rests]:
        x0, y0, x1, y1 = bounds(outlines)
        low, high, side, other = (x0, x1, y0, y1) if cut.across == "x" else (y0, y1, x0, x1)
        middle = (side + other) / 2
        if cut.start_mm - 0.01 <= low and high <= cut.at_mm + 0.01 and cut.from_mm <= middle <= cut.to_mm:
            inside.append(clean(name))
    return listed(inside) if inside else "waste"


def draw(canvas: Canvas, plan: Plan, sawing: Sawing, at: Move) -> set[str]:
    """Draw a sawn piece; return the legend keys of what is shown.

    Parameters
    ----------
    canvas : Canvas
    plan : Plan
    sawing : Sawing
    at : Move
        From the piece's coordinates to the canvas.
    """
    piece = plan.shop.piece(sawing.piece)
    shown = {"saw-cut", "piece-corner"}
    whole = [at.outline(o) for o in outlines_of(piece.shape)]
    canvas.area(whole, "wood")
    if piece.grain_deg is not None:
        canvas.hatch(whole, "grain-line", piece.grain_deg, 1.6)
    for _, layout, member in boards_of(plan, sawing):
        if layout.glueup is not None or layout.on_edge is not None:
            continue  # the part lies across joints
        back = move_of(member)
        for placement in layout.placements:
            outline = move_of(placement).then(Move(dx=-back.dx, dy=-back.dy)).then(at)
            drawn = [outline.outline(plan.shop.part(placement.part).outline)]
            canvas.area(drawn, "part")
            canvas.area(drawn, "edge-thin")
            shown.add("part")
    for rest in sawing.rests:
        if rest.usable:
            marks.leftover(canvas, [at.outline(o) for o in outlines_of(rest.shape)])
            shown.add("leftover")
    for defect in piece.defects:
        marks.defect(
            canvas, [at.outline(o) for o in outlines_of(defect.shape)], defect.kind, piece.grain_deg or 0.0
        )
        shown.add(f"defect {defect.kind}")
    canvas.area(whole, "edge-thin")
    # cuts have their numbers at their middle: names of narrow strips stand beside them
    strips = any(layout.on_edge is not None for _, layout, _ in boards_of(plan, sawing))
    for name, outlines in _blocks(plan, sawing):
        own = name.removeprefix(sawing.piece).strip() if name in sawing.blanks else name
        _named(canvas, own or name, bounds([at.outline(o) for o in outlines]), 0.25 if strips else 0.5)
    for rest in sawing.rests:
        if rest.usable:
            box = bounds([at.outline(o) for o in outlines_of(rest.shape)])
            _named(canvas, rest.name.removeprefix(sawing.piece), box)
    for number, cut in enumerate(sawing.cuts, start=1):
        _cut(canvas, cut, number, at, bounds(outlines_of(piece.shape)))
    corner = at.point(bounds(outlines_of(piece.shape))[:2])
    canvas.area([Outline.circle(*corner, 1.0)], "zero")
    canvas.text((corner[0] - 3.6, corner[1] - 3.4), "0", LETTER_MM, "text-bold")
    return shown


def _named(canvas: Canvas, text: str, box: Box, share: float = 0.5) -> None:
    middle = (box[0] + (box[2] - box[0]) * share, (box[1] + box[3]) / 2 - LETTER_MM / 3)
    canvas.text(middle, short(text, 18), LETTER_MM, "text-bold", "middle")


def _cut(canvas: Canvas, cut: SawCut, number: int, at: Move, whole: Box) -> None:
    """Draw a cut where the wood before it ends, its number at its end where that is the piece's edge."""
    if cut.across == "x":
        a, b = at.point((cut.at_mm, cut.from_mm)), at.point((cut.at_mm, cut.to_mm))
        spot = (b[0], b[1] + _OUT_MM - 1.2)
    else:
        a, b = at.point((cut.from_mm, cut.at_mm)), at.point((cut.to_mm, cut.at_mm))
        spot = (b[0] + _OUT_MM, b[1] - LETTER_MM / 3)
    if abs((whole[3] if cut.across == "x" else whole[2]) - cut.to_mm) > 0.1:
        spot = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2 - LETTER_MM / 3)
    canvas.line(a, b, "saw-cut")
    canvas.text(spot, str(number), LETTER_MM, "text-bold", "middle")


def rows(plan: Plan, sawing: Sawing) -> list[list[str]]:
    """Return one row a cut: number, direction, from the fresh edge, from 0, its ends, what it gives."""
    words = Words(plan.shop.units)
    piece = plan.shop.piece(sawing.piece)
    x0, y0, _, _ = bounds(outlines_of(piece.shape))
    out = []
    for number, cut in enumerate(sawing.cuts, start=1):
        corner, side = (x0, y0) if cut.across == "x" else (y0, x0)
        out.append(
            [
                str(number),
                direction(piece, cut),
                words.column(cut.at_mm - cut.start_mm),
                words.column(cut.at_mm - corner),
                f"{words.column(cut.from_mm - side)} to {words.column(cut.to_mm - side)}",
                gives(plan, sawing, cut),
            ]
        )
    return out


HEAD = ["Cut", "How", "Comes off", "From 0", "Runs from, to", "Gives"]
#: What the table means, in a sentence.
MEANING = (
    "Make the cuts in this order. What comes off is measured from the edge toward 0 that is there by then; "
    "the blade cuts beyond it, on the side away from 0, and takes {kerf}. Write the names on the wood as you "
    "cut."
)
