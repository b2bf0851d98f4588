"""The largest clear rectangles between defects."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

#: x0, y0, x1, y1 in ticks.
Box = tuple[int, int, int, int]


def clear_boxes(length: int, width: int, defects: Sequence[Box]) -> list[Box]:
    """Return every largest clear rectangle of a board: those that no other clear one contains.

    Parameters
    ----------
    length, width : int
        Of the board, ticks.
    defects : sequence of (x0, y0, x1, y1)
        May overlap one another and the board's edge.
    """
    inside = [
        (max(0, a), max(0, b), min(length, c), min(width, d))
        for a, b, c, d in defects
        if a < length and c > 0 and b < width and d > 0
    ]
    xs = sorted({0, length, *(x for a, _, c, _ in inside for x in (a, c))})

    def free(x0: int, y0: int, x1: int, y1: int) -> bool:
        return not any(a < x1 and c > x0 and b < y1 and d > y0 for a, b, c, d in inside)

    found: list[Box] = []
    for i, j in combinations(range(len(xs)), 2):
        x0, x1, y = xs[i], xs[j], 0
        for b, d in [*sorted((b, d) for a, b, c, d in inside if a < x1 and c > x0), (width, width)]:
            if b > y:
                longer = (i > 0 and free(xs[i - 1], y, x0, b)) or (
                    j + 1 < len(xs) and free(x1, y, xs[j + 1], b)
                )
                if not longer:
                    found.append((x0, y, x1, b))
            y = max(y, d)
    return sorted(found)
