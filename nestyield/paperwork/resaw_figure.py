"""The pictures and the table of a piece that is resawn: how it stands, and its leaves seen from the end."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestyield.model import Layer, Outline, Piece, Plan, Resaw, Sawing
from nestyield.paperwork import marks
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, outlines_of
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.words import clean, short
from nestyield.words import Words, listed

HEAD = ["Cut", "Fence to blade", "Comes off", "Stays", "Loose in the cut"]
#: Cut numbers stand so far outside the wood, mm on paper.
_OUT_MM = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """A leaf of a piece as the papers call it.

    Parameters
    ----------
    name : str
        Of its blank, with its letter where two leaves are glued together; or of what goes back on the rack.
    layer : Layer
    blank : str
        Empty for one that is not used.
    over : bool
        Whether it is turned over in a book match.
    """

    name: str
    layer: Layer
    blank: str = ""
    over: bool = False


def leaves(plan: Plan, sawing: Sawing, resaw: Resaw) -> list[Leaf]:
    """Return the leaves of a piece from the top face down."""
    by_name = {layout.blank.name: layout.blank for layout in plan.layouts}
    found = [Leaf(name=rest.name, layer=layer) for rest, layer in zip(sawing.rests, resaw.rests, strict=True)]
    for blank in sawing.blanks:
        members = by_name[blank].members
        for k, member in enumerate(members):
            name = blank if len(members) == 1 else f"{blank} {chr(ord('A') + k)}"
            if member.layer is not None:
                found.append(Leaf(name=name, layer=member.layer, blank=blank, over=member.mirrored))
    return sorted(found, key=lambda leaf: leaf.layer.top_mm)


def rows(plan: Plan, sawing: Sawing, resaw: Resaw) -> list[list[str]]:
    """Return one row a cut: number, distance of the fence, what comes off, what stays, what is loose."""
    words = Words(plan.shop.units)
    thick = plan.shop.piece(sawing.piece).thickness_mm
    names = [leaf.name for leaf in leaves(plan, sawing, resaw)]
    return [
        [
            str(number),
            words.column(cut.fence_mm),
            clean(names[number - 1]),
            words.column(max(0.0, thick - cut.at_mm - sawing.kerf_mm)),
            listed(clean(name) for name in cut.defects) if cut.defects else "–",
        ]
        for number, cut in enumerate(resaw.cuts, start=1)
    ]


def top_view(canvas: Canvas, piece: Piece, resaw: Resaw, at: Move) -> set[str]:
    """Draw a piece as on the rack, with the edge on which it stands; return the legend keys of what is shown.

    Parameters
    ----------
    canvas : Canvas
    piece : Piece
    resaw : Resaw
    at : Move
        From the piece's coordinates to the canvas.
    """
    shown = {"stand", "piece-corner"}
    whole = [at.outline(o) for o in outlines_of(piece.shape)]
    canvas.area(whole, "wood")
    if piece.grain_deg is not None:
        canvas.hatch(whole, "grain-line", piece.grain_deg, 1.6)
    for defect in piece.defects:
        outlines = [at.outline(o) for o in outlines_of(defect.shape)]
        marks.defect(canvas, outlines, defect.kind, piece.grain_deg or 0.0)
        shown.add(f"defect {defect.kind}")
    canvas.area(whole, "edge-thin")
    canvas.line(at.point(resaw.edge_mm[0]), at.point(resaw.edge_mm[1]), "stand")
    corner = at.point(bounds(outlines_of(piece.shape))[:2])
    canvas.area([Outline.circle(*corner, 1.0)], "zero")
    canvas.text((corner[0] - 3.6, corner[1] - 3.4), "0", LETTER_MM, "text-bold")
    return shown


def across(piece: Piece, resaw: Resaw, outlines: tuple[Outline, ...]) -> tuple[float, float]:
    """Return from where to where outlines reach across the edge on which a piece stands, from its lower "
    "side."""
    (ax, ay), (bx, by) = resaw.edge_mm
    turn = Move(angle_deg=-math.degrees(math.atan2(by - ay, bx - ax)))
    low = bounds([turn.outline(o) for o in outlines_of(piece.shape)])[1]
    _, y0, _, y1 = bounds([turn.outline(o) for o in outlines])
    return y0 - low, y1 - low


def end_view(canvas: Canvas, plan: Plan, sawing: Sawing, resaw: Resaw, at: Move) -> set[str]:
    """Draw the leaves as seen from the end away from 0, top face up; return the legend keys of what is shown.

    Parameters
    ----------
    canvas : Canvas
    plan : Plan
    sawing : Sawing
    resaw : Resaw
    at : Move
        From width and height above the bottom face to the canvas.
    """
    piece = plan.shop.piece(sawing.piece)
    thick = piece.thickness_mm
    shown = {"saw-cut"}

    def box(low: float, high: float, top: float, bottom: float) -> list[Outline]:
        return [at.outline(Outline.rectangle(low, thick - bottom, high, thick - top))]

    for leaf in leaves(plan, sawing, resaw):
        layer = leaf.layer
        whole = box(0.0, resaw.height_mm, layer.top_mm, layer.bottom_mm)
        canvas.area(whole, "wood")
        if not leaf.blank:
            marks.leftover(canvas, whole)
            shown.add("leftover")
        for defect in piece.defects:
            top, bottom = defect.span_mm(thick)
            top, bottom = max(top, layer.top_mm), min(bottom, layer.bottom_mm)
            if bottom > top:
                low, high = across(piece, resaw, outlines_of(defect.shape))
                marks.defect(canvas, box(low, high, top, bottom), defect.kind, 0.0)
                shown.add(f"defect {defect.kind}")
        canvas.area(whole, "edge-thin")
        x0, y0, x1, y1 = bounds(whole)
        if y1 - y0 > LETTER_MM:
            middle = ((x0 + x1) / 2, (y0 + y1) / 2 - LETTER_MM / 3)
            canvas.text(middle, short(leaf.name, 24), LETTER_MM, "text-bold", "middle")
    for number, cut in enumerate(resaw.cuts, start=1):
        z = thick - cut.at_mm - sawing.kerf_mm / 2
        a, b = at.point((0.0, z)), at.point((resaw.height_mm, z))
        canvas.line((a[0] - 1.5, a[1]), (b[0] + 1.5, b[1]), "saw-cut")
        spot = (b[0] + _OUT_MM, b[1] - LETTER_MM / 3)
        canvas.text(spot, str(number), LETTER_MM, "text-bold", "middle")
    return shown
