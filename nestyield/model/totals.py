"""The figures of a whole plan: every piece that is taken counts whole, however it is sawn."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model.plan import Plan
from nestyield.model.sawing import Sawing
from nestyield.model.shop import Shop

#: Cubic millimeters in a board foot.
_BOARD_FOOT_MM3 = 144 * 25.4**3


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Sums over all blanks of a plan, and over all that is sawn off before the bed.

    Parameters
    ----------
    part_area_mm2, stock_area_mm2, usable_area_mm2 : float
        Wood in parts, in the pieces taken, and in leftovers that go back on the rack; a piece that is resawn
        counts once for each of its leaves.
    board_feet : float
        Of the pieces taken.
    value : float
        Of the pieces taken, the maker's money.
    parts, leftovers : int
        How many parts are made, and how many leftovers go back.
    """

    part_area_mm2: float
    stock_area_mm2: float
    usable_area_mm2: float
    board_feet: float
    value: float
    parts: int
    leftovers: int


def knows_money(shop: Shop) -> bool:
    """Tell whether a shop says what any stock is worth; where it does not, worth is counted in board feet."""
    settings = shop.settings
    prices = settings.value_per_board_foot or settings.value_classes
    return bool(prices) or any(piece.value is not None for piece in shop.pieces)


def totals_of(plan: Plan) -> Totals:
    """Return the figures of a whole plan.

    Parameters
    ----------
    plan : Plan
    """
    # a glue-up counts its pieces itself, also those that are crosscut for it
    glued = {
        x.blank.name
        for x in plan.layouts
        if len(x.blank.members) > 1 and all(m.layer is None for m in x.blank.members)
    }
    sawings = [s for s in plan.sawings if glued.isdisjoint(s.blanks)]
    sawn = {name for sawing in sawings for name in sawing.blanks}
    whole = [layout for layout in plan.layouts if layout.blank.name not in sawn]
    pieces = [plan.shop.piece(sawing.piece) for sawing in sawings]
    # a piece that is resawn has its area once for each leaf
    areas = [p.shape.area_mm2 * _leaves(s) for p, s in zip(pieces, sawings)]
    rests = [rest for sawing in plan.sawings for rest in sawing.rests if rest.usable]
    feet = sum(p.shape.area_mm2 * p.thickness_mm for p in pieces) / _BOARD_FOOT_MM3
    left = [left for layout in plan.layouts for left in layout.leftovers if left.usable]
    return Totals(
        part_area_mm2=sum(layout.part_area_mm2 for layout in plan.layouts),
        stock_area_mm2=sum(x.stock_area_mm2 for x in whole) + sum(areas),
        usable_area_mm2=sum(x.usable_area_mm2 for x in plan.layouts) + sum(r.area_mm2 for r in rests),
        board_feet=sum(layout.board_feet for layout in whole) + feet,
        value=sum(layout.value for layout in whole) + sum(sawing.value for sawing in sawings),
        parts=sum(len(layout.placements) for layout in plan.layouts),
        leftovers=len(left) + len(rests),
    )


def _leaves(sawing: Sawing) -> int:
    return 1 if sawing.resaw is None else 1 + len(sawing.resaw.cuts)
