"""The largest clear rectangles, against all rectangles of a grid."""

from itertools import product

import numpy as np
import pytest

from nestyield.wood.clear import clear_boxes


def test_largest_clear_boxes():
    """One defect in the middle leaves four largest clear boxes, which meet in pairs."""
    assert clear_boxes(10, 6, [(4, 2, 5, 3)]) == [(0, 0, 4, 6), (0, 0, 10, 2), (0, 3, 10, 6), (5, 0, 10, 6)]
    assert clear_boxes(10, 6, []) == [(0, 0, 10, 6)]
    assert clear_boxes(10, 6, [(-5, -5, 50, 50)]) == []
    assert clear_boxes(10, 6, [(10, 0, 20, 6)]) == [(0, 0, 10, 6)]


@pytest.mark.parametrize("seed", range(15))
def test_against_every_rectangle(seed):
    """The largest clear boxes are just those clear rectangles of the grid that no other one contains."""
    rng = np.random.default_rng(seed)
    length, width = 9, 6
    blocked = np.zeros((length, width), dtype=bool)
    defects = []
    for _ in range(4):
        x, y = int(rng.integers(0, length)), int(rng.integers(0, width))
        x1, y1 = x + int(rng.integers(1, 4)), y + int(rng.integers(1, 3))
        defects.append((x, y, x1, y1))
        blocked[x:x1, y:y1] = True
    clear = [
        (a, b, c, d)
        for a, c, b, d in product(range(length), range(1, length + 1), range(width), range(1, width + 1))
        if a < c and b < d and not blocked[a:c, b:d].any()
    ]
    largest = [
        p
        for p in clear
        if not any(q != p and q[0] <= p[0] and q[1] <= p[1] and q[2] >= p[2] and q[3] >= p[3] for q in clear)
    ]
    assert clear_boxes(length, width, defects) == sorted(largest)
