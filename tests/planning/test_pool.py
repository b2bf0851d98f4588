"""Rows left untried could not have bettered the value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from nestyield.model import Order, Outline, Part, Piece, Settings, Shape, Shop
from nestyield.model.facts import RowsRuledOut
from nestyield.planning import pool as pools
from nestyield.planning.candidates import Candidate, RowAnswer
from nestyield.planning.choice import choose
from nestyield.planning.clock import Clock
from nestyield.planning.demand import demands_of, served
from nestyield.planning.pool import generate_columns
from nestyield.planning.worth import value_of


def random_shop(rng: np.random.Generator) -> Shop:
    """A shop of strips: parts go on a piece when they are no longer than it, all together."""
    parts = [
        Part(
            name=f"p{k}",
            drawing="",
            outline=Outline.rectangle(0, 0, float(rng.integers(100, 400)), 80),
            thickness_mm=20,
            grain_tolerance_deg=0,
        )
        for k in range(4)
    ]
    pieces = [
        Piece(
            name=f"R{k}",
            species="x",
            thickness_mm=25,
            shape=Shape(outer=Outline.rectangle(0, 0, float(rng.integers(100, 900)), 100)),
            value=float(rng.integers(1, 30)),
        )
        for k in range(60)
    ]
    orders = [Order(name=f"o{k}", part=f"p{k}", count=int(rng.integers(1, 4)), priority=k) for k in range(4)]
    return Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6, blank_margin_mm=0),
        beds=(),
        parts=tuple(parts),
        pieces=tuple(pieces),
        orders=tuple(orders),
    )


def strips(shop: Shop, tried: list[int]) -> Any:
    """Answer about rows by lengths alone, so that thousands can be asked."""
    demands = demands_of(shop)
    lengths = [shop.part(w.part).outline.points_mm[1][0] for w in demands]

    def ask(rows: Mapping[int, tuple[int, ...]]) -> dict[int, RowAnswer]:
        tried.extend(rows)
        out = {}
        for row, asked in rows.items():
            piece = shop.pieces[row]
            have = piece.shape.outer.points_mm[1][0]
            made = {(0,) * len(demands)}
            for w in asked:
                for old in list(made):
                    for n in range(1, demands[w].count + 1):
                        new = tuple(v + n if i == w else v for i, v in enumerate(old))
                        if sum(v * mm for v, mm in zip(new, lengths)) <= have:
                            made.add(new)
            value = value_of(piece, shop.settings)
            out[row] = RowAnswer(
                candidates=tuple(
                    Candidate(rows=(row,), made=m, laid=(), value=value, used_up=0, seams_mm=0)
                    for m in sorted(made)
                    if any(m)
                ),
                refusals=(),
            )
        return out

    return ask


@pytest.mark.parametrize("seed", range(6))
def test_same_value_as_trying_every_row(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Copies and value of the grown pool equal those of the whole rack, with fewer rows tried."""
    shop = random_shop(np.random.default_rng(seed))
    orders, demands = served(shop), demands_of(shop)
    clock = Clock(seconds=300)
    values = {}
    for small in (0, 1000):
        monkeypatch.setattr(pools, "SMALL_RACK", small)
        tried: list[int] = []
        grown = generate_columns(
            shop, orders, demands, ask=strips(shop, tried), effort=1, seed=1, clock=clock
        )
        assert len(tried) == len(set(tried))
        choice = choose(shop, orders, demands, grown.candidates, effort=1, seed=1, clock=clock, rough=True)
        values[small] = [o.value for o in choice.objectives], len(tried)
        if small == 0:
            assert any(isinstance(u, RowsRuledOut) for u in grown.untried)
    assert values[0][0] == values[1000][0]
    assert values[0][1] < values[1000][1]


def test_order_that_cannot_be_met_tries_all_that_might(monkeypatch: pytest.MonkeyPatch) -> None:
    """While copies are missing, every row that might make them is tried."""
    shop = random_shop(np.random.default_rng(99))
    more = tuple(Order(name=o.name, part=o.part, count=500, priority=o.priority) for o in shop.orders)
    shop = replace(shop, orders=more)
    monkeypatch.setattr(pools, "SMALL_RACK", 0)
    tried: list[int] = []

    def ask(rows: Mapping[int, tuple[int, ...]]) -> dict[int, RowAnswer]:
        tried.extend(rows)
        return {row: RowAnswer(candidates=(), refusals=()) for row in rows}

    grown = generate_columns(
        shop, served(shop), demands_of(shop), ask=ask, effort=1, seed=1, clock=Clock(seconds=99)
    )
    assert set(tried) == set(grown.answers)
    assert grown.untried == ()
