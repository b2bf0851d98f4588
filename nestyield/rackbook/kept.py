"""Blanks of earlier plans that the maker has accepted, in ``.nestyield/kept.json``.

The file holds ``{"schema": "nestyield kept 1", "kept": [...]}``; each item is a small ``plan.json`` with one
layout and the parts, pieces, beds and orders that it rests on. Later plans keep these blanks and plan the
rest around them; a blank whose piece, part, bed or order has changed since is let go, with a warning.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from nestyield.model import AuditError, Finding, Layout, Plan, Shop
from nestyield.model.same_orders import alike, is_named, same_orders
from nestyield.planfile import PlanFileError, dumps, loads
from nestyield.planfile.text import canonical
from nestyield.rackbook.blanks import chosen, sawn_with
from nestyield.rackbook.commit import open_book
from nestyield.rackbook.compare import differences
from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.journal import FOLDER
from nestyield.rackbook.now import shop_now
from nestyield.words import Words

#: The file, relative to the shop folder.
KEPT = f"{FOLDER}/kept.json"
SCHEMA = "nestyield kept 1"


def read_kept(shop_dir: Path) -> tuple[Plan, ...]:
    """Return what is kept, oldest first: plans of one layout each.

    Raises
    ------
    RackbookError
        When the file is not one of this kind.
    """
    path = shop_dir / KEPT
    try:
        return parse_kept(path.read_bytes())
    except FileNotFoundError:
        return ()
    except RackbookError as error:
        raise RackbookError(f"{path}: {error}") from error


def parse_kept(data: bytes) -> tuple[Plan, ...]:
    """Return the plans in the bytes of a kept file; RackbookError when it is none."""
    try:
        raw = json.loads(data)
        if not isinstance(raw, dict) or raw.get("schema") != SCHEMA or not isinstance(raw.get("kept"), list):
            raise RackbookError(f"expected a file of schema {SCHEMA!r}")
        return tuple(loads(json.dumps(item).encode()) for item in raw["kept"])
    except (ValueError, PlanFileError) as error:
        raise RackbookError(f"expected a file of schema {SCHEMA!r}: {error}") from error


def write_kept(plans: Sequence[Plan]) -> bytes:
    """Return the bytes of a kept file."""
    kept = [json.loads(dumps(plan)) for plan in plans]
    return (canonical({"schema": SCHEMA, "kept": kept}) + "\n").encode()


def keep(plan_dir: Path, shop_dir: Path, blanks: Sequence[str] = (), *, way: int = 0) -> tuple[str, ...]:
    """Keep blanks of a plan: later plans leave them as they are.

    Parameters
    ----------
    plan_dir : Path
        Holds ``plan.json``.
    shop_dir : Path
    blanks : sequence of str, optional
        Names of blanks; none means all of the plan.
    way : int
        Keep the one blank's other way of this number instead; 0 for its own.

    Returns
    -------
    tuple of str
        Names of all blanks that are now kept.

    Raises
    ------
    ChangedError
        When a blank does not go with the shop as it is now, or with one that is kept already.
    RackbookError
        When there is no such blank.
    """
    plan = loads((plan_dir / "plan.json").read_bytes())
    layouts = chosen(plan, blanks)
    for sawing in sawn_with(plan, layouts):
        raise RackbookError(
            f"blank {sawing.blanks[0]!r} is sawn off piece {sawing.piece!r}, and such blanks cannot be kept; "
            f"take it, or put the piece on hold, and name the other blanks to keep"
        )
    if way:
        layouts = tuple(_other_way(plan, layout.blank.name, way) for layout in layouts)
    with open_book(shop_dir, "keeping") as book:
        old = book.read(KEPT)
        plans = list(parse_kept(old)) if old is not None else []
        there = {_identity(p.layouts[0]) for p in plans}
        fresh = [layout for layout in layouts if _identity(layout) not in there]
        plans += [_small(plan, layout) for layout in fresh]
        _, findings = standing_kept(shop_now(shop_dir), plans)
        if findings:
            raise ChangedError("; ".join(f.message for f in findings))
        names = {p.layouts[0].blank.name: p.layouts[0] for p in plans[: len(plans) - len(fresh)]}
        for layout in fresh:
            old_one = names.get(layout.blank.name)
            if old_one is not None:
                raise RackbookError(
                    f"a blank {layout.blank.name!r} is kept already, from {' + '.join(old_one.blank.stock)}: "
                    f"let it go with --release, or plan again, so that the new one has a name of its own"
                )
        book.disk.write(shop_dir / KEPT, write_kept(plans))
        return tuple(p.layouts[0].blank.name for p in plans)


def _other_way(plan: Plan, blank: str, number: int) -> Layout:
    """Return another way for a blank, written up and checked."""
    from nestyield.audit.check import audit_layout  # these import the whole search: only where it is needed
    from nestyield.planning.other_ways import layout_of

    ways = [way for way in plan.other_ways if way.instead_of == blank]
    if not 1 <= number <= len(ways):
        has = f"its other ways are 1 to {len(ways)}" if ways else "the plan has no other way for it"
        raise RackbookError(f"blank {blank!r} has no way {number}: {has}")
    layout = layout_of(plan, ways[number - 1])
    wrong = [f for f in audit_layout(plan, layout) if f.severity != "note"]
    if wrong:
        raise AuditError(tuple(wrong))
    return layout


def release(shop_dir: Path, blanks: Sequence[str]) -> tuple[str, ...]:
    """Let kept blanks go, all for none; returns the names of those let go.

    Raises
    ------
    RackbookError
        When a blank is not kept.
    """
    with open_book(shop_dir, "releasing") as book:
        old = book.read(KEPT)
        plans = parse_kept(old) if old is not None else ()
        names = [p.layouts[0].blank.name for p in plans]
        for name in blanks:
            if name not in names:
                raise RackbookError(f"blank {name!r} is not kept (kept: {', '.join(names) or 'none'})")
        gone = [n for n in names if not blanks or n in blanks]
        left = [p for p in plans if p.layouts[0].blank.name not in gone]
        if left:
            book.disk.write(shop_dir / KEPT, write_kept(left))
        else:
            book.disk.remove(shop_dir / KEPT)
        return tuple(gone)


def standing_kept(shop: Shop, plans: Iterable[Plan]) -> tuple[tuple[Layout, ...], tuple[Finding, ...]]:
    """Return the kept layouts that go with a shop as it is, and why the others do not.

    Parameters
    ----------
    shop : Shop
    plans : iterable of Plan
        As `read_kept` gives them.

    Returns
    -------
    (tuple of Layout, tuple of Finding)
        A warning for each layout that is let go.
    """
    pieces = {p.name: p for p in shop.pieces}
    used: Counter[str] = Counter()
    cut: Counter[str] = Counter()
    words = Words(shop.units)
    layouts, findings = [], []
    for plan in plans:
        layout = plan.layouts[0]
        names = same_orders(plan.shop.orders, shop.orders)
        members = Counter(piece for piece, _ in layout.blank.copies)
        wanted = Counter(p.order for p in layout.placements)
        reasons = [
            reason
            for name, n in sorted(members.items())
            for reason in differences(plan.shop.piece(name), pieces.get(name), n + used[name], words)
        ]
        reasons += _order_reasons(shop, plan, names, wanted, cut) + _bed_reasons(shop, plan, layout)
        if reasons:
            message = f"blank {layout.blank.name!r} cannot be kept: {'; '.join(reasons)}"
            findings.append(
                Finding(code="P090", severity="warning", message=message, file=KEPT, where=layout.blank.name)
            )
            continue
        layout = _renamed(layout, names)
        used += members
        cut += Counter(p.order for p in layout.placements)
        layouts.append(layout)
    return tuple(layouts), tuple(findings)


def _renamed(layout: Layout, names: Mapping[str, str | None]) -> Layout:
    """Return a layout with its orders called as they are now."""
    placements = tuple(replace(p, order=names[p.order] or p.order) for p in layout.placements)
    return replace(layout, placements=placements)


def without(data: bytes, layouts: Iterable[Layout]) -> bytes | None:
    """Return the bytes of a kept file without some layouts (one for each); None when none is left."""
    plans = list(parse_kept(data))
    for layout in layouts:
        same = [p for p in plans if _identity(p.layouts[0]) == _identity(layout)]
        moved = [p for p in plans if _without_orders(p.layouts[0]) == _without_orders(layout)]
        match = next(iter(same or moved), None)
        if match is not None:
            plans.remove(match)
    return write_kept(plans) if plans else None


def _identity(layout: Layout) -> str:
    """Return what makes a layout the same one, whichever copies of rows and orders it was given."""
    members = [replace(m, copy=0) for m in layout.blank.members]
    placements = [replace(p, copy=0) for p in layout.placements]
    return repr((members, placements))


def _without_orders(layout: Layout) -> str:
    """Return what makes a layout the same one when orders have changed their place in the shop file since."""
    return _identity(replace(layout, placements=tuple(replace(p, order="") for p in layout.placements)))


def _small(plan: Plan, layout: Layout) -> Plan:
    """Return a plan of one layout and nothing that it does not need."""
    members = {m.piece for m in layout.blank.members}
    parts = {p.part for p in layout.placements}
    orders = {p.order for p in layout.placements}
    kinds = {alike(o) for o in plan.shop.orders if o.name in orders and not is_named(o)}
    shop = replace(
        plan.shop,
        pieces=tuple(p for p in plan.shop.pieces if p.name in members),
        parts=tuple(p for p in plan.shop.parts if p.name in parts),
        # all that are alike, so that an order without a name can be told again
        orders=tuple(
            o for o in plan.shop.orders if o.name in orders or (alike(o) in kinds and not is_named(o))
        ),
        files={},
    )
    return replace(
        plan,
        shop=shop,
        layouts=(layout,),
        orders=(),
        intake=(),
        notices=(),
        other_ways=(),
        tried=None,
        untried=(),
    )


def _order_reasons(
    shop: Shop, plan: Plan, names: Mapping[str, str | None], wanted: Counter[str], cut: Counter[str]
) -> list[str]:
    orders = {o.name: o for o in shop.orders}
    parts = {p.name: p for p in shop.parts}
    reasons = []
    for was, copies in sorted(wanted.items()):
        name = names[was]
        order = None if name is None else orders.get(name)
        if name is None or order is None or order.hold:
            state = "no longer there" if order is None else "done" if order.done else "on hold"
            reasons.append(f"order {was!r} is {state}")
            continue
        before = next(o for o in plan.shop.orders if o.name == was)
        if order.part != before.part or parts[order.part] != plan.shop.part(order.part):
            reasons.append(f"order {name!r}: the part {before.part!r} was changed")
        if order.count < copies + cut[name]:
            reasons.append(f"order {name!r} wants {order.count} now, {copies + cut[name]} are kept")
    return reasons


def _bed_reasons(shop: Shop, plan: Plan, layout: Layout) -> list[str]:
    if layout.chosen is None:
        return []
    name = layout.setups[layout.chosen].bed
    now = {b.name: b for b in shop.beds}.get(name)
    before = {b.name: b for b in plan.shop.beds}.get(name)
    return [] if now == before else [f"bed {name!r} was changed"]
