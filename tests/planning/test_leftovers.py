"""What the cutter leaves, and what of it is worth keeping."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from nestyield.audit.check import audit
from nestyield.bed.work import leftover_of
from nestyield.geometry.shape import to_shapely
from nestyield.model import Order, Outline, Placement, Preferences, Settings, Shape
from nestyield.model.facts import HolesInLeftover
from nestyield.placement.leftovers import leftovers_of, letters
from nestyield.placement.stock import blank_of
from nestyield.planning.run import make_plan

SETTINGS = Settings(cutter_diameter_mm=10, leftover_shortest_mm=200, leftover_narrowest_mm=50)


def at(x: float, y: float, angle: float = 0.0) -> Placement:
    return Placement(
        part="p",
        order="o",
        copy=1,
        angle_deg=angle,
        mirrored=False,
        x_um=round(x * 1000),
        y_um=round(y * 1000),
    )


def test_worked_by_hand(make: Any) -> None:
    """A part across the end of a board leaves the rest of the board less the cutter's path."""
    blank = blank_of(make.board("R", 600, 100))
    (left,) = leftovers_of(blank, [(make.part("p", 190, 90), at(5, 5))], SETTINGS)[:1]
    # part to x = 195, cutter 10: straight edge at x = 205, whole width of the board
    assert left.usable
    assert left.name == "R-a"
    assert left.area_mm2 == pytest.approx(395 * 100, rel=1e-3)
    x, y, length, width = left.rectangle_mm
    assert (x, y) == pytest.approx((205, 0), abs=0.1)
    assert (length, width) == pytest.approx((395, 100), abs=0.1)


def test_strip_beside_the_part(make: Any) -> None:
    """Strips narrower than the least width are trimmed away, wider ones stay."""
    blank = blank_of(make.board("R", 600, 150))
    part = make.part("p", 590, 80)
    left = leftovers_of(blank, [(part, at(5, 5))], SETTINGS)
    # 150 - 85 - 10 = 55 wide above; 5 below and at the ends
    usable = [piece for piece in left if piece.usable]
    assert len(usable) == 1
    assert usable[0].rectangle_mm[2:] == pytest.approx((600, 55), abs=0.1)
    assert usable[0].area_mm2 == pytest.approx(600 * 55, rel=2e-3)
    narrow = blank_of(make.board("R", 600, 144))
    assert not any(piece.usable for piece in leftovers_of(narrow, [(part, at(5, 5))], SETTINGS))


@pytest.mark.parametrize("grain", [0.0, 30.0, 90.0])
def test_rectangle_follows_the_grain(make: Any, grain: float) -> None:
    """The least rectangle is measured along the grain, whatever way the piece was drawn."""
    a = math.radians(grain)
    corners = [
        (x * math.cos(a) - y * math.sin(a), x * math.sin(a) + y * math.cos(a))
        for x, y in ((0, 0), (250, 0), (250, 60), (0, 60))
    ]
    shape = Shape(outer=Outline.polygon(corners))
    along = leftovers_of(blank_of(make.board("R", 0, 0, shape=shape, grain_deg=grain)), [], SETTINGS)
    assert [piece.usable for piece in along] == [True]
    assert along[0].rectangle_mm[2:] == pytest.approx((250, 60), abs=0.02)
    across = leftovers_of(blank_of(make.board("R", 0, 0, shape=shape, grain_deg=grain + 90)), [], SETTINGS)
    assert not any(piece.usable for piece in across)
    sheet = leftovers_of(blank_of(make.board("R", 0, 0, shape=shape, grain_deg=None)), [], SETTINGS)
    if grain in (0.0, 90.0):
        assert [piece.usable for piece in sheet] == [True]


def test_leftovers_are_wood_that_is_there(make: Any) -> None:
    """Leftovers lie in the blank, clear of the cutter's path, and do not overlap (checked with shapely)."""
    blank = blank_of(
        make.board(
            "R", 0, 0,
            shape=Shape(
                outer=Outline(points_mm=((0, 0), (900, 20), (880, 320), (40, 300)), bulges=(0, 0.1, 0, 0)),
                holes=(Outline.circle(700, 150, 30),),
            ),
        )
    )  # fmt: skip
    part = make.part(
        "p", 0, 0, outline=Outline(points_mm=((0, 0), (300, 0), (300, 120)), bulges=(0.2, 0.4, 0))
    )
    laid = [(part, at(120, 90, 7.0))]
    left = leftovers_of(blank, laid, SETTINGS)
    stock = to_shapely(blank.shape)
    cut = shapely.affinity.translate(
        shapely.affinity.rotate(to_shapely(Shape(outer=part.outline)), 7.0, origin=(0, 0)), 120, 90
    ).buffer(10, quad_segs=64)
    shapes = [to_shapely(piece.shape) for piece in left]
    assert any(piece.usable for piece in left)
    for shape in shapes:
        assert shape.difference(stock.buffer(0.03)).area < 1e-6
        assert shape.intersection(cut.buffer(-0.05)).area < 1e-6
    for i, one in enumerate(shapes):
        for other in shapes[i + 1 :]:
            assert one.intersection(other).area < 0.5
    whole = stock.difference(cut).area
    assert sum(s.area for s in shapes) == pytest.approx(whole, rel=0.01)


def test_letters() -> None:
    """Leftovers are lettered like the columns of a spreadsheet."""
    assert [letters(i) for i in (0, 25, 26, 27, 701, 702)] == ["a", "z", "aa", "ab", "zz", "aaa"]


@pytest.mark.parametrize("seed", range(12))
def test_every_usable_leftover_has_its_rectangle(make: Any, seed: int) -> None:
    """On odd pieces a leftover called usable shows a rectangle of at least the least size, inside it."""
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * math.pi, 14))
    reach = rng.uniform(0.8, 1.0, 14) / np.maximum(np.abs(np.cos(angles)), np.abs(np.sin(angles)))
    corners = [
        (300 * r * math.cos(a), float(rng.uniform(110, 150)) * r * math.sin(a)) for a, r in zip(angles, reach)
    ]
    grain = float(rng.choice([0.0, 17.0, 90.0])) if seed % 4 else None
    shape = Shape(outer=Outline.polygon(corners))
    blank = blank_of(make.board("R", 0, 0, shape=shape, grain_deg=grain))
    part = make.part("p", 0, 0, outline=Outline.polygon([(0, 0), (180, 20), (150, 70), (10, 90)]))
    for left in leftovers_of(blank, [(part, at(-260, -40))], SETTINGS):
        x, y, length, width = left.rectangle_mm
        box = shapely.affinity.rotate(shapely.box(x, y, x + length, y + width), grain or 0.0, origin=(0, 0))
        assert box.difference(to_shapely(left.shape).buffer(0.01)).area < 1e-9
        sizes = [(length, width)] if grain is not None else [(length, width), (width, length)]
        if left.usable:
            assert any(a >= 199.95 and b >= 49.95 for a, b in sizes)


def test_a_screw_that_touches_a_leftover_is_not_in_it(make: Any) -> None:
    """A head of 10 mm whose center lies 5 mm off the leftover's edge touches it: told or not, plan and check agree.

    The board used to be left out: the check missed the caution that the hole is in what is kept.
    """
    part = make.part("p", 240, 85, grain_tolerance_deg=0.0)
    settings = {"blank_margin_mm": 12.0, "leftover_worth": 0.0, "prefer": Preferences(largest_leftover=0.0)}
    shop = make.shop([make.board("R", 278, 258)], [part], [Order(name="o", part="p")], settings=settings)
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    (layout,) = plan.layouts
    (kept,) = [shapely.Polygon(x.shape.outer.points_mm) for x in layout.leftovers if x.usable]
    held = layout.work.hold_downs
    (near,) = [k for k, h in enumerate(held) if (h.x_mm, h.y_mm) == (266.0, 99.0)]

    def moved(y_mm: float) -> Any:
        return replace(held[near], y_mm=y_mm)

    def head(h: Any) -> Any:
        return shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2)

    assert head(moved(98.0)).intersects(kept)
    assert head(moved(98.0)).intersection(kept).area < 1e-6
    assert leftover_of(layout, moved(98.0)) == ""
    assert leftover_of(layout, moved(98.5)) == "R-a"
    one = replace(moved(98.0), leftover="")
    cautions = tuple(
        replace(c, names=tuple(n for n in c.names if n != one.name)) if isinstance(c, HolesInLeftover) else c
        for c in layout.work.cautions
    )
    downs = (*held[:near], one, *held[near + 1 :])
    touching = replace(layout, work=replace(layout.work, hold_downs=downs, cautions=cautions))
    assert not any(f.code == "A515" for f in audit(replace(plan, layouts=(touching,))))
    in_it = replace(layout, work=replace(layout.work, cautions=cautions))
    assert any(f.code == "A515" for f in audit(replace(plan, layouts=(in_it,))))
