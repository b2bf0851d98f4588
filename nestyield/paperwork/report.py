"""The report: one HTML file that needs nothing else, no network and no script."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from nestyield.model import Finding, Layout, OrderResult, Plan
from nestyield.paperwork import (
    bed_picture,
    blank_picture,
    cautions,
    joints,
    look,
    marks,
    measure,
    rack_picture,
    svg,
)
from nestyield.paperwork.curves import bounds, move_of
from nestyield.paperwork.features import has_bottom
from nestyield.paperwork.sheet import steps
from nestyield.paperwork.sheet_figure import datum
from nestyield.paperwork.words import clean


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """One order as the report tells it."""

    name: str
    part: str
    wanted: int
    placed: int
    due: str
    state: str
    kind: str
    where: tuple[tuple[str, str, str, str], ...]  # blank, anchor, copies, bed and direction
    reasons: tuple[str, ...]
    proofs: tuple[str, ...]


def anchors(plan: Plan) -> list[str]:
    """Return the anchor of each layout's section."""
    return [f"blank-{k}" for k in range(1, len(plan.layouts) + 1)]


def way(layout: Layout) -> str:
    """Return bed and direction of the chosen setup in words."""
    if layout.chosen is None:
        return "no bed takes it"
    setup = layout.setups[layout.chosen]
    sections = f", in {len(setup.sections)} sections" if setup.sections else ""
    return f"bed {clean(setup.bed)}, along {setup.along.upper()}{sections}"


def proofs(plan: Plan, result: OrderResult) -> tuple[str, ...]:
    """Return what has been proved of single pieces for an order, in sentences."""
    outright = [clean(c.blank) for c in result.certificates if c.outright]
    tight = [c for c in result.certificates if not c.outright]
    out = []
    if outright:
        out.append(f"Proved: at no allowed angle does the part have a place on {', '.join(outright)}.")
    for c in tight:
        room = measure.length(c.within_mm, plan.shop.units)
        out.append(f"Proved: on {clean(c.blank)} no place has {room} more room than it needs.")
    return tuple(out)


def order_rows(plan: Plan) -> list[OrderRow]:
    """Return every order with what became of it, in file order."""
    results = {r.order: r for r in plan.orders}
    marks_of = anchors(plan)
    rows = []
    for order in plan.shop.orders:
        result = results.get(order.name, OrderResult(order=order.name, placed=0))
        where = []
        for layout, anchor in zip(plan.layouts, marks_of):
            n = sum(1 for p in layout.placements if p.order == order.name)
            if n:
                times = f" ({n} copies)" if n > 1 else ""
                where.append((clean(layout.blank.name), anchor, times, way(layout)))
        if order.hold:
            state, kind = "on hold", "hold"
        elif result.placed >= order.count:
            state, kind = "can be made", "yes"
        elif result.placed:
            state, kind = "in part", "part"
        else:
            state, kind = "cannot be made", "no"
        rows.append(
            OrderRow(
                name=clean(order.name),
                part=clean(order.part),
                wanted=order.count,
                placed=result.placed,
                due=order.due or "",
                state=state,
                kind=kind,
                where=tuple(where),
                reasons=tuple(clean(r) for r in result.reasons),
                proofs=proofs(plan, result),
            )
        )
    return rows


def _legend(shown: set[str]) -> list[dict[str, Any]]:
    return [
        {"swatch": Markup(svg.inline(marks.swatch(e.key), hidden=True, extra_class="swatch")), "text": e.text}
        for e in marks.entries(shown)
    ]


def _placements(plan: Plan, layout: Layout) -> list[dict[str, str]]:
    u = plan.shop.units
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
                "left": measure.number(x0 - dx, u),
                "bottom": measure.number(y0 - dy, u),
                "size": f"{measure.number(x1 - x0, u)} × {measure.number(y1 - y0, u)}",
                "turned": measure.angle(placement.angle_deg),
                "face": "front" if placement.front_up else "back",
                "mirrored": "yes" if placement.mirrored == placement.front_up else "no",
                "thickness": measure.number(part.thickness_mm, u),
            }
        )
    return rows


def _seams(plan: Plan, layout: Layout) -> list[dict[str, str]]:
    u = plan.shop.units
    rows = []
    for seam in layout.seams:
        rows.append(
            {
                "name": clean(seam.seam),
                "part": f"{seam.placement + 1} {clean(layout.placements[seam.placement].part)}",
                "length": measure.number(seam.length_mm, u),
                "zones": "; ".join(f"{clean(n)} {measure.number(run, u)}" for n, run in seam.zones) or "none",
                "visible": ", ".join(seam.visible) or "nowhere",
            }
        )
    return rows


def _setups(plan: Plan, layout: Layout) -> list[dict[str, Any]]:
    u = plan.shop.units
    out = []
    for k, setup in enumerate(layout.setups):
        pictures = []
        words = clean(bed_picture.spare_words(plan, setup))
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
                "words": words[:1].upper() + words[1:],
                "needs": measure.size(setup.needs_x_mm, setup.needs_y_mm, u),
                "pictures": pictures,
                "shown": shown,
            }
        )
    return out


def _leftovers(plan: Plan, layout: Layout) -> list[dict[str, Any]]:
    u = plan.shop.units
    return [
        {
            "name": clean(leftover.name),
            "size": " × ".join(measure.number(v, u) for v in leftover.rectangle_mm[2:]),
            "area": measure.area(leftover.area_mm2, u),
            "keep": "keep" if leftover.usable else "waste",
        }
        for leftover in layout.leftovers
    ]


def blanks(plan: Plan, stems: list[str]) -> list[dict[str, Any]]:
    """Return one record a blank for the template."""
    u = plan.shop.units
    out = []
    for layout, anchor, stem in zip(plan.layouts, anchors(plan), stems):
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
                "files": files_of(plan, layout, stem),
                "species": clean(blank.species),
                "size": measure.size(x1 - x0, y1 - y0, u),
                "thickness": measure.length(blank.thickness_mm, u),
                "members": [clean(m.piece) + (f"/{m.copy}" if m.copy > 1 else "") for m in blank.members],
                "shelves": sorted(
                    {clean(p.shelf) for p in plan.shop.pieces for m in blank.members if p.name == m.piece}
                    - {""}
                ),
                "way": way(layout),
                "has_bed": layout.chosen is not None,
                "picture": Markup(svg.inline(canvas)),
                "legend": _legend(shown),
                "setups": setups,
                "bed_legend": _legend(bed_shown - {"part"}),
                "keep_outs": keep_outs,
                "placements": _placements(plan, layout),
                "seams": _seams(plan, layout),
                "leftovers": _leftovers(plan, layout),
                "steps": [(title, [clean(s) for s in lines]) for title, lines in steps(layout)],
                "cautions": [clean(c.text) for c in cautions.for_blank(plan, layout)],
                "findings": [finding_row(f) for f in layout.findings],
                "yield": measure.percent(layout.part_area_mm2, layout.stock_area_mm2),
                "yield_kept": measure.percent(
                    layout.part_area_mm2 + layout.usable_area_mm2, layout.stock_area_mm2
                ),
                "board_feet": f"{layout.board_feet:.2f}",
                "value": f"{layout.value:.2f}",
            }
        )
    return out


def files_of(plan: Plan, layout: Layout, stem: str) -> list[tuple[str, str]]:
    """Return what there is for the bench, as (file, words)."""
    out = []
    if joints.staves(plan, layout):
        out += [
            (f"sheets/{stem}.glue-up-a4.pdf", "glue-up sheet (A4)"),
            (f"sheets/{stem}.glue-up-letter.pdf", "glue-up sheet (Letter)"),
        ]
    out += [
        (f"sheets/{stem}-a4.pdf", "shop sheet (A4)"),
        (f"sheets/{stem}-letter.pdf", "shop sheet (Letter)"),
        (f"drawings/{stem}.dxf", "DXF"),
        (f"drawings/{stem}.svg", "SVG at full size"),
    ]
    if has_bottom(layout):
        out += [
            (f"drawings/{stem}.bottom.dxf", "DXF, bottom face up"),
            (f"drawings/{stem}.bottom.svg", "SVG, bottom face up"),
        ]
    return out


def finding_row(finding: Finding) -> dict[str, str]:
    """Return a finding as table cells."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "place": ", ".join(clean(p) for p in (finding.file, finding.where) if p),
        "message": clean(finding.message),
    }


def rack(plan: Plan) -> list[dict[str, Any]]:
    """Return one record a piece of the rack for the template."""
    u = plan.shop.units
    used = rack_picture.used_copies(plan)
    scale = rack_picture.rack_scale(plan, 48.0, 30.0)
    out = []
    for piece in plan.shop.pieces:
        x0, y0, x1, y1 = bounds([piece.shape.outer])
        n = used.get(piece.name, 0)
        out.append(
            {
                "name": clean(piece.name),
                "shelf": clean(piece.shelf),
                "species": clean(piece.species),
                "size": measure.size(x1 - x0, y1 - y0, u),
                "thickness": measure.length(piece.thickness_mm, u),
                "state": rack_picture.state(piece, n),
                "kind": "used" if n else piece.status,
                "picture": Markup(svg.inline(rack_picture.picture(plan, piece, scale))),
            }
        )
    return out


def missing(plan: Plan, rows: list[OrderRow]) -> list[dict[str, str]]:
    """Return what each unmet order still wants."""
    u = plan.shop.units
    out = []
    for row, order in zip(rows, plan.shop.orders):
        if row.kind in ("yes", "hold"):
            continue
        part = plan.shop.part(order.part)
        x0, y0, x1, y1 = bounds([part.outline])
        out.append(
            {
                "order": row.name,
                "copies": str(row.wanted - row.placed),
                "part": row.part,
                "size": f"{measure.number(x1 - x0, u)} × {measure.number(y1 - y0, u)}",
                "thickness": measure.number(part.thickness_mm, u),
                "species": ", ".join(clean(s) for s in part.species) or "any",
            }
        )
    return out


def purchases(plan: Plan) -> list[dict[str, str]]:
    """Return what to buy, as table cells."""
    u = plan.shop.units
    return [
        {
            "order": clean(p.order),
            "count": str(p.count),
            "size": f"{measure.number(p.length_mm, u)} × {measure.number(p.width_mm, u)}",
            "thickness": measure.number(p.thickness_mm, u),
            "species": ", ".join(clean(s) for s in p.species) or "any",
            "board_feet": f"{p.board_feet:.2f}",
        }
        for p in plan.purchases
    ]


def objectives(plan: Plan) -> list[dict[str, str]]:
    """Return how far each aim of the choice was reached, as table cells."""
    u = plan.shop.units

    def words(value: float, unit: str) -> str:
        if unit == "mm":
            return measure.length(value, u)
        if unit == "copies":
            return f"{value:.0f}"
        return f"{value:.2f} {unit}" if unit != "value" else f"{value:.2f}"

    return [
        {
            "name": clean(o.name),
            "value": words(o.value, o.unit),
            "bound": words(o.bound, o.unit),
            "proven": "proven best" if o.proven else "not proven",
        }
        for o in plan.objectives
    ]


def totals(plan: Plan) -> dict[str, str]:
    """Return the figures of the whole plan, summed over its blanks."""
    part = sum(x.part_area_mm2 for x in plan.layouts)
    stock = sum(x.stock_area_mm2 for x in plan.layouts)
    usable = sum(x.usable_area_mm2 for x in plan.layouts)
    return {
        "yield": measure.percent(part, stock),
        "yield_kept": measure.percent(part + usable, stock),
        "board_feet": f"{sum(x.board_feet for x in plan.layouts):.2f}",
        "value": f"{sum(x.value for x in plan.layouts):.2f}",
        "parts": str(sum(len(x.placements) for x in plan.layouts)),
        "leftovers": str(sum(1 for x in plan.layouts for k in x.leftovers if k.usable)),
    }


def html(plan: Plan, stems: list[str]) -> str:
    """Return the report.

    Parameters
    ----------
    plan : Plan
    stems : list of str
        File stem of each blank's drawings and sheets.
    """
    environment = Environment(
        loader=PackageLoader("nestyield.paperwork", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    rows = order_rows(plan)
    style = (files("nestyield.paperwork") / "templates" / "report.css").read_text(encoding="utf-8")
    pictures = (
        look.css(".picture ", False)
        + "\n@media screen and (prefers-color-scheme: dark) {\n"
        + look.css(".picture ", True)
        + "\n}"
    )
    severity = {"error": 0, "warning": 1, "note": 2}
    found = sorted(plan.findings, key=lambda f: severity[f.severity])
    return environment.get_template("report.html.j2").render(
        shop=clean(plan.shop.name),
        u=plan.shop.units,
        style=Markup(style + "\n" + pictures),
        orders=rows,
        unmet=[r for r in rows if r.kind in ("no", "part", "hold")],
        made=sum(1 for r in rows if r.kind == "yes"),
        active=sum(1 for r in rows if r.kind != "hold"),
        blanks=blanks(plan, stems),
        rack=rack(plan),
        missing=missing(plan, rows),
        purchases=purchases(plan),
        objectives=objectives(plan),
        findings=[finding_row(f) for f in found],
        cautions=cautions.general(plan),
        totals=totals(plan),
        stopped=clean(plan.stopped),
        seed=plan.seed,
        effort=plan.effort,
        schema=plan.schema,
        files=sorted(plan.shop.files.items()),
        settings=_settings(plan),
    )


def _settings(plan: Plan) -> list[tuple[str, str]]:
    u, s = plan.shop.units, plan.shop.settings
    return [
        ("cutter diameter", measure.setting(s.cutter_diameter_mm, u)),
        ("between parts", measure.setting(s.gap_mm, u)),
        ("margin of the blank", measure.setting(s.blank_margin_mm, u)),
        ("off each jointed edge", measure.setting(s.jointing_mm, u)),
        ("off each face before routing", measure.setting(s.planing_mm, u)),
        ("least leftover", measure.size(s.leftover_shortest_mm, s.leftover_narrowest_mm, u)),
    ]
