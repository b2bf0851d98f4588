"""What the report tells of each blank, as records for its template."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from nestyield.model import Finding, Layout, Plan
from nestyield.model.facts import WoodFact
from nestyield.model.totals import knows_money
from nestyield.paperwork import (
    bed_picture,
    blank_picture,
    cautions,
    fills,
    flaws,
    marks,
    off_by,
    report_ways,
    room,
    svg,
    template,
    weights,
)
from nestyield.paperwork.alike import first_alike
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, move_of
from nestyield.paperwork.features import has_bottom, other_way_fits
from nestyield.paperwork.page import PAPER_NAMES, papers_of
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.seam_words import crossed
from nestyield.paperwork.sheet_figure import datum
from nestyield.paperwork.sheet_work import steps
from nestyield.paperwork.words import clean, listed
from nestyield.words import Words, plural

#: Code of the note about edges that may tear, which the paper tells as a caution.


def anchors(plan: Plan) -> list[str]:
    """Return the anchor of each layout's section."""
    return [f"blank-{k}" for k in range(1, len(plan.layouts) + 1)]


def order_anchor(plan: Plan, order: str) -> str:
    """Return the anchor of an order's row; ``""`` for an order that the shop file does not have."""
    names = [o.name for o in plan.shop.orders]
    return f"order-{names.index(order) + 1}" if order in names else ""


def way(layout: Layout) -> str:
    """Return bed and direction of the chosen setup in words."""
    if layout.chosen is None:
        return "no bed takes it"
    setup = layout.setups[layout.chosen]
    sections = f", in {len(setup.sections)} sections" if setup.sections else ""
    return f"bed {clean(setup.bed)}, along {setup.along.upper()}{sections}"


def _legend(shown: set[str]) -> list[dict[str, Any]]:
    return [
        {"swatch": Markup(svg.inline(marks.swatch(e.key), hidden=True, extra_class="swatch")), "text": e.text}
        for e in marks.entries(shown)
    ]


def _placements(plan: Plan, layout: Layout) -> list[dict[str, str]]:
    words = Words(plan.shop.units)
    dx, dy = datum(layout)
    rows = []
    for k, placement in enumerate(layout.placements, start=1):
        part = plan.shop.part(placement.part)
        x0, y0, x1, y1 = bounds([move_of(placement).outline(part.outline)])
        rows.append(
            {
                "number": str(k),
                "part": clean(part.name),
                "order": f"{clean(placement.order)}, copy {placement.copy}",
                "order_anchor": order_anchor(plan, placement.order),
                "left": words.column(x0 - dx),
                "bottom": words.column(y0 - dy),
                "size": f"{words.column(x1 - x0)} × {words.column(y1 - y0)}",
                "turned": words.angle(placement.angle_deg),
                "face": "front" if placement.front_up else "back",
                "mirrored": "yes" if placement.mirrored == placement.front_up else "no",
                "thickness": words.depth(part.thickness_mm),
            }
        )
    return rows


def _seams(plan: Plan, layout: Layout) -> list[dict[str, str]]:
    words = Words(plan.shop.units)
    rows = []
    for seam in layout.seams:
        rows.append(
            {
                "name": clean(seam.seam),
                "part": f"{seam.placement + 1} {clean(layout.placements[seam.placement].part)}",
                "length": words.column(seam.length_mm),
                "zones": crossed(layout, seam, words),
                "visible": ", ".join(seam.visible) or "nowhere",
            }
        )
    return rows


def _setups(plan: Plan, layout: Layout) -> list[dict[str, Any]]:
    words = Words(plan.shop.units)
    out = []
    for k, setup in enumerate(layout.setups):
        pictures = []
        says = clean(bed_picture.spare_words(plan, setup))
        shown: set[str] = set()
        for n, section in enumerate(setup.sections or (None,), start=1):
            canvas, keys = bed_picture.picture(
                plan, layout, setup, section=section, box=bed_picture.common_box(plan, layout, setup.bed)
            )
            shown |= keys
            if section is not None:
                canvas.title += f", section {n}"
            pictures.append(Markup(svg.inline(canvas)))
        out.append(
            {
                "bed": clean(setup.bed),
                "order": list(dict.fromkeys(s.bed for s in layout.setups)).index(setup.bed),
                "along": setup.along.upper(),
                "fits": setup.fits,
                "sections": len(setup.sections),
                "chosen": k == layout.chosen,
                "words": says,
                "needs": words.size(setup.needs_x_mm, setup.needs_y_mm),
                "answer": "fits" if setup.fits else ("in sections" if setup.sections else "does not fit"),
                "spare_x": words.number(setup.spare_x_mm, rounding="down"),
                "spare_y": words.number(setup.spare_y_mm, rounding="down"),
                "pictures": pictures,
                "shown": shown,
            }
        )
    return out


def _leftovers(plan: Plan, layout: Layout) -> list[dict[str, Any]]:
    words = Words(plan.shop.units)
    return [
        {
            "name": clean(leftover.name),
            "size": " × ".join(words.column(v, rounding="wood") for v in leftover.rectangle_mm[2:]),
            "area": words.area(leftover.area_mm2),
            "defects": flaws.inside(layout, leftover),
            "clear_of_defects": flaws.clear_of(layout, leftover, words),
        }
        for leftover in layout.leftovers
        if leftover.usable
    ]


def _makes(layout: Layout) -> str:
    """Return what a blank is for: ``mandolin``, or ``2 fingerboard``."""
    counts: dict[str, int] = {}
    for placement in layout.placements:
        counts[clean(placement.part)] = counts.get(clean(placement.part), 0) + 1
    return listed(f"{n} × {name}" if n > 1 else name for name, n in counts.items())


def _rooms(plan: Plan, layout: Layout) -> list[str]:
    """Return how far each part may still be shifted and turned, in sentences."""
    rooms = layout.rooms
    if len(rooms) == 1:
        return [room.sentence(plan, layout, rooms[0])]
    out = []
    for item in rooms:
        words = room.sentence(plan, layout, item).removesuffix(f" {room.ASIDE}")
        if words != room.NONE:
            out.append(f"Part {item.placement + 1}: {words[0].lower()}{words[1:]}")
    return [*out, room.ASIDE] if out else []


def blanks(plan: Plan, stems: list[str]) -> list[dict[str, Any]]:
    """Return one record a blank for the template."""
    words = Words(plan.shop.units, "\u00a0", clean(plan.shop.settings.currency))
    out = []
    first = first_alike(plan)
    row_of = {p.name: f"rack-{k}" for k, p in enumerate(plan.shop.pieces, start=1)}
    for k, (layout, anchor, stem) in enumerate(zip(plan.layouts, anchors(plan), stems)):
        blank = layout.blank
        canvas, shown = blank_picture.picture(plan, layout)
        setups = _setups(plan, layout)
        bed_shown: set[str] = set().union(*(s["shown"] for s in setups)) if setups else set()
        keep_outs: list[tuple[str, list[str]]] = []
        for name in dict.fromkeys(s.bed for s in layout.setups):
            bed = plan.shop.bed(name)
            if bed.keep_outs:
                keep_outs.append((clean(name), [clean(k.name) for k in bed.keep_outs]))
        x0, y0, x1, y1 = bounds([blank.shape.outer])
        out.append(
            {
                "name": clean(blank.name),
                "anchor": anchor,
                "files": files_of(
                    plan,
                    layout,
                    stem,
                    stems[first[k]],
                    "" if first[k] == k else clean(plan.layouts[first[k]].blank.name),
                ),
                "alike": "" if first[k] == k else clean(plan.layouts[first[k]].blank.name),
                "rows": [
                    (row_of[piece], clean(piece))
                    for piece in dict.fromkeys(m.piece for m in blank.members)
                    if piece in row_of
                ],
                "species": clean(blank.species),
                "size": words.size(x1 - x0, y1 - y0),
                "thickness": words.length(blank.thickness_mm),
                "members": [clean(m.label) for m in blank.members],
                "shelves": sorted(
                    {clean(p.shelf) for p in plan.shop.pieces for m in blank.members if p.name == m.piece}
                    - {""}
                ),
                "way": way(layout),
                "passed_over": [clean(phrase(fact, words)) for fact in layout.passed_over],
                "has_bed": layout.chosen is not None,
                "picture": Markup(svg.inline(canvas)),
                "thumbnail": Markup(svg.inline(_thumbnail(plan, layout), hidden=True)),
                "tall": canvas.width_mm < 2.0 * canvas.height_mm,
                "legend": _legend(shown),
                "setups": setups,
                "bed_legend": _legend(bed_shown - {"part"}),
                "keep_outs": keep_outs,
                "placements": _placements(plan, layout),
                "seams": _seams(plan, layout),
                "other_ways": report_ways.rows(plan, blank.name),
                "leftovers": _leftovers(plan, layout),
                "waste": sum(1 for k in layout.leftovers if not k.usable),
                "weights": weights.lines(plan, layout, words),
                "off": off_by.lines(layout, words),
                "rooms": _rooms(plan, layout),
                "fills": fills.rows(plan, layout),
                "filler": fills.total(plan, layout),
                "makes": _makes(layout),
                "steps": [(title, [clean(s) for s in lines]) for title, lines in steps(plan, layout)],
                "cautions": [c.text for c in cautions.for_blank(plan, layout)],
                "findings": [wood_row(f, blank.name, words) for f in layout.wood if f.severity == "note"],
                "yield": words.share(layout.part_area_mm2, layout.stock_area_mm2),
                "yield_kept": words.share(
                    layout.part_area_mm2 + layout.usable_area_mm2, layout.stock_area_mm2
                ),
                "board_feet": f"{layout.board_feet:.2f}",
                "value": words.money(layout.value) if knows_money(plan.shop) else "",
            }
        )
    return out


def _thumbnail(plan: Plan, layout: Layout) -> Canvas:
    """Return a small picture of a blank: its outline and its parts."""
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    scale = min(46.0 / (x1 - x0), 22.0 / (y1 - y0))
    canvas = Canvas(width_mm=48.0, height_mm=24.0, title=clean(layout.blank.name))
    left, low = (48.0 - (x1 - x0) * scale) / 2, (24.0 - (y1 - y0) * scale) / 2
    bed_picture.draw_blank_on_bed(
        canvas, plan, layout, Move(scale=scale, dx=left - x0 * scale, dy=low - y0 * scale)
    )
    return canvas


def files_of(plan: Plan, layout: Layout, stem: str, sheet: str = "", of: str = "") -> list[tuple[str, str]]:
    """Return what there is for the bench, as (file, words).

    ``sheet`` is the stem of the shop sheet where that of blank ``of`` serves, which is alike.
    """
    whose, papers = f", that of {of}" if of else "", papers_of(plan.shop.settings)
    sheet = sheet or stem
    out = []
    if layout.glueup is not None:
        out += [(f"sheets/{stem}.glue-up-{p}.pdf", f"glue-up sheet ({PAPER_NAMES[p]})") for p in papers]
    if layout.laminate is not None:
        out += [(f"sheets/{stem}.layers-{p}.pdf", f"layer sheet ({PAPER_NAMES[p]})") for p in papers]
    if layout.on_edge is not None:
        out += [(f"sheets/{stem}.strips-{p}.pdf", f"strip sheet ({PAPER_NAMES[p]})") for p in papers]
    out += [(f"sheets/{sheet}-{p}.pdf", f"shop sheet ({PAPER_NAMES[p]}{whose})") for p in papers]
    out += [
        (f"drawings/{stem}.dxf", "DXF"),
        (f"drawings/{stem}.svg", "SVG at full size"),
    ]
    if has_bottom(layout):
        out += [
            (f"drawings/{stem}.bottom.dxf", "DXF, bottom face up"),
            (f"drawings/{stem}.bottom.svg", "SVG, bottom face up"),
        ]
    if plan.shop.settings.both_directions and other_way_fits(layout):
        for end, more in (("", ""), *((((".bottom", ", bottom face up"),)) if has_bottom(layout) else ())):
            out += [
                (f"drawings/{stem}{end}.along-y.dxf", f"DXF along Y{more}"),
                (f"drawings/{stem}{end}.along-y.svg", f"SVG along Y{more}"),
            ]
    for paper in papers:
        name = PAPER_NAMES[paper]
        if count := template.pages_of(plan, layout, paper):
            words = f"full-size template ({name}, {count} {plural(count, 'page')} and a cover)"
            out.append((f"templates/{stem}-{paper}.pdf", words))
    return out


def wood_row(fact: WoodFact, blank: str, words: Words) -> dict[str, str]:
    """Return a fact of a blank's wood as table cells."""
    return {
        "code": fact.code,
        "severity": fact.severity,
        "place": f"blank {clean(blank)}",
        "message": clean(phrase(fact, words)),
    }


def finding_row(finding: Finding) -> dict[str, str]:
    """Return a finding as table cells."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "place": ", ".join(clean(p) for p in (finding.file, finding.where) if p),
        "message": clean(finding.message),
    }
