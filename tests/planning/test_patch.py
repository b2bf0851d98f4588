"""Repairs of a plank of 200 x 100 mm, worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from nestyield import api
from nestyield.audit.patch import check_patch
from nestyield.intake.damage import DamageError, parse_damage
from nestyield.model import Outline, Part, Shape, Shop, Zone
from nestyield.planning.patch import BEYOND_MM, OFF_GRAIN_DEG, SPARED_MM, Patch


def pocket(x0: float, y0: float, x1: float, y1: float, name: str = "POCKET") -> Zone:
    return Zone(name=name, role="pocket", shape=Shape(outer=Outline.rectangle(x0, y0, x1, y1)), depth_mm=10.0)


def shop_of(make: Any, *zones: Zone, pieces: Any = (), **more: Any) -> Shop:
    plank = make.part("plank", 200, 100, thickness_mm=20.0, zones=zones, **more)
    return make.shop(list(pieces), [plank], [])


def ask(shop: Shop, damage: str) -> Patch:
    return api.patch(shop, "plank", damage)


def test_damage_at_the_middle_of_an_edge_takes_a_strip(make: Any) -> None:
    """Up to y = 8 and 1 mm beyond: a strip of 200 x 9, along the grain; any slope about it takes more."""
    cut = ask(shop_of(make), "100,4 20x8").cut
    assert cut is not None
    assert cut.area_mm2 == pytest.approx(200 * 9, abs=0.5)
    assert cut.off_grain_deg == pytest.approx(0.0, abs=0.01)
    assert {round(y, 3) for _, y in cut.line_mm} == {9.0}


@pytest.mark.outside(source="area of a triangle", mark="D")
def test_damage_at_a_corner_is_cut_off_as_steeply_as_the_joint_allows(make: Any) -> None:
    """Past the corner (10, 10) of the damage with a slope of 1:8: a triangle that begins 12.26 mm up."""
    cut = ask(shop_of(make), "5,5 10x10").cut
    assert cut is not None
    slope = 1 / 8
    high = 10 + math.hypot(1, slope) + 10 * slope
    assert cut.area_mm2 == pytest.approx(high * high / slope / 2, rel=2e-3)
    assert cut.off_grain_deg == pytest.approx(math.degrees(math.atan(slope)), abs=0.02)


def test_without_grain_the_corner_comes_off_squarely(make: Any) -> None:
    """For a sheet the least triangle past a square corner is the one of 45 degrees."""
    cut = ask(shop_of(make, grain_deg=None), "5,5 10x10").cut
    assert cut is not None
    assert cut.area_mm2 == pytest.approx((20 + math.sqrt(2)) ** 2 / 2, rel=1e-3)
    assert cut.joint is None


def test_a_pocket_turns_the_cut_and_the_joint_is_told_as_weak(make: Any) -> None:
    """A pocket 5 mm above the edge leaves no room for a cut along the grain; 3 mm of wood stay beside it."""
    found = ask(shop_of(make, pocket(20, 5, 60, 30)), "5,5 10x10")
    assert found.in_the_way == ("POCKET",)
    assert found.cut is not None
    assert (found.cut.off_grain_deg or 0.0) > OFF_GRAIN_DEG[1]
    assert found.cut.joint is not None
    assert found.cut.joint.strength_pct <= 65.0
    free = ask(shop_of(make, pocket(20, 50, 60, 80)), "5,5 10x10")
    assert free.in_the_way == ()


def test_a_place_in_the_middle_has_no_straight_cut(make: Any) -> None:
    """What comes off would be more than what stays."""
    found = ask(shop_of(make), "100,50 10")
    assert (found.cut, found.wood) == (None, None)


def test_the_patch_comes_from_the_piece_that_holds_it(make: Any) -> None:
    """The strip of 200 x 9 wants 210 x 19 with its margins of 5 mm: one piece holds it, along the grain."""
    pieces = [
        make.board("small", 208, 30, thickness_mm=23.0),
        make.board("across", 30, 230, thickness_mm=23.0),
        make.board("thin", 230, 30, thickness_mm=20.5),
        make.board("right", 211, 20, thickness_mm=23.0),
    ]
    found = ask(shop_of(make, pieces=pieces), "100,4 20x8")
    assert found.wood is not None
    assert [m.pieces for m in found.wood.makers] == [("right",)]


FAULTS = [
    ("a line that leaves damage", {"line_mm": ((0.0, 5.0), (200.0, 5.0))}),
    ("another area", {"area_mm2": 1500.0}),
    ("more than what is beside it", {"line_mm": ((0.0, 19.0), (200.0, 9.0))}),
    ("another direction", {"off_grain_deg": 3.0}),
    ("another piece", {"removed": Shape(outer=Outline.rectangle(0, 0, 200, 8))}),
]


@pytest.mark.parametrize(("name", "change"), FAULTS, ids=[f[0] for f in FAULTS])
def test_the_audit_cuts_again(make: Any, name: str, change: dict[str, Any]) -> None:
    """A sound cut has no finding, a fault in it one of A614."""
    shop = shop_of(make)
    part: Part = shop.parts[0]
    found = ask(shop, "100,4 20x8")
    limits = {"spared_mm": SPARED_MM, "beyond_mm": BEYOND_MM, "off_deg": OFF_GRAIN_DEG}
    assert found.cut is not None
    assert check_patch(part, found.damage, found.cut, **limits) == ()
    wrong = check_patch(part, found.damage, replace(found.cut, **change), **limits)
    assert {f.code for f in wrong} == {"A614"}
    holed = replace(part, zones=(pocket(40, 5, 60, 30),))
    assert {f.code for f in check_patch(holed, found.damage, found.cut, **limits)} == {"A614"}


@pytest.mark.parametrize(
    ("text", "units", "middle", "size"),
    [
        ("120,45 30x12", "mm", (120, 45), (30, 12)),
        ("120, 45; 30 mm x 12 mm", "mm", (120, 45), (30, 12)),
        ("120,45 12", "mm", (120, 45), (12, 12)),
        ("4 3/4, 1 1/2; 3/4 x 1/2", "in", (120.65, 38.1), (19.05, 12.7)),
    ],
)
def test_places_as_makers_measure_them(
    make: Any, text: str, units: Any, middle: tuple[float, float], size: tuple[float, float]
) -> None:
    """From the left and lower end of the part, wherever its drawing has its origin."""
    part = make.part("plank", 200, 100, outline=Outline.rectangle(-50, 10, 150, 110))
    points = parse_damage(text, part, units).outer
    from nestyield.model.arcs import box_of

    box = box_of(points)
    assert (box.x0 + box.width / 2 + 50, box.y0 + box.height / 2 - 10) == pytest.approx(middle)
    assert (box.width, box.height) == pytest.approx(size)


@pytest.mark.parametrize("text", ["", "120 30x12", "120,45", "120,45 0x3", "a,b 3x3", "120,45 3x"])
def test_what_is_no_place_is_refused(make: Any, text: str) -> None:
    """The error says how to write it."""
    with pytest.raises(DamageError, match="expected a"):
        parse_damage(text, make.part("plank", 200, 100), "mm")


def test_a_place_beside_the_part_is_refused(make: Any) -> None:
    """Nothing of it lies on the part."""
    with pytest.raises(DamageError, match="beside it"):
        ask(shop_of(make), "300,50 10")
