"""The choice is the best there is in the pool, objective by objective."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nestyield.model import Order
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import choose, groups_of
from nestyield.planning.clock import Clock
from nestyield.planning.demand import demands_of, served


def _load(name: str) -> Any:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


exhaustive = _load("exhaustive")


def pick(shop: Any, pool: list[Candidate], seed: int = 1) -> Any:
    return choose(
        shop, served(shop), demands_of(shop), pool, effort=1, seed=seed, clock=Clock(seconds=100_000)
    )


@pytest.mark.parametrize("seed", range(40))
def test_equal_to_exhaustive_search(seed: int) -> None:
    """On small racks every objective is what trying everything gives (scripts/study_choice.py: 200 more)."""
    shop, pool = exhaustive.random_choice(np.random.default_rng(seed))
    choice = pick(shop, pool)
    assert all(o.proven and o.value == o.bound for o in choice.objectives)
    expected = exhaustive.best_score(shop, pool)
    got = [o.value if o.goal == "copies" else -o.value for o in choice.objectives]
    steps = [1.0 if o.goal in ("copies", "seams") else 1e-4 for o in choice.objectives]
    for value, step, best in zip(got, steps, expected):
        assert value == pytest.approx(best * step, abs=1e-9)


def test_priority_is_strict(make: Any) -> None:
    """One copy of the first order is worth more than any number of later ones, and of any money."""
    orders = [Order(name="late", part="q", count=3, priority=2), Order(name="first", part="p", priority=1)]
    shop = make.shop(
        [make.board("R", 500, 200), make.board("S", 900, 400)],
        [make.part("p", 10, 10), make.part("q", 10, 10)],
        orders,
    )

    def candidate(row: int, made: tuple[int, int], value: float) -> Candidate:
        return Candidate(rows=(row,), made=made, laid=(), value=value, used_up=0, seams_mm=0)

    pool = [candidate(0, (0, 3), 1.0), candidate(0, (1, 0), 99.0)]
    choice = pick(shop, pool)
    assert choice.placed == (1, 0)
    pool.append(candidate(1, (1, 0), 1e6))
    assert pick(shop, pool).placed == (1, 3)


def test_groups_by_priority_and_due(make: Any) -> None:
    """Orders of equal priority and due date are counted together."""
    orders = [
        Order(name="a", part="p", priority=1, due="2027-01-01"),
        Order(name="b", part="p", priority=1),
        Order(name="c", part="p", priority=1, due="2027-01-01"),
    ]
    shop = make.shop([], [make.part("p", 10, 10)], orders)
    assert groups_of(served(shop)) == [[0, 1], [2]]


def test_empty_pool(make: Any) -> None:
    """With nothing to choose from nothing is placed, and that is proven."""
    shop = make.shop([], [make.part("p", 10, 10)], [Order(name="a", part="p")])
    choice = pick(shop, [])
    assert choice.placed == (0,)
    assert choice.used == ()
    assert choice.objectives[0].proven
