"""Rows left untried could not have bettered the value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
from nestyield.planning.denser import MOST_PARTS, PackingRequest
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
    clock = Clock(seconds=100_000)
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
        shop, served(shop), demands_of(shop), ask=ask, effort=1, seed=1, clock=Clock(seconds=100_000)
    )
    assert set(tried) == set(grown.answers)
    assert grown.untried == ()


def one_board(counts: tuple[int, int], copies: int = 1) -> Shop:
    """A board on which two kinds of strips go, and orders for them."""
    parts = tuple(
        Part(
            name=f"p{k}",
            drawing="",
            outline=Outline.rectangle(0, 0, length, 80),
            thickness_mm=20,
            grain_tolerance_deg=0,
        )
        for k, length in enumerate((300.0, 200.0))
    )
    board = Piece(
        name="R",
        species="x",
        thickness_mm=25,
        shape=Shape(outer=Outline.rectangle(0, 0, 1000, 400)),
        value=10.0,
        count=copies,
    )
    return Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6, blank_margin_mm=0),
        beds=(),
        parts=parts,
        pieces=(board,),
        orders=tuple(Order(name=f"o{k}", part=f"p{k}", count=n) for k, n in enumerate(counts)),
    )


def searches(shop: Shop, effort: int, found: tuple[int, ...] = ()) -> list[tuple[PackingRequest, int]]:
    """The searches asked for, with their effort, when rows carry one of each part and searches find that much."""
    asked: list[tuple[PackingRequest, int]] = []

    def carries(row: int, made: tuple[int, ...]) -> Candidate:
        return Candidate(rows=(row,), made=made, laid=(), value=10.0, used_up=0, seams_mm=0)

    def ask(rows: Mapping[int, tuple[int, ...]]) -> dict[int, RowAnswer]:
        return {row: RowAnswer(candidates=(carries(row, (1, 1)),), refusals=()) for row in rows}

    def search(
        some: Sequence[tuple[int, PackingRequest]], depth: int
    ) -> dict[tuple[int, PackingRequest], RowAnswer]:
        asked.extend((load, depth) for _, load in some)
        got = RowAnswer(candidates=(carries(0, found),) if found else (), refusals=())
        return dict.fromkeys(some, got)

    clock = Clock(seconds=100_000)
    generate_columns(
        shop, served(shop), demands_of(shop), ask=ask, search=search, effort=effort, seed=1, clock=clock
    )
    return asked


def test_while_copies_are_missing_all_parts_are_searched_for_together() -> None:
    """On the only board of a rack nothing is left out of the search, and each round has more effort than the last."""
    whole = ((0, 4), (1, 3))
    asked = searches(one_board((4, 3)), 20)
    assert {depth for load, depth in asked if load == whole} == {1, 4, 16, 20}
    assert all(
        asked.index((whole, depth)) < asked.index((load, depth)) for load, depth in asked if load != whole
    )
    assert all(sum(n for _, n in load) <= MOST_PARTS for load, _ in asked if load != whole)
    assert [depth for _, depth in asked] == sorted(depth for _, depth in asked)


def test_nothing_is_searched_for_once_all_is_found() -> None:
    """The first search finds all copies: no second one, however much effort there is."""
    assert searches(one_board((4, 3)), 1000, found=(4, 3)) == [(((0, 4), (1, 3)), 1)]


def test_more_than_the_area_holds_is_not_searched_for() -> None:
    """Parts with half a gap round them fill the board: one more cannot go on, and no search is made."""
    shop = one_board((1, 1))
    big = replace(shop.pieces[0], shape=Shape(outer=Outline.rectangle(0, 0, 330, 140)))
    more = tuple(replace(o, count=2) for o in shop.orders)
    # by hand: 300 x 80 and 200 x 80 with 4.5 mm round them are 46 264 mm2, another 200 x 80 would make 64 865;
    # the board with 4.5 mm round it is 50 494 mm2
    assert searches(replace(shop, pieces=(big,), orders=more), 20) == []
