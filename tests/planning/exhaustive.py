"""A second, slow way to choose: try everything. Shares nothing with the solver's model."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, permutations, product

import numpy as np

from nestyield.glueup.chains import Interest
from nestyield.glueup.find import sets_of
from nestyield.glueup.search import Search
from nestyield.model import (
    Bed,
    GlueUpRules,
    Order,
    Outline,
    Part,
    Piece,
    Plan,
    Preferences,
    Settings,
    Shape,
    Shop,
)
from nestyield.planning.candidates import Candidate, try_row
from nestyield.planning.demand import Demand, demands_of, served
from nestyield.planning.glue_search import glued_candidate, members_of
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.workers import Job

Score = tuple[float, ...]


def best_score(shop: Shop, pool: Sequence[Candidate]) -> Score:
    """Return the best value of every objective, in their strict order, by trying every choice."""
    orders, demands = served(shop), demands_of(shop)
    best: Score | None = None
    for uses in _uses(shop, pool, 0, [p.count for p in shop.pieces]):
        score = _score(shop, orders, demands, [pool[i] for i in uses])
        if score is not None and (best is None or score > best):
            best = score
    assert best is not None
    return best


def _uses(shop: Shop, pool: Sequence[Candidate], first: int, left: list[int]) -> Iterator[tuple[int, ...]]:
    """Give every multiset of candidates, from the first on, for which copies of the rows are left."""
    yield ()
    for i in range(first, len(pool)):
        after = list(left)
        for row in pool[i].rows:
            after[row] -= 1
        if min(after) >= 0:
            for rest in _uses(shop, pool, i, after):
                yield (i, *rest)


def _score(
    shop: Shop, orders: Sequence[Order], demands: Sequence[Demand], picked: Sequence[Candidate]
) -> Score | None:
    made = [sum(c.made[w] for c in picked) for w in range(len(demands))]
    if any(n > want.count for n, want in zip(made, demands)):
        return None
    group_of: dict[tuple[int, str | None], int] = {}
    for order in orders:
        group_of.setdefault((order.priority, order.due), len(group_of))
    placed = [0] * len(group_of)
    for want, n in zip(demands, made):
        for order in orders:  # copies of one want are all alike: the first order served takes them first
            if order.name in want.orders:
                got = min(n, order.count)
                placed[group_of[order.priority, order.due]] += got
                n -= got
    worth, joint = shop.settings.leftover_worth, shop.settings.glueup.joint_cost
    value = sum(round((c.value - worth * c.back + joint * c.joints) * 10_000) for c in picked)
    wood = sum(round(c.used_up * 10_000) for c in picked)
    seams = sum(round(c.seams_mm) for c in picked)
    return (*placed, -value, -wood, -seams)


def random_choice(rng: np.random.Generator) -> tuple[Shop, list[Candidate]]:
    """Return a small shop and a pool of made-up candidates, with ties on purpose."""
    parts = [
        Part(name=f"p{k}", drawing="", outline=Outline.rectangle(0, 0, 10, 10), thickness_mm=20)
        for k in range(int(rng.integers(1, 4)))
    ]
    pieces = [
        Piece(
            name=f"R{k}",
            species="x",
            thickness_mm=float(rng.integers(20, 30)),
            shape=Shape(outer=Outline.rectangle(0, 0, float(rng.integers(300, 900)), 200)),
            count=int(rng.choice([1, 1, 1, 2])),
        )
        for k in range(int(rng.integers(1, 7)))
    ]
    orders = [
        Order(
            name=f"o{k}",
            part=parts[int(rng.integers(len(parts)))].name,
            count=int(rng.integers(1, 4)),
            priority=int(rng.integers(1, 4)),
            due=[None, "2027-01-01", "2027-02-01"][int(rng.integers(3))],
        )
        for k in range(int(rng.integers(1, 6)))
    ]
    shop = Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6),
        beds=(),
        parts=tuple(parts),
        pieces=tuple(pieces),
        orders=tuple(orders),
    )
    demands = len(demands_of(shop))
    pool = []
    for row, piece in enumerate(pieces):
        value = float(rng.choice([2.0, 3.0, 5.0, 5.0]))
        for _ in range(int(rng.integers(0, 3 if piece.count > 1 else 4))):
            made = tuple(int(n) for n in rng.integers(0, 3, demands))
            if any(made):
                pool.append(
                    Candidate(
                        rows=(row,),
                        made=made,
                        laid=(),
                        value=value,
                        used_up=float(rng.integers(1, 4)) * 1.3,
                        seams_mm=float(rng.integers(0, 3)) * 50,
                    )
                )
    for _ in range(int(rng.integers(0, 4)) if len(pieces) > 1 else 0):  # some glue-ups
        rows = tuple(int(r) for r in rng.integers(0, len(pieces), int(rng.integers(2, 4))))
        made = tuple(int(n) for n in rng.integers(0, 2, demands))
        if any(made):
            pool.append(Candidate(rows=rows, made=made, laid=(), value=4.0, used_up=2.6, seams_mm=100.0))
    return shop, pool


#: Of a rectangular part on rectangular boards: margin, jointing allowance, least width of a member, sliver.
MARGIN_MM, JOINTING_MM, NARROWEST_MM, SLIVER_MM = 5.0, 0.8, 40.0, 20.0
JOINT_COST = 3.0


def random_rectangles(rng: np.random.Generator, odd: bool = False) -> Shop:
    """Return a shop of 2 to 4 boards, each too short for two parts, and one or two rectangular parts.

    With ``odd`` the boards have a long side aslant, and part of what comes back counts.
    """
    widths = rng.choice([130.0, 150.0, 180.0, 230.0], int(rng.integers(1, 3)), replace=False)
    parts = tuple(
        Part(
            name=f"p{k}",
            drawing="",
            outline=Outline.rectangle(0, 0, float(rng.integers(300, 340)), float(w)),
            thickness_mm=40,
            grain_tolerance_deg=0.0,
        )
        for k, w in enumerate(widths)
    )
    pieces = []
    for k in range(int(rng.integers(2, 5))):
        length, width = float(rng.integers(325, 480)), float(rng.integers(60, 255))
        shape = Shape(outer=Outline.rectangle(0, 0, length, width))
        if odd:
            far = width * float(rng.uniform(0.7, 1.0))
            shape = Shape(outer=Outline.polygon([(0, 0), (length, 0), (length, far), (0, width)]))
        pieces.append(
            Piece(
                name=f"R{k}",
                species="maple",
                thickness_mm=44,
                shape=shape,
                value=float(rng.choice([2, 3, 5, 20, 60])),
                count=int(rng.choice([1, 1, 2])),
            )
        )
    orders = tuple(
        Order(name=f"o{k}", part=p.name, count=int(rng.choice([1, 1, 2])), priority=int(rng.integers(1, 3)))
        for k, p in enumerate(parts)
    )
    settings = Settings(
        cutter_diameter_mm=6,
        blank_margin_mm=MARGIN_MM,
        jointing_mm=JOINTING_MM,
        leftover_worth=0.5 if odd else 0.0,
        glueup=GlueUpRules(joint_cost=JOINT_COST, least_piece_width_mm=NARROWEST_MM, sliver_mm=SLIVER_MM),
        prefer=Preferences(largest_leftover=0.0),
    )
    bed = Bed(name="b", travel_x_mm=2000, travel_y_mm=2000, table_x_mm=(0, 2000), table_y_mm=(0, 2000))
    return Shop(
        name="", units="mm", settings=settings, beds=(bed,), parts=parts, pieces=tuple(pieces), orders=orders
    )


def holds(part: Part, boards: Sequence[Piece]) -> bool:
    """Tell whether rectangular boards, glued up side by side, hold a rectangular part; one board alone too.

    Worked out by hand: every board is as long as part and margins; the widths under the part are at least
    the narrowest allowed and at most what board, margin and jointing leave; they must add up to the part's.
    """
    length, width = _size(part.outline)
    sizes = [_size(b.shape.outer) for b in boards]
    if any(x < length + 2 * MARGIN_MM for x, _ in sizes):
        return False
    if len(boards) == 1:
        return sizes[0][1] >= width + 2 * MARGIN_MM
    least = most = 0.0
    ends = (0, len(boards) - 1)
    # the ends lie beyond the part by the margin, those between are jointed on both sides
    for order in permutations(range(len(boards))):
        least = most = 0.0
        for at, k in enumerate(order):
            low = max(SLIVER_MM, NARROWEST_MM - MARGIN_MM) if at in ends else NARROWEST_MM
            high = sizes[k][1] - JOINTING_MM - (MARGIN_MM if at in ends else JOINTING_MM)
            if high < low:
                break
            least, most = least + low, most + high
        else:
            if least <= width <= most:
                return True
    return False


def _size(outline: Outline) -> tuple[float, float]:
    xs, ys = zip(*outline.points_mm)
    return max(xs) - min(xs), max(ys) - min(ys)


def best_of_rectangles(shop: Shop) -> tuple[tuple[int, ...], float]:
    """Return the most copies of each group of orders and the least cost of stock and joints, by trying all.

    Every copy of a board goes to one copy of an order or to none, in every way.
    """
    boards = [p for p in shop.pieces for _ in range(p.count)]
    wanted = [(o, shop.part(o.part)) for o in served(shop) for _ in range(o.count)]
    groups = sorted({o.priority for o, _ in wanted})
    best: tuple[tuple[int, ...], float] | None = None
    for given in product(range(-1, len(wanted)), repeat=len(boards)):
        sets = {k: [b for b, g in zip(boards, given) if g == k] for k in set(given) - {-1}}
        if not all(len(s) <= 4 and holds(wanted[k][1], s) for k, s in sets.items()):
            continue
        made = tuple(sum(wanted[k][0].priority == g for k in sets) for g in groups)
        cost = sum(sum(b.value or 0.0 for b in s) + JOINT_COST * (len(s) - 1) for s in sets.values())
        if best is None or (made, -cost) > (best[0], -best[1]):
            best = made, cost
    assert best is not None
    return best


def every_glue_up(shop: Shop) -> list[Candidate]:
    """Return a glue-up for every want and every set of up to four copies that makes one, no bounds kept."""
    out = []
    for w, want in enumerate(demands_of(shop)):
        part, rows = shop.part(want.part), members_of(shop, want)
        pieces = [shop.pieces[r] for r in rows]
        copies = [k for k, p in enumerate(pieces) for _ in range(p.count)]
        sets = {s for n in range(2, 5) for s in combinations(copies, n)}
        search = Search(part, pieces, shop.settings, lambda p: 0.0, shop.settings.glueup)
        for some in sorted(sets):
            search.value = np.array([1.0 if k in some else np.inf for k in range(len(pieces))])
            ask = Interest(every=True, apart=False)
            for glued in sets_of(search, wanted=1000, effort=1000, strict=True, interest=ask):
                if tuple(sorted(glued.chain.rows)) != some:
                    continue
                bench = LayoutContext(shop=shop, demands=(want,), blank=glued.blank)
                laid = ((0, glued.placement),)
                if not any(s.is_usable for s in bench.setups(laid)):
                    continue
                found = glued_candidate(shop, part, pieces, bench, laid)
                made = tuple(int(k == w) for k in range(len(demands_of(shop))))
                laid = tuple((w, p) for _, p in found.laid)
                out.append(replace(found, rows=tuple(rows[r] for r in found.rows), made=made, laid=laid))
    return out


def singles(shop: Shop) -> list[Candidate]:
    """Return all layouts of single boards that laying one part after the other finds."""
    demands = demands_of(shop)
    job = Job(shop=shop, demands=demands, effort=1, seed=1)
    asked = range(len(demands))
    return [c for row in range(len(shop.pieces)) for c in try_row(job, row, asked).answer.candidates]


def reached(plan: Plan) -> tuple[tuple[int, ...], float]:
    """Return the copies of each group of orders, and the cost of stock and joints, as a plan's layouts have them."""
    priority = {o.name: o.priority for o in plan.shop.orders}
    cut = [priority[p.order] for x in plan.layouts for p in x.placements]
    value = {p.name: p.value or 0.0 for p in plan.shop.pieces}
    cost = sum(value[name] for x in plan.layouts for name, _ in x.blank.copies)
    cost += sum(JOINT_COST * len(x.blank.seams) for x in plan.layouts)
    return tuple(cut.count(g) for g in sorted(set(priority.values()))), cost
