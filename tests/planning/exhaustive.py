"""A second, slow way to choose: try everything. Shares nothing with the solver's model."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from nestyield.model import Order, Outline, Part, Piece, Settings, Shape, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.demand import Demand, demands_of, served

Score = tuple[float, ...]


def best_score(shop: Shop, pool: Sequence[Candidate]) -> Score:
    """Return the best value of every objective, in their strict order, by trying every choice."""
    orders, demands = served(shop), demands_of(shop)
    best: Score | None = None
    for uses in _uses(shop, pool, 0, [p.count for p in shop.pieces]):
        score = _score(orders, demands, [pool[i] for i in uses])
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


def _score(orders: Sequence[Order], demands: Sequence[Demand], picked: Sequence[Candidate]) -> Score | None:
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
    value = sum(round(c.value * 10_000) for c in picked)
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
