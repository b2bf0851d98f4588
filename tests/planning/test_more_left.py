"""What is left of a piece, against trying every place on a lattice."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

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


@pytest.mark.parametrize("number", [1, 3])
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
