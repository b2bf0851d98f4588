"""Answers about rows kept between runs."""

from dataclasses import replace

import pytest

from nestyield.model import Order, Outline, Preferences, Shape
from nestyield.planfile import dumps
from nestyield.planning.run import make_plan

HOW = {"seed": 1, "effort": 1, "seconds": 60.0, "workers": 1}


class Memory:
    """A cache in a dictionary that counts answers about rows."""

    def __init__(self):
        self.data, self.puts = {}, 0

    def get(self, key):
        return self.data.get(key)

    def put(self, key, data):
        self.puts += key.startswith("row ")
        self.data[key] = data


def shop_of(make):
    pieces = [
        make.board("A", 700, 300),
        make.board("B", 320, 220, count=2),
        make.board("C", 640, 105),
        make.board("D", 900, 260, species="limba"),
    ]
    parts = [make.part("body", 300, 200, species=("sugar maple",)), make.part("neck", 600, 80)]
    orders = [Order(name="bodies", part="body", count=3), Order(name="neck", part="neck")]
    # nothing is shifted for leftovers: that asks about no row
    return make.shop(pieces, parts, orders, settings={"prefer": Preferences(largest_leftover=0.0)})


def test_the_plan_is_the_same_with_answers_and_without(make):
    """A run that remembers all, some, or spoiled answers gives the plan of a run that remembers none."""
    shop = shop_of(make)
    fresh = make_plan(shop, **HOW)
    memory = Memory()
    assert make_plan(shop, **HOW, cache=memory) == fresh
    assert memory.puts == 4
    assert dumps(make_plan(shop, **HOW, cache=memory)) == dumps(fresh)
    assert memory.puts == 4
    for key in [k for k in memory.data if k.startswith("row ")][:2]:
        memory.data[key] = b"{}"
    assert make_plan(shop, **HOW, cache=memory) == fresh
    assert memory.puts == 6


@pytest.mark.study
def test_every_kind_of_answer_comes_back_as_it_was(make):
    """Rows, choices, layouts, glue-ups and closer looks from the cache give the very bytes of a cold run."""
    ring = Shape(outer=Outline.rectangle(0, 0, 700, 300), holes=(Outline.circle(350, 150, 110),))
    pieces = [make.board(f"S{k}", 520, 125 + k) for k in range(3)] + [
        make.board("A", 700, 300, species="limba")
    ]
    pieces.append(make.board("H", 1, 1, shape=ring, species="ash"))
    parts = [
        make.part("wide", 450, 200, species=("sugar maple",)),
        make.part("neck", 600, 80, species=("limba",)),
        make.part("plate", 600, 250, species=("ash",)),
    ]
    orders = [Order(name=p.name, part=p.name, count=2, priority=k) for k, p in enumerate(parts, 1)]
    shop = make.shop(pieces, parts, orders)
    memory = Memory()
    cold = dumps(make_plan(shop, **HOW))
    assert dumps(make_plan(shop, **HOW, cache=memory)) == cold
    kinds = {key.split()[0] for key in memory.data}
    assert {"row", "choice", "layout", "look", "glue-ups"} <= kinds
    known = len(memory.data)
    assert dumps(make_plan(shop, **HOW, cache=memory)) == cold
    assert len(memory.data) == known


def test_only_rows_that_changed_are_tried(make):
    """A new row, a moved row, a note or another count asks nothing about the others."""
    shop = shop_of(make)
    memory = Memory()
    make_plan(shop, **HOW, cache=memory)
    a, b, c, d = shop.pieces
    moved = replace(
        shop,
        pieces=(
            make.board("N", 400, 300),
            replace(d, note="x", row=3),
            replace(b, count=1),
            replace(a, thickness_mm=46.8),
            c,
        ),
    )
    assert make_plan(moved, **HOW, cache=memory) == make_plan(moved, **HOW)
    assert memory.puts == 6  # N, and A with its new thickness


@pytest.mark.study
def test_what_the_answers_rest_on_counts(make):
    """Another cutter or bed asks about every row again; another part or number about those it matters to."""
    shop = shop_of(make)
    body, neck = shop.parts
    before = Memory()
    make_plan(shop, **HOW, cache=before)
    assert before.puts == 4
    for other, asked in (
        (replace(shop, parts=(replace(body, thickness_mm=43.5), neck)), 2),  # A and B
        (replace(shop, settings=replace(shop.settings, cutter_diameter_mm=8.0)), 4),
        (replace(shop, beds=(replace(shop.beds[0], travel_x_mm=1500.0),)), 4),
        (replace(shop, orders=(replace(shop.orders[0], count=2), shop.orders[1])), 1),  # A, room for three
    ):
        memory = Memory()
        memory.data.update(before.data)
        make_plan(other, **HOW, cache=memory)
        assert memory.puts == asked
