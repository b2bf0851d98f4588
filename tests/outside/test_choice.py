"""The choice of candidates against another solver, and on knapsacks whose optimum is published."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from nestyield.model import Order, Outline, Part, Piece, Settings, Shape, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import choose, groups_of
from nestyield.planning.clock import Clock
from nestyield.planning.demand import demands_of, served

#: Capacity, weights, profits, published optimum.
KNAPSACKS = {
    "P01": (165, (23, 31, 29, 44, 53, 38, 63, 85, 89, 82), (92, 57, 49, 68, 60, 43, 67, 84, 87, 72), 309),
    "P02": (26, (12, 7, 11, 8, 9), (24, 13, 23, 15, 16), 51),
    "P03": (190, (56, 59, 80, 64, 75, 17), (50, 50, 64, 46, 50, 5), 150),
    "P06": (170, (41, 50, 49, 59, 55, 57, 60), (442, 525, 511, 593, 546, 564, 617), 1735),
    "P07": (
        750,
        (70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120),
        (135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240),
        1458,
    ),
}


def make_shop(parts, pieces, orders):
    return Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6),
        beds=(),
        parts=tuple(parts),
        pieces=tuple(pieces),
        orders=tuple(orders),
    )


def make_part(name):
    return Part(name=name, drawing="", outline=Outline.rectangle(0, 0, 10, 10), thickness_mm=20)


def make_piece(name, length=400.0, count=1):
    shape = Shape(outer=Outline.rectangle(0, 0, length, 200))
    return Piece(name=name, species="x", thickness_mm=25.0, shape=shape, count=count)


def pick(shop, pool):
    return choose(shop, served(shop), demands_of(shop), pool, effort=2, seed=1, clock=Clock(seconds=100_000))


def best_fill(capacity, weights, profits):
    """Solve a knapsack by the table of Bellman."""
    best = np.zeros(capacity + 1, dtype=int)
    for weight, profit in zip(weights, profits, strict=True):
        best[weight:] = np.maximum(best[weight:], best[: capacity + 1 - weight] + profit)
    return int(best[capacity])


@pytest.mark.outside(
    source="0/1 knapsack instances P01-P07 (Florida State University data set), optimum as remembered",
    mark="M",
)
@pytest.mark.parametrize("name", sorted(KNAPSACKS))
def test_knapsack(name):
    """A knapsack put as pieces that make two parts, one scarce and one wanted, is filled to its optimum."""
    capacity, weights, profits, optimum = KNAPSACKS[name]
    assert best_fill(capacity, weights, profits) == optimum
    orders = (
        Order(name="wanted", part="wanted", count=sum(profits), priority=1),
        Order(name="scarce", part="scarce", count=capacity, priority=2),
    )
    shop = make_shop(
        [make_part("wanted"), make_part("scarce")], [make_piece(f"R{i}") for i in range(len(weights))], orders
    )
    assert [w.part for w in demands_of(shop)] == ["wanted", "scarce"]
    pool = [
        Candidate(rows=(i,), made=(profit, weight), laid=(), value=1.0, used_up=1.0, seams_mm=0.0)
        for i, (weight, profit) in enumerate(zip(weights, profits, strict=True))
    ]
    choice = pick(shop, pool)
    assert choice.placed[0] == optimum
    assert choice.objectives[0].proven
    assert choice.placed[1] == sum(weights[i] for i, _ in choice.used) <= capacity


def random_case(rng):
    """Return a shop of up to 25 pieces and a pool of up to 60 candidates with many ties."""
    parts = [make_part(f"p{k}") for k in range(int(rng.integers(1, 5)))]
    pieces = [
        make_piece(f"R{k}", float(rng.integers(3, 10)) * 100, int(rng.choice([1, 1, 2, 5])))
        for k in range(int(rng.integers(5, 26)))
    ]
    orders = [
        Order(
            name=f"o{k}",
            part=parts[int(rng.integers(len(parts)))].name,
            count=int(rng.integers(1, 9)),
            priority=int(rng.integers(1, 4)),
        )
        for k in range(int(rng.integers(2, 7)))
    ]
    shop = make_shop(parts, pieces, orders)
    pool = []
    for row in range(len(pieces)):
        for _ in range(int(rng.integers(0, 4))):
            made = tuple(int(n) for n in rng.integers(0, 4, len(demands_of(shop))))
            if any(made):
                pool.append(
                    Candidate(
                        rows=(row,),
                        made=made,
                        laid=(),
                        value=float(rng.integers(2, 30)) / 2,
                        used_up=float(rng.integers(4, 9)) / 3,
                        seams_mm=float(rng.integers(0, 3)) * 50,
                    )
                )
    for _ in range(6):  # glue-ups take a copy of several rows, perhaps two of one
        rows = tuple(sorted(int(r) for r in rng.integers(0, len(pieces), 2)))
        if all(pieces[r].count >= rows.count(r) for r in rows):
            made = tuple(int(n) for n in rng.integers(1, 4, len(demands_of(shop))))
            pool.append(Candidate(rows=rows, made=made, laid=(), value=4.5, used_up=1.5, seams_mm=300.0))
    return shop, pool


def by_highs(shop, pool):
    """Settle the objectives one after the other with HiGHS; return their values."""
    orders, demands = served(shop), demands_of(shop)
    n, m = len(pool), len(orders)
    rows, low, high = [], [], []
    for row, piece in enumerate(shop.pieces):
        rows.append([float(c.rows.count(row)) for c in pool] + [0.0] * m)
        low.append(0.0)
        high.append(piece.count)
    for w, want in enumerate(demands):
        rows.append([float(c.made[w]) for c in pool] + [-float(o.name in want.orders) for o in orders])
        low.append(0.0)
        high.append(0.0)
    goals = [[0.0] * n + [-float(k in group) for k in range(m)] for group in groups_of(orders)]
    for measure in (
        lambda c: round(c.value * 1e4),
        lambda c: round(c.used_up * 1e4),
        lambda c: round(c.seams_mm),
    ):
        goals.append([float(measure(c)) for c in pool] + [0.0] * m)
    top = [min(shop.pieces[r].count // c.rows.count(r) for r in c.rows) for c in pool] + [
        o.count for o in orders
    ]
    values = []
    for goal in goals:
        answer = milp(
            np.array(goal),
            constraints=LinearConstraint(np.array(rows), low, high),
            integrality=np.ones(n + m),
            bounds=Bounds(0, top),
            options={"mip_rel_gap": 0},
        )
        assert answer.status == 0, answer.message
        values.append(round(answer.fun))
        rows.append(goal)
        low.append(-np.inf)
        high.append(values[-1] + 0.25)
    return values


@pytest.mark.outside(source="HiGHS through scipy.optimize.milp, an independent solver", mark="D")
@pytest.mark.parametrize("seed", range(25))
def test_choice_against_another_solver(seed):
    """Every objective, settled in order, has the value that another solver finds."""
    shop, pool = random_case(np.random.default_rng(seed))
    if not pool:
        pytest.skip("this seed made no candidate")
    choice = pick(shop, pool)
    expected = by_highs(shop, pool)
    assert all(o.proven for o in choice.objectives)
    for got, best in zip(choice.objectives, expected, strict=False):
        step = 1.0 if got.goal in ("copies", "seams") else 1e-4
        sign = -1 if got.goal == "copies" else 1
        assert got.value == pytest.approx(sign * best * step, abs=1e-9), got.name
    assert len(expected) - len(choice.objectives) == (0 if any(c.seams_mm for c in pool) else 1)
