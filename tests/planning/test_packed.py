"""Many parts on one blank by search: valid, repeatable, and at least as many as one after the other."""

from __future__ import annotations

from typing import Any

import pytest

from nestyield.model import Defect, Order, Outline, Shape
from nestyield.planning import run
from nestyield.planning.lay import Bench
from nestyield.planning.packed import pack
from nestyield.planning.stock import blank_of
from nestyield.planning.wants import wants_of

WEDGE = Outline.polygon([(0, 0), (200, 0), (200, 30), (0, 90)])


def bench(make: Any, count: int, **more: Any) -> Bench:
    part = make.part("p", 0, 0, outline=WEDGE, **more)
    knot = Defect(name="d", kind="knot", shape=Shape(outer=Outline.circle(600, 20, 8)))
    sheet = make.board("S", 660, 300, defects=(knot,), value=1.0)
    shop = make.shop([sheet], [part], [Order(name="o", part="p", count=count)])
    return Bench(shop=shop, wants=wants_of(shop), blank=blank_of(sheet))


def test_layout_passes_the_audit_and_repeats(make: Any) -> None:
    """What the search lays is accepted by the whole plan's audit, and is the same a second time."""
    asked = bench(make, 30)
    laid = pack(asked, {0: 30}, 1, 7)
    assert laid == pack(asked, {0: 30}, 1, 7)
    assert len(laid) >= 6
    made = run.make_plan(asked.shop, seed=1, effort=1, seconds=300, workers=1)
    assert made.orders[0].placed >= len(laid)


def test_interlocks_what_one_after_the_other_does_not(make: Any) -> None:
    """Wedges turned end for end share a rectangle: the plan holds more than their boxes would."""
    made = run.make_plan(bench(make, 9).shop, seed=1, effort=1, seconds=300, workers=1)
    boxes = (660 - 10 + 9) // (200 + 9) * ((300 - 10 + 9) // (90 + 9))
    assert boxes == 9
    assert made.orders[0].placed == 9
    more = run.make_plan(bench(make, 30).shop, seed=1, effort=2, seconds=300, workers=1)
    assert more.orders[0].placed > 9


@pytest.mark.parametrize("mirrored", ["no", "allowed", "only"])
def test_mirrored_as_the_part_allows(make: Any, mirrored: str) -> None:
    """The search lays no mirror image that the part forbids."""
    laid = pack(bench(make, 6, mirrored=mirrored), {0: 6}, 1, 1)
    assert laid
    images = {at.mirrored != (not at.front_up) for _, at in laid}
    assert images <= {"no": {False}, "allowed": {False, True}, "only": {True}}[mirrored]
