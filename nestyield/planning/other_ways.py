"""The runners-up: what else could make what a blank of the plan makes, and what each would cost more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from nestyield.model import Blank, Layout, OtherWay, Placement, Plan, Shop
from nestyield.placement.stock import blank_of
from nestyield.planning.candidates import Candidate, net_value
from nestyield.planning.choice import Choice
from nestyield.planning.demand import demands_of
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.layouts import make_layout
from nestyield.planning.sets import wood_label
from nestyield.planning.write_up import used_in_order

#: A row of the rack and the number of one of its copies.
Copy = tuple[str, int]

#: So many other ways are told for each blank.
MOST_WAYS = 3


def other_ways(
    shop: Shop, pool: Sequence[Candidate], choice: Choice, layouts: Sequence[Layout]
) -> tuple[OtherWay, ...]:
    """Return for each blank the best of the other ways to make the same parts, all else staying as it is.

    Parameters
    ----------
    shop : Shop
    pool : sequence of Candidate
        What was tried; nothing else is.
    choice : Choice
        From that pool.
    layouts : sequence of Layout
        The choice as it was written up. Blanks that are sawn off a piece have no other way here, and
        no other way begins with a saw cut.
    """
    held = Counter(copy for layout in layouts for copy in set(layout.blank.copies))
    out: list[OtherWay] = []
    for index, layout in zip(used_in_order(pool, choice), layouts, strict=True):
        if pool[index].sawn is None and pool[index].leaves is None and not pool[index].crosscuts:
            others = held - Counter(layout.blank.copies)
            out += _ways_for(shop, pool, pool[index], layout, set(others))
    return tuple(out)


def layout_of(plan: Plan, way: OtherWay) -> Layout:
    """Return another way written up as a layout of the plan, with setups, leftovers and work."""
    return written_up(plan, way.blank, way.placements, way.value)


def written_up(plan: Plan, blank: Blank, placements: Sequence[Placement], value: float) -> Layout:
    """Return a layout of placements on a blank, on the beds that their orders allow, as a plan writes it."""
    shop = plan.shop
    orders = {p.order for p in placements}
    demands = demands_of(shop)
    wants = [w for w, want in enumerate(demands) if orders.intersection(want.orders)]
    beds = LayoutContext(shop=shop, demands=demands, blank=blank).beds(wants)
    return make_layout(shop, blank, placements, beds, value)


def with_free_copies(way: OtherWay, shop: Shop, layouts: Sequence[Layout], held: set[Copy]) -> OtherWay:
    """Return another way made from copies that no blank but its own holds, its rows the same.

    Parameters
    ----------
    way : OtherWay
    shop : Shop
    layouts : sequence of Layout
        Its own blank is one of them.
    held : set of (str, int)
        Pieces and copies that all blanks use.
    """
    own = next(set(layout.blank.copies) for layout in layouts if layout.blank.name == way.instead_of)
    taken = held - own
    new: dict[Copy, int] = {}
    for name, copy in way.blank.copies:
        free = (k for k in range(1, shop.piece(name).count + 1) if (name, k) not in taken)
        new[name, copy] = next(free)
        taken.add((name, new[name, copy]))
    members = tuple(replace(m, copy=new[m.piece, m.copy]) for m in way.blank.members)
    name = members[0].label if len(members) == 1 else way.blank.name
    return replace(way, blank=replace(way.blank, name=name, members=members))


def _ways_for(
    shop: Shop, pool: Sequence[Candidate], chosen: Candidate, layout: Layout, held: set[Copy]
) -> list[OtherWay]:
    """Return other ways for one blank; ``held`` are the copies of rows that all other blanks use."""
    ranked = sorted(
        (
            c
            for c in pool
            if c.made == chosen.made
            and c.sawn is None
            and c.leaves is None
            and not c.crosscuts
            and Counter(c.rows) != Counter(chosen.rows)
            and _matches(shop, c, chosen, layout)
        ),
        key=lambda c: _merit(c, shop),
    )
    seen: set[object] = {_wood(shop, chosen)}
    out: list[OtherWay] = []
    for candidate in ranked:
        wood, copies = _wood(shop, candidate), _free_copies(shop, candidate, held)
        if wood not in seen and copies is not None:
            seen.add(wood)
            out.append(_way(shop, candidate, chosen, layout, copies))
        if len(out) == MOST_WAYS:
            break
    return out


def _matches(shop: Shop, candidate: Candidate, chosen: Candidate, layout: Layout) -> bool:
    """Tell whether parts of sets that match go with the rest of their sets when a candidate makes them.

    They do when its wood is the same; and when the blank makes all that matches of its sets, from one wood.
    """
    copies = Counter(p.order for p in layout.placements)
    for name in {o.set for o in shop.orders if o.match and o.name in copies}:
        orders = [o for o in shop.orders if o.set == name and o.match]
        match = orders[0].match
        label = wood_label(shop, candidate, match)
        whole = len({copies[o.name] / o.per_set for o in orders}) == 1
        if not label or not (whole or label == wood_label(shop, chosen, match)):
            return False
    return True


def _free_copies(shop: Shop, candidate: Candidate, held: set[Copy]) -> list[int] | None:
    """Return a free copy of each row that a candidate uses, or None when the rest of the plan uses too many."""
    taken = set(held)
    out = []
    for row in candidate.rows:
        piece = shop.pieces[row]
        copy = next((k for k in range(1, piece.count + 1) if (piece.name, k) not in taken), None)
        if copy is None:
            return None
        taken.add((piece.name, copy))
        out.append(copy)
    return out


def _merit(candidate: Candidate, shop: Shop) -> tuple[float, ...]:
    """Return what the choice goes by, the least first, in the order of its aims."""
    net = round(net_value(candidate, shop.settings), 4)
    return (
        candidate.sawn_apart,
        round(candidate.lightest_kg, 3),
        net,
        round(candidate.used_up, 4),
        candidate.seams_mm,
        *candidate.rows,
    )


def _wood(shop: Shop, candidate: Candidate) -> str:
    """Return what the pieces are, whatever they are called; a way from pieces that are alike is no other way."""
    pieces = (shop.pieces[row] for row in candidate.rows)
    kinds = ((p.species, p.thickness_mm, p.shape, p.grain_deg, p.defects, p.seams, p.value) for p in pieces)
    return repr(sorted(map(repr, kinds)))


def _way(
    shop: Shop, candidate: Candidate, chosen: Candidate, layout: Layout, copies: Sequence[int]
) -> OtherWay:
    waiting = [(p.order, p.copy) for p in layout.placements]
    demands = demands_of(shop)
    placements: list[Placement] = []
    for want, placement in candidate.laid:
        order, copy = next(w for w in waiting if w[0] in demands[want].orders)
        waiting.remove((order, copy))
        placements.append(replace(placement, order=order, copy=copy))
    parts = [shop.part(p.part) for p in placements]
    pieces = [shop.pieces[row] for row in candidate.rows]
    return OtherWay(
        instead_of=layout.blank.name,
        blank=_blank(shop, candidate, copies),
        placements=tuple(placements),
        value=candidate.value,
        back=candidate.back,
        costs_more=net_value(candidate, shop.settings) - net_value(chosen, shop.settings),
        used_up=candidate.used_up,
        part_area_mm2=sum(abs(part.outline.signed_area_mm2) for part in parts),
        stock_area_mm2=sum(piece.shape.area_mm2 for piece in pieces),
        seams_mm=candidate.seams_mm,
    )


def _blank(shop: Shop, candidate: Candidate, copies: Sequence[int]) -> Blank:
    """Return the blank of a candidate, made from these copies of its rows."""
    if candidate.blank is None:
        return blank_of(shop.pieces[candidate.rows[0]], copies[0])
    copy_of = dict(zip(candidate.blank.copies, copies, strict=True))
    members = tuple(replace(m, copy=copy_of[m.piece, m.copy]) for m in candidate.blank.members)
    return replace(candidate.blank, name="glue-up", members=members)
