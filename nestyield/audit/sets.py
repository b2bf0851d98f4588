"""Sets counted again: whole or not at all, and each one from matching wood."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from nestyield.audit.sheet import CheckedSheet
from nestyield.model import Finding, Layout, Order, Plan
from nestyield.model.facts import SetNotWhole

#: Ways to make some of each class of a set that are tried at the most.
_MOST_TRIED = 200_000


def check_sets(sheet: CheckedSheet) -> None:
    """Check that every set is whole as often as it is made, and that matching parts are of one wood.

    Blanks that the plan keeps were cut before: their copies are not asked for again, nor matched.
    """
    layouts = [x for x in sheet.plan.layouts if x.blank.name not in sheet.kept]
    names = dict.fromkeys(o.set for o in sheet.plan.shop.orders if o.set)
    for name in names:
        orders = _orders(sheet, name)
        if not orders:
            continue
        placed = Counter(at.order for x in layouts for at in x.placements)
        here = [placed[o.name] for o in orders]
        needs = _needs(orders)
        made = _made(needs, here)
        if made is None:
            told = ", ".join(f"{n} {o.part}" for o, n in zip(orders, here))
            sheet.say("A613", f"set {name}", f"is not whole: {told}")
        else:
            _check_match(sheet, name, orders, layouts, made)


def sets_wrong(plan: Plan, layouts: tuple[Layout, ...]) -> list[Finding]:
    """Return what is wrong with the sets of a plan when it has other layouts."""
    sheet = CheckedSheet(replace(plan, layouts=layouts))
    check_sets(sheet)
    return sheet.findings


def _orders(sheet: CheckedSheet, name: str) -> list[Order]:
    """Return the orders of a set that are still to be filled, without the copies in blanks that are kept."""
    kept = Counter(at.order for x in sheet.plan.layouts if x.blank.name in sheet.kept for at in x.placements)
    return [
        replace(o, count=o.count - kept[o.name])
        for o in sheet.plan.shop.orders
        if o.set == name and not o.hold and o.count > kept[o.name]
    ]


def _needs(orders: Sequence[Order]) -> Counter[tuple[int, ...]]:
    """Return how many of a set need how much of each order; of what has fewer copies some was cut before."""
    most = max(-(-o.count // o.per_set) for o in orders)
    out: Counter[tuple[int, ...]] = Counter()
    for number in range(1, most + 1):
        # counted from the last, each has all its copies until they run out
        behind = most - number
        out[tuple(max(0, min(o.per_set, o.count - behind * o.per_set)) for o in orders)] += 1
    return out


def _made(needs: Counter[tuple[int, ...]], placed: Sequence[int]) -> tuple[int, ...] | None:
    """Return how many of each kind are made, so that all that is placed is used; None when none are."""
    *others, (last, size) = needs.items()
    ranges = [range(n + 1) for _, n in others]
    for counts in itertools.islice(itertools.product(*ranges), _MOST_TRIED):
        left = [p - sum(need[i] * n for (need, _), n in zip(others, counts)) for i, p in enumerate(placed)]
        most = next((a // b for a, b in zip(left, last) if b), 0)
        if 0 <= most <= size and left == [most * n for n in last]:
            return (*counts, most)
    return None


def _check_match(
    sheet: CheckedSheet, name: str, orders: Sequence[Order], layouts: Sequence[Layout], made: Sequence[int]
) -> None:
    matching = [o for o in orders if o.match]
    if not matching:
        return
    woods: dict[str, Counter[str]] = {o.name: Counter() for o in matching}
    for layout in layouts:
        for at in layout.placements:
            if at.order in woods:
                woods[at.order][_wood(sheet, layout, matching[0].match)] += 1
    before = _before(sheet, name, matching[0].match)
    begun = _begun(sheet, name, orders, before)
    for wood in sorted(set().union(*woods.values())):
        counts = [-(-woods[o.name][wood] // o.per_set) for o in matching]
        if wood.startswith("\x00") or max(counts) > begun(wood, woods):
            told = ", ".join(f"{woods[o.name][wood]} {o.part}" for o in matching)
            what = wood.strip("\x00")
            sheet.say("A613", f"set {name}", f"does not match by {matching[0].match}: {told} of {what}")
    if len(made) > 1:
        whole = sum(
            max(-(-woods[o.name][w] // o.per_set) for o in matching) for w in set().union(*woods.values())
        )
        if whole > sum(made):
            sheet.say("A613", f"set {name}", f"is of {whole} woods by {matching[0].match}, made {sum(made)}")


def _before(sheet: CheckedSheet, name: str, match: str) -> dict[str, Counter[str]]:
    """Return of what wood copies of each matching order of a set are that were cut before or are kept."""
    out = {o.name: Counter(o.cut_from) for o in sheet.plan.shop.orders if o.set == name and o.match}
    for layout in sheet.plan.layouts:
        if layout.blank.name in sheet.kept:
            for at in layout.placements:
                if at.order in out:
                    out[at.order][_wood(sheet, layout, match)] += 1
    return out


def _begun(
    sheet: CheckedSheet, name: str, orders: Sequence[Order], before: dict[str, Counter[str]]
) -> Callable[[str, dict[str, Counter[str]]], int]:
    """Return what tells how many of a set can be of a wood, by the order that has the fewest copies of it.

    Copies that were cut before of a wood that nothing tells count for every wood.
    """
    count = max(-(-o.count // o.per_set) for o in orders)
    left = {o.name: o.count for o in orders}
    asked = [
        o
        for o in sheet.plan.shop.orders
        if o.set == name and o.match and (o.name in left or before[o.name].total())
    ]

    def most(wood: str, woods: dict[str, Counter[str]]) -> int:
        least = count
        for o in asked:
            behind = max(0, count * o.per_set - left.get(o.name, 0))
            unknown = max(0, behind - before[o.name].total())
            new = woods[o.name][wood] if o.name in woods else 0
            least = min(least, (new + before[o.name][wood] + unknown) // o.per_set)
        return least

    return most


def _wood(sheet: CheckedSheet, layout: Layout, match: str) -> str:
    """Return what the wood of a blank is by species, row or board; marked where its pieces differ."""
    found = set()
    for member in layout.blank.members:
        piece = sheet.pieces.get(member.piece)
        if piece is None:
            return ""  # told by check_stock
        if match == "species":
            found.add(piece.species)
        elif match == "row":
            found.add(piece.name)
        elif piece.board != piece.name or piece.count == 1:
            found.add(piece.board)
        else:
            found.add(f"{piece.name}, copy {member.copy}")
    return found.pop() if len(found) == 1 else "\x00" + " + ".join(sorted(found))


def wrong_of_set(sheet: CheckedSheet, order: Order, reason: SetNotWhole) -> Iterator[str]:
    """Yield what is not so about a reason that a set is not whole."""
    if order.set != reason.set:
        yield f"the order is of set {order.set!r}"
        return
    orders = _orders(sheet, order.set)
    if not orders:
        yield "nothing of the set is wanted"
        return
    layouts = [x for x in sheet.plan.layouts if x.blank.name not in sheet.kept]
    placed = Counter(at.order for x in layouts for at in x.placements)
    needs = _needs(orders)
    made = _made(needs, [placed[o.name] for o in orders])
    if reason.wanted != sum(needs.values()) or made is None or reason.made != sum(made):
        yield f"{sum(made or ())} of {sum(needs.values())} are made"
    missing = {o.name: o.count - placed[o.name] for o in orders}
    if not reason.lacking:
        yield "nothing is said to lack"
    for part in reason.lacking:
        if not 1 <= part.copies <= missing.get(part.order, 0) or sheet.orders[part.order].part != part.part:
            yield f"{part.copies} {part.part} lack, {missing.get(part.order, 0)} are missing"
    match = next((o.match for o in orders if o.match), "")
    if reason.match != match:
        yield f"its orders match by {match or 'nothing'}"
