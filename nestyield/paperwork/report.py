"""The report: one HTML file that needs nothing else, no network and no script."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from nestyield.model import Order, OrderResult, Piece, Plan
from nestyield.model.facts import LackingPart, SetNotWhole
from nestyield.model.totals import knows_money, totals_of
from nestyield.paperwork import (
    cautions,
    look,
    rack_picture,
    report_sawing,
    sets,
    svg,
    weights,
)
from nestyield.paperwork.curves import bounds
from nestyield.paperwork.notices import plan_findings
from nestyield.paperwork.page import held_together
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.search import goal_name, goal_value
from nestyield.paperwork.report_blanks import anchors, blanks, finding_row, order_anchor, way
from nestyield.paperwork.sets import bought_with
from nestyield.paperwork.words import clean
from nestyield.words import Words, listed


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """One order as the report tells it."""

    name: str
    anchor: str
    part: str
    wanted: int
    placed: int
    due: str
    state: str
    kind: str
    where: tuple[tuple[str, str, str, str], ...]  # blank, anchor, copies, bed and direction
    reasons: tuple[str, ...]
    proofs: tuple[str, ...]
    set: str = ""


def proofs(plan: Plan, result: OrderResult) -> tuple[str, ...]:
    """Return what has been proved of single pieces for an order, in sentences."""
    outright = [clean(c.blank) for c in result.certificates if c.outright]
    tight = [c for c in result.certificates if not c.outright]
    words = Words(plan.shop.units)
    out = []
    if outright:
        out.append(f"Proved: at no allowed angle does the part have a place on {', '.join(outright)}.")
    for c in tight:
        room = words.length(c.within_mm)
        out.append(f"Proved: on {clean(c.blank)} no place has {room} more room than it needs.")
    return tuple(out)


def order_rows(plan: Plan) -> list[OrderRow]:
    """Return every order with what became of it, in file order."""
    results = {r.order: r for r in plan.orders}
    marks_of = anchors(plan)
    words = Words(plan.shop.units)
    rows = []
    for order in plan.shop.orders:
        result = results.get(order.name, OrderResult(order=order.name, placed=0, count=order.count))
        where = []
        for layout, anchor in zip(plan.layouts, marks_of):
            n = sum(1 for p in layout.placements if p.order == order.name)
            if n:
                times = f" ({n} copies)" if n > 1 else ""
                where.append((clean(layout.blank.name), anchor, times, way(layout)))
        if order.done:
            state, kind = "done", "done"
        elif order.hold:
            state, kind = "on hold", "hold"
        elif result.placed >= order.count:
            state, kind = "filled", "yes"
        elif result.placed:
            state, kind = "in part", "part"
        else:
            state, kind = "not filled", "no"
        rows.append(
            OrderRow(
                set=clean(order.set),
                name=clean(order.name),
                anchor=order_anchor(plan, order.name),
                part=clean(order.part),
                wanted=order.count,
                placed=result.placed,
                due=order.due or "",
                state=state,
                kind=kind,
                where=tuple(where),
                reasons=tuple(clean(phrase(r, words)) for r in result.reasons),
                proofs=proofs(plan, result),
            )
        )
    return rows


def rack(plan: Plan) -> list[dict[str, Any]]:
    """Return one record a piece of the rack for the template."""
    words = Words(plan.shop.units)
    used = rack_picture.used_copies(plan)
    scale = rack_picture.rack_scale(plan, 48.0, 30.0)
    blanks_of: dict[str, list[tuple[str, str]]] = {}
    left_of: dict[str, list[str]] = {}
    for layout, anchor in zip(plan.layouts, anchors(plan)):
        for name in dict.fromkeys(m.piece for m in layout.blank.members):
            blanks_of.setdefault(name, []).append((anchor, clean(layout.blank.name)))
            if len(layout.blank.members) == 1:
                kept = [clean(k.name) for k in layout.leftovers if k.usable]
                left_of.setdefault(name, []).extend(kept)
    for sawing in plan.sawings:
        kept = [clean(k.name) for k in sawing.rests if k.usable]
        left_of.setdefault(sawing.piece, []).extend(kept)
    out = []
    for k, piece in enumerate(plan.shop.pieces, start=1):
        x0, y0, x1, y1 = bounds([piece.shape.outer])
        n = used.get(piece.name, 0)
        out.append(
            {
                "name": clean(piece.name),
                "shelf": clean(piece.shelf),
                "species": clean(piece.species),
                "size": words.size(x1 - x0, y1 - y0),
                "thickness": words.length(piece.thickness_mm),
                "state": rack_picture.state(piece, n),
                "kind": "used" if n else piece.status,
                "anchor": f"rack-{k}",
                "blanks": blanks_of.get(piece.name, []),
                "left": listed(left_of.get(piece.name, [])),
                "before": Markup(svg.inline(rack_picture.picture(plan, piece, scale))),
                "after": Markup(svg.inline(rack_picture.picture(plan, piece, scale, after=True)))
                if n
                else "",
            }
        )
    return out


def _picture(plan: Plan, piece: Piece, scale: float, *, after: bool) -> Markup:
    return Markup(svg.inline(rack_picture.picture(plan, piece, scale, after=after)))


def missing(plan: Plan, rows: list[OrderRow]) -> list[dict[str, str]]:
    """Return what each unmet order still wants."""
    words = Words(plan.shop.units)
    out = []
    for row, order in zip(rows, plan.shop.orders):
        if row.kind in ("yes", "hold", "done"):
            continue
        lacking = _lacking(plan, order)
        if lacking is not None and order.name not in lacking:
            continue  # the rest of its set is missing, not this
        part = plan.shop.part(order.part)
        x0, y0, x1, y1 = bounds([part.outline])
        out.append(
            {
                "order": row.name,
                "copies": str(row.wanted - row.placed if lacking is None else lacking[order.name].copies),
                "part": row.part,
                "size": f"{words.column(x1 - x0)} × {words.column(y1 - y0)}",
                "thickness": words.depth(part.thickness_mm),
                "species": ", ".join(
                    clean(s) for s in (lacking and lacking[order.name].species) or part.species
                )
                or "any",
            }
        )
    return out


def _lacking(plan: Plan, order: Order) -> dict[str, LackingPart] | None:
    """Return what is missing for the set of an order, by order; None where it has none that is not whole."""
    reasons = (x for r in plan.orders if r.order == order.name for x in r.reasons)
    told = next((x for x in reasons if isinstance(x, SetNotWhole)), None)
    return None if told is None else {part.order: part for part in told.lacking}


def purchases(plan: Plan) -> list[dict[str, str]]:
    """Return what to buy, as table cells."""
    words = Words(plan.shop.units)
    return [
        {
            "order": clean(p.order),
            "count": str(p.count),
            "size": f"{words.column(p.length_mm)} × {words.column(p.width_mm)}",
            "thickness": words.depth(p.thickness_mm),
            "species": (", ".join(clean(s) for s in p.species) or "any")
            + (
                f", from a usual panel {' × '.join(words.column(v) for v in p.panel_mm)}"
                if p.panel_mm
                else ""
            )
            + (f", {weights.densities(p, words)}" if p.density_kg_m3 else "")
            + (f", for the {p.layer}" if p.layer else "")
            + bought_with(plan, p.order),
            "board_feet": f"{p.board_feet:.2f}",
        }
        for p in plan.purchases
    ]


def objectives(plan: Plan) -> list[dict[str, str]]:
    """Return how far each aim of the choice was reached, as table cells."""
    words = Words(plan.shop.units, "\u00a0", clean(plan.shop.settings.currency))
    return [
        {
            "name": clean(goal_name(o)),
            "value": goal_value(o, o.value, words),
            "bound": goal_value(o, o.bound, words),
            "proven": "proven best" if o.proven else "not proven",
        }
        for o in plan.objectives
    ]


def totals(plan: Plan) -> dict[str, str]:
    """Return the figures of the whole plan, summed over its blanks."""
    found = totals_of(plan)
    part, stock, usable = found.part_area_mm2, found.stock_area_mm2, found.usable_area_mm2
    words = Words(plan.shop.units, "\u00a0", clean(plan.shop.settings.currency))
    return {
        "yield": words.share(part, stock),
        "yield_kept": words.share(part + usable, stock),
        "board_feet": f"{found.board_feet:.2f}",
        "value": words.money(found.value) if knows_money(plan.shop) else "",
        "parts": str(found.parts),
        "leftovers": str(found.leftovers),
    }


def _unbroken(value: object) -> object:
    """Keep numbers in one line with their units; what is markup already stays as it is."""
    return held_together(value) if type(value) is str else value


@functools.cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("nestyield.paperwork", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_unbroken,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def html(plan: Plan, stems: list[str]) -> str:
    """Return the report.

    Parameters
    ----------
    plan : Plan
    stems : list of str
        File stem of each blank's drawings and sheets.
    """
    rows = order_rows(plan)
    style = (files("nestyield.paperwork") / "templates" / "report.css").read_text(encoding="utf-8")
    pictures = (
        look.css(".picture ", False)
        + "\n@media screen and (prefers-color-scheme: dark) {\n"
        + look.css(".picture ", True)
        + "\n}"
    )
    severity = {"error": 0, "warning": 1, "note": 2}
    found = sorted(plan_findings(plan), key=lambda f: severity[f.severity])
    template = _environment().get_template("report.html.j2")
    return template.render(
        shop=clean(plan.shop.name),
        u=Words(plan.shop.units).unit(),
        sawn=plan.shop.settings.leftover_cut == "saw",
        style=Markup(style + "\n" + pictures),
        orders=rows,
        unmet=[r for r in rows if r.kind in ("no", "part", "hold")],
        made=sum(1 for r in rows if r.kind == "yes"),
        active=sum(1 for r in rows if r.kind not in ("hold", "done")),
        blanks=blanks(plan, stems),
        rack=rack(plan),
        missing=missing(plan, rows),
        purchases=purchases(plan),
        sawings=report_sawing.sawings(plan),
        objectives=objectives(plan),
        sets=sets.rows(plan),
        findings=[finding_row(f) for f in found],
        warnings=[finding_row(f) for f in found if f.severity != "note"],
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
    words, s = Words(plan.shop.units), plan.shop.settings
    return [
        ("cutter diameter", words.length(s.cutter_diameter_mm, style="setting")),
        ("between parts", words.length(s.gap_mm, style="setting")),
        ("margin of the blank", words.length(s.blank_margin_mm, style="setting")),
        ("off each jointed edge", words.length(s.jointing_mm, style="setting")),
        ("off each face before routing", words.length(s.planing_mm, style="setting")),
        ("least leftover", words.size(s.leftover_shortest_mm, s.leftover_narrowest_mm)),
    ]
