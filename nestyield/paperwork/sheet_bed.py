"""The part of a shop sheet that tells how a blank lies, is held and is worked on its bed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.model import HoldDown, Layout, Pin, Plan, Section, Setup
from nestyield.paperwork import bed_picture, marks, measure, sheet_figure
from nestyield.paperwork.blank_picture import initials
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Box, Move, bounds, join_boxes, reflection
from nestyield.paperwork.labels import Labels
from nestyield.paperwork.page import MARGIN_MM, Pages
from nestyield.paperwork.words import clean, short


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    """One picture of the blank on its bed."""

    title: str
    move: Move


def _panels(layout: Layout, setup: Setup) -> list[_Panel]:
    """Return a panel for each face and section, in order of work."""
    work = layout.work
    ups = [f.up for f in work.faces] if work else ["top"]
    places: Sequence[Setup | Section] = setup.sections or (setup,)
    out = []
    for up in ups:
        for k, place in enumerate(places, start=1):
            move = bed_picture.move_to_bed(place)
            title = f"{up.capitalize()} face up"
            if up == "bottom" and work is not None and work.flip_axis_mm is not None:
                move = reflection(*work.flip_axis_mm).then(move)
                title += ", turned over about the flip axis"
            if layout.placements and all(p.front_up == (up == "bottom") for p in layout.placements):
                title += ": backs up"
            elif layout.placements and all(p.front_up == (up == "top") for p in layout.placements):
                title += ": fronts up"
            if setup.sections:
                title += f", section {k}"
            out.append(_Panel(title=title, move=move))
    return out


def _panel(
    canvas: Canvas, plan: Plan, layout: Layout, setup: Setup, move: Move, window: Box
) -> tuple[float, set[str]]:
    """Draw a blank on its bed into a window (left, least y, right, top); return height and legend keys."""
    bed = plan.shop.bed(setup.bed)
    work = layout.work
    left, least, right, top = window
    box = join_boxes([bed_picture.bed_extent(bed), bounds([move.outline(layout.blank.shape.outer)])])
    border = 4.5
    k = min((right - left - 2 * border) / (box[2] - box[0]), (top - least - 2 * border) / (box[3] - box[1]))
    height = (box[3] - box[1]) * k + 2 * border
    at = Move(scale=k, dx=left + border - box[0] * k, dy=top - height + border - box[1] * k)
    labels = Labels(canvas=canvas, window=(left, top - height, right, top))
    shown = bed_picture.draw_bed(canvas, bed, at, labels, 2.6)
    bed_picture.draw_blank_on_bed(canvas, plan, layout, move.then(at))
    bed_picture.draw_over(canvas, bed, at, labels, 2.6)
    marks.corner(canvas, at.point(move.point(sheet_figure.datum(layout))))
    if work is not None:
        if work.flip_axis_mm is not None:
            canvas.lines([at.points(move.points(work.flip_axis_mm))], "axis")
            shown.add("axis")
        for hold in work.hold_downs:
            place = at.point(move.point((hold.x_mm, hold.y_mm)))
            marks.hold_down(canvas, place, max(0.9, hold.diameter_mm / 2 * k))
            shown.add("clamp")
        for pin in work.pins:
            place = at.point(move.point((pin.x_mm, pin.y_mm)))
            marks.pin(canvas, place, max(0.9, pin.diameter_mm / 2 * k))
            shown.add("pin")
    return height, shown | {"zero", "corner"}


def on_bed(pages: Pages, plan: Plan, layout: Layout) -> set[str]:
    """Write how the blank lies on its bed, a picture for each face and section; return the legend keys."""
    pages.title("On the bed", 70.0)
    if layout.chosen is None:
        pages.paragraph("No bed of this shop takes this blank:", 3.0)
        for setup in layout.setups:
            pages.paragraph(
                f"{clean(setup.bed)}, along {setup.along.upper()}: {bed_picture.spare_words(plan, setup)}.",
                mark="•",
            )
        return set()
    setup = layout.setups[layout.chosen]
    panels = _panels(layout, setup)
    half = pages.width / 2 + 3.0
    width = pages.width / 2 - 3.0
    shown: set[str] = set()
    lines = _bed_words(plan, layout, setup)
    most = 54.0 if len(panels) < 3 else 46.0
    for start in range(0, len(panels), 2):
        row = panels[start : start + 2]
        last_pair = start + 2 >= len(panels) and len(row) == 2
        pages.need(most + 6.0 + (24.0 if last_pair else 0.0))
        top, used = pages.y, 0.0
        for k, panel in enumerate(row):
            x = MARGIN_MM + k * half
            number = f"{start + k + 1}. " if len(panels) > 1 else ""
            pages.canvas.text((x, top - 3.0), short(f"{number}{panel.title}", 62), 2.5, "plain-bold")
            window = (x, top - 4.0 - most, x + width, top - 4.0)
            height, keys = _panel(pages.canvas, plan, layout, setup, panel.move, window)
            used = max(used, height + 4.0)
            shown |= keys
        if len(row) == 1:
            for line in lines:
                pages.paragraph(line, 2.8, x=MARGIN_MM + half, width=width, mark="•")
            used = max(used, top - pages.y)
            lines = []
        pages.y = top - used - 1.0
    if lines:
        # Two columns under a pair of panels.
        top, low = pages.y, pages.y
        for k in (0, 1):
            pages.y = top
            for line in lines[k * ((len(lines) + 1) // 2) :][: (len(lines) + 1) // 2]:
                pages.paragraph(line, 2.8, x=MARGIN_MM + k * half, width=width, mark="•")
            low = min(low, pages.y)
        pages.y = low
    if setup.sections:
        _sections(pages, plan, setup)
    return shown


def _sections(pages: Pages, plan: Plan, setup: Setup) -> None:
    units = plan.shop.units
    pages.gap(1.0)
    pages.table(
        "",
        ["Section", "Zero of the blank at X", "at Y", "Turned", f"Cuts {setup.along.upper()} from", "to"],
        [
            [
                str(n),
                measure.number(s.x_mm, units),
                measure.number(s.y_mm, units),
                measure.angle(s.turned_deg),
                measure.number(s.from_mm, units),
                measure.number(s.to_mm, units),
            ]
            for n, s in enumerate(setup.sections, start=1)
        ],
        [1.0, -2.2, -1.0, -1.0, -1.6, -1.0],
    )


def holding(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Table of pins and screws: where they stand in the blank and on the bed."""
    work = layout.work
    if work is None or layout.chosen is None or not (work.pins or work.hold_downs):
        return
    units = plan.shop.units
    dx, dy = sheet_figure.datum(layout)
    setup = layout.setups[layout.chosen]
    move = bed_picture.move_to_bed(setup.sections[0] if setup.sections else setup)
    uses = {"flip": "to turn over on", "index": "to move along by"}
    listed: list[tuple[Pin | HoldDown, str]] = [(pin, uses[pin.use]) for pin in work.pins]
    listed += [(hold, "to hold") for hold in work.hold_downs]
    pages.table(
        "Pins and screws",
        ["Sign", "Name", "From left", "From bottom", "Bed X", "Bed Y", "Diameter", "What for", "Stands in"],
        [
            [
                initials(item.name),
                clean(item.name),
                measure.number(item.x_mm - dx, units),
                measure.number(item.y_mm - dy, units),
                *(measure.number(v, units) for v in move.point((item.x_mm, item.y_mm))),
                measure.number(item.diameter_mm, units),
                use,
                {"waste": "waste", "cutout": "an opening"}[item.place],
            ]
            for item, use in listed
        ],
        [0.6, 1.1, -1.1, -1.3, -1.0, -1.0, -1.0, 1.6, 1.1],
    )
    if len(work.faces) > 1 or work.faces[0].up == "bottom":
        pages.paragraph("Bed X and Y hold while the top face is up.", 2.6, "plain-soft")


def _bed_words(plan: Plan, layout: Layout, setup: Setup) -> list[str]:
    units = plan.shop.units
    bed = plan.shop.bed(setup.bed)
    dx, dy = sheet_figure.datum(layout)
    corner = bed_picture.move_to_bed(setup).point((dx, dy))
    where = ", ".join(f"{axis} {measure.length(v, units)}" for axis, v in zip("XY", corner))
    out = [
        f"Bed {clean(bed.name)}. The length of the blank lies along {setup.along.upper()} of the bed"
        + (f", turned {measure.angle(setup.turned_deg)}." if setup.turned_deg % 360.0 else "."),
        f"Its datum corner comes to lie at {where}, counted from the zero of the bed.",
    ]
    if abs(dx) > 0.05 or abs(dy) > 0.05:
        out.append(
            f"In DXF and SVG the datum corner has X {measure.length(dx, units)}, "
            f"Y {measure.length(dy, units)}."
        )
    else:
        out.append("Zero of DXF and SVG is the datum corner.")
    out.append(
        f"{bed_picture.spare_words(plan, setup)[0].upper()}{bed_picture.spare_words(plan, setup)[1:]}."
    )
    if setup.clearance_mm > 0:
        out.append(f"It may lie up to {measure.length(setup.clearance_mm, units)} off, in any direction.")
    if bed.open_ends:
        out.append("Open ends: " + ", ".join(e.upper().replace("-", "−") for e in bed.open_ends) + ".")
    for k, keep in enumerate(bed.keep_outs, start=1):
        who = {"both": "cutter and blank", "cutter": "the cutter", "blank": "the blank"}[keep.blocks]
        out.append(f"K{k} {clean(keep.name)}: keeps {who} out.")
    return out


def steps(layout: Layout) -> list[tuple[str, list[str]]]:
    """Return the order of work: a heading and its steps for each face, holding and turning over included."""
    work = layout.work
    if work is None:
        return []
    pins = ", ".join(initials(p.name) for p in work.pins)
    holds = ", ".join(initials(h.name) for h in work.hold_downs)
    out = []
    for k, face in enumerate(work.faces):
        listed = []
        if k == 0:
            if holds:
                listed.append(f"Lay the blank as the picture of the bed shows and hold it at {holds}.")
            if pins:
                listed.append(f"Drill {pins} through the blank, square, and on into the table.")
        else:
            onto = f" onto the pins at {pins}" if pins else ""
            listed.append(f"Turn the blank over about the flip axis{onto}, and hold it again.")
        listed += list(face.steps)
        through = "; the outlines are cut through" if face.through else ""
        out.append((f"{face.up.capitalize()} face up{through}", listed))
    return out


def work(pages: Pages, layout: Layout) -> None:
    """Write the order of work."""
    listed = steps(layout)
    if not listed:
        return
    pages.title("Order of work", min(20.0 + 4.2 * len(listed[0][1]), 90.0))
    for number, (heading, lines) in enumerate(listed, start=1):
        pages.need(min(12.0 + 4.2 * len(lines), 90.0))
        pages.line(f"{number}. {heading}", 3.0, "plain-bold")
        for n, step in enumerate(lines, start=1):
            pages.paragraph(step, 2.9, mark=f"{number}.{n}")
        pages.gap(1.0)
