"""A second, slow way to choose: try everything. Shares nothing with the solver's model."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, product

import numpy as np

from nestyield.model import Order, Outline, Part, Piece, Settings, Shape, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.wants import Want, served, wants_of

Score = tuple[float, ...]


def best_score(shop: Shop, pool: Sequence[Candidate]) -> Score:
    """Return the best value of every objective, in their strict order, by trying every choice."""
    orders, wants = served(shop), wants_of(shop)
    best: Score | None = None
    rows = sorted({c.row for c in pool})
    for choice in product(*(list(_uses(shop, pool, row)) for row in rows)):
        picked = [pool[i] for use in choice for i in use]
        score = _score(shop, orders, wants, picked)
        if score is not None and (best is None or score > best):
            best = score
    assert best is not None
    return best


def _uses(shop: Shop, pool: Sequence[Candidate], row: int) -> Iterator[tuple[int, ...]]:
    mine = [i for i, c in enumerate(pool) if c.row == row]
    for n in range(shop.pieces[row].count + 1):
        yield from combinations_with_replacement(mine, n)


def _score(
    shop: Shop, orders: Sequence[Order], wants: Sequence[Want], picked: Sequence[Candidate]
) -> Score | None:
    made = [sum(c.made[w] for c in picked) for w in range(len(wants))]
    if any(n > want.count for n, want in zip(made, wants)):
        return None
    group_of: dict[tuple[int, str | None], int] = {}
    for order in orders:
        group_of.setdefault((order.priority, order.due), len(group_of))
    placed = [0] * len(group_of)
    for want, n in zip(wants, made):
        for order in orders:  # copies of one want are all alike: the first order served takes them first
            if order.name in want.orders:
                got = min(n, order.count)
                placed[group_of[order.priority, order.due]] += got
                n -= got
    value = sum(round(c.value * 10_000) for c in picked)
    wood = 0
    for c in picked:
        piece = shop.pieces[c.row]
        feet = (piece.shape.area_mm2 - c.usable_mm2) * piece.thickness_mm / (144 * 25.4**3)
        wood += round(feet * 10_000)
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
    wants = len(wants_of(shop))
    pool = []
    for row, piece in enumerate(pieces):
        value = float(rng.choice([2.0, 3.0, 5.0, 5.0]))
        for _ in range(int(rng.integers(0, 3 if piece.count > 1 else 4))):
            made = tuple(int(n) for n in rng.integers(0, 3, wants))
            if any(made):
                pool.append(
                    Candidate(
                        row=row,
                        made=made,
                        laid=(),
                        value=value,
                        usable_mm2=float(rng.integers(0, 3)) * 20_000,
                        seams_mm=float(rng.integers(0, 3)) * 50,
                    )
                )
    return shop, pool
