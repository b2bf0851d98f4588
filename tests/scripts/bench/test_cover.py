"""Tilings with polyominoes against published counts."""

import pytest
from bench.cover import tilings


def _pentominoes():
    shapes = {frozenset({(0, 0)})}
    for _ in range(4):
        grown = set()
        for s in shapes:
            for x, y in s:
                for c in ((x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)):
                    if c not in s:
                        grown.add(_least(s | {c}))
        shapes = grown
    return [sorted(s) for s in sorted(shapes, key=sorted)]


def _least(cells):
    images = []
    for mirror in (1, -1):
        moved = [(mirror * x, y) for x, y in cells]
        for _ in range(4):
            moved = [(-y, x) for x, y in moved]
            x0, y0 = min(x for x, _ in moved), min(y for _, y in moved)
            images.append(frozenset((x - x0, y - y0) for x, y in moved))
    return min(images, key=sorted)


@pytest.mark.outside(
    source="Golomb, Polyominoes: 6 x 10 in 2,339 ways, 5 x 12 in 1,010, 4 x 15 in 368, 3 x 20 in 2", mark="M"
)
@pytest.mark.parametrize(
    ("rows", "columns", "count"), [(3, 20, 2), (4, 15, 368), (5, 12, 1010), (6, 10, 2339)]
)
def test_pentomino_rectangles(rows, columns, count, jit):
    """Guards that the exact search loses and doubles nothing."""
    if not jit and rows > 3:
        pytest.skip("the plain twin is slow")
    answer = tilings([(x, y) for x in range(columns) for y in range(rows)], _pentominoes(), [1] * 12)
    assert answer.complete
    assert answer.distinct() == count


@pytest.mark.outside(
    source="domino tilings of m x n boards, Kasteleyn 1961: 2 x 8 in 34, 4 x 4 in 36, 6 x 6 in 6,728",
    mark="M",
)
@pytest.mark.parametrize(("rows", "columns", "count"), [(2, 8, 34), (4, 4, 36), (6, 6, 6728)])
def test_domino_boards(rows, columns, count):
    """Guards pieces with several copies."""
    cells = [(x, y) for x in range(columns) for y in range(rows)]
    answer = tilings(cells, [[(0, 0), (1, 0)]], [rows * columns // 2])
    assert len(answer.solutions) == count


def test_wrong_area_has_no_tiling():
    """Guards the early answer."""
    assert tilings([(0, 0), (1, 0), (2, 0)], [[(0, 0), (1, 0)]], [1]).complete
