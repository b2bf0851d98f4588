"""What is left of a piece, against trying every place on a lattice."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy import ndimage

from nestyield.model import Settings
from nestyield.placement.rough_left import RoughLeft

SCRIPTS = Path(__file__).parents[2] / "scripts"


@pytest.fixture
def study(monkeypatch):
    """The study's generator, its way through the command line, and its own rating with shapely and scipy."""
    monkeypatch.syspath_prepend(str(SCRIPTS))
    spec = importlib.util.spec_from_file_location("study_leftover", SCRIPTS / "study_leftover.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["study_leftover"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.study
@pytest.mark.parametrize("number", [1])
def test_plan_leaves_about_as_much_as_the_best_place_on_a_lattice(study, number):
    piece, part = study.case_of(1, number)
    at, told, _ = study.planned(piece, part, 1)
    rating = study.Rating(piece, part)
    assert rating.holds((at[0], at[1], round(at[2], 2), round(at[3], 2))) or rating.home.buffer(0.01).covers(
        rating.laid(at)
    )
    kept = rating.kept(at)
    assert kept >= 0.98 * rating.best()
    assert told == pytest.approx(kept, rel=0.04)  # a raster of 1 mm


def test_cells_count_wood_in_rectangles_of_the_least_size():
    # an L of 300 x 40 and 100 x 200 mm: rectangles of 100 x 50 lie only in the leg that is 100 wide
    ring = np.array([[0, 0], [300, 0], [300, 40], [100, 40], [100, 200], [0, 200]]) * 1000
    settings = Settings(
        cutter_diameter_mm=6, blank_margin_mm=5, leftover_shortest_mm=100, leftover_narrowest_mm=50
    )
    rough = RoughLeft([ring.astype(np.int64)], 0.0, settings)
    square = np.array([[0, 0], [30, 0], [30, 30], [0, 30]]) * 1000
    rough.take("part", [square.astype(np.int64)])
    far = rough.cells("part", 250_000, 5_000) * rough.cell_mm2
    assert far == pytest.approx(100 * 200, rel=0.05)
    top = rough.cells("part", 0, 170_000) * rough.cell_mm2
    assert top == pytest.approx(100 * 170, rel=0.05)


@pytest.mark.parametrize("grain", [0.0, None])
def test_cells_are_those_of_an_opening_of_the_whole_raster(grain):
    """A large board, small leftovers: what a place changes nearby equals an opening of all cells by scipy."""
    settings = Settings(
        cutter_diameter_mm=6, blank_margin_mm=5, leftover_shortest_mm=90, leftover_narrowest_mm=40
    )
    ring = np.array([[0, 0], [1000, 0], [1000, 500], [0, 500]]) * 1000
    hole = np.array([[300, 100], [300, 420], [380, 420], [380, 100]]) * 1000
    rough = RoughLeft([ring.astype(np.int64), hole.astype(np.int64)], grain, settings)
    side = rough.cell_mm2**0.5
    assert side == pytest.approx(5.0, rel=1e-6)
    part = np.array([[0, 0], [120, 0], [120, 150], [0, 150]]) * 1000
    rough.take("part", [part.astype(np.int64)])
    sizes = [(18, 8)] if grain is not None else [(18, 8), (8, 18)]
    rng = np.random.default_rng(5)
    for i, j in rng.integers((-30, -40), (210, 110), size=(40, 2)).tolist():
        wood = np.ones((200, 100), dtype=bool)
        wood[60:76, 20:84] = False
        wood[max(i, 0) : max(i + 24, 0), max(j, 0) : max(j + 30, 0)] = False
        kept = np.zeros_like(wood)
        for size in sizes:
            kept |= ndimage.binary_opening(wood, np.ones(size))
        assert rough.cells("part", i * 5000, j * 5000) == kept.sum()


def test_rectangles_lie_both_ways_without_grain():
    ring = np.array([[0, 0], [60, 0], [60, 200], [0, 200]]) * 1000
    settings = Settings(
        cutter_diameter_mm=6, blank_margin_mm=5, leftover_shortest_mm=100, leftover_narrowest_mm=50
    )
    spot = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * 1000
    counts = []
    for grain in (0.0, None):
        rough = RoughLeft([ring.astype(np.int64)], grain, settings)
        rough.take("part", [spot.astype(np.int64)])
        counts.append(rough.cells("part", 500_000, 500_000) * rough.cell_mm2)
    assert counts[0] == 0
    assert counts[1] == pytest.approx(shapely.box(0, 0, 60, 200).area, rel=0.05)
