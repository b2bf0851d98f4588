"""Rows that may stand beside each other, against going through them one by one."""

from collections import Counter
from dataclasses import replace
from itertools import combinations_with_replacement, permutations

import numpy as np
import pytest

from nestyield.glueup.mates import Mates, blocks, rows_beside
from nestyield.model import GlueUpRules, Outline, Piece, Shape

BOARD = Piece(
    name="a",
    species="walnut",
    thickness_mm=20.0,
    shape=Shape(outer=Outline.rectangle(0.0, 0.0, 500.0, 100.0)),
    grain_deg=0.0,
)


def rack(rng, n):
    """Return pieces of two woods, some of one board, some of which no moisture is told."""
    return [
        replace(
            BOARD,
            name=f"p{k}",
            species=str(rng.choice(["walnut", "cherry"])),
            parent=str(rng.choice(["", "b1", "b2"])),
            moisture_pct=None if rng.random() < 0.3 else float(rng.integers(6, 14)),
        )
        for k in range(n)
    ]


def may(one, other, rules):
    """Tell what the shop's settings say of two pieces."""
    if one.species != other.species and not rules.mixed_species:
        return False
    if rules.one_board and one.board != other.board:
        return False
    known = one.moisture_pct is not None and other.moisture_pct is not None
    return not known or abs(one.moisture_pct - other.moisture_pct) <= rules.moisture_difference


@pytest.mark.parametrize("mixed", [False, True])
@pytest.mark.parametrize("one_board", [False, True])
def test_mates_are_those_that_the_settings_let_be_glued(mixed, one_board):
    rng = np.random.default_rng([1, mixed, one_board])
    pieces = rack(rng, 30)
    rules = GlueUpRules(mixed_species=mixed, one_board=one_board, moisture_difference=2.0)
    mates = Mates(pieces, rules)
    rows = np.arange(30)
    told = mates.block(rows[:20], rows)
    for i in range(20):
        for k in range(30):
            if i != k:
                assert told[i, k] == may(pieces[i], pieces[k], rules) == mates.together((i, k))
    assert not mates.together((0, 1, 2)) or (told[0, 1] and told[0, 2] and told[1, 2])


def test_blocks_give_every_row_once_whatever_their_size():
    rows = np.arange(2500)
    assert np.concatenate(list(blocks(rows, 1000))).tolist() == rows.tolist()
    assert len(list(blocks(rows, 1000))) == 3


@pytest.mark.parametrize("size", [2, 3, 4])
def test_no_row_that_may_stand_twice_is_left_out(size):
    rng = np.random.default_rng([2, size])
    n = 9
    pieces = rack(rng, n)
    rules = GlueUpRules(moisture_difference=2.0)
    mates = Mates(pieces, rules)
    area, count = rng.uniform(2.0, 9.0, n), rng.integers(1, 3, n)
    value = rng.integers(1, 8, n).astype(float)
    up = np.where(rng.random(n) < 0.3, -np.inf, rng.uniform(0.0, 50.0, n))
    down = np.where(rng.random(n) < 0.3, np.inf, rng.uniform(30.0, 100.0, n))
    give = rng.uniform(-5.0, 40.0, n)
    serving = np.flatnonzero(rng.random(n) < 0.9)
    least, below, kept, all_of_them = 12.0, 16.0, 0, 0
    for others in combinations_with_replacement(serving.tolist(), size - 2):
        told = set(rows_beside(others, serving, mates, area, count, value, (up, down, give), least, below))
        for row in serving.tolist():
            counted = Counter((row, row, *others))
            wood = sum(area[r] * min(k, count[r]) for r, k in counted.items())
            cost = sum(value[r] for r in counted)
            alike = all(may(pieces[r], pieces[s], rules) for r in counted for s in counted if r != s)
            bridged = any(
                np.isfinite(down[way[-1]] - up[way[0]])
                and sum(give[r] for r in way[1:-1]) >= down[way[-1]] - up[way[0]]
                for way in permutations((row, row, *others))
            )
            good = wood >= least and cost < below and alike and bridged
            assert row in told or not good
            kept += row in told
            all_of_them += 1
    assert kept < all_of_them
