"""The pictures of a laminated blank: its layers seen from the end, and its outline on each piece."""

from __future__ import annotations

from nestyield.model import Laminate, Layout, Member, Outline, Piece, Plan, Point
from nestyield.paperwork import marks
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, move_of, outlines_of
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.words import clean, short
from nestyield.words import Words

#: Highest view from the end, and room beside it for names and depths, mm on paper.
_HIGH_MM, _LEFT_MM, _RIGHT_MM = 46.0, 8.0, 44.0
#: Larger than life no more than this.
_MOST = 2.0
#: Rows of text beside the layers are so far apart at the least, mm on paper.
_ROW_MM = LETTER_MM * 1.45


def end_scale(plan: Plan, layout: Layout, width_mm: float) -> float:
    """Return at which scale the layers are drawn from the end, in so much width."""
    _, y0, _, y1 = bounds([layout.blank.shape.outer])
    thick = layout.blank.thickness_mm
    return min(_MOST, (width_mm - _LEFT_MM - _RIGHT_MM) / (y1 - y0), _HIGH_MM / thick)


def end_view(canvas: Canvas, plan: Plan, layout: Layout, told: Laminate, at: Move) -> set[str]:
    """Draw the layers as seen from the right end, top face up; return the legend keys of what is shown.

    Parameters
    ----------
    canvas : Canvas
    plan : Plan
    layout : Layout
    told : Laminate
    at : Move
        From width, and height above the bottom face, to the canvas.
    """
    words, blank = Words(plan.shop.units), layout.blank
    _, low, _, high = bounds([blank.shape.outer])
    thick = blank.thickness_mm
    shown = {"glue-line"}

    def box(a: float, b: float, top: float, bottom: float) -> list[Outline]:
        return [at.outline(Outline.rectangle(a, thick - bottom, b, thick - top))]

    for layer in blank.stack:
        canvas.area(box(low, high, layer.top_mm, layer.bottom_mm), "wood")
    for zone in _zones(plan, layout):
        canvas.area(box(*zone), "pocket")
        shown.add("pocket")
    for defect in blank.defects:
        _, a, _, b = bounds(outlines_of(defect.shape))
        marks.defect(canvas, box(a, b, *defect.span_mm(thick)), defect.kind, 0.0)
        shown.add(f"defect {defect.kind}")
    whole = box(low, high, 0.0, thick)
    canvas.area(whole, "edge-thin")
    for layer in blank.stack[:-1]:
        z = thick - layer.bottom_mm
        canvas.line(at.point((low, z)), at.point((high, z)), "seam")
    for off in (told.top_off_mm, thick - told.bottom_off_mm):
        if 0.0 < off < thick:
            canvas.line(at.point((low, thick - off)), at.point((high, thick - off)), "travel")
            shown.add("planed-off")
    x0, _, x1, _ = bounds(whole)
    spots = _apart([at.point((low, thick - (x.top_mm + x.bottom_mm) / 2))[1] for x in blank.stack])
    for y, one, member, layer in zip(spots, told.layers, blank.members, blank.stack):
        canvas.text((x0 - 6.0, y - LETTER_MM / 3), one.letter, 4.6, "plain-bold")
        name = clean(plan.shop.piece(member.piece).species)
        text = f"{short(name, 16)}, {words.length(layer.thickness_mm, style='fine')}"
        canvas.text((x1 + 3.0, y - LETTER_MM / 3), text, LETTER_MM, "plain")
    return shown


def _apart(heights: list[float]) -> list[float]:
    """Return heights of rows of text from the top down, each clear of the one above it."""
    out: list[float] = []
    for y in heights:
        out.append(min(y, out[-1] - _ROW_MM) if out else y)
    return out


def _zones(plan: Plan, layout: Layout) -> list[tuple[float, float, float, float]]:
    """Return what is cut of the parts, seen from the end: across from and to, depth from and to."""
    out = []
    for at in layout.placements:
        part = plan.shop.part(at.part)
        off = at.top_off_mm
        off = (layout.blank.thickness_mm - part.thickness_mm) / 2 if off is None else off
        for zone in part.zones:
            if zone.shape is None or not zone.does.cuts or zone.does.slopes:
                continue
            _, a, _, b = bounds([move_of(at).outline(o) for o in outlines_of(zone.shape)])
            deep = part.thickness_mm if zone.depth_mm is None else zone.depth_mm
            front = zone.face != "back"
            low, high = (0.0, deep) if front else (part.thickness_mm - deep, part.thickness_mm)
            out.append((a, b, off + low, off + min(high, part.thickness_mm)))
    return out


def _back(member: Member) -> Move:
    """Return the move from a blank to the piece that lies there as a layer, top face up as all are."""
    lies = move_of(member)
    x, y = Move(angle_deg=-lies.angle_deg).point((lies.dx, lies.dy))
    return Move(angle_deg=-lies.angle_deg, dx=-x, dy=-y)


def on_piece(layout: Layout, member: Member) -> list[Point]:
    """Return the corners of the blank on a piece, piece coordinates."""
    back = _back(member)
    return [back.point(p) for p in layout.blank.shape.outer.points_mm]


def top_view(canvas: Canvas, plan: Plan, layout: Layout, told: Laminate, k: int, at: Move) -> set[str]:
    """Draw a piece as on the rack with the outline of the blank on it; return the legend keys shown.

    Parameters
    ----------
    canvas : Canvas
    plan : Plan
    layout : Layout
    told : Laminate
    k : int
        Which layer.
    at : Move
        From the piece's coordinates to the canvas.
    """
    member = layout.blank.members[k]
    piece: Piece = plan.shop.piece(member.piece)
    shown = {"blank-edge", "piece-corner", "part"}
    whole = [at.outline(o) for o in outlines_of(piece.shape)]
    canvas.area(whole, "wood")
    if piece.grain_deg is not None:
        canvas.hatch(whole, "grain-line", piece.grain_deg, 1.6)
    back = _back(member)
    for placement in layout.placements:
        lies = move_of(placement).then(back).then(at)
        drawn = [lies.outline(plan.shop.part(placement.part).outline)]
        canvas.area(drawn, "part")
        canvas.area(drawn, "edge-thin")
    for rest in told.layers[k].rests:
        drawn = [at.outline(o) for o in outlines_of(rest.shape)]
        marks.leftover(canvas, drawn)
        x0, y0, x1, y1 = bounds(drawn)
        spot = ((x0 + x1) / 2, (y0 + y1) / 2 - LETTER_MM / 3)
        canvas.text(spot, short(rest.name, 18), LETTER_MM, "text-bold", "middle")
        shown.add("leftover")
    for defect in piece.defects:
        outlines = [at.outline(o) for o in outlines_of(defect.shape)]
        marks.defect(canvas, outlines, defect.kind, piece.grain_deg or 0.0)
        shown.add(f"defect {defect.kind}")
    canvas.area(whole, "edge-thin")
    corners = [at.point(p) for p in on_piece(layout, member)]
    for a, b in zip(corners, [*corners[1:], corners[0]]):
        canvas.line(a, b, "joint-edge")
    corner = at.point(bounds(outlines_of(piece.shape))[:2])
    canvas.area([Outline.circle(*corner, 1.0)], "zero")
    canvas.text((corner[0] - 3.6, corner[1] - 3.4), "0", LETTER_MM, "text-bold")
    return shown
