"""The search for cuttings against exhaustive search and hand-made boards."""

from functools import cache
from itertools import product

import numpy as np
import pytest

from nestyield.wood.cuttings import best_cuttings

ANY = ((1, 1),)


def meet(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def check_sound(length, width, defects, least, found):
    """Assert that cuttings are on the board, clear, disjoint, large enough, and add up."""
    boxes = found.boxes
    assert all(0 <= a < c <= length and 0 <= b < d <= width for a, b, c, d in boxes)
    assert all(any(c - a >= x and d - b >= y for x, y in least) for a, b, c, d in boxes)
    assert not any(meet(box, d) for box in boxes for d in defects)
    assert not any(meet(p, q) for i, p in enumerate(boxes) for q in boxes[:i])
    assert sum((c - a) * (d - b) for a, b, c, d in boxes) == found.value <= found.bound


def exhaustive(length, width, defects, least, most):
    """Try every set of disjoint clear rectangles of a grid, cell by cell; return the greatest area."""
    cells = length * width
    bad = 0
    for x, y in product(range(length), range(width)):
        if any(meet((x, y, x + 1, y + 1), d) for d in defects):
            bad |= 1 << (x * width + y)
    starts = {}
    for x0, y0 in product(range(length), range(width)):
        fits = []
        for x1, y1 in product(range(x0 + 1, length + 1), range(y0 + 1, width + 1)):
            if any(x1 - x0 >= a and y1 - y0 >= b for a, b in least):
                mask = sum(1 << (x * width + y) for x, y in product(range(x0, x1), range(y0, y1)))
                if not mask & bad:
                    fits.append((mask, (x1 - x0) * (y1 - y0)))
        starts[x0 * width + y0] = fits

    @cache
    def best(cell, taken, left):
        if cell == cells or not left:
            return 0
        later = (taken >> (cell + 1)) << (cell + 1)
        most_here = best(cell + 1, later, left)
        if not taken >> cell & 1:
            for mask, area in starts[cell]:
                if not mask & taken:
                    both = taken | mask
                    rest = (both >> (cell + 1)) << (cell + 1)
                    most_here = max(most_here, area + best(cell + 1, rest, left - 1))
        return most_here

    return best(0, 0, most)


def test_clear_board():
    """A clear board is one cutting, however many are allowed; a covered or too small one has none."""
    assert best_cuttings(96, 6, [], ANY, 4).boxes == ((0, 0, 96, 6),)
    assert best_cuttings(96, 6, [(0, 0, 96, 6)], ANY, 4).boxes == ()
    assert best_cuttings(96, 6, [], ((60, 8),), 4).boxes == ()
    assert best_cuttings(96, 6, [], ANY, 0).boxes == ()


@pytest.mark.outside(source="every set of cuttings on a grid, tried one by one", mark="D")
def test_pinwheel():
    """Four cuttings turn round a knot in the middle where straight cuts alone would lose wood."""
    least = ((2, 1), (1, 2))
    found = best_cuttings(3, 3, [(1, 1, 2, 2)], least, 4)
    assert found.value == 8 == exhaustive(3, 3, [(1, 1, 2, 2)], least, 4)
    assert len(found.boxes) == 4
    assert all((c - a) * (d - b) == 2 for a, b, c, d in found.boxes)


def test_least_sizes_in_a_row():
    """A line between cuttings may lie one or two least sizes away from a defect."""
    defects = [(0, 4, 20, 5), (0, 0, 1, 1), (20, 0, 21, 5), (8, 3, 9, 4)]
    for most in (1, 2, 3):
        for least in (((5, 2),), ((3, 1), (2, 3))):
            found = best_cuttings(21, 5, defects, least, most)
            check_sound(21, 5, defects, least, found)
            assert found.value == exhaustive(21, 5, defects, least, most) == found.bound


def random_board(seed, length, width):
    rng = np.random.default_rng(seed)
    defects = []
    for _ in range(int(rng.integers(1, 5))):
        x, y = int(rng.integers(0, length)), int(rng.integers(0, width))
        defects.append((x, y, x + int(rng.integers(1, 4)), y + int(rng.integers(1, 3))))
    return defects


@pytest.mark.outside(source="every set of cuttings on a grid, tried one by one", mark="D")
@pytest.mark.parametrize("seed", range(20))
def test_against_every_set_of_cuttings(seed):
    """On small random boards no set of cuttings, tried exhaustively, beats the one found."""
    length, width = 9, 5
    defects = random_board(seed, length, width)
    for least, most in ((((3, 2), (4, 1)), 2), (((2, 1), (1, 2)), 4), (((3, 1),), 5), (((2, 2),), 3)):
        found = best_cuttings(length, width, defects, least, most)
        check_sound(length, width, defects, least, found)
        assert found.value == exhaustive(length, width, defects, least, most)


@pytest.mark.study
def test_whole_units():
    """Whole units count each cutting without its fraction, and the ceiling of steps is told."""
    found = best_cuttings(10, 3, [(4, 0, 5, 3)], ANY, 2, unit=4)
    assert found.value == 12 // 4 + 15 // 4
    cut_short = best_cuttings(40, 20, random_board(3, 40, 20), ((3, 2),), 7, ceiling=3)
    assert not cut_short.complete
    assert cut_short.value <= cut_short.bound
