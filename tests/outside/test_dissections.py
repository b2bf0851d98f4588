"""Dissections that are known to fill a square or rectangle: the audit and the placement must agree."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from nestyield.model import Outline
from nestyield.placement.single import place_part

#: Seven pieces on a 4 x 4 square: two large triangles, a middle one, two small, square and parallelogram.
TANGRAM = [
    [(0, 0), (4, 0), (2, 2)],
    [(0, 0), (2, 2), (0, 4)],
    [(4, 4), (2, 4), (4, 2)],
    [(2, 2), (3, 1), (4, 2), (3, 3)],
    [(4, 0), (4, 2), (3, 1)],
    [(2, 2), (3, 3), (1, 3)],
    [(0, 4), (1, 3), (3, 3), (2, 4)],
]

A, B, G, D = (0, 12), (0, 0), (12, 0), (12, 12)
E, Z = (6, 0), (6, 12)  # middles of BG and AD
H, T = (3, 0), (3, 6)  # middle of BE, and above it on BZ
L = (4, 8)  # where AG meets BZ
K = (2, 4)  # where HA meets BZ
M = (2, 10)  # middle of AL
F = (6, 6)  # where AG meets EZ
N, C = (12, 6), (9, 6)  # middles of GD and ZG
P = (8, 4)  # where EC meets AG
O = (12, 8)  # where BC, made longer, meets GD  # noqa: E741
#: Fourteen pieces of the square ABGD, cut along AG, BZ, ZG, EZ, HT, HK, BM, EC, CO, CN.
FOURTEEN = [
    [A, B, M],
    [B, L, M],
    [A, L, Z],
    [L, F, Z],
    [B, H, K],
    [H, T, K],
    [H, E, F, L, T],
    [E, P, F],
    [E, G, P],
    [P, G, C],
    [F, P, C, Z],
    [C, G, N],
    [C, N, O],
    [Z, C, O, D],
]
#: Rows of squares from one side, as they rest on what is below: the square of order 21 and side 112.
ORDER_21 = [
    (50, 35, 27), (8, 19), (15, 17, 11), (6, 24), (29, 25, 9, 2), (7, 18), (16,), (42,), (4, 37), (33,)
]  # fmt: skip
#: Likewise the rectangle 33 x 32 of nine squares.
ORDER_9 = [(18, 15), (7, 8), (14, 4), (10, 1), (9,)]


def scaled(pieces, mm):
    return [[(x * mm, y * mm) for x, y in piece] for piece in pieces]


def area(polygon):
    return 0.5 * sum(
        x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(polygon, polygon[1:] + polygon[:1], strict=True)
    )


def squares_of(rows, width):
    """Lay rows of squares by their code: each row fills the lowest stretch of the skyline, left to right."""
    height = [0] * width
    squares = []
    for row in rows:
        x = height.index(min(height))
        for side in row:
            low = height[x]
            assert set(height[x : x + side]) == {low}
            squares.append((x, low, side))
            height[x : x + side] = [low + side] * side
            x += side
    assert len(set(height)) == 1
    return squares, height[0]


def corners(x, y, side):
    return [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]


def puzzles():
    squares_21, top_21 = squares_of(ORDER_21, 112)
    squares_9, top_9 = squares_of(ORDER_9, 33)
    assert (top_21, top_9) == (112, 32)
    return {
        "tangram": (scaled(TANGRAM, 75.0), (300.0, 300.0)),
        "fourteen": (scaled(FOURTEEN, 30.0), (360.0, 360.0)),
        "order 9": (scaled([corners(*s) for s in squares_9], 12.7), (33 * 12.7, 32 * 12.7)),
        "order 21": (scaled([corners(*s) for s in squares_21], 4.0), (448.0, 448.0)),
    }


PUZZLES = puzzles()

every_puzzle = pytest.mark.parametrize(
    "name", ["tangram", "fourteen", "order 9", pytest.param("order 21", marks=pytest.mark.study)]
)


def known(text):
    return pytest.mark.outside(source=text, mark="M")


@known("areas of the fourteen pieces on a 12 x 12 square (Archimedes' Stomachion), as remembered")
@pytest.mark.outside(source="construction of the fourteen-piece square as the Arabic text has it", mark="M")
def test_fourteen_areas():
    """The construction by middles and crossings gives the fourteen known areas, all whole multiples of 3."""
    assert sorted(area(p) for p in FOURTEEN) == [3, 3, 6, 6, 6, 6, 9, 12, 12, 12, 12, 12, 21, 24]
    # each crossing lies on the lines that it is said to be on
    for p, q, r in (
        (A, L, G),
        (B, L, Z),
        (H, K, A),
        (B, K, Z),
        (A, F, G),
        (E, P, C),
        (A, P, G),
        (B, C, O),
        (Z, C, G),
    ):
        assert (q[0] - p[0]) * (r[1] - p[1]) == (q[1] - p[1]) * (r[0] - p[0])


@known("squares of the order-21 perfect squared square, side 112 (Duijvestijn 1978), as remembered")
@known("squares of the order-9 squared rectangle, 33 x 32 (Moron 1925), as remembered")
def test_squares_all_differ():
    """The codes lay 21 and 9 squares, no two alike, without a gap."""
    for rows, width, height in ((ORDER_21, 112, 112), (ORDER_9, 33, 32)):
        sides = [s for row in rows for s in row]
        assert len(set(sides)) == len(sides)
        assert sum(s * s for s in sides) == width * height


def laid_out(jigsaw, name, seed):
    """Return the blank's outline and the pieces, drawn turned any way, every other one mirrored."""
    pieces, (length, width) = PUZZLES[name]
    rng = np.random.default_rng(seed)
    laid = [
        jigsaw.lay_polygon(
            f"p{i}", piece, float(rng.uniform(-180, 180)) if seed else 0.0, bool(seed and i % 2)
        )
        for i, piece in enumerate(pieces)
    ]
    return Outline.rectangle(0, 0, length, width), laid


@pytest.mark.outside(
    source="dissections of a square and a rectangle that leave no gap, mathematics", mark="D"
)
@every_puzzle
@pytest.mark.parametrize("seed", [0, 1])
def test_audit_accepts(jigsaw, name, seed):
    """Pieces that fill the blank without gap or overlap pass the audit, drawn straight or turned."""
    outline, laid = laid_out(jigsaw, name, seed)
    plan = jigsaw.make_plan(outline, laid)
    assert jigsaw.errors(plan) == []
    (layout,) = plan.layouts
    assert layout.part_area_mm2 == pytest.approx(layout.stock_area_mm2, rel=1e-9)


@pytest.mark.outside(source="dissections without play: any shift overlaps a neighbor or an edge", mark="D")
@every_puzzle
def test_audit_refuses_a_shift(jigsaw, name):
    """A shift of 0.05 mm of a piece, in any of four directions, is refused."""
    outline, laid = laid_out(jigsaw, name, 1)
    plan = jigsaw.make_plan(outline, laid)
    for i in range(0, len(laid), 3):
        for dx, dy in ((50, 0), (-50, 0), (0, 50), (0, -50)):
            found = jigsaw.errors(jigsaw.shifted(plan, i, dx, dy))
            assert {f.code for f in found} & {"A204", "A206"}


@pytest.mark.outside(
    source="dissections without play: the last piece has exactly one hole to go to", mark="D"
)
@every_puzzle
def test_last_piece_finds_its_hole(jigsaw, name):
    """With all others laid, each piece is placed into the hole left for it, which leaves no play at all."""
    outline, laid = laid_out(jigsaw, name, 0)
    blank = jigsaw.make_blank(outline)
    for i, item in enumerate(laid):
        others = [(o.part, o.placement) for o in laid if o is not item]
        answer = place_part(item.part, blank, jigsaw.settings, taken=others, order=item.placement.order)
        assert answer.placement is not None, f"{item.part.name}: {answer.refusal}"
        filled = [*laid[:i], type(item)(item.part, answer.placement), *laid[i + 1 :]]
        assert jigsaw.errors(jigsaw.make_plan(outline, filled)) == []


def test_pieces_are_told_apart():
    """The polygons of each dissection run counter-clockwise and do not share their inside."""
    for pieces, (length, width) in PUZZLES.values():
        assert all(area(p) > 0 for p in pieces)
        assert sum(area(p) for p in pieces) == pytest.approx(length * width)
        assert all(p != q for p, q in combinations(pieces, 2))
