"""What can be made and what is needed agree: both look at resawing, book matches and several on a piece."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from nestyield.model import MachineLimits, Order, Shop
from nestyield.planning.makeable import makeable
from nestyield.planning.needed import needed

#: Kerf, planing of a sawn face, millimeters; the makers plane 0.8 mm off each face before routing, margin 5.
SAW = MachineLimits(resaw_height_mm=160.0, resaw_kerf_mm=1.5, resaw_planing_mm=1.0, resaw_cost=5.0)


def counts(shop: Shop) -> dict[str, int]:
    beds = tuple(b.name for b in shop.beds)
    return {made.part: made.count for made in makeable(shop, shop.parts, beds).alone}


def placed(shop: Shop, part: str, count: int) -> int:
    (need,) = needed(replace(shop, orders=(Order(name="o", part=part, count=count),)))
    return need.placed


def test_leaves_and_book_matches_count(make: Any) -> None:
    """A board of 45 mm gives two leaves of 18 + 1.6 mm, and 1.5 + 2 mm for the saw: two tops, or one book match."""
    top = make.part("top", 350, 130, thickness_mm=18.0, grain_tolerance_deg=0.0)
    plate = make.part("plate", 350, 260, thickness_mm=18.0, grain_tolerance_deg=0.0, book_match=True)
    settings = {"machines": SAW, "effort": 1, "workers": 1, "planing_mm": 0.8}
    shop = make.shop([make.board("thick", 400, 150, thickness_mm=45.0)], [top, plate], [], settings=settings)
    assert counts(shop) == {"top": 2, "plate": 1}
    assert (placed(shop, "top", 3), placed(shop, "plate", 2)) == (2, 1)
    # without a resaw neither: the board is far too thick for what the planer may take off
    blunt = replace(shop, settings=replace(shop.settings, machines=MachineLimits()))
    assert counts(blunt) == {"top": 0, "plate": 0}


def test_the_rest_goes_into_what_brings_money(make: Any) -> None:
    """Of three boards that hold a body or two necks one gives the necks, and the two others bodies, not more necks."""
    body = make.part("body", 380, 150, grain_tolerance_deg=0.0, each=500.0)
    neck = make.part("neck", 380, 70, grain_tolerance_deg=0.0)
    # 2 x 70 + a gap of 9 and two margins of 5 are 159 mm, a body and its margins 160 mm
    shop = make.shop(
        [make.board(f"B{k}", 395, 165) for k in range(3)],
        [body, neck],
        [],
        settings={"effort": 1, "workers": 1},
    )
    found = makeable(shop, shop.parts, tuple(b.name for b in shop.beds))
    (equal,) = [mix for mix in found.mixes if mix.goal == "equal"]
    assert equal.least == 2
    assert {m.part: m.count for m in equal.made} == {"body": 2, "neck": 2}
    assert equal.worth == 1000.0
