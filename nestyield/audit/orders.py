"""Each order's count, and a reason for each order that is not met."""

from __future__ import annotations

from collections import Counter, defaultdict

from nestyield.audit.sheet import CheckedSheet
from nestyield.model.facts import BlanksKept, OrderShort, StoppedEarly


def check_orders(sheet: CheckedSheet) -> None:
    """Count the placements of each order again."""
    placed: Counter[str] = Counter()
    copies: defaultdict[str, Counter[int]] = defaultdict(Counter)
    for layout in sheet.plan.layouts:
        for p in layout.placements:
            where = f"blank {layout.blank.name}"
            order = sheet.orders.get(p.order)
            if order is None:
                sheet.say("A601", where, f"a placement of {p.part} is for {p.order!r}, which is no order")
                continue
            if order.part != p.part:
                sheet.say("A601", where, f"{p.order} wants {order.part}; a placement for it is of {p.part}")
            placed[p.order] += 1
            copies[p.order][p.copy] += 1
    told = Counter(r.order for r in sheet.plan.orders)
    results = {r.order: r for r in sheet.plan.orders}
    for order in sheet.plan.shop.orders:
        count = placed[order.name]
        if told[order.name] != 1:
            sheet.say("A602", order.name, f"the plan has {told[order.name]} results for it; expected one")
            continue
        result = results[order.name]
        if result.placed != count:
            sheet.say("A602", order.name, f"{count} are placed, the plan says {result.placed}")
        if count > order.count:
            sheet.say("A603", order.name, f"{count} are placed, {order.count} were ordered")
        if result.count != order.count:
            sheet.say("A602", order.name, f"{order.count} are ordered, the plan says {result.count}")
        if count < order.count and not result.reasons:
            sheet.say("A604", order.name, f"{order.count - count} are missing without a reason")
        if order.hold and count:
            sheet.say("A605", order.name, f"is on hold, and {count} are placed")
        for copy, times in sorted(copies[order.name].items()):
            if times > 1 or not 1 <= copy <= order.count:
                sheet.say("A603", order.name, f"copy {copy} of {order.count} is placed {times} times")
    for name in sorted(set(told) - set(sheet.orders)):
        sheet.say("A602", name, "the plan has a result for it, but it is no order")
    _check_notices(sheet, placed)


def _check_notices(sheet: CheckedSheet, placed: Counter[str]) -> None:
    """Work out again which orders are short, whether the run was stopped, and which blanks there are."""
    plan = sheet.plan
    short = {
        o.name: (o.part, o.count - placed[o.name], o.count)
        for o in plan.shop.orders
        if not o.hold and placed[o.name] < o.count
    }
    told = [n for n in plan.notices if isinstance(n, OrderShort)]
    for order, times in sorted(Counter(n.order for n in told).items()):
        if times > 1 or order not in short:
            sheet.say("A608", order, f"{times} warnings that it is short; expected {order in short:d}")
    for order in sorted(set(short) - {n.order for n in told}):
        sheet.say("A608", order, f"{short[order][1]} are missing, and the plan does not warn of it")
    for n in told:
        part, missing, count = short.get(n.order, (n.part, n.missing, n.count))
        if (n.part, n.missing, n.count) != (part, missing, count):
            sheet.say(
                "A608",
                n.order,
                f"{missing} of {count} {part} are missing; the plan says {n.missing} of {n.count} {n.part}",
            )
    stops = [n.by for n in plan.notices if isinstance(n, StoppedEarly)]
    if stops != ([plan.stopped] if plan.stopped else []):
        sheet.say("A608", "", f"the run was ended by {plan.stopped or 'nothing'}; the plan warns of {stops}")
    blanks = {layout.blank.name for layout in plan.layouts}
    for kept in plan.notices:
        if isinstance(kept, BlanksKept):
            for name in sorted(set(kept.blanks) - blanks):
                sheet.say("A608", f"blank {name}", "the plan says it is kept, but has no such blank")
