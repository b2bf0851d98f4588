"""The part of a shop sheet that tells how a blank lies on its bed: a picture a position, and the figures."""

from __future__ import annotations

import math

from nestyield.model import Bed, BedPosition, Layout, Plan, Setup
from nestyield.model.facts import NoWoodAtCorner
from nestyield.paperwork import bed_picture, fonts, marks, sheet_figure
from nestyield.paperwork.bed_picture import move_of_position, positions
from nestyield.paperwork.blank_picture import tab_spots
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Box, Move, bounds, join_boxes, reflection
from nestyield.paperwork.features import has_bottom, to_drawing, zero_reference
from nestyield.paperwork.labels import Labels
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.page import LEADING, MARGIN_MM, Pages, wrap
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.work import hole, initials
from nestyield.paperwork.words import clean, short, stems
from nestyield.words import MM_PER_INCH, Words

#: Greatest height of a picture of the bed, mm.
PICTURE_MM = 54.0
_WORDS_MM = LETTER_MM
#: Longer file names are not written out.
_LONGEST_NAME = 30
_BORDER_MM = 4.5
#: What a setup may be off is told from here on, mm.
_LEAST_OFF_MM = 1.0


def _title(layout: Layout, position: BedPosition) -> str:
    """Return what a picture shows: ``Setup A: top face up (front of the part)``."""
    title = f"Setup {position.name}: {position.up} face up"
    if position.section:
        return f"{title}, section {position.section}"
    fronts = {p.front_up == (position.up == "top") for p in layout.placements}
    if len(fronts) == 1:
        many = "parts" if len(layout.placements) > 1 else "part"
        title += f" ({'front' if True in fronts else 'back'} of the {many})"
    return title


def _around(plan: Plan, layout: Layout, setup: Setup) -> Box:
    """Return the box around the bed and the blank in all its positions, bed coordinates."""
    outer = layout.blank.shape.outer
    return join_boxes(
        [
            bed_picture.bed_extent(plan.shop.bed(setup.bed)),
            *(bounds([move_of_position(p).outline(outer)]) for p in positions(layout, setup)),
        ]
    )


def _panel(
    canvas: Canvas, plan: Plan, layout: Layout, setup: Setup, position: BedPosition, window: Box
) -> tuple[float, set[str]]:
    """Draw a blank on its bed into a window (left, least y, right, top); return height and legend keys."""
    bed = plan.shop.bed(setup.bed)
    work = layout.work
    move = move_of_position(position)
    left, least, right, top = window
    box = _around(plan, layout, setup)
    border = _BORDER_MM
    k = min((right - left - 2 * border) / (box[2] - box[0]), (top - least - 2 * border) / (box[3] - box[1]))
    height = (box[3] - box[1]) * k + 2 * border
    at = Move(scale=k, dx=left + border - box[0] * k, dy=top - height + border - box[1] * k)
    labels = Labels(canvas=canvas, window=(left, top - height, right, top))
    shown = bed_picture.draw_bed(canvas, bed, at, labels, LETTER_MM)
    shown |= bed_picture.draw_blank_on_bed(canvas, plan, layout, move.then(at), position)
    bed_picture.draw_over(canvas, bed, at, labels, LETTER_MM)
    if position.section:
        outline = move.outline(layout.blank.shape.outer)
        bed_picture.draw_section(canvas, setup, position.section, bounds([outline]), at)
        shown.add("section")
    corner, drawing_zero = (
        at.point(move.point(sheet_figure.datum(layout))),
        at.point(zero_on_bed(layout, position)),
    )
    marks.corner(canvas, corner)
    marks.drawing_zero(canvas, drawing_zero)
    for (x, y), r in ((corner, 1.2), (drawing_zero, 2.8)):
        labels.block((x - r, y - r, x + r, y + r))
    shown.add("drawing-zero")
    if work is None:
        return height, shown | {"zero", "corner"}
    if work.flip_axis_mm is not None:
        canvas.lines([at.points(move.points(work.flip_axis_mm))], "axis")
        shown.add("axis")
    spots: list[tuple[tuple[float, float], float, str]] = []
    tab_names: list[tuple[tuple[float, float], float, str]] = []
    for hold in work.hold_downs:
        if not hold.driven_in(position.section):
            continue
        place = at.point(move.point((hold.x_mm, hold.y_mm)))
        spots.append((place, max(0.9, hold.diameter_mm / 2 * k), hold.name))
        marks.hold_down(canvas, *spots[-1][:2])
        shown.add("clamp")
    for pin in work.pins:
        place = at.point(move.point((pin.x_mm, pin.y_mm)))
        spots.append((place, max(0.9, pin.diameter_mm / 2 * k), pin.name))
        marks.pin(canvas, *spots[-1][:2])
        shown.add("pin")
    tabs = bed_picture.tabs_in(layout, position)
    for name, place, r in tab_spots(work, plan.shop.settings.cutter_diameter_mm, move.then(at)):
        if name in tabs:
            tab_names.append((place, r, name))
    for (x, y), r, _ in [*spots, *tab_names]:
        labels.mark((x, y))
        labels.block((x - r, y - r, x + r, y + r))
    for spot, r, name in spots:
        labels.put(spot, hole(name), LETTER_MM, "text-slate", reach=r)
    for spot, r, name in tab_names:
        labels.put(spot, initials(name), LETTER_MM, "text-tab", reach=r)
    return height, shown | {"zero", "corner"}


def zero_on_bed(layout: Layout, position: BedPosition) -> tuple[float, float]:
    """Return where the zero of the drawing for the face that is up is in a position, bed coordinates."""
    at = sheet_figure.datum(layout)
    work = layout.work
    if position.mirrored and work is not None and work.flip_axis_mm is not None:
        at = reflection(*work.flip_axis_mm).point(at)
    return move_of_position(position).point(at)


def _columns(lines: list[str], width: float) -> tuple[list[str], list[str]]:
    """Return paragraphs in two columns of like height."""
    best = min(range(len(lines) + 1), key=lambda k: max(_height(lines[:k], width), _height(lines[k:], width)))
    return lines[:best], lines[best:]


def _height(lines: list[str], width: float) -> float:
    """Return how high a list of paragraphs stands, mm."""
    indent = fonts.width("• ", _WORDS_MM)
    return sum(len(wrap(line, width - indent, _WORDS_MM)) for line in lines) * _WORDS_MM * LEADING


def on_bed(pages: Pages, plan: Plan, layout: Layout) -> set[str]:
    """Write how the blank lies on its bed, a picture for each face and section; return the legend keys."""
    width = pages.width / 2 - 3.0
    pages.title("On the bed", PICTURE_MM + 15.0 if layout.chosen is not None else 24.0)
    if layout.chosen is None:
        pages.paragraph("No bed of this shop takes this blank:")
        for setup in layout.setups:
            pages.paragraph(
                f"{clean(setup.bed)}, along {setup.along.upper()}: {bed_picture.spare_words(plan, setup)}",
                mark="•",
            )
        return set()
    setup = layout.setups[layout.chosen]
    panels = positions(layout, setup)
    half = pages.width / 2 + 3.0
    shown: set[str] = set()
    lines = _bed_words(plan, layout, setup)
    most = PICTURE_MM if len(panels) < 3 else 46.0
    for start in range(0, len(panels), 2):
        row = panels[start : start + 2]
        pages.need(most + 5.0)
        top, used = pages.y, 0.0
        for k, panel in enumerate(row):
            x = MARGIN_MM + k * half
            title = _title(layout, panel)
            pages.canvas.text((x, top - 3.0), short(title, 44), LETTER_MM, "plain-bold")
            window = (x, top - 4.0 - most, x + width, top - 4.0)
            height, keys = _panel(pages.canvas, plan, layout, setup, panel, window)
            used = max(used, height + 4.0)
            shown |= keys
        if len(row) == 1:
            # As much as stands beside the picture; the rest goes below.
            while lines and top - pages.y + _height(lines[:1], width) <= used:
                pages.paragraph(lines.pop(0), _WORDS_MM, x=MARGIN_MM + half, width=width, mark="•")
        pages.y = top - used - 1.0
    if lines:
        # Two columns under the pictures.
        columns = _columns(lines, width)
        pages.need(max(_height(column, width) for column in columns) + 1.0)
        top, low = pages.y, pages.y
        for k, column in enumerate(columns):
            pages.y = top
            for line in column:
                pages.paragraph(line, _WORDS_MM, x=MARGIN_MM + k * half, width=width, mark="•")
            low = min(low, pages.y)
        pages.y = low
    if setup.sections:
        _sections(pages, plan, layout, setup)
    return shown


def _sections(pages: Pages, plan: Plan, layout: Layout, setup: Setup) -> None:
    words, corner = Words(plan.shop.units), sheet_figure.datum(layout)
    pages.gap(1.0)
    pages.table(
        "",
        [
            "Section",
            "Drawing zero: bed X",
            "bed Y",
            "Turned",
            f"Cut from bed {bed_picture.long_axis(setup)}",
            "to",
        ],
        [
            [
                str(n),
                *(words.number(v, style="machine") for v in bed_picture.move_to_bed(s).point(corner)),
                words.angle(s.turned_deg),
                words.number(s.from_mm, style="machine"),
                words.number(s.to_mm, style="machine"),
            ]
            for n, s in enumerate(setup.sections, start=1)
        ],
        [1.0, -2.2, -1.0, -1.0, -1.6, -1.0],
    )
    if layout.work is not None and layout.work.pins:
        holes = "; ".join(
            f"{hole(p.name)} {_xy(plan, (p.x_mm - corner[0], p.y_mm - corner[1]))}" for p in layout.work.pins
        )
        pages.paragraph(f"In the drawing the holes lie at {holes}: find its zero from the pins.", LETTER_MM)
    pages.paragraph(
        "Drawing zero: the datum corner. Limits are those of the drawn outlines: round their ends the cutter "
        "goes up to its diameter farther. Sections meet on the line of layer SECTION in the drawing.",
        LETTER_MM,
        "plain-soft",
    )


def _xy(plan: Plan, at: tuple[float, float]) -> str:
    return Words(plan.shop.units).point(*at)


def _zero_off_wood(plan: Plan, layout: Layout, over: bool) -> list[str]:
    """Return how the zero of a drawing is found where it is no corner of the wood."""
    found = zero_reference(layout, over)
    if found is None:
        return []
    name, at = found
    if name == "corner" and not over:
        return [
            "There is no sound wood at the datum corner: lay a straightedge along each datum edge. "
            f"It is where they meet, at {_xy(plan, at)} of the drawing."
        ]
    what = "the datum corner" if name == "corner" else f"hole {name} of the blank"
    where = f"In that drawing {what} is at {_xy(plan, at)}: find the zero from there."
    if name == "corner":
        where = _edges_in_drawing(plan, layout, over) or where
    if over:
        return [f"With the BOTTOM face up the zero stays there on the bed, not at that corner. {where}"]
    return [f"With the TOP face up there is no sound wood at the zero. {where}"]


def _edges_in_drawing(plan: Plan, layout: Layout, over: bool) -> str:
    """Return where two sound edges lie in a drawing, where the datum corner is not sound; else ``""``."""
    sound = {e.edge for e in layout.inspection.edges if e.sound} if layout.inspection is not None else set()
    if {"left", "lower"} <= sound and not any(isinstance(c, NoWoodAtCorner) for c in layout.cautions):
        return ""
    ends = [edge for edge in ("left", "right") if edge in sound]
    sides = [edge for edge in ("upper", "lower") if edge in sound]
    if not ends or not sides:
        return ""
    words = Words(plan.shop.units)
    x0, y0, x1, y1 = bounds([to_drawing(layout, over).outline(layout.blank.shape.outer)])
    bx0, by0, bx1, by1 = bounds([layout.blank.shape.outer])
    moved = to_drawing(layout, over).point(((bx0 + bx1) / 2, by1))
    upper, lower = (y1, y0) if abs(moved[1] - y1) < abs(moved[1] - y0) else (y0, y1)
    moved = to_drawing(layout, over).point((bx0, (by0 + by1) / 2))
    left, right = (x0, x1) if abs(moved[0] - x0) < abs(moved[0] - x1) else (x1, x0)
    at_x = words.number({"left": left, "right": right}[ends[0]], style="machine")
    at_y = words.length({"upper": upper, "lower": lower}[sides[0]], style="machine")
    return (
        f"In that drawing the blank's {ends[0]} edge is at X {at_x} and its {sides[0]} edge at Y {at_y} "
        "(as named on page 1): find the zero from them."
    )


def _edge_end(plan: Plan, layout: Layout) -> list[str]:
    """Return where the edge runs by which a blank is laid square."""
    work = layout.work
    if work is None or work.square is None:
        return []
    many = len({p.up for p in work.positions}) > 1
    which = f" in Setup {work.positions[0].name}" if many else ""
    start, end = (_xy(plan, at) for at in (work.square.from_mm, work.square.to_mm))
    over = " and is now turned over" if work.positions[0].mirrored else ""
    return [
        f"Lay it square{which} by the edge from bed {start} to {end}: "
        f"it is the {work.square.edge} one in the figure on page 1{over}."
    ]


def _drawings(plan: Plan, layout: Layout) -> str:
    """Return which drawing is for which face up."""
    names = stems(x.blank.name for x in plan.layouts)
    stem = next((n for n, x in zip(names, plan.layouts) if x is layout), "")
    if not stem or len(stem) > _LONGEST_NAME:
        return ""
    if not has_bottom(layout):
        return f"Drawing: {stem}.dxf."
    return (
        f"Drawings: {stem}.dxf (top face up), {stem}.bottom.dxf (bottom face up). Cut from each only the "
        "layers of the face that is up; what goes through, where the order of work has it."
    )


def _in_travel(bed: Bed, at: tuple[float, float]) -> bool:
    """Tell whether the cutter reaches a place on a bed."""
    return 0.0 <= at[0] <= bed.travel_x_mm and 0.0 <= at[1] <= bed.travel_y_mm


def _hangs_over(plan: Plan, layout: Layout, setup: Setup) -> bool:
    """Tell whether the blank hangs over the table in some position."""
    (left, right), (low, high) = plan.shop.bed(setup.bed).table_x_mm, plan.shop.bed(setup.bed).table_y_mm
    outer = layout.blank.shape.outer
    x0, y0, x1, y1 = join_boxes(
        [bounds([move_of_position(p).outline(outer)]) for p in positions(layout, setup)]
    )
    return x0 < left - 1.0 or x1 > right + 1.0 or y0 < low - 1.0 or y1 > high + 1.0


def _bed_words(plan: Plan, layout: Layout, setup: Setup) -> list[str]:
    words = Words(plan.shop.units)
    bed = plan.shop.bed(setup.bed)
    corner = sheet_figure.datum(layout)
    every = positions(layout, setup)
    turn = setup.turned_deg if every[0].mirrored else every[0].angle_deg
    turned = {0.0: "as drawn above", 90.0: "a quarter turn to the left of the drawing above"}
    way = turned.get(turn % 360.0, {180.0: "half a turn from the drawing above"}.get(turn % 360.0, ""))
    way = way or (
        "a quarter turn to the right of the drawing above"
        if turn % 360.0 == 270.0
        else f"turned {words.angle(turn)} from the drawing above"
    )
    (left, right), (low, high) = bed.table_x_mm, bed.table_y_mm
    travel = (
        f"{words.size(bed.travel_x_mm, bed.travel_y_mm)}, table X {words.number(left)} to "
        f"{words.number(right)}, Y {words.number(low)} to {words.number(high)}"
    )
    out = [
        f"Bed {clean(bed.name)}, travel {travel}: "
        f"the length of the blank lies along {setup.along.upper()}, {way}."
    ]
    if not setup.sections:
        places = {p.up: _xy(plan, move_of_position(p).point(corner)) for p in every}
        if len(places) == 1:
            out.append(f"The datum corner lies at bed {next(iter(places.values()))}.")
        else:
            out.append(
                "The datum corner lies at bed "
                + "; ".join(f"{where} with the {up} face up" for up, where in places.items())
                + "."
            )
        out += _edge_end(plan, layout)
        zero = bed_picture.move_to_bed(setup).point(corner)
        out.append(
            f"Zero of the DXF and SVG drawings, the datum corner: bed {_xy(plan, zero)}"
            + (f", the drawing turned by {words.angle(turn)}." if turn % 360.0 else ", not turned.")
            + ("" if _in_travel(bed, zero) else " It is beyond the travel: set it by figures in the control.")
        )
        out += [text for over in (False, True) for text in _zero_off_wood(plan, layout, over)]
    names = _drawings(plan, layout)
    if names:
        out.append(names)
    out.append(
        "Z zero: the finished face that is up; depths count down from it. Through cuts: a little into the "
        "spoil board, as the machine's manual allows."
    )
    if setup.fits:
        out.append(f"Travel of the cuts: {bed_picture.spare_words(plan, setup)}")
    out += [clean(phrase(fact, words)) for fact in layout.passed_over]
    step = 0.1 if words.units == "mm" else MM_PER_INCH / 64
    off = math.floor((layout.work.clearance_mm if layout.work else 0.0) / step + 1e-6) * step
    if off >= _LEAST_OFF_MM:
        out.append(
            f"Blank, pins, screws and zero together may stand up to {words.length(off)} off this place, in "
            "any direction."
        )
    else:
        out.append("The blank stands at this very place: there is next to nothing to spare.")
    if bed.open_ends:
        out.append("Ends that the blank may hang over: " + ", ".join(_end(e) for e in bed.open_ends) + ".")
    if _hangs_over(plan, layout, setup):
        out.append("The blank hangs over the table: support that end.")
    for k, keep in enumerate(bed.keep_outs, start=1):
        who = {"both": "cutter and blank", "cutter": "the cutter", "blank": "the blank"}[keep.blocks]
        out.append(f"K{k} {clean(keep.name)}: keeps {who} out.")
    return out


def _end(end: str) -> str:
    """Return ``−X`` for ``x-``."""
    return f"{'−' if end.endswith('-') else '+'}{end[0].upper()}"
