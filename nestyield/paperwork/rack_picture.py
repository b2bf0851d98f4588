"""Small pictures of every piece on the rack: used, left, on hold."""

from __future__ import annotations

from collections import Counter

from nestyield.model import Piece, Plan
from nestyield.paperwork import marks
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, move_of, outlines_of
from nestyield.paperwork.words import short


def used_copies(plan: Plan) -> dict[str, int]:
    """Return how many copies of each rack row the plan takes."""
    copies = {copy for layout in plan.layouts for copy in layout.blank.copies}
    return dict(Counter(piece for piece, _ in copies))


def state(piece: Piece, used: int) -> str:
    """Return what becomes of a piece, in words."""
    if used:
        if piece.count > used:
            return f"{used} of {piece.count} used"
        return "used" if piece.count == 1 else f"all {piece.count} used"
    if piece.status == "hold":
        return "on hold"
    if piece.status == "taken":
        return "taken"
    return "stays" if piece.count == 1 else f"{piece.count} stay"


def rack_scale(plan: Plan, width_mm: float, height_mm: float) -> float:
    """Return one scale for all pieces, so that they can be compared."""
    wide, high = 1.0, 1.0
    for piece in plan.shop.pieces:
        x0, y0, x1, y1 = bounds([piece.shape.outer])
        wide, high = max(wide, x1 - x0), max(high, y1 - y0)
    return min((width_mm - 2.0) / wide, (height_mm - 2.0) / high)


def picture(plan: Plan, piece: Piece, scale: float, width_mm: float = 48.0, *, after: bool = False) -> Canvas:
    """Return a small picture of a piece with its defects and seams.

    ``after`` shows what becomes of its first copy: parts cut from it, and leftovers to keep.
    """
    x0, y0, _, y1 = bounds([piece.shape.outer])
    canvas = Canvas(
        width_mm=width_mm,
        height_mm=max((y1 - y0) * scale + 2.0, 4.0),
        title=f"Piece {short(piece.name, 60)}{', after' if after else ''}",
        description=state(piece, used_copies(plan).get(piece.name, 0)),
    )
    at = Move(scale=scale, dx=1.0 - x0 * scale, dy=(canvas.height_mm - (y1 - y0) * scale) / 2 - y0 * scale)
    outlines = [at.outline(o) for o in outlines_of(piece.shape)]
    canvas.area(outlines, "wood")
    if piece.grain_deg is not None:
        canvas.hatch(outlines, "grain-line", piece.grain_deg, 1.6)
    for layout in plan.layouts if after else ():
        members = layout.blank.members
        deeper = members[0].layer is not None and members[0].layer.top_mm > 0.0  # of leaves only the top one
        if len(members) == 1 and members[0].piece == piece.name and members[0].copy == 1 and not deeper:
            lies = move_of(members[0])  # a shift for what is sawn off, nothing for a whole piece
            back = Move(dx=-lies.dx, dy=-lies.dy)
            for placement in layout.placements:
                move = move_of(placement).then(back).then(at)
                canvas.area([move.outline(plan.shop.part(placement.part).outline)], "part")
                canvas.area([move.outline(plan.shop.part(placement.part).outline)], "contour")
            for leftover in layout.leftovers:
                if leftover.usable:
                    kept = back.then(at)
                    marks.leftover(canvas, [kept.outline(o) for o in outlines_of(leftover.shape)])
    for sawing in plan.sawings if after else ():
        if sawing.piece == piece.name and sawing.copy == 1:
            for rest in sawing.rests:
                if rest.usable:
                    marks.leftover(canvas, [at.outline(o) for o in outlines_of(rest.shape)])
    for seam in piece.seams:
        canvas.lines([at.points(seam.line_mm)], "seam-thin")
    for defect in piece.defects:
        marks.defect(
            canvas, [at.outline(o) for o in outlines_of(defect.shape)], defect.kind, piece.grain_deg or 0.0
        )
    if piece.status == "hold":
        canvas.hatch(outlines, "hold-hatch", 30.0, 2.4)
        canvas.hatch(outlines, "hold-hatch", -30.0, 2.4)
    canvas.area(outlines, "edge-thin")
    return canvas
