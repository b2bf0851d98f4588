"""Plan around blanks that the maker has accepted."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from nestyield.audit.check import audit_layout, audited
from nestyield.glueup.on_edge import on_edge
from nestyield.model import AuditError, Layout, OrderResult, OtherWay, Plan, Shop, WorkPlan
from nestyield.model.facts import BlanksKept, DetailRejected, HolesInLeftover, OrderShort
from nestyield.model.sets import wood_of
from nestyield.planning.layouts import laminate_of, passed_over, with_rooms, with_work
from nestyield.planning.mend import errors_of, mended, rejected_layout
from nestyield.planning.other_ways import with_free_copies, written_up
from nestyield.planning.ripped import glue_up_of
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
        The kept layouts come last, under the names and numbers that they had.

    Raises
    ------
    AuditError
        When the plan as a whole fails its check. A kept layout that fails is let go, with a warning.
    """
    if not kept:
        return make(shop)
    used = Counter(piece for layout in kept for piece, _ in layout.blank.copies)
    cut = Counter(p.order for layout in kept for p in layout.placements)
    rest = make(_rest(shop, used, cut, kept))
    numbers = _Numbers(shop, rest)
    stay = [_standing(rest, numbers.renumbered(layout, "kept"), shop) for layout in kept]
    sawn = {name for sawing in rest.sawings for name in sawing.blanks}
    layouts = []
    new: dict[str, Layout] = {}
    for layout in rest.layouts:
        again = layout if layout.blank.name in sawn else numbers.renumbered(layout, "glue-up")
        layouts.append(layout if again == layout else with_stages(_with_record(again, shop), shop))
        new[layout.blank.name] = layouts[-1]
    ways = [_for_layout(way, rest, new[way.instead_of]) for way in rest.other_ways]
    first = len(layouts)
    layouts += stay
    placed = Counter(p.order for layout in layouts for p in layout.placements)
    counts = {o.name: o.count for o in shop.orders}
    reasons = {r.order: r.reasons for r in rest.orders if placed[r.order] < counts[r.order]}
    orders = tuple(
        OrderResult(order=o.name, placed=placed[o.name], count=o.count, reasons=reasons.get(o.name, ()))
        for o in shop.orders
    )
    others = [
        replace(n, blank=new[n.blank].blank.name) if isinstance(n, DetailRejected) else n
        for n in rest.notices
        if not isinstance(n, OrderShort)
    ]
    accepted = BlanksKept(blanks=tuple(layout.blank.name for layout in stay))
    held = {copy for layout in layouts for copy in layout.blank.copies}
    plan = replace(
        rest,
        shop=shop,
        other_ways=tuple(with_free_copies(way, shop, layouts, held) for way in ways),
        layouts=tuple(layouts),
        orders=orders,
        notices=(*others, *shortfalls(shop, orders), accepted),
        cautions=general_cautions(shop, layouts),
    )
    found = audited(plan)
    if not found.findings:
        return plan
    mending = mended(plan, found)
    let_go = [k - first for k in mending.rejected if k >= first]
    if errors_of(found.whole) or mending.contradicted or len(let_go) < len(mending.rejected):
        raise AuditError(errors_of(found.findings))
    if let_go:
        around = plan_around(shop, [layout for k, layout in enumerate(kept) if k not in let_go], make)
        gone = [rejected_layout(kept[k], mending.rejected[first + k]) for k in let_go]
        return replace(around, notices=(*around.notices, *gone))
    return passed(mending.plan)


def _rest(shop: Shop, used: Counter[str], cut: Counter[str], kept: Sequence[Layout]) -> Shop:
    """Return the shop without what the kept layouts use and make; what matches these goes by their wood."""
    pieces = [replace(p, count=p.count - used[p.name]) for p in shop.pieces]
    orders = []
    for order in shop.orders:
        left = order.count - cut[order.name]
        woods = [
            wood_of(shop, layout.blank, order.match)
            for layout in kept
            for p in layout.placements
            if order.match and p.order == order.name
        ]
        if left > 0:
            orders.append(replace(order, count=left, cut_from=(*order.cut_from, *woods)))
        elif woods:  # the rest of its set must know
            orders.append(replace(order, hold=True, cut_from=(*order.cut_from, *woods)))
    return replace(shop, pieces=tuple(pieces), orders=tuple(orders))


def _for_layout(way: OtherWay, rest: Plan, layout: Layout) -> OtherWay:
    """Return another way under the name and the numbers of orders that its blank has now."""
    was = next(x for x in rest.layouts if x.blank.name == way.instead_of)
    copies = {(p.order, p.copy): q.copy for p, q in zip(was.placements, layout.placements, strict=True)}
    placements = tuple(replace(p, copy=copies[p.order, p.copy]) for p in way.placements)
    return replace(way, instead_of=layout.blank.name, placements=placements)


def _standing(rest: Plan, layout: Layout, shop: Shop) -> Layout:
    """Return a kept layout as it is; written up again on its bed where what it tells is no longer so."""
    over = passed_over(layout.setups, layout.chosen)
    layout = with_stages(_with_record(replace(layout, passed_over=over), shop), shop)
    plan = replace(rest, shop=shop)
    if not errors_of(audit_layout(plan, layout)):
        return layout
    again = written_up(plan, layout.blank, layout.placements, layout.value)
    if layout.chosen is not None:
        was = layout.setups[layout.chosen]
        same = [k for k, s in enumerate(again.setups) if (s.bed, s.along) == (was.bed, was.along)]
        if same and same[0] != again.chosen and again.setups[same[0]].is_usable:
            over = passed_over(again.setups, same[0])
            again = with_rooms(with_work(replace(again, chosen=same[0], passed_over=over), shop), shop)
    return layout if errors_of(audit_layout(plan, again)) else again


def _with_record(layout: Layout, shop: Shop) -> Layout:
    return with_inspection(
        replace(
            layout,
            glueup=glue_up_of(layout, shop),
            laminate=laminate_of(layout, shop),
            on_edge=on_edge(layout, shop),
        ),
        shop,
    )


class _Numbers:
    """The numbers of copies of rows and orders, and the names of blanks: each is given once, where it was first."""

    def __init__(self, shop: Shop, rest: Plan) -> None:
        self.shop = shop
        self.rows = {(s.piece, s.copy) for s in rest.sawings}
        sawn = {name for s in rest.sawings for name in s.blanks}
        self.names = set(sawn)
        self.orders = {(p.order, p.copy) for x in rest.layouts if x.blank.name in sawn for p in x.placements}
        self.counts = {o.name: o.count for o in shop.orders}

    def renumbered(self, layout: Layout, kind: str) -> Layout:
        """Return a layout with numbers and a name that none before it has."""
        given = {
            (piece, copy): self._number(self.rows, piece, copy, self.shop.piece(piece).count)
            for piece, copy in layout.blank.copies
        }
        members = tuple(replace(m, copy=given[m.piece, m.copy]) for m in layout.blank.members)
        placements = tuple(
            replace(p, copy=self._number(self.orders, p.order, p.copy, self.counts[p.order]))
            for p in layout.placements
        )
        old = layout.blank.name
        name = members[0].label if len(members) == 1 else old
        tries = (f"{kind} {k}" for k in itertools.count(1))
        while name in self.names:
            name = next(tries)
        self.names.add(name)
        new = {
            left.name: name + left.name[len(old) :] if left.name.startswith(old) else left.name
            for left in layout.leftovers
        }
        leftovers = tuple(replace(left, name=new[left.name]) for left in layout.leftovers)
        blank = replace(layout.blank, name=name, members=members)
        work = None if layout.work is None else _renamed(layout.work, new)
        return replace(layout, blank=blank, placements=placements, leftovers=leftovers, work=work)

    def _number(self, taken: set[tuple[str, int]], name: str, number: int, count: int) -> int:
        """Return the number that a copy has, or the lowest that is free."""
        free = (k for k in range(1, count + 1) if (name, k) not in taken)
        if not 1 <= number <= count or (name, number) in taken:
            number = next(free, count + 1)
        taken.add((name, number))
        return number


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
