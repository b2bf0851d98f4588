"""Quick refusals by extents are safe, and their numbers are true."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from nestyield.model import Outline, Settings, Shape
from nestyield.model.facts import TooShort
from nestyield.placement.single import place_part
from nestyield.placement.stock import blank_of
from nestyield.planning.extents import least_spread, shortfall, smallest_boards

SETTINGS = Settings(cutter_diameter_mm=6, blank_margin_mm=5)


def test_least_spread_against_sampling() -> None:
    """The least extents over a range of turns are those of ten thousand turns tried one by one."""
    rng = np.random.default_rng(7)
    for _ in range(30):
        angles = np.sort(rng.uniform(0, 2 * math.pi, 9))
        corners = np.column_stack([80 * np.cos(angles), 50 * np.sin(angles)])
        middle, tolerance = rng.uniform(-180, 180), rng.uniform(0, 60)
        turns = np.radians(np.linspace(middle - tolerance, middle + tolerance, 10_001))
        x, y = corners.T
        along = np.ptp(np.outer(np.cos(turns), x) - np.outer(np.sin(turns), y), axis=1).min()
        across = np.ptp(np.outer(np.sin(turns), x) + np.outer(np.cos(turns), y), axis=1).min()
        least = least_spread(corners, middle, tolerance)
        assert least[0] == pytest.approx(along, abs=0.02)
        assert least[1] == pytest.approx(across, abs=0.02)
        assert least[0] <= along + 1e-9
        assert least[1] <= across + 1e-9


def test_worked_by_hand(make: Any) -> None:
    """A board 300 x 100 lacks 10 mm along the grain for a part 300 long, and nothing across."""
    part = make.part("p", 300, 80, grain_tolerance_deg=0)
    short = shortfall(part, blank_of(make.board("R", 300, 100)), SETTINGS)
    assert (short.along_mm, short.across_mm) == pytest.approx((10, -10))
    assert short.refusal("R") == TooShort(piece="R", far_um=10_000)
    turned = shortfall(part, blank_of(make.board("R", 300, 100, grain_deg=90)), SETTINGS)
    assert (turned.along_mm, turned.across_mm) == pytest.approx((210, -210))


def test_never_refuses_what_fits(make: Any) -> None:
    """In 60 random cases no piece is refused by its extents on which the exact placement finds room."""
    rng = np.random.default_rng(11)
    refused = fitted = 0
    for _ in range(60):
        corners = [tuple(p) for p in rng.uniform(0, 1, (3, 2)) * [220, 90]]
        outline = Outline.polygon(corners)
        if abs(outline.signed_area_mm2) < 500:
            continue
        part = make.part(
            "p", 0, 0, outline=outline,
            grain_deg=float(rng.choice([0.0, 30.0, 90.0])) if rng.random() < 0.8 else None,
            grain_tolerance_deg=float(rng.choice([0.0, 5.0, 40.0, 90.0])),
            mirrored=str(rng.choice(["no", "allowed", "only"])),
        )  # fmt: skip
        length, width = rng.uniform(60, 260), rng.uniform(30, 130)
        piece = make.board("R", length, width, grain_deg=float(rng.choice([0.0, 20.0, 90.0])))
        blank = blank_of(piece)
        fits = place_part(part, blank, SETTINGS).placement is not None
        small = shortfall(part, blank, SETTINGS).worst_mm > 0.1
        assert not (fits and small)
        refused += small
        fitted += fits
    assert refused > 10
    assert fitted > 5


@pytest.mark.parametrize("tolerance", [0.0, 12.0])
def test_smallest_board_takes_the_part(make: Any, tolerance: float) -> None:
    """The part goes on the smallest board, and not on one a millimeter shorter and narrower."""
    part = make.part("p", 0, 0, outline=Outline.polygon([(0, 0), (200, 30), (190, 80), (5, 60)]),
                     grain_tolerance_deg=tolerance)  # fmt: skip
    (length, width), _ = smallest_boards(part, SETTINGS)

    def fits(less: float) -> bool:
        shape = Shape(outer=Outline.rectangle(0, 0, length - less, width - less))
        return place_part(part, blank_of(make.board("R", 0, 0, shape=shape)), SETTINGS).placement is not None

    assert fits(-0.1) or tolerance
    assert not fits(1.0)
