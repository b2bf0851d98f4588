"""Many parts on one blank by search: valid, repeatable, and at least as many as one after the other."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from nestyield.model import Defect, Order, Outline, Shape
from nestyield.nesting.on_blank import edge_leans
from nestyield.placement.stock import blank_of
from nestyield.planning import run
from nestyield.planning.demand import demands_of
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.packed import pack

WEDGE = Outline.polygon([(0, 0), (200, 0), (200, 30), (0, 90)])


def bench(make: Any, count: int, **more: Any) -> LayoutContext:
    part = make.part("p", 0, 0, outline=WEDGE, **more)
    knot = Defect(name="d", kind="knot", shape=Shape(outer=Outline.circle(600, 20, 8)))
    sheet = make.board("S", 660, 300, defects=(knot,), value=1.0)
    shop = make.shop([sheet], [part], [Order(name="o", part="p", count=count)])
    return LayoutContext(shop=shop, demands=demands_of(shop), blank=blank_of(sheet))


def test_layout_passes_the_audit_and_repeats(make: Any) -> None:
    """What the search lays is accepted by the whole plan's audit, and is the same a second time."""
    asked = bench(make, 30)
    laid, stopped = pack(asked, {0: 30}, 1, 7)
    assert (laid, stopped) == pack(asked, {0: 30}, 1, 7, workers=2)
    assert stopped == "effort"
    assert len(laid) >= 11
    made = run.make_plan(asked.shop, seed=1, effort=1, seconds=100_000, workers=1)
    assert made.orders[0].placed >= 11


@pytest.mark.study
def test_interlocks_what_one_after_the_other_does_not(make: Any) -> None:
    """Wedges turned end for end share a rectangle: all nine lie where their boxes would just go, without the knot.

    That more of them go than boxes is in the test above.
    """
    made = run.make_plan(bench(make, 9).shop, seed=1, effort=1, seconds=100_000, workers=1)
    boxes = (660 - 10 + 9) // (200 + 9) * ((300 - 10 + 9) // (90 + 9))
    assert boxes == 9
    assert made.orders[0].placed == 9


@pytest.mark.parametrize("mirrored", ["no", "allowed", "only"])
def test_mirrored_as_the_part_allows(make: Any, mirrored: str) -> None:
    """The search lays no mirror image that the part forbids."""
    laid, _ = pack(bench(make, 6, mirrored=mirrored), {0: 6}, 1, 1)
    assert laid
    images = {at.mirrored != (not at.front_up) for _, at in laid}
    assert images <= {"no": {False}, "allowed": {False, True}, "only": {True}}[mirrored]


def test_edges_that_lean() -> None:
    """A rectangle drawn at 17 degrees leans by 17 and 73; a square one does not lean; mirrored angles fold."""
    c, s = math.cos(math.radians(17)), math.sin(math.radians(17))
    box = [(0, 0), (300, 0), (300, 60), (0, 60)]
    outline = np.array([(1000 * (x * c - y * s), 1000 * (x * s + y * c)) for x, y in box]).astype(np.int64)
    assert edge_leans(outline) == pytest.approx([17.0], abs=0.01)
    assert edge_leans(np.array(box, dtype=np.int64) * 1000) == []


def test_without_grain_parts_lie_along_their_edges(make: Any) -> None:
    """A bar drawn aslant is packed as well as the same bar drawn straight, on a sheet that has no grain."""
    c, s = math.cos(math.radians(17)), math.sin(math.radians(17))
    box = [(0, 0), (300, 0), (300, 60), (0, 60)]
    straight = Outline.polygon(box)
    aslant = Outline.polygon([(x * c - y * s, x * s + y * c) for x, y in box])
    sheet = make.board("S", 640, 220, thickness_mm=44.5, grain_deg=None, species="MDF")
    laid = []
    for outline in (straight, aslant):
        part = make.part("p", 300, 60, outline=outline, grain_deg=None)
        shop = make.shop([sheet], [part], [Order(name="o", part="p", count=6)])
        bench_ = LayoutContext(shop=shop, demands=demands_of(shop), blank=blank_of(sheet, 1))
        laid.append(len(pack(bench_, {0: 6}, 1, 1)[0]))
    assert laid == [6, 6]
