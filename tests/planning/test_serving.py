"""Orders of equal rank."""

from nestyield.model import Order
from nestyield.planning.run import make_plan


def test_orders_of_equal_rank_are_filled_in_file_order(make):
    """With wood for some copies only, the order that stands first in the file gets them."""
    parts = [make.part("body", 300, 200)]
    for boards in (1, 2, 3):
        pieces = [make.board(f"P{i}", 320, 220) for i in range(boards)]
        orders = [Order(name=n, part="body", count=2) for n in ("first", "second")]
        plan = make_plan(make.shop(pieces, parts, orders), seed=1, effort=1, seconds=100_000, workers=1)
        assert [r.placed for r in plan.orders] == [min(2, boards), max(0, boards - 2)]
