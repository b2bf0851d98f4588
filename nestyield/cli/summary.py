"""A plan in a few lines of plain text."""

from __future__ import annotations

import itertools
from dataclasses import asdict

from nestyield.model import Blank, Finding, Layout, Plan, Setup
from nestyield.model.totals import totals_of
from nestyield.paperwork import sets, weights
from nestyield.paperwork.notices import plan_findings
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.beds import setup_says
from nestyield.paperwork.phrases.search import choice_line
from nestyield.words import Words, plural

#: Notices of a plan that the summary tells in its own lines: stopped early, copies that are not placed.
TOLD = ("P001", "P010")


def _stopped(plan: Plan) -> str:
    """Return that a run was stopped, and why it lists nothing to buy."""
    text = f"Stopped early ({plan.stopped}): the best plan found so far."
    if any(n.code == "P010" for n in plan.notices):
        text += " Pieces that were not tried may do for the rest, so nothing is listed to buy."
    return text


def short_summary(plan: Plan) -> str:
    """Return which orders are filled and from what, which are not and why, and what to buy, a line each."""
    words = Words(plan.shop.units)
    orders = {order.name: order for order in plan.shop.orders}
    filled, short = [], []
    for result in plan.orders:
        order = orders[result.order]
        if order.hold:
            continue
        made = f"{result.order}: {result.placed} of {order.count} {order.part}"
        blanks = [_from(n.blank) for n in plan.layouts if any(p.order == result.order for p in n.placements)]
        if blanks:
            made += f", from {', '.join(blanks)}"
        if result.placed >= order.count:
            filled.append(f"  {made}")
        else:
            why = phrase(result.reasons[0], words) if result.reasons else "no reason was found"
            short.append(f"  {made}; {why}")
    lines = [plan.shop.name]
    held = [f"  {o.name}: {o.count} {o.part}" for o in plan.shop.orders if o.hold and not o.done]
    done = ", ".join(o.name for o in plan.shop.orders if o.done)
    for head, block in (
        ("Orders filled", filled),
        ("Orders not filled", short),
        ("Orders on hold", held),
        ("Orders done", [f"  {done}"] if done else []),
        ("Sets", sets.lines(plan)),
        ("Shopping list", _shopping(plan, words)),
    ):
        if block:
            lines += ["", head, *block]
    glued = {layout.blank.name for layout in plan.layouts if layout.glueup is not None}
    strips = {layout.blank.name for layout in plan.layouts if layout.on_edge is not None}
    for sawing in plan.sawings:
        rests = [r.name for r in sawing.rests if r.usable]
        back = f"; {', '.join(rests)} left over" if rests else ""
        how = "Saw {} first, no bed takes it in one go"
        if sawing.resaw is not None:
            how = "Resaw {} into leaves first"
        elif not strips.isdisjoint(sawing.blanks):
            how = "Rip {} into strips on edge before gluing"
        elif not glued.isdisjoint(sawing.blanks):
            how = "Crosscut {} before gluing, no bed takes all of its length"
        lines += ["", f"{how.format(sawing.piece)}: {', '.join(sawing.blanks)}{back}."]
    if plan.layouts:
        lines += ["", _totals(plan)]
    if plan.stopped:
        lines += ["", _stopped(plan)]
    return "\n".join(lines)


def _from(blank: Blank) -> str:
    """Return the name of a blank, of a glue-up with its boards."""
    return f"{blank.name} ({' + '.join(blank.stock)})" if len(blank.stock) > 1 else blank.name


def still_to_tell(plan: Plan) -> list[Finding]:
    """Return what a plan has to say that neither summary tells."""
    return [f for f in plan_findings(plan) if f.code not in TOLD]


def plan_data(plan: Plan) -> dict[str, object]:
    """Return the summary as it stands in JSON; lengths in mm."""
    words = Words(plan.shop.units)
    orders = {order.name: order for order in plan.shop.orders}
    return {
        "shop": plan.shop.name,
        "orders": [
            {
                "order": result.order,
                "part": orders[result.order].part,
                "count": orders[result.order].count,
                "placed": result.placed,
                "hold": orders[result.order].hold,
                "done": orders[result.order].done,
                "set": orders[result.order].set,
                "reasons": [phrase(r, words) for r in result.reasons if not orders[result.order].done],
            }
            for result in plan.orders
        ],
        "sets": [asdict(row) for row in sets.rows(plan)],
        "blanks": [_blank_data(layout) for layout in plan.layouts],
        "to_buy": [asdict(p) for p in plan.purchases],
        "findings": [asdict(f) for f in plan_findings(plan)],
        "stopped": plan.stopped,
    }


def _blank_data(layout: Layout) -> dict[str, object]:
    blank = layout.blank
    setup = None if layout.chosen is None else layout.setups[layout.chosen]
    return {
        "blank": blank.name,
        "stock": list(blank.stock),
        "species": blank.species,
        "thickness_mm": blank.thickness_mm,
        "parts": [
            {
                "part": p.part,
                "order": p.order,
                "copy": p.copy,
                "weight_kg": told and told.kg,
                "weight_off_kg": told and told.off_kg,
            }
            for p, told in itertools.zip_longest(layout.placements, layout.weights)
        ],
        "bed": setup and setup.bed,
        "along": setup and setup.along,
        "yield_pct": round(100 * layout.part_area_mm2 / layout.stock_area_mm2, 1),
        "leftovers": sum(left.usable for left in layout.leftovers),
    }


def summary(plan: Plan) -> str:
    """Return what is made from what, on which bed, which way, and what is not."""
    words = Words(plan.shop.units, currency=plan.shop.settings.currency)
    lines = [f"{plan.shop.name}", "", "Orders"]
    counts = {order.name: order for order in plan.shop.orders}
    for result in plan.orders:
        order = counts[result.order]
        state = "done" if order.done else "on hold" if order.hold else f"{result.placed} of {order.count}"
        lines.append(f"  {result.order}: {order.part}, {state}")
        lines += [f"      {phrase(reason, words)}" for reason in result.reasons if not order.hold]
    if told := sets.lines(plan):
        lines += ["", "Sets", *told]
    lines += ["", "Blanks" if plan.layouts else "Blanks: none"]
    for layout in plan.layouts:
        lines += _blank_lines(plan, layout, words)
    if plan.layouts:
        lines += ["", _totals(plan)]
    if best_of := choice_line(plan, words):
        lines.append(best_of)
    if plan.purchases:
        lines += ["", "Shopping list", *_shopping(plan, words)]
    if plan.stopped:
        lines += ["", _stopped(plan)]
    return "\n".join(lines)


def _shopping(plan: Plan, words: Words) -> list[str]:
    return [
        f"  for {p.order}: {p.count} x {' or '.join(p.species) or 'any species'}, at least "
        f"{words.length(p.length_mm)} x {words.length(p.width_mm)} x {words.length(p.thickness_mm)}"
        f" ({p.board_feet:.2f} board feet)"
        + (f", for its {p.layer}" if p.layer else "")
        + sets.bought_with(plan, p.order)
        + (f", {weights.densities(p, words)}" if p.density_kg_m3 else "")
        + (f", from a usual panel {' x '.join(words.length(v) for v in p.panel_mm)}" if p.panel_mm else "")
        for p in plan.purchases
    ]


def _blank_lines(plan: Plan, layout: Layout, words: Words) -> list[str]:
    blank = layout.blank
    made: dict[str, int] = {}
    for placement in layout.placements:
        made[placement.part] = made.get(placement.part, 0) + 1
    parts = ", ".join(f"{n} {name}" if n > 1 else name for name, n in made.items())
    share = 100 * layout.part_area_mm2 / layout.stock_area_mm2
    name = blank.name if len(blank.members) == 1 else f"{blank.name}, {' + '.join(blank.stock)}"
    lines = [f"  {name} ({blank.species}, {words.length(blank.thickness_mm)}) -> {parts}"]
    if layout.chosen is not None:
        lines.append(f"      {_setup_line(layout.setups[layout.chosen], words)}")
    lines += [f"      {phrase(fact, words)}" for fact in layout.passed_over]
    kept = [left for left in layout.leftovers if left.usable]
    back = f"{len(kept)} {plural(len(kept), 'leftover')} to keep" if kept else "no leftovers worth keeping"
    lines.append(f"      yield {share:.0f} %, {back}")
    for seam in layout.seams:
        zones = f", through {', '.join(name for name, _ in seam.zones)}" if seam.zones else ""
        part = layout.placements[seam.placement].part
        lines.append(f"      {seam.seam} runs {words.length(seam.length_mm)} under {part}{zones}")
    lines += [f"      {text}" for text in weights.lines(plan, layout, words)]
    return lines


def _setup_line(setup: Setup, words: Words) -> str:
    lies = f'on bed "{setup.bed}", along {setup.along.upper()}'
    if setup.sections:
        return f"{lies}, in {len(setup.sections)} sections"
    return f"{lies}, {setup_says(setup, words).rstrip('.')}"


def _totals(plan: Plan) -> str:
    found = totals_of(plan)
    parts, stock, usable = found.part_area_mm2, found.stock_area_mm2, found.usable_area_mm2
    return (
        f"{len(plan.layouts)} blank{'s' * (len(plan.layouts) != 1)}, {found.board_feet:.2f} board feet used; "
        f"yield {100 * parts / stock:.0f} %, {100 * (parts + usable) / stock:.0f} % counting leftovers kept"
    )
