"""What is new in a plan since the one before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from nestyield.model import Layout, Order, OrderResult, Piece, Plan, Units
from nestyield.model.facts import OrderShort
from nestyield.model.same_orders import same_orders
from nestyield.paperwork.notices import plan_findings
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.sets import bought_with
from nestyield.words import Words

SCHEMA = "nestyield news 1"
MM_PER_IN = 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderNews:
    """One order, then and now.

    Parameters
    ----------
    order, part : str
    what : str
        ``possible`` (all placed, was not), ``impossible`` (was all placed, is not), ``more`` or ``fewer``
        copies placed than before, ``new``, ``gone``, ``changed`` (another count or part), ``done``, ``held``,
        ``short`` (as short as before) or ``same``.
    placed, of : int
        Copies now; 0 for an order that is gone.
    before : int or None
        Copies placed before; None for a new order.
    of_before : int or None
        Copies wanted before; None for a new order.
    reason : str
        Why not all are placed; ``""`` when they are.
    """

    order: str
    part: str
    what: str
    placed: int
    of: int
    before: int | None
    of_before: int | None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What is new since the plan before.

    Parameters
    ----------
    shop : str
    units : {"mm", "in"}
    first : bool
        Whether there was no plan before.
    orders : tuple of OrderNews
        Every order, in file order, then those that are gone.
    pieces_new, pieces_gone, pieces_changed : tuple of str
        Rows of the rack.
    blanks_new, blanks_gone : tuple of str
        What is now made from which blank, and what no longer is; one line each.
    to_buy : tuple of str
    warnings_new : tuple of str
    """

    shop: str
    units: Units
    first: bool
    orders: tuple[OrderNews, ...]
    pieces_new: tuple[str, ...] = ()
    pieces_gone: tuple[str, ...] = ()
    pieces_changed: tuple[str, ...] = ()
    blanks_new: tuple[str, ...] = ()
    blanks_gone: tuple[str, ...] = ()
    to_buy: tuple[str, ...] = ()
    warnings_new: tuple[str, ...] = ()

    @property
    def anything(self) -> bool:
        """Whether there is anything new at all."""
        told = any(o.what not in ("same", "short") for o in self.orders)
        rack = self.pieces_new + self.pieces_gone + self.pieces_changed
        return told or self.first or bool(rack + self.blanks_new + self.blanks_gone + self.warnings_new)

    def to_data(self) -> dict[str, Any]:
        """Return the news as JSON-like data."""
        return {"schema": SCHEMA, "anything_new": self.anything, **asdict(self)}

    def to_text(self) -> str:
        """Return the news in a few lines of plain text."""
        wanted = sum(o.of > 0 for o in self.orders)  # neither gone, done nor on hold
        met = sum(o.placed == o.of for o in self.orders if o.of > 0)
        lines = [f"{self.shop}: {met} of {wanted} orders can be met"]
        if not self.anything:
            lines.append("Nothing new since the last run.")
        elif not self.first:
            lines.append("New since the last run:")
        for what, words in _WORDS.items():
            lines += [_order_line(o, words) for o in self.orders if o.what == what and not self.first]
        rack = [("new", self.pieces_new), ("gone", self.pieces_gone), ("changed", self.pieces_changed)]
        if any(names for _, names in rack) and not self.first:
            told = "; ".join(f"{word}: {', '.join(names)}" for word, names in rack if names)
            lines.append(f"  rack: {told}")
        if not self.first:
            lines += [f"  now: {line}" for line in self.blanks_new]
            lines += [f"  no longer: {line}" for line in self.blanks_gone]
        lines += [f"  look at: {line}" for line in self.warnings_new]
        short = [o for o in self.orders if o.placed < o.of and (o.what == "short" or self.first)]
        if short:
            lines.append("Short:" if self.first else "Still short:")
            lines += [_order_line(o, "") for o in short if o.what not in ("done", "held")]
        if self.to_buy:
            lines.append("Shopping list:")
            lines += [f"  {line}" for line in self.to_buy]
        return "\n".join(lines) + "\n"


_WORDS = {
    "possible": "now possible: ",
    "impossible": "no longer possible: ",
    "more": "more than before: ",
    "fewer": "fewer than before: ",
    "new": "new order: ",
    "changed": "changed order: ",
    "done": "done: ",
    "held": "on hold: ",
    "gone": "order gone: ",
}


def news_of(before: Plan | None, now: Plan) -> News:
    """Compare two plans.

    Parameters
    ----------
    before : Plan or None
        None for the first run.
    now : Plan

    Returns
    -------
    News
    """
    before = None if before is None else _renamed(before, now)
    old_orders = {} if before is None else {o.name: o for o in before.shop.orders}
    old_placed = {} if before is None else {r.order: r.placed for r in before.orders}
    orders = [_order(o, old_orders.get(o.name), old_placed.get(o.name), now) for o in now.shop.orders]
    there = {o.name for o in now.shop.orders}
    for old in old_orders.values():
        if old.name not in there:
            placed = old_placed.get(old.name)
            orders.append(
                OrderNews(
                    order=old.name,
                    part=old.part,
                    what="gone",
                    placed=0,
                    of=0,
                    before=placed,
                    of_before=old.count,
                )
            )
    old_pieces = {} if before is None else {p.name: p for p in before.shop.pieces if _in_stock(p)}
    new_pieces = {p.name: p for p in now.shop.pieces if _in_stock(p)}
    both = [name for name in new_pieces if name in old_pieces]
    old_blanks = _blanks(() if before is None else before.layouts)
    new_blanks = _blanks(now.layouts)
    return News(
        shop=now.shop.name,
        units=now.shop.units,
        first=before is None,
        orders=tuple(orders),
        pieces_new=tuple(n for n in new_pieces if n not in old_pieces) if before is not None else (),
        pieces_gone=tuple(n for n in old_pieces if n not in new_pieces),
        pieces_changed=tuple(n for n in both if _bare(new_pieces[n]) != _bare(old_pieces[n])),
        blanks_new=tuple(b for b in new_blanks if b not in old_blanks) if before is not None else (),
        blanks_gone=tuple(b for b in old_blanks if b not in new_blanks),
        to_buy=_to_buy(now),
        warnings_new=_warnings(before, now),
    )


def _renamed(before: Plan, now: Plan) -> Plan:
    """Return the plan before with its orders called as they are now; those that are gone by a free name."""
    names = same_orders(before.shop.orders, now.shop.orders)
    used = {o.name for o in now.shop.orders}
    new = {
        old: name or (old if old not in used else f"{old} of the plan before") for old, name in names.items()
    }
    layouts = [
        replace(
            layout, placements=tuple(replace(p, order=new.get(p.order, p.order)) for p in layout.placements)
        )
        for layout in before.layouts
    ]
    return replace(
        before,
        shop=replace(before.shop, orders=tuple(replace(o, name=new[o.name]) for o in before.shop.orders)),
        orders=tuple(replace(r, order=new.get(r.order, r.order)) for r in before.orders),
        layouts=tuple(layouts),
    )


def _order(order: Order, old: Order | None, before: int | None, now: Plan) -> OrderNews:
    result = next(r for r in now.orders if r.order == order.name)
    was_all = old is not None and before is not None and before >= old.count
    is_all = result.placed >= order.count
    if order.done:
        what = "same" if old is not None and old.done else "done"
    elif order.hold:
        what = "same" if old is not None and old.hold and not old.done else "held"
    elif old is None:
        what = "new"
    elif is_all and not was_all:
        what = "possible"
    elif was_all and not is_all:
        what = "impossible"
    elif (old.count, old.part) != (order.count, order.part) or old.hold:
        what = "changed"
    elif before is not None and result.placed != before:
        what = "more" if result.placed > before else "fewer"
    else:
        what = "same" if is_all else "short"
    return OrderNews(
        order=order.name,
        part=order.part,
        what=what,
        placed=result.placed,
        of=0 if order.hold else order.count,
        before=before,
        of_before=None if old is None else old.count,
        reason=_reason(result, now.shop.units) if not is_all and not order.hold else "",
    )


def _reason(result: OrderResult, units: Units) -> str:
    return phrase(result.reasons[0], Words(units)) if result.reasons else ""


def _order_line(order: OrderNews, words: str) -> str:
    if order.what == "gone":
        return f"  {words}{order.order} ({order.part})"
    if order.of == 0:
        return f"  {words}{order.order} ({order.part})"
    reason = f": {order.reason}" if order.reason else ""
    wanted = f" ({order.of_before} wanted before)" if order.of_before not in (None, order.of) else ""
    return f"  {words}{order.order}, {order.placed} of {order.of} {order.part}{wanted}{reason}"


def _in_stock(piece: Piece) -> bool:
    return piece.status != "taken" and piece.count > 0


def _bare(piece: Piece) -> Piece:
    """Return a piece without what planning does not look at."""
    defects = tuple(sorted((replace(d, name="") for d in piece.defects), key=repr))
    return replace(piece, row=0, note="", shelf="", parent="", defects=defects)


def _blanks(layouts: Sequence[Layout]) -> list[str]:
    lines = []
    for layout in layouts:
        made: dict[str, int] = {}
        for placement in layout.placements:
            key = f"{placement.part} for {placement.order}" if placement.order else placement.part
            made[key] = made.get(key, 0) + 1
        parts = ", ".join(f"{n} {key}" for key, n in sorted(made.items()))
        blank = layout.blank
        # glue-ups are numbered anew in every plan
        name = blank.name if len(blank.members) == 1 else f"{' + '.join(blank.stock)} glued up"
        lines.append(f"{name} -> {parts}")
    return lines


def _to_buy(plan: Plan) -> tuple[str, ...]:
    units = plan.shop.units
    return tuple(
        f"for {p.order}: {p.count} x {' or '.join(p.species) or 'any species'}, at least "
        f"{_length(p.length_mm, units)} x {_length(p.width_mm, units)} x {_length(p.thickness_mm, units)} "
        f"({p.board_feet:.2f} board feet)"
        + (f", for its {p.layer}" if p.layer else "")
        + bought_with(plan, p.order)
        for p in plan.purchases
    )


def _warnings(before: Plan | None, now: Plan) -> tuple[str, ...]:
    """Return warnings that were not there before; orders that are short are told elsewhere."""
    known = [] if before is None else plan_findings(before)
    short = {n.code for n in now.notices if isinstance(n, OrderShort)}
    new = [f for f in plan_findings(now) if f not in known and f.code not in short]
    return tuple(str(f) for f in new if f.severity != "note")


def _length(value_mm: float, units: Units) -> str:
    return f"{value_mm / MM_PER_IN:.2f} in" if units == "in" else f"{value_mm:.0f} mm"
