"""Cuttings found by nestyield against exhaustive search on a grid: 200 random boards, every grade.

The grid is 1 in across and 1 ft along; defects lie on it and the rules' least sizes are whole inches and
feet, so the best set on the grid is the best set anywhere. Every rectangle of the grid that is clear
and large enough is a candidate; the choice among all of them is solved exactly (HiGHS through scipy).

    python scripts/grade_study.py [boards] [first seed]
"""

from __future__ import annotations

import sys
import time
from itertools import product

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from nestyield.wood.clear import Box
from nestyield.wood.cuttings import best_cuttings

FOOT = 12
#: Least (length, width) in inches and the cuttings tried, by grade.
RULES = {
    "FAS": (((60, 4), (84, 3)), (1, 2, 3, 4)),
    "No. 1 Common": (((24, 4), (36, 3)), (1, 3, 5)),
    "No. 2A Common": (((24, 3),), (2, 7)),
}


def random_board(rng: np.random.Generator) -> tuple[int, int, list[Box]]:
    """Return length and width in inches and defects on the grid."""
    feet, width = int(rng.integers(6, 15)), int(rng.integers(4, 13))
    defects = []
    for _ in range(int(rng.integers(1, 7))):
        x0, y0 = int(rng.integers(0, feet)), int(rng.integers(0, width))
        x1 = min(feet, x0 + int(rng.integers(1, 3)))
        y1 = min(width, y0 + int(rng.integers(1, 4)))
        defects.append((x0 * FOOT, y0, x1 * FOOT, y1))
    return feet * FOOT, width, defects


def exhaustive(
    length: int, width: int, defects: list[Box], least: tuple[tuple[int, int], ...], most: int
) -> int:
    """Return the greatest area of up to ``most`` disjoint clear cuttings on the grid, square inches."""
    feet = length // FOOT
    blocked = np.zeros((feet, width), dtype=bool)
    for x0, y0, x1, y1 in defects:
        blocked[x0 // FOOT : x1 // FOOT, y0:y1] = True
    areas, rows, columns = [], [], []
    for x0, x1, y0, y1 in product(range(feet), range(1, feet + 1), range(width), range(1, width + 1)):
        big = any((x1 - x0) * FOOT >= a and y1 - y0 >= b for a, b in least)
        if x0 < x1 and y0 < y1 and big and not blocked[x0:x1, y0:y1].any():
            cells = [x * width + y for x, y in product(range(x0, x1), range(y0, y1))]
            rows += cells
            columns += [len(areas)] * len(cells)
            areas.append(len(cells) * FOOT)
    if not areas:
        return 0
    once = coo_array((np.ones(len(rows)), (rows, columns)), shape=(feet * width, len(areas))).tocsr()
    few = coo_array(np.ones((1, len(areas)))).tocsr()
    answer = milp(
        -np.array(areas, dtype=float),
        constraints=[LinearConstraint(once, 0, 1), LinearConstraint(few, 0, most)],
        integrality=np.ones(len(areas)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    if answer.status != 0:
        raise RuntimeError(answer.message)
    return round(-answer.fun)


def sound(
    length: int, width: int, defects: list[Box], least: tuple[tuple[int, int], ...], boxes: tuple[Box, ...]
) -> bool:
    """Return whether cuttings are on the board, clear, disjoint and large enough."""

    def meet(a: Box, b: Box) -> bool:
        return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]

    return (
        all(0 <= a < c <= length and 0 <= b < d <= width for a, b, c, d in boxes)
        and all(any(c - a >= x and d - b >= y for x, y in least) for a, b, c, d in boxes)
        and not any(meet(box, d) for box in boxes for d in defects)
        and not any(meet(p, q) for i, p in enumerate(boxes) for q in boxes[:i])
    )


def main() -> int:
    boards = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    tally = {(g, k): [0, 0, 0.0, 0.0] for g, (_, counts) in RULES.items() for k in counts}
    worse = []
    for seed in range(first, first + boards):
        length, width, defects = random_board(np.random.default_rng(seed))
        for (grade, most), row in tally.items():
            least = RULES[grade][0]
            began = time.perf_counter()
            found = best_cuttings(length, width, defects, least, most)
            row[2] += time.perf_counter() - began
            began = time.perf_counter()
            best = exhaustive(length, width, defects, least, most)
            row[3] += time.perf_counter() - began
            area = sum((c - a) * (d - b) for a, b, c, d in found.boxes)
            if not sound(length, width, defects, least, found.boxes) or area != found.value:
                worse.append(f"seed {seed} {grade} {most}: not a sound set of cuttings")
            row[0] += found.value == best
            row[1] += found.value < best
            if found.value != best:
                worse.append(f"seed {seed} {grade} {most}: found {found.value}, grid {best} square inches")
            if found.bound < best:
                worse.append(f"seed {seed} {grade} {most}: bound {found.bound} under the grid's {best}")
    print(f"{boards} boards from seed {first}")
    print(f"{'grade':15} {'cuttings':>8} {'equal':>6} {'less':>5} {'search s':>9} {'grid s':>8}")
    for (grade, most), (equal, less, ours, grids) in tally.items():
        print(f"{grade:15} {most:8} {equal:6.0f} {less:5.0f} {ours:9.2f} {grids:8.2f}")
    print("\n".join(worse) or "no differences")
    return bool(worse)


if __name__ == "__main__":
    raise SystemExit(main())
