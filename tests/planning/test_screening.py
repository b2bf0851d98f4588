"""The bound by which rows are left untried holds for everything that a search lays."""

from __future__ import annotations

import numpy as np
import pytest

from nestyield.model import Bed, Order, Outline, Part, Piece, Settings, Shape, Shop
from nestyield.planning.candidates import try_row
from nestyield.planning.demand import demands_of
from nestyield.planning.denser import areas_of
from nestyield.planning.duals import Duals
from nestyield.planning.pool import _carried
from nestyield.planning.workers import Job


def blob(rng: np.random.Generator, length: float, width: float) -> Outline:
    """A star-shaped outline of seven corners that fills a box."""
    turn = (np.arange(7) + rng.uniform(0.2, 0.8, 7)) * 2 * np.pi / 7
    reach = rng.uniform(0.7, 1.0, 7)
    x, y = reach * np.cos(turn), reach * np.sin(turn)
    x, y = (x - x.min()) / np.ptp(x) * length, (y - y.min()) / np.ptp(y) * width
    return Outline.polygon(list(zip(x.tolist(), y.tolist())))


def shop(rng: np.random.Generator, margin_mm: float) -> Shop:
    """Three parts, boards of which some hold many and some hardly one, and a bed that takes no board whole."""
    sizes = [(120, 60), (90, 90), (200, 45)]
    parts = tuple(
        Part(name=f"p{k}", drawing="", outline=blob(rng, a, b), thickness_mm=20, grain_tolerance_deg=10)
        for k, (a, b) in enumerate(sizes)
    )
    boards = [(140, 75), (260, 110), (330, 115), (230, 70), (440, 112)]
    pieces = tuple(
        Piece(
            name=f"R{k}",
            species="maple",
            thickness_mm=25,
            shape=Shape(outer=blob(rng, a, b) if k == 1 else Outline.rectangle(0, 0, a, b)),
            value=1.0,
        )
        for k, (a, b) in enumerate(boards)
    )
    bed = Bed(name="small", travel_x_mm=300, travel_y_mm=200, table_x_mm=(0, 400), table_y_mm=(0, 200))
    orders = tuple(Order(name=p.name, part=p.name, count=6) for p in parts)
    settings = Settings(cutter_diameter_mm=6, blank_margin_mm=margin_mm)
    return Shop(
        name="", units="mm", settings=settings, beds=(bed,), parts=parts, pieces=pieces, orders=orders
    )


@pytest.mark.study
@pytest.mark.parametrize(("seed", "margin_mm"), [(0, 0.0), (1, 5.0)])
def test_no_layout_is_worth_more_than_its_row_was_thought_to_carry(seed: int, margin_mm: float) -> None:
    """Of every layout found on any row, whole or sawn first, the copies at any prices come to no more than the bound."""
    rng = np.random.default_rng([seed, 18])
    made_in = shop(rng, margin_mm)
    job = Job(shop=made_in, demands=demands_of(made_in), effort=1, seed=seed)
    areas = areas_of(made_in, job.demands)
    found, tight = 0, 0.0
    for row in range(len(made_in.pieces)):
        for candidate in try_row(job, row, range(3)).answer.candidates:
            found += 1
            for _ in range(20):
                price = tuple(rng.uniform(0, 10, 3) * rng.integers(0, 2, 3))
                worth = sum(p * n for p, n in zip(price, candidate.made))
                bound = _carried(made_in, job.demands, range(3), row, Duals(copy=price, gap=0.0), areas)
                assert worth <= bound + 1e-9
                tight = max(tight, worth / bound if bound else 0.0)
    assert found > 5
    assert tight > 0.5  # a bound that says too little would pass too


def test_a_row_with_too_little_area_carries_nothing() -> None:
    """A triangle whose box is large enough and whose area is not is worth nothing, nor with a gap around the part."""
    made_in = shop(np.random.default_rng(0), 5.0)
    part = Part(name="p0", drawing="", outline=Outline.rectangle(0, 0, 100, 100), thickness_mm=20)
    # 100 x 100 with 3 mm all around less the corners: 11,228 mm2; the triangle has 12,000, less its margin of 5 fewer
    board = Piece(
        name="R0",
        species="maple",
        thickness_mm=25,
        shape=Shape(outer=Outline.polygon([(0, 0), (160, 0), (0, 150)])),
    )
    small = Shop(
        name="",
        units="mm",
        settings=made_in.settings,
        beds=(),
        parts=(part,),
        pieces=(board,),
        orders=(Order(name="o", part="p0", count=2),),
    )
    demands = demands_of(small)
    prices = Duals(copy=(7.0,), gap=0.0)
    assert _carried(small, demands, [0], 0, prices) == 7.0
    assert _carried(small, demands, [0], 0, prices, areas_of(small, demands)) == 0.0


def test_a_row_that_parts_fill_is_worth_all_of_them() -> None:
    """Four rectangles fill a board to the last micrometer, margin and gaps included: the bound is just their worth."""
    gap = Settings(cutter_diameter_mm=6, blank_margin_mm=5.0).gap_mm
    made_in = shop(np.random.default_rng(0), 5.0)
    part = Part(
        name="p0",
        drawing="",
        outline=Outline.rectangle(0, 0, 100, 50),
        thickness_mm=20,
        grain_tolerance_deg=0,
    )
    long, wide = 2 * 100 + gap + 2 * 5.0, 2 * 50 + gap + 2 * 5.0
    full = Shop(
        name="",
        units="mm",
        settings=made_in.settings,
        beds=(),
        parts=(part,),
        pieces=(
            Piece(
                name="R0",
                species="maple",
                thickness_mm=25,
                shape=Shape(outer=Outline.rectangle(0, 0, long, wide)),
            ),
        ),
        orders=(Order(name="o", part="p0", count=9),),
    )
    demands = demands_of(full)
    assert _carried(full, demands, [0], 0, Duals(copy=(1.0,), gap=0.0), areas_of(full, demands)) == 4.0
