"""Disturbances: what moves, and that everything stays in the strip."""

import numpy as np
import pytest

from nestyield.nesting.disturb import SHARES, disturb, swap
from nestyield.nesting.moves import fresh_state
from nestyield.nesting.shapes import build_tables

BOX = np.array([[0.0, 0.0, 40.0, 20.0]])


@pytest.fixture
def arrangement(shapes_of):
    """Return a maker of tables and a random state of bars, wedges and chips."""
    shapes = shapes_of(
        [
            ([(0, 0), (9, 0), (9, 3), (0, 3)], (0.0, 90.0)),
            ([(0, 0), (5, 0), (0, 4)], (0.0,)),
            ([(0, 0), (1, 0), (1, 1), (0, 1)], (0.0,)),
        ]
    )

    def make(rng):
        tab = build_tables(shapes, 3)
        st = fresh_state(np.repeat(np.arange(3, dtype=np.int32), (4, 5, 3)), 0, BOX * 1000.0)
        st.shape[:] = tab.shapes[tab.shapes_start[st.kind]]
        st.pos[:] = rng.random(st.pos.shape) * (st.bin_box[0, 2:] - tab.size[st.shape])
        return tab, st

    return make


def test_parts_stay_in_the_strip_and_few_move(arrangement):
    """Guards the bounds after each way, and that each way moves as many parts as it says."""
    rng = np.random.default_rng(5)
    tab, st = arrangement(rng)
    seen = {name: [] for name, _ in SHARES}
    for _ in range(200):
        before = st.pos.copy()
        way = disturb(tab, st, np.arange(4), rng)
        seen[way].append(int((st.pos != before).any(axis=1).sum()))
        assert (st.pos >= 0).all()
        assert (st.pos + tab.size[st.shape] <= st.bin_box[0, 2:] + 1e-6).all()
    assert set(seen["insert"]) == {1}
    assert set(seen["swap"]) == {2}
    assert min(seen["scatter"]) == 2
    assert max(seen["scatter"]) > 4


def test_a_swap_exchanges_middles_of_different_kinds(arrangement):
    """Guards that two copies of one part are not exchanged for each other while others are there."""
    rng = np.random.default_rng(6)
    tab, st = arrangement(rng)
    size = tab.size[st.shape]
    st.pos[:] = 0.25 * st.bin_box[0, 2:] + 0.3 * rng.random(st.pos.shape) * st.bin_box[0, 2:]
    before = st.pos + 0.5 * size
    swap(tab, st, np.arange(len(st.kind)), rng)
    after = st.pos + 0.5 * size
    a, b = np.flatnonzero((after != before).any(axis=1))
    assert st.kind[a] != st.kind[b]
    np.testing.assert_allclose(after[[a, b]], before[[b, a]])
