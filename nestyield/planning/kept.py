"""Plan around blanks that the maker has accepted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from nestyield.audit.check import audited
from nestyield.glueup.record import glue_up
from nestyield.model import AuditError, Layout, OrderResult, Plan, Shop, WorkPlan
from nestyield.model.facts import BlanksKept, HolesInLeftover, OrderShort
from nestyield.planning.layouts import copies_spent, passed_over
from nestyield.planning.mend import errors_of, mended, rejected_layout
from nestyield.planning.other_ways import with_free_copies
from nestyield.planning.run import passed, shortfalls
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.work.inspect import with_inspection
from nestyield.planning.work.stages import with_stages


def plan_around(shop: Shop, kept: Sequence[Layout], make: Callable[[Shop], Plan]) -> Plan:
    """Return a plan that holds the kept layouts as they are and the best for the rest.

    Parameters
    ----------
    shop : Shop
    kept : sequence of Layout
        Their pieces and orders are in the shop, in sufficient number.
    make : callable
        Plans a shop.

    Returns
    -------
    Plan
        The kept layouts come last; their copies of rows and orders are numbered after the others.

    Raises
    ------
    AuditError
        When the plan as a whole fails its check. A kept layout that fails is let go, with a warning.
    """
    if not kept:
        return make(shop)
    used = Counter(piece for layout in kept for piece, _ in layout.blank.copies)
    cut = Counter(p.order for layout in kept for p in layout.placements)
    rest = make(_rest(shop, used, cut))
    copies = copies_spent(rest.layouts)
    placed = Counter({r.order: r.placed for r in rest.orders})
    names = {layout.blank.name for layout in rest.layouts}
    layouts = list(rest.layouts)
    for layout in kept:
        layout = _renumbered(layout, copies, placed, names)
        over = passed_over(layout.setups, layout.chosen)
        layout = with_inspection(replace(layout, glueup=glue_up(layout, shop), passed_over=over), shop)
        layout = with_stages(layout, shop)
        names.add(layout.blank.name)
        layouts.append(layout)
    reasons = {r.order: r.reasons for r in rest.orders}
    orders = tuple(
        OrderResult(order=o.name, placed=placed[o.name], count=o.count, reasons=reasons.get(o.name, ()))
        for o in shop.orders
    )
    others = [n for n in rest.notices if not isinstance(n, OrderShort)]
    accepted = BlanksKept(blanks=tuple(layout.blank.name for layout in layouts[len(rest.layouts) :]))
    held = {copy for layout in layouts for copy in layout.blank.copies}
    plan = replace(
        rest,
        shop=shop,
        other_ways=tuple(with_free_copies(way, shop, rest.layouts, held) for way in rest.other_ways),
        layouts=tuple(layouts),
        orders=orders,
        notices=(*others, *shortfalls(shop, orders), accepted),
        cautions=general_cautions(shop, layouts),
    )
    found = audited(plan)
    if not found.findings:
        return plan
    mending = mended(plan, found)
    first = len(rest.layouts)
    let_go = [k - first for k in mending.rejected if k >= first]
    if errors_of(found.whole) or mending.contradicted or len(let_go) < len(mending.rejected):
        raise AuditError(errors_of(found.findings))
    if let_go:
        again = plan_around(shop, [layout for k, layout in enumerate(kept) if k not in let_go], make)
        told = [rejected_layout(kept[k], mending.rejected[first + k]) for k in let_go]
        return replace(again, notices=(*again.notices, *told))
    return passed(mending.plan)


def _rest(shop: Shop, used: Counter[str], cut: Counter[str]) -> Shop:
    """Return the shop without what the kept layouts use and make."""
    pieces = [replace(p, count=p.count - used[p.name]) for p in shop.pieces]
    orders = [replace(o, count=o.count - cut[o.name]) for o in shop.orders if o.count > cut[o.name]]
    return replace(shop, pieces=tuple(pieces), orders=tuple(orders))


def _renumbered(layout: Layout, copies: Counter[str], placed: Counter[str], names: set[str]) -> Layout:
    given = {}
    for piece, copy in layout.blank.copies:
        copies[piece] += 1
        given[piece, copy] = copies[piece]
    members = [replace(m, copy=given[m.piece, m.copy]) for m in layout.blank.members]
    placements = []
    for placement in layout.placements:
        placed[placement.order] += 1
        placements.append(replace(placement, copy=placed[placement.order]))
    name = layout.blank.name
    if len(members) == 1:
        copy = members[0].copy
        name = members[0].piece if copy == 1 else f"{members[0].piece}/{copy}"
    number = 1
    while name in names:
        name = f"kept {number}"
        number += 1
    old = layout.blank.name
    new = {
        left.name: name + left.name[len(old) :] if left.name.startswith(old) else left.name
        for left in layout.leftovers
    }
    leftovers = tuple(replace(left, name=new[left.name]) for left in layout.leftovers)
    blank = replace(layout.blank, name=name, members=tuple(members))
    work = None if layout.work is None else _renamed(layout.work, new)
    return replace(layout, blank=blank, placements=tuple(placements), leftovers=leftovers, work=work)


def _renamed(work: WorkPlan, new: Mapping[str, str]) -> WorkPlan:
    """Return the work with its leftovers under their new names; its stages are made again after this."""
    return replace(
        work,
        pins=tuple(replace(p, leftover=new.get(p.leftover, "")) for p in work.pins),
        hold_downs=tuple(replace(h, leftover=new.get(h.leftover, "")) for h in work.hold_downs),
        cautions=tuple(
            replace(c, leftover=new.get(c.leftover, c.leftover)) if isinstance(c, HolesInLeftover) else c
            for c in work.cautions
        ),
    )
