"""Perfect packings of rectangles, and most value from one."""

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from bench.rectangles import perfect_rectangles
from bench.worth import most_value

BENCH = Path(__file__).parents[4] / "shared" / "bench" / "rectangles"


def _filled(rects, sides, width, height, bins=1):
    cells = np.zeros((bins, width, height), dtype=int)
    for r in rects:
        w, h = sides[r.kind][::-1] if r.turned else sides[r.kind]
        cells[r.bin, r.x : r.x + w, r.y : r.y + h] += 1
    return bool((cells == 1).all())


def _cut(rng, x, y, w, h, least):
    """Random guillotine cuts: pieces that fill the box by construction."""
    if (w < 2 * least and h < 2 * least) or rng.random() < 0.05:
        return [(w, h)]
    if w >= h:
        c = int(rng.integers(least, w - least + 1)) if w >= 2 * least else 0
        return [(w, h)] if not c else _cut(rng, x, y, c, h, least) + _cut(rng, x + c, y, w - c, h, least)
    c = int(rng.integers(least, h - least + 1)) if h >= 2 * least else 0
    return [(w, h)] if not c else _cut(rng, x, y, w, c, least) + _cut(rng, x, y + c, w, h - c, least)


@pytest.mark.parametrize("turn", [False, True])
def test_pieces_cut_from_a_box_fill_it_again(turn, jit):
    """Guards the search on packings that exist by construction."""
    rng = np.random.default_rng(8)
    for _ in range(12 if jit else 1):
        sides = _cut(rng, 0, 0, 30, 24, 5)
        answer = perfect_rectangles(sides, [1] * len(sides), 30, 24, turn=turn, rng=rng)
        assert answer.rects is not None
        assert _filled(answer.rects, sides, 30, 24)


def test_no_perfect_packing_is_proved():
    """Guards that an exhausted search says so: the area fits, the sides do not."""
    answer = perfect_rectangles(
        [(3, 3), (2, 2), (1, 3)], [1, 1, 1], 4, 4, turn=True, rng=np.random.default_rng(1)
    )
    assert answer.rects is None
    assert answer.complete


def test_same_answer_with_any_number_of_workers(jit):
    """Guards that threads only share the work."""
    sides = _cut(np.random.default_rng(2), 0, 0, 40, 30, 5)
    a, b = (
        perfect_rectangles(
            sides, [1] * len(sides), 40, 30, turn=True, rng=np.random.default_rng(3), workers=k
        )
        for k in (1, 2)
    )
    assert a == b


@pytest.mark.outside(source="Hopper, Turton 2001 (C1 to C3), ESICUP data sets, CC0", mark="S")
def test_published_perfect_packings(jit):
    """Guards the published packings of 16 to 29 rectangles."""
    if not BENCH.is_dir() or not jit:
        pytest.skip(f"needs the benchmark folder {BENCH} and the compiler")
    for name, part in itertools.product(("c1", "c2", "c3"), (1, 2, 3)):
        data = json.loads((BENCH / f"{name}p{part}.json").read_text())
        sides = [tuple(r[:2]) for r in data["rects"]]
        answer = perfect_rectangles(
            sides, [r[2] for r in data["rects"]], data["bin_width"], data["known_optimum"], turn=True,
            rng=np.random.default_rng(1), workers=2,
        )  # fmt: skip
        assert answer.rects is not None
        assert _filled(answer.rects, sides, data["bin_width"], data["known_optimum"])


@pytest.mark.outside(source="Beasley 1985, ngcut1 to ngcut3: 164, 230, 247", mark="M")
def test_published_values():
    """Guards the choice of rectangles by value, to proof."""
    if not BENCH.is_dir():
        pytest.skip(f"needs the benchmark folder {BENCH}")
    for k in (1, 2, 3):
        data = json.loads((BENCH / f"ngcut{k}.json").read_text())
        answer = most_value(
            [tuple(r[:2]) for r in data["rects"]], [r[2] for r in data["rects"]], data["values"],
            data["bin_width"], data["bin_height"],
        )  # fmt: skip
        assert answer.proven
        assert answer.value == data["known_optimum"]
