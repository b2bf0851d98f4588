"""The two pictures of a glue-up sheet: the blank glued up, and its pieces apart, as they lie."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestyield.model import (
    Defect,
    GlueEdge,
    GlueMember,
    GlueUp,
    JointReinforcement,
    Layout,
    Member,
    Outline,
    Piece,
    Plan,
    Point,
    Shape,
)
from nestyield.paperwork import fonts, marks, sheet_figure
from nestyield.paperwork.canvas import Canvas, Text
from nestyield.paperwork.curves import Box, Move, bounds, move_of, outlines_of
from nestyield.paperwork.hatch import center
from nestyield.paperwork.look import LETTER_MM, STYLES
from nestyield.paperwork.page import MARGIN_MM, Pages, scale_bar
from nestyield.paperwork.words import clean, short
from nestyield.words import Words

#: Slack left of the pieces for their names, and least height of a piece's row, mm.
_NAMES_MM, _ROW_MM = 36.0, 21.0
#: Above and below each piece, for what is written there, mm.
_OVER_MM = 8.0
#: The picture of the pieces is at most so high, mm.
_MOST_MM = 210.0
#: Above the pieces, for the heading and what it says, mm.
_HEAD_MM = 20.0
#: A piece that is sawn apart is drawn at most so high, mm.
_SAWN_MM = 36.0
#: What comes off is written where it is drawn at least so wide, mm.
_LEAST_OFF_MM = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnMember:
    """A member with what the pictures need to know of it.

    Parameters
    ----------
    told : GlueMember
    member : Member
    piece : Piece
    """

    told: GlueMember
    member: Member
    piece: Piece

    @property
    def whole(self) -> Shape:
        """The piece before it is ripped, blank coordinates."""
        return move_of(self.member).shape(self.wood)

    @property
    def defects(self) -> tuple[Defect, ...]:
        """Flaws of the piece that lie on its part, as far as boxes around both tell."""
        x0, y0, x1, y1 = bounds([self.wood.outer])
        found = []
        layer, thick = self.member.layer, self.piece.thickness_mm
        for defect in self.piece.defects:
            top, bottom = defect.span_mm(thick)
            if layer is not None and not (top < layer.bottom_mm and bottom > layer.top_mm):
                continue
            a0, b0, a1, b1 = bounds([defect.shape.outer])
            if a0 < x1 and a1 > x0 and b0 < y1 and b1 > y0:
                found.append(defect)
        return tuple(found)

    @property
    def wood(self) -> Shape:
        """The piece, or what was sawn from it, its own coordinates."""
        return self.piece.shape if self.member.cut is None else self.member.cut


def free_spot(canvas: Canvas, spots: Sequence[Point], text: str, size: float) -> Point:
    """Return the first of some places where a bold text covers no other; the first of all if none does."""
    wide = fonts.width(text, size, True)
    taken = []
    for t in canvas.items:
        if isinstance(t, Text) and not t.angle_deg % 360:
            w = fonts.width(t.text, t.size, STYLES[t.style].bold)
            left = {"start": t.x, "middle": t.x - w / 2, "end": t.x - w}[t.anchor]
            taken.append((left, t.y, left + w, t.y + t.size * 0.75))
    for x, y in spots:
        if x < 5.0 or x + wide > canvas.width_mm - 5.0:
            continue
        if not any(x < c and x + wide > a and y < d and y + size * 0.75 > b for a, b, c, d in taken):
            return (x, y)
    return spots[0]


def lying(plan: Plan, layout: Layout, told: GlueUp) -> list[DrawnMember]:
    """Return the members of a glue-up, lowest first."""
    pieces = {p.name: p for p in plan.shop.pieces}
    return [
        DrawnMember(told=t, member=m, piece=pieces[m.piece])
        for t, m in zip(told.members, layout.blank.members)
    ]


def face(told: GlueMember) -> str:
    """Return which face of a piece lies up."""
    return "top" if told.top_up else "bottom"


def way(told: GlueMember, words: Words) -> str:
    """Return which way round a piece lies."""
    if told.as_on_rack:
        return "end for end" if told.end_for_end else "as measured"
    turned = words.angle(told.turned_deg + (180.0 if told.end_for_end else 0.0))
    return "as measured" if turned == "0°" else f"turned {turned}"


def assembled(pages: Pages, plan: Plan, layout: Layout, told: GlueUp) -> tuple[set[str], str]:
    """Draw the blank glued up, from its datum edges, with all that holds it; return keys and scale."""
    words = Words(plan.shop.units)
    bare = replace(layout, work=None, leftovers=(), rooms=(), watch=())
    figure = sheet_figure.draw(pages.canvas, plan, bare, pages.y - 5.0, MARGIN_MM, pages.width, 92.0)
    canvas, at = pages.canvas, figure.at
    shown = set(figure.shown)
    for key in told.keys:
        canvas.area([at.outline(key.outline)], "key")
        shown.add("key")
    for member in told.members:
        used = [at.outline(o) for shape in member.wood[:1] for o in outlines_of(shape)]
        if used:
            x0, y0, x1, y1 = bounds(used)
            y = (y0 + y1) / 2 - 1.6
            spots = [(x, y) for x in (x1 - 5.5, x1 - 11.0, x0 + 2.0, x1 - 17.0, x0 + 8.0, (x0 + x1) / 2)]
            canvas.text(free_spot(canvas, spots, member.letter, 4.6), member.letter, 4.6, "text-bold")
    left = bounds([layout.blank.shape.outer])[0]
    _, by0, _, by1 = bounds([at.outline(layout.blank.shape.outer)])
    if _level(layout):
        for k, position in enumerate(told.clamps.at_mm, start=1):
            x, _ = at.point((left + position, 0.0))
            canvas.head((x, by0 + 0.2), 90.0, 3.2, "clamp-head")
            canvas.head((x, by1 - 0.2), 270.0, 3.2, "clamp-head")
            canvas.text((x + 1.6, by1 + 0.9), str(k), LETTER_MM, "text-slate")
        shown.add("clamp-head")
    pages.gap(figure.height + 7.0)
    text = f"Lengths in {words.unit()} from the datum edges."
    canvas.text((MARGIN_MM, pages.y - 3.0), text, LETTER_MM, "plain")
    scale_bar(canvas, MARGIN_MM + pages.width - 84.0, pages.y - 3.4, figure.scale, words)
    pages.gap(5.0)
    return shown, sheet_figure.scale_words(figure.scale)


def _level(layout: Layout) -> bool:
    (ax, ay), (bx, by) = layout.blank.seams[0].line_mm[0], layout.blank.seams[0].line_mm[-1]
    return abs(bx - ax) >= abs(by - ay)


def scale_here(pages: Pages, members: list[DrawnMember], room: float) -> float:
    """Return the scale at which the pieces apart fit so much height, mm a true mm; 0 when they do not."""
    boxes = [bounds(outlines_of(m.whole)) for m in members]
    wide = max(b[2] for b in boxes) - min(b[0] for b in boxes)
    high = sum(b[3] - b[1] for b in boxes)
    least = min(room, _MOST_MM) - _HEAD_MM - 2 * _OVER_MM * len(members)
    return max(0.0, min((pages.width - _NAMES_MM - 12.0) / wide, least / high))


def pieces_apart(
    pages: Pages, plan: Plan, members: list[DrawnMember], keys: Sequence[JointReinforcement], scale: float
) -> set[str]:
    """Draw the pieces apart, as they lie: what comes off, the jointed edges, marks, slots, corners."""
    boxes = [bounds(outlines_of(m.whole)) for m in members]
    left = min(b[0] for b in boxes)
    over = 2 * _OVER_MM
    k = scale
    rows = [max((b[3] - b[1]) * k + over, _ROW_MM) for b in boxes]
    pages.need(sum(rows) + _HEAD_MM - 1.0)
    pages.title("Picture 2: the pieces apart, as they lie for gluing")
    pages.paragraph(
        "Bold: joint line. Dotted: comes off. Triangles: marks, which meet in pairs. Ring with 0: the corner "
        "from which the piece is measured on the rack. Left and right are those of this picture.",
        LETTER_MM,
    )
    y = pages.y - 0.5
    for each, box, row in reversed(list(zip(members, boxes, rows))):
        middle = y - row / 2
        at = Move(
            scale=k,
            dx=MARGIN_MM + _NAMES_MM + 4.0 - left * k,
            dy=middle - (box[1] + box[3]) / 2 * k,
        )
        _piece(pages.canvas, plan, each, keys, at, middle)
        y -= row
    pages.y = y - 2.0
    kinds = {f"defect {d.kind}" for m in members for d in m.defects}
    return {"cut-off", "mark", "joint-edge", "piece-corner"} | kinds


def _piece(
    canvas: Canvas, plan: Plan, each: DrawnMember, keys: Sequence[JointReinforcement], at: Move, middle: float
) -> None:
    words = Words(plan.shop.units)
    told, piece = each.told, each.piece
    whole = [at.outline(o) for o in outlines_of(each.whole)]
    used = [at.outline(o) for shape in told.wood for o in outlines_of(shape)]
    canvas.dots(whole, "off-dot", 1.3, 0.18)
    canvas.area(used, "wood")
    if piece.grain_deg is not None:
        grain = 180.0 - piece.grain_deg if each.member.mirrored else piece.grain_deg
        canvas.hatch(used, "grain-line", each.member.angle_deg + grain, 2.0)
    canvas.area(whole, "edge-thin")
    box = bounds(whole)
    for defect in each.defects:
        move = move_of(each.member).then(at)
        marks.defect(canvas, [move.outline(o) for o in outlines_of(defect.shape)], defect.kind, 0.0)
    lines = [f"{face(told)} face up", way(told, words)]
    if abs(told.turned_deg) >= 0.05 and told.as_on_rack:
        lines.append(f"turned {words.angle(told.turned_deg)}")
    if piece.shelf:
        lines.append(f"shelf {short(piece.shelf, 12)}")
    canvas.text((MARGIN_MM, middle + 1.8), told.letter, 6.0, "plain-bold")
    canvas.text((MARGIN_MM + 7.0, middle + 3.6), short(each.member.label, 15), LETTER_MM, "plain-bold")
    for n, line in enumerate(lines):
        canvas.text((MARGIN_MM + 7.0, middle - 0.2 - 4.4 * n), line, LETTER_MM, "plain")
    for edge in told.edges:
        _slots(canvas, edge, [key for key in keys if key.seam == edge.seam], at)
    for edge in told.edges:
        _edge(canvas, edge, at, words, box, any(key.seam == edge.seam for key in keys))
    at_center = center(used) if used else (box[0], middle)
    arrow = ((at_center[0] - 7.0, at_center[1]), (at_center[0] + 7.0, at_center[1]))
    canvas.arrow(*arrow, "grain", "grain-head", 2.2, both=True)
    x, y = at.point(told.corner_mm)
    canvas.area([Outline.circle(x, y, 1.0)], "zero")
    left, right = (x - 1.6 - fonts.width("0", LETTER_MM, True), y - 0.9), (x + 1.6, y - 0.9)
    over, under = (x - 0.8, y + 1.6), (x - 0.8, y - 3.6)
    spots = (left, over, under, right) if x < at_center[0] else (right, over, under, left)
    canvas.text(free_spot(canvas, spots, "0", LETTER_MM), "0", LETTER_MM, "text-bold")


def sawn_apart(pages: Pages, plan: Plan, members: list[DrawnMember], told: GlueUp) -> set[str]:
    """Draw the pieces that are sawn apart first, as they stand on the rack; nothing when there are none."""
    words = Words(plan.shop.units)
    names = list(dict.fromkeys((c.piece, c.copy) for c in told.cuts))
    for n, (name, copy) in enumerate(names):
        parts = [m for m in members if (m.piece.name, m.member.copy) == (name, copy)]
        box = bounds(outlines_of(parts[0].piece.shape))
        k = min(120.0 / (box[2] - box[0]), _SAWN_MM / (box[3] - box[1]))
        high = (box[3] - box[1]) * k
        pages.need(high + (30.0 if n == 0 else 16.0))
        if n == 0:
            pages.title("Picture 3: sawn apart first, as measured for the rack, top face up")
        at = Move(scale=k, dx=MARGIN_MM + _NAMES_MM + 8.0 - box[0] * k, dy=pages.y - 5.0 - high - box[1] * k)
        canvas = pages.canvas
        canvas.text((MARGIN_MM, pages.y - 5.0 - high / 2), short(name, 18), LETTER_MM, "plain-bold")
        canvas.area([at.outline(o) for o in outlines_of(parts[0].piece.shape)], "wood")
        canvas.area([at.outline(o) for o in outlines_of(parts[0].piece.shape)], "edge-thin")
        for each in parts:
            x, y = center([at.outline(o) for o in outlines_of(each.wood)])
            canvas.text((x, y - 1.6), each.told.letter, 4.6, "text-bold", "middle")
        corner = at.point((box[0], box[1]))
        for j, cut in enumerate(c for c in told.cuts if (c.piece, c.copy) == (name, copy)):
            a, b = (at.point((x + box[0], y + box[1])) for x, y in cut.line_mm)
            canvas.line(a, b, "joint-edge")
            if cut.across:
                canvas.dimension(corner, (a[0], corner[1]), -4.0 - 4.0 * j, words.column(cut.line_mm[0][0]))
            else:
                canvas.dimension(corner, (corner[0], a[1]), 4.0 + 4.0 * j, words.column(cut.line_mm[0][1]))
        canvas.area([Outline.circle(*corner, 1.0)], "zero")
        canvas.text((corner[0] - 3.6, corner[1] - 3.4), "0", LETTER_MM, "text-bold")
        pages.gap(high + 15.0)
    return {"joint-edge", "piece-corner"} if names else set()


def _slots(canvas: Canvas, edge: GlueEdge, keys: Sequence[JointReinforcement], at: Move) -> None:
    """Draw slots and holes for splines and dowels, as deep as they go into this piece."""
    (ax, ay), (bx, by) = (at.point(p) for p in edge.line_mm)
    run = math.hypot(bx - ax, by - ay) or 1.0
    inward = -1.0 if edge.upper else 1.0
    nx, ny = -inward * (by - ay) / run, inward * (bx - ax) / run
    for key in keys:
        half = key.thick_mm / 2 * at.scale if key.kind == "dowel" else 0.0
        ux, uy = (bx - ax) / run * half, (by - ay) / run * half
        (px, py), (qx, qy) = (at.point(p) for p in key.line_mm)
        deep = key.depth_mm * at.scale
        px, py, qx, qy = px - ux, py - uy, qx + ux, qy + uy
        corners = [(px, py), (qx, qy), (qx + deep * nx, qy + deep * ny), (px + deep * nx, py + deep * ny)]
        canvas.area([Outline.polygon(corners)], "key")


def _edge(canvas: Canvas, edge: GlueEdge, at: Move, words: Words, box: Box, keyed: bool) -> None:
    start, end, mark = at.point(edge.line_mm[0]), at.point(edge.line_mm[1]), at.point(edge.mark_at_mm)
    canvas.line(start, end, "joint-edge")
    inward = -90.0 if edge.upper else 90.0
    back = Move(angle_deg=inward).point((3.6, 0.0))
    canvas.head((mark[0], mark[1]), inward + 180.0, 3.4, "mark")
    canvas.text((mark[0] + 2.4, mark[1] + back[1] * 0.75 - 0.8), short(edge.seam, 12), LETTER_MM, "text-seam")
    outer = box[3] if edge.upper else box[1]
    # From the left end of the edge to the mark, drawn outside the piece.
    outside = outer + (4.2 if edge.upper else -4.2) - start[1]
    canvas.dimension(start, mark, outside, words.column(edge.mark_mm), LETTER_MM)
    run = ((end[0] - start[0]) or 1.0, end[1] - start[1])
    for s, off, last in zip(edge.off_at_mm, edge.off_mm, (False, True)):
        if off * at.scale < _LEAST_OFF_MM:
            continue
        x = start[0] + s * at.scale
        y = start[1] + run[1] * (x - start[0]) / run[0]
        tip = y + (off if edge.upper else -off) * at.scale
        canvas.line((x, y), (x, tip), "dim")
        canvas.head((x, tip), 90.0 if edge.upper else -90.0, 1.4, "dim-head")
        text = f"{words.column(off)} off"
        x -= fonts.width(text, LETTER_MM, True) if last else 0.0
        inside = (x, y - 3.2 if edge.upper else y + 1.3)
        beyond = (x, tip + 0.9 if edge.upper else tip - 2.8)
        # Slots and holes stand inside: outside the piece then.
        spots = (beyond, inside) if keyed else (inside, beyond)
        canvas.text(free_spot(canvas, spots, text, LETTER_MM), text, LETTER_MM, "text")


def named(each: DrawnMember) -> str:
    """Return the name of a member's piece, with its copy where it is not the first; or that it is a part."""
    name = clean(each.member.label)
    if each.member.layer is not None:
        return f"leaf of {name}"
    return name if each.member.cut is None else f"part of {name}"
