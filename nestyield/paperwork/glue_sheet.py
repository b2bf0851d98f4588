"""The glue-up sheet of one blank: which pieces, which edges, how far to slide, how to clamp."""

from __future__ import annotations

import math
from dataclasses import replace

from nestyield.model import Layout, Plan, Units
from nestyield.paperwork import cautions, joints, marks, measure, sheet_figure
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Box, Move, bounds, move_of, outlines_of
from nestyield.paperwork.hatch import centre
from nestyield.paperwork.joints import Edge, Stave
from nestyield.paperwork.page import MARGIN_MM, Pages, Paper, scale_bar
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, short
from nestyield.wood.joints import Clamping, clamping, softest
from nestyield.wood.machining import MachineLimits, machining_cautions
from nestyield.wood.species import find


def _face(stave: Stave) -> str:
    return "bottom" if stave.member.mirrored else "top"


def seam_clamping(plan: Plan, layout: Layout, seam: int) -> Clamping:
    """Return what it takes to clamp one seam of a blank, from the practice table of the wood room."""
    line = layout.blank.seams[seam].line_mm
    pieces = {p.name: p for p in plan.shop.pieces}
    names = [pieces[m.piece].species for m in layout.blank.members[seam : seam + 2] if m.piece in pieces]
    found = [s for s in (find(n) for n in names) if s is not None]
    return clamping(math.dist(line[0], line[-1]), layout.blank.thickness_mm, softest(found))


def _head(pages: Pages, plan: Plan, layout: Layout, staves: list[Stave]) -> None:
    units = plan.shop.units
    blank = layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 4.0), "Glue-up sheet", 3.4, "plain-soft", "end")
    pages.line(short(blank.name, 34), 7.0, "plain-bold")
    pages.paragraph(
        f"{len(staves)} pieces of {clean(blank.species)} to a blank of "
        f"{measure.size(x1 - x0, y1 - y0, units)}, {measure.length(blank.thickness_mm, units)} thick. "
        "Seen from the top face.",
        3.1,
    )
    pages.gap(1.0)
    pages.canvas.line((MARGIN_MM, pages.y), (MARGIN_MM + pages.width, pages.y), "frame")


def _assembled(pages: Pages, plan: Plan, layout: Layout, staves: list[Stave]) -> set[str]:
    units = plan.shop.units
    bare = replace(layout, work=None, leftovers=())
    top = pages.y - 5.0
    figure = sheet_figure.draw(pages.canvas, plan, bare, top, MARGIN_MM, pages.width, 88.0)
    canvas, at = pages.canvas, figure.at
    for stave in staves:
        used = [at.outline(o) for o in joints.rings(stave.used)]
        if used:
            x0, y0, _, y1 = bounds(used)
            canvas.text((x0 + 2.0, (y0 + y1) / 2 - 1.6), stave.letter, 4.6, "text-bold")
    # Clamps press across every seam at once: those of the longest seam.
    longest = max(
        range(len(layout.blank.seams)),
        key=lambda k: math.dist(layout.blank.seams[k].line_mm[0], layout.blank.seams[k].line_mm[-1]),
    )
    a, b = layout.blank.seams[longest].line_mm[0], layout.blank.seams[longest].line_mm[-1]
    start, end = sorted((a, b))
    run = math.dist(start, end)
    _, by0, _, by1 = bounds([at.outline(layout.blank.shape.outer)])
    if abs(end[0] - start[0]) >= abs(end[1] - start[1]):
        for position in seam_clamping(plan, layout, longest).positions_mm:
            t = position / run
            x, _ = at.point((start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])))
            canvas.head((x, by0 + 0.2), 90.0, 3.2, "clamp-head")
            canvas.head((x, by1 - 0.2), 270.0, 3.2, "clamp-head")
    pages.gap(figure.height + 7.0)
    text = f"Scale {sheet_figure.scale_words(figure.scale)}. "
    text += f"All lengths in {measure.word(units)}, from the datum edges."
    canvas.text((MARGIN_MM, pages.y - 3.0), text, 2.7, "plain")
    scale_bar(canvas, MARGIN_MM + pages.width - 84.0, pages.y - 3.4, figure.scale, units)
    pages.gap(5.0)
    return figure.shown | {"clamp-head"}


def _pieces(pages: Pages, plan: Plan, staves: list[Stave]) -> set[str]:
    """Draw the pieces apart, as they lie: what is ripped off, the edges, the marks."""
    pages.title("The pieces, as they lie")
    pages.paragraph(
        "Dotted wood comes off. Joint the bold edges. Bring the triangles of neighbours together.", 2.8
    )
    boxes = [bounds(joints.rings(s.whole)) for s in staves]
    left, right = min(b[0] for b in boxes), max(b[2] for b in boxes)
    high = sum(b[3] - b[1] for b in boxes)
    gap = 15.0
    most = 118.0
    k = min((pages.width - 46.0) / (right - left), (most - gap * len(staves)) / high)
    pages.need(high * k + gap * len(staves) + 4.0)
    y = pages.y - 6.0
    for stave, box in reversed(list(zip(staves, boxes))):
        height = (box[3] - box[1]) * k
        at = Move(scale=k, dx=MARGIN_MM + 34.0 - left * k, dy=y - height - box[1] * k)
        _piece(pages.canvas, plan, stave, at)
        y -= height + gap
    pages.y = y + gap - 8.0
    return {"cut-off", "mark"}


def _piece(canvas: Canvas, plan: Plan, stave: Stave, at: Move) -> None:
    units = plan.shop.units
    whole = [at.outline(o) for o in joints.rings(stave.whole)]
    used = [at.outline(o) for o in joints.rings(stave.used)]
    canvas.area(used, "wood")
    off = [at.outline(o) for o in joints.rings(stave.whole.difference(stave.used))]
    if off:
        canvas.dots(off, "off-dot", 1.3, 0.18)
    canvas.area(whole, "edge-thin")
    grain = stave.piece.grain_deg
    if grain is not None:
        turned = stave.member.angle_deg + (180.0 - grain if stave.member.mirrored else grain)
        canvas.hatch(used, "grain-line", turned, 2.0)
    for defect in stave.piece.defects:
        move = move_of(stave.member).then(at)
        marks.defect(canvas, [move.outline(o) for o in outlines_of(defect.shape)], defect.kind, 0.0)
    x0, y0, x1, y1 = bounds(whole)
    middle = (y0 + y1) / 2
    canvas.text((MARGIN_MM, middle + 1.6), stave.letter, 6.0, "plain-bold")
    canvas.text((MARGIN_MM + 6.5, middle + 2.2), short(stave.piece.name, 14), 2.9, "plain-bold")
    canvas.text((MARGIN_MM + 6.5, middle - 1.6), f"{_face(stave)} face up", 2.5, "plain")
    canvas.text(
        (MARGIN_MM + 6.5, middle - 5.0), f"turned {measure.angle(stave.member.angle_deg)}", 2.5, "plain"
    )
    for edge in stave.edges:
        _draw_edge(canvas, edge, at, units, (x0, y0, x1, y1))
    at_centre = centre(used) if used else (x0, middle)
    canvas.arrow(
        (at_centre[0] - 7.0, at_centre[1]),
        (at_centre[0] + 7.0, at_centre[1]),
        "grain",
        "grain-head",
        2.2,
        both=True,
    )


def _draw_edge(canvas: Canvas, edge: Edge, at: Move, units: Units, box: Box) -> None:
    start, end, mark = at.point(edge.start), at.point(edge.end), at.point(edge.mark)
    canvas.line(start, end, "joint-edge")
    inward = -90.0 if edge.upper else 90.0
    back = Move(angle_deg=inward).point((3.6, 0.0))
    canvas.head((mark[0], mark[1]), inward + 180.0, 3.4, "mark")
    text = edge.seam.name
    canvas.text((mark[0] + 2.4, mark[1] + back[1] * 0.75 - 0.8), short(text, 12), 2.5, "text-seam")
    # From the left end of the edge to the mark, drawn outside the piece.
    outside = (box[3] + 3.4 - start[1]) if edge.upper else (box[1] - 3.4 - start[1])
    canvas.dimension(start, mark, outside, measure.number(edge.mark_mm, units), 2.5)


def _rows(plan: Plan, staves: list[Stave]) -> list[list[str]]:
    u = plan.shop.units
    rows = []
    for stave in staves:
        for edge in stave.edges:
            rows.append(
                [
                    stave.letter,
                    clean(stave.piece.name) + ("" if stave.member.copy == 1 else f"/{stave.member.copy}"),
                    clean(stave.piece.shelf),
                    _face(stave),
                    "upper" if edge.upper else "lower",
                    clean(edge.seam.name),
                    measure.number(edge.off_start_mm, u),
                    measure.number(edge.off_end_mm, u),
                    measure.number(edge.mark_mm, u),
                ]
            )
    return rows


def _force(clamps: Clamping, units: Units) -> str:
    if units == "in":
        low, high = clamps.force_lbf
        each = f"{low / clamps.count / 100:.0f}00 to {high / clamps.count / 100:.0f}00 lbf"
        return f"{low / 100:.0f}00 to {high / 100:.0f}00 lbf; each {each}"
    low, high = (f / 1000 for f in clamps.force_n)
    return f"{low:.0f} to {high:.0f} kN; each {low / clamps.count:.0f} to {high / clamps.count:.0f} kN"


def _seams(pages: Pages, plan: Plan, layout: Layout) -> None:
    u = plan.shop.units
    _, dy = sheet_figure.datum(layout)
    rows = []
    for k, seam in enumerate(layout.blank.seams):
        clamps = seam_clamping(plan, layout, k)
        (_, ay), (_, by) = sorted((seam.line_mm[0], seam.line_mm[-1]))
        place = measure.number(ay - dy, u)
        if abs(by - ay) > 0.05:
            place += f" to {measure.number(by - dy, u)}"
        rows.append(
            [
                clean(seam.name),
                place,
                measure.number(math.dist(seam.line_mm[0], seam.line_mm[-1]), u),
                str(clamps.count),
                measure.number(clamps.positions_mm[0], u),
                measure.number(clamps.spacing_mm, u) if clamps.count > 1 else "–",
                _force(clamps, u),
            ]
        )
    pages.table(
        "Seams and clamps",
        ["Seam", "From bottom", "Long", "Clamps", "First from end", "Then every", "Force, all and each"],
        rows,
        [0.9, -1.2, -0.8, -0.8, -1.3, -1.1, 3.4],
    )
    pages.paragraph(
        "Clamps and force: common practice for white (PVA) glue, no source. "
        "The glue's own leaflet comes first.",
        2.6,
        "plain-soft",
    )


def _steps(plan: Plan, layout: Layout, staves: list[Stave]) -> list[str]:
    u = plan.shop.units
    settings = plan.shop.settings
    unlike = len({round(s.piece.thickness_mm, 2) for s in staves}) > 1
    out = [
        "Write the letters on the faces that lie up, and an arrow to the left end.",
        "Rip along the dotted lines, full by the jointing allowance "
        f"({measure.setting(settings.jointing_mm, u)} an edge), then joint to the line.",
        "Joint the two edges of one seam with opposite faces against the fence: a fence that is off by a "
        "little then shows in neither face.",
        "Set the marks: measure from the left end of each jointed edge.",
        "Put the pieces together dry, marks on marks. No light may show along a seam, and clamps must close "
        "it with little force.",
    ]
    if unlike:
        least = min(s.piece.thickness_mm for s in staves)
        out.append(
            f"The pieces are not equally thick: let the bottom faces lie level, and plane to "
            f"{measure.length(least, u)} or less afterwards."
        )
    out += [
        "Glue both edges, rub them together, marks on marks, and clamp from the middle outwards, clamps in "
        "turn above and below. Cauls across keep the faces level.",
        "Leave it in the clamps as long as the glue's leaflet says, and a day before planing.",
        "Scrape off the glue, plane both faces, and go on with the shop sheet.",
    ]
    return out


def _cautions(plan: Plan, layout: Layout, staves: list[Stave]) -> list[str]:
    u = plan.shop.units
    limits = MachineLimits.of(plan.shop.settings.machines)
    whose: dict[str, list[str]] = {}
    for stave in staves:
        x0, y0, x1, y1 = bounds([stave.piece.shape.outer])
        long, wide = max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)
        for c in machining_cautions(long, wide, stave.piece.thickness_mm, limits, ("jointer", "saw"), u):
            rule = f"{c.text}. {'Instead' if c.refused else 'With care'}: {c.instead}."
            whose.setdefault(rule, []).append(stave.letter)
    out = [f"{', '.join(letters)}: {rule}" for rule, letters in whose.items()]
    known = [s.piece.moisture_pct for s in staves if s.piece.moisture_pct is not None]
    most = plan.shop.settings.glueup.get("moisture_difference")
    if len(known) > 1:
        apart = max(known) - min(known)
        rule = f", the shop's limit is {most:g}" if isinstance(most, (int, float)) else ""
        out.append(f"Moisture of the pieces differs by {apart:.1f} points{rule}.")
    if len(known) < len(staves):
        out.append("Measure the moisture of every piece before gluing: not all are known.")
    return out + [clean(c.text) for c in cautions.for_blank(plan, layout)] + [cautions.LAST_WORD]


def glue_sheet(plan: Plan, layout: Layout, paper: Paper) -> list[Canvas]:
    """Return the pages of a glue-up sheet; an empty list for a blank that is not glued up from pieces.

    Parameters
    ----------
    plan : Plan
    layout : Layout
    paper : {"a4", "letter"}
    """
    staves = joints.staves(plan, layout)
    if not staves:
        return []
    pages = Pages(
        paper=paper,
        heading=f"Glue-up sheet {short(layout.blank.name, 48)}",
        foot=f"{short(plan.shop.name, 40)}. {cautions.LAST_WORD.split('. ')[0]}.",
    )
    _head(pages, plan, layout, staves)
    shown = _assembled(pages, plan, layout, staves)
    shown |= _pieces(pages, plan, staves)
    pages.table(
        "What comes off, and where the marks stand",
        [
            "",
            "Piece",
            "Shelf",
            "Face up",
            "Edge",
            "Seam",
            "Off at left",
            "Off at right",
            "Mark from left end",
        ],
        _rows(plan, staves),
        [0.4, 1.6, 0.9, 0.9, 0.8, 0.9, -1.1, -1.1, -1.7],
    )
    _seams(pages, plan, layout)
    pages.title("Order of work")
    for n, step in enumerate(_steps(plan, layout, staves), start=1):
        pages.paragraph(step, 2.9, mark=f"{n}.")
    pages.title("Cautions")
    for text in _cautions(plan, layout, staves):
        pages.paragraph(text, 2.9, mark="•")
    signs(pages, shown, plan.shop.units)
    return pages.finish()
