"""A plan in a few lines of plain text."""

from __future__ import annotations

from nestyield.model import Layout, Plan, Setup
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.search import choice_line
from nestyield.words import Words, plural


def summary(plan: Plan) -> str:
    """Return what is made from what, on which bed, which way, and what is not."""
    words = Words(plan.shop.units)
    lines = [f"{plan.shop.name}", "", "Orders"]
    counts = {order.name: order for order in plan.shop.orders}
    for result in plan.orders:
        order = counts[result.order]
        state = "on hold" if order.hold else f"{result.placed} of {order.count}"
        lines.append(f"  {result.order}: {order.part}, {state}")
        lines += [f"      {phrase(reason, words)}" for reason in result.reasons if not order.hold]
    lines += ["", "Blanks" if plan.layouts else "Blanks: none"]
    for layout in plan.layouts:
        lines += _blank_lines(layout, words)
    if plan.layouts:
        lines += ["", _totals(plan)]
    if best_of := choice_line(plan, words):
        lines.append(best_of)
    if plan.purchases:
        lines += ["", "Shopping list"]
        lines += [
            f"  for {p.order}: {p.count} x {' or '.join(p.species) or 'any species'}, at least "
            f"{words.length(p.length_mm)} x {words.length(p.width_mm)} x {words.length(p.thickness_mm)}"
            f" ({p.board_feet:.2f} board feet)"
            + (
                f", from a usual panel {' x '.join(words.length(v) for v in p.panel_mm)}"
                if p.panel_mm
                else ""
            )
            for p in plan.purchases
        ]
    if plan.stopped:
        lines += ["", f"Stopped early ({plan.stopped}): the best plan found so far."]
    return "\n".join(lines)


def _blank_lines(layout: Layout, words: Words) -> list[str]:
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
    kept = [left for left in layout.leftovers if left.usable]
    back = f"{len(kept)} {plural(len(kept), 'leftover')} to keep" if kept else "no leftovers worth keeping"
    lines.append(f"      yield {share:.0f} %, {back}")
    for seam in layout.seams:
        zones = f", through {', '.join(name for name, _ in seam.zones)}" if seam.zones else ""
        part = layout.placements[seam.placement].part
        lines.append(f"      {seam.seam} runs {words.length(seam.length_mm)} under {part}{zones}")
    return lines


def _setup_line(setup: Setup, words: Words) -> str:
    lies = f'on bed "{setup.bed}", along {setup.along.upper()}'
    if setup.sections:
        return f"{lies}, in {len(setup.sections)} sections"
    spare = f"{words.length(setup.spare_x_mm)} to spare along X, {words.length(setup.spare_y_mm)} along Y"
    return f"{lies}, {spare}"


def _totals(plan: Plan) -> str:
    stock = sum(layout.stock_area_mm2 for layout in plan.layouts)
    parts = sum(layout.part_area_mm2 for layout in plan.layouts)
    usable = sum(layout.usable_area_mm2 for layout in plan.layouts)
    feet = sum(layout.board_feet for layout in plan.layouts)
    return (
        f"{len(plan.layouts)} blank{'s' * (len(plan.layouts) != 1)}, {feet:.2f} board feet used; "
        f"yield {100 * parts / stock:.0f} %, {100 * (parts + usable) / stock:.0f} % counting leftovers kept"
    )
