"""Glue-ups in the pool."""

from __future__ import annotations

from typing import Any

from nestyield.model import Order
from nestyield.planning.run import make_plan


def test_a_piece_that_serves_alone_is_not_glued_up(make: Any) -> None:
    """With copies still missing, a board that holds the part stays whole; strips that do not are glued up."""
    pieces = [make.board("wide", 700, 225), make.board("S1", 520, 125), make.board("S2", 520, 125)]
    shop = make.shop(pieces, [make.part("body", 450, 200)], [Order(name="o", part="body", count=3)])
    plan = make_plan(shop, seed=1, effort=2, seconds=100_000, workers=1)
    members = sorted(sorted({m.piece for m in layout.blank.members}) for layout in plan.layouts)
    assert members == [["S1", "S2"], ["wide"]]
    assert plan.tried is not None
    assert plan.tried.glue_ups >= 1
