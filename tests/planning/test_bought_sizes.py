"""Sizes to buy: what the order needs, worked out by hand, to a step of the shop's rule."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.model import Order, Outline, Piece, Shape, Shop
from nestyield.planning.needed import OrderNeed, needed

IN = 25.4
#: Of the makers in conftest: margin 5 mm all around, a cutter of 6 mm and 3 mm between parts.
MARGIN, GAP = 5.0, 9.0


def asked(
    make: Any, part: Any, count: int = 1, units: str = "in", pieces: tuple[Piece, ...] = (), **more: Any
) -> OrderNeed:
    settings = {"planing_mm": 0.8, "thickness_tolerance_mm": 0.0, "workers": 1, **more}
    shop: Shop = make.shop(
        list(pieces), [part], [Order(name="o", part=part.name, count=count)], settings=settings
    )
    (need,) = needed(replace(shop, units=units))
    return need


def new_stock(part: Any, thickness: float, length: float, width: float) -> Piece:
    return Piece(
        name="new",
        species=part.species[0],
        thickness_mm=thickness,
        shape=Shape(outer=Outline.rectangle(0.0, 0.0, length, width)),
        grain_deg=None if part.grain_deg is None else 0.0,
    )


def check_that_it_does(make: Any, part: Any, need: OrderNeed, **more: Any) -> None:
    """A piece of the size told makes one copy; one 1 % shorter, narrower or thinner does not."""
    assert need.buy is not None
    bought = need.buy.purchase
    size = (bought.thickness_mm, bought.length_mm, bought.width_mm)
    for less in (None, 0, 1, 2):
        cut = [v * (0.99 if k == less else 1.0) for k, v in enumerate(size)]
        again = asked(make, part, pieces=(new_stock(part, *cut),), **more)
        assert again.placed == (1 if less is None else 0), (less, cut)


def test_a_sheet_of_three_quarters(make: Any) -> None:
    """A sheet part 3/4 in thick, 12 x 16 in with 1/4 in around it, wants 3/4 in, 12 1/2 x 16 1/2 in, no 64th more."""
    part = make.part("template", 16 * IN, 12 * IN, species=("MDF",), thickness_mm=0.75 * IN, grain_deg=None)
    margin = {"blank_margin_mm": 0.25 * IN}
    need = asked(make, part, **margin)
    assert need.buy is not None
    bought = need.buy.purchase
    assert bought.thickness_mm == pytest.approx(0.75 * IN, abs=1e-5)
    assert sorted((bought.length_mm, bought.width_mm)) == pytest.approx([12.5 * IN, 16.5 * IN], abs=1e-5)
    check_that_it_does(make, part, need, **margin)


def test_boards_by_the_rule_of_the_shop(make: Any) -> None:
    """9 1/4 in wide with 1/4 in around it is 9 3/4 in; 1 1/2 in and two planed faces of 0.8 mm are 1 37/64 at the least."""
    part = make.part("body", 13.25 * IN, 9.25 * IN, species=("sugar maple",), thickness_mm=1.5 * IN)
    margin = {"blank_margin_mm": 0.25 * IN}
    need = asked(make, part, **margin)
    assert need.buy is not None
    bought = need.buy.purchase
    # a tolerance of the grain lets the part turn, and turned it is no smaller
    assert (bought.length_mm, bought.width_mm) == pytest.approx((13.75 * IN, 9.75 * IN), abs=1e-5)
    # 1.5 in + 1.6 mm = 1.56299 in; 100/64 = 1.5625 in is too little
    assert bought.thickness_mm == pytest.approx(101 / 64 * IN, abs=1e-5)
    check_that_it_does(make, part, need, **margin)


@pytest.mark.study
def test_a_round_part(make: Any) -> None:
    """A round part 9 1/4 in across wants 9 3/4 in, or a 64th more where its arcs leave no wood to spare."""
    part = make.part(
        "round", 1, 1, outline=Outline.circle(0.0, 0.0, 9.25 * IN / 2.0), species=("sugar maple",)
    )
    margin = {"blank_margin_mm": 0.25 * IN}
    need = asked(make, part, **margin)
    assert need.buy is not None
    for told in (need.buy.purchase.length_mm, need.buy.purchase.width_mm):
        assert 9.75 * IN - 1e-5 <= told <= (9.75 + 1 / 64) * IN + 1e-5
    check_that_it_does(make, part, need, **margin)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_all_from_one_board(count: int, make: Any) -> None:
    """Bodies of 560 x 165.6 mm side by side: their widths, the gaps between, and the margins, not a tenth more."""
    part = make.part("body", 560.0, 165.6, species=("sugar maple",), grain_tolerance_deg=0.0)
    need = asked(make, part, count, units="mm")
    assert need.buy is not None
    bought = need.buy.purchase
    assert (bought.length_mm, bought.width_mm) == pytest.approx((570.0, 175.6), abs=1e-6)
    along = count * 560.0 + (count - 1) * GAP + 2 * MARGIN
    # two are 350.2 mm wide, wider than boards are (12 in)
    assert need.buy.together_mm == (None if count == 1 else pytest.approx((along, 175.6), abs=1e-6))


def test_narrow_ones_side_by_side(make: Any) -> None:
    """Three necks of 80 mm come side by side from a board of 3 x 80 + 2 gaps + 2 margins, no tenth more."""
    part = make.part("neck", 600.0, 80.0, species=("sugar maple",), grain_tolerance_deg=0.0)
    need = asked(make, part, 3, units="mm")
    assert need.buy is not None
    assert need.buy.together_mm == pytest.approx((610.0, 3 * 80 + 2 * GAP + 2 * MARGIN), abs=1e-6)
