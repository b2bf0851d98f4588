"""The shop sheet of one blank: what a maker takes to the bench."""

from __future__ import annotations

from nestyield.model import Layout, Plan
from nestyield.paperwork import cautions, measure, sheet_bed, sheet_figure
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import bounds, move_of
from nestyield.paperwork.page import MARGIN_MM, Pages, Paper, scale_bar
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, short


def _head(pages: Pages, plan: Plan, layout: Layout) -> None:
    units = plan.shop.units
    blank = layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 4.0), "Shop sheet", 3.4, "plain-soft", "end")
    pages.line(short(blank.name, 34), 7.0, "plain-bold")
    shelves = sorted(
        {clean(p.shelf) for p in plan.shop.pieces for m in blank.members if p.name == m.piece} - {""}
    )
    facts = [
        clean(blank.species),
        measure.size(x1 - x0, y1 - y0, units),
        f"{measure.length(blank.thickness_mm, units)} thick",
    ]
    if shelves:
        facts.append(f"shelf {', '.join(shelves)}")
    if len(blank.members) > 1:
        facts.append("glued up from " + ", ".join(clean(m.piece) for m in blank.members))
    pages.paragraph(", ".join(facts) + ". Seen from the top face.", 3.1)
    planed = [
        plan.shop.part(p.part).thickness_mm
        for p in layout.placements
        if plan.shop.part(p.part).thickness_mm < blank.thickness_mm - 0.01
    ]
    if planed:
        least = ", ".join(measure.length(t, units) for t in sorted(set(planed), reverse=True))
        pages.paragraph(f"Bring to {least} before or while routing{_off(plan, layout)}.", 3.1)
    pages.gap(1.0)
    pages.canvas.line((MARGIN_MM, pages.y), (MARGIN_MM + pages.width, pages.y), "frame")


def _off(plan: Plan, layout: Layout) -> str:
    """Return how much comes off each face, where the parts were placed for that."""
    tops = {p.top_off_mm for p in layout.placements}
    thick = {plan.shop.part(p.part).thickness_mm for p in layout.placements}
    if len(tops) != 1 or len(thick) != 1:
        return ""
    (top,), (part,) = tops, thick
    units = plan.shop.units
    whole = layout.blank.thickness_mm - part
    top = whole / 2 if top is None else top
    return (
        f": {measure.length(top, units)} off the top face, "
        f"{measure.length(whole - top, units)} off the bottom face"
    )


def _figure(pages: Pages, plan: Plan, layout: Layout) -> set[str]:
    units = plan.shop.units
    figure = sheet_figure.draw(
        pages.canvas, plan, layout, pages.y - 1.0, MARGIN_MM, pages.width, min(122.0, pages.room - 70.0)
    )
    pages.gap(figure.height + 2.0)
    text = f"Scale {sheet_figure.scale_words(figure.scale)}. "
    text += f"All lengths in {measure.word(units)}, from the datum edges."
    pages.canvas.text((MARGIN_MM, pages.y - 4.0), text, 2.7, "plain")
    scale_bar(pages.canvas, MARGIN_MM + pages.width - 84.0, pages.y - 4.4, figure.scale, units)
    pages.gap(7.0)
    return figure.shown


def _parts(pages: Pages, plan: Plan, layout: Layout) -> None:
    units = plan.shop.units
    dx, dy = sheet_figure.datum(layout)
    rows = []
    for k, placement in enumerate(layout.placements, start=1):
        part = plan.shop.part(placement.part)
        x0, y0, x1, y1 = bounds([move_of(placement).outline(part.outline)])
        mirror = ", mirror image" if placement.mirrored == placement.front_up else ""
        rows.append(
            [
                str(k),
                clean(part.name),
                f"{clean(placement.order)}, copy {placement.copy}",
                measure.number(x0 - dx, units),
                measure.number(y0 - dy, units),
                f"{measure.number(x1 - x0, units)} × {measure.number(y1 - y0, units)}",
                measure.angle(placement.angle_deg),
                ("front" if placement.front_up else "back") + mirror,
                measure.number(part.thickness_mm, units),
            ]
        )
    pages.table(
        "Parts",
        ["No.", "Part", "Order", "Left", "Bottom", "Across X × Y", "Turned", "On top", "Thick"],
        rows,
        [0.5, 2.0, 2.2, -1.0, -1.0, -2.0, -0.9, 1.2, -0.9],
    )


def _depths(pages: Pages, plan: Plan, layout: Layout) -> None:
    units = plan.shop.units
    rows: dict[tuple[str, ...], int] = {}
    for placement in layout.placements:
        part = plan.shop.part(placement.part)
        for zone in part.zones:
            if zone.role not in ("cutout", "pocket", "contour", "hole"):
                continue
            side = "through"
            if zone.face != "through" and zone.depth_mm is not None:
                side = "top" if (zone.face == "front") == placement.front_up else "bottom"
            deep = "through" if zone.depth_mm is None else measure.number(zone.depth_mm, units)
            name = clean(zone.name).split("#")[0]
            row = (clean(part.name), name, zone.role, side, deep)
            rows[row] = rows.get(row, 0) + 1
    if not rows:
        return
    pages.table(
        "Pockets, contours, openings and holes",
        ["Part", "Name", "What", "From the", "Depth", "How many"],
        [[*row, str(n)] for row, n in rows.items()],
        [1.6, 2.4, 1.0, 1.0, -1.0, -1.0],
    )


def _seams(pages: Pages, plan: Plan, layout: Layout) -> None:
    if not layout.seams:
        return
    units = plan.shop.units
    pages.table(
        "Seams under the parts",
        ["Seam", "Part", "Under the part", "Crosses", "To be seen from"],
        [
            [
                clean(s.seam),
                f"{s.placement + 1} {clean(layout.placements[s.placement].part)}",
                measure.number(s.length_mm, units),
                "; ".join(f"{clean(n)} {measure.number(v, units)}" for n, v in s.zones) or "none",
                ", ".join(s.visible) or "nowhere",
            ]
            for s in layout.seams
        ],
        [1.0, 1.6, -1.1, 2.6, 1.6],
    )


def _leftovers(pages: Pages, plan: Plan, layout: Layout) -> None:
    keep = [k for k in layout.leftovers if k.usable]
    if not keep:
        return
    units = plan.shop.units
    pages.table(
        "Write on it and put back",
        ["Leftover", "Length × width", "Area"],
        [
            [
                clean(k.name),
                measure.size(k.rectangle_mm[2], k.rectangle_mm[3], units),
                measure.area(k.area_mm2, units),
            ]
            for k in keep
        ],
        [2.0, -2.0, -1.0],
    )


def sheet(plan: Plan, layout: Layout, paper: Paper) -> list[Canvas]:
    """Return the pages of the shop sheet of one blank.

    Parameters
    ----------
    plan : Plan
    layout : Layout
    paper : {"a4", "letter"}
    """
    pages = Pages(
        paper=paper,
        heading=f"Shop sheet {short(layout.blank.name, 48)}",
        foot=f"{short(plan.shop.name, 40)}. {cautions.LAST_WORD.split('. ')[0]}.",
    )
    _head(pages, plan, layout)
    shown = _figure(pages, plan, layout)
    _parts(pages, plan, layout)
    shown |= sheet_bed.on_bed(pages, plan, layout)
    sheet_bed.work(pages, layout)
    sheet_bed.holding(pages, plan, layout)
    _depths(pages, plan, layout)
    _seams(pages, plan, layout)
    _leftovers(pages, plan, layout)
    listed = cautions.for_blank(plan, layout)
    pages.title("Cautions")
    for caution in listed:
        pages.paragraph(caution.text, mark="•")
    pages.paragraph(cautions.LAST_WORD, mark="•")
    signs(pages, shown, plan.shop.units)
    return pages.finish()
