"""What stock and leftovers are worth."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Order, Outline, Settings, Shape, ValueClass
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan
from nestyield.planning.worth import left_value, rate_of, size_of, taken_by, value_of

FOOT = 304.8
CLASSES = (
    ValueClass(least_length_mm=1500, least_width_mm=150, per_board_foot=14.0, species=("sugar maple",)),
    ValueClass(least_length_mm=600, least_thickness_mm=50, times=1.25),
    ValueClass(least_length_mm=600),
    ValueClass(times=0.5),
)
SETTINGS = Settings(
    cutter_diameter_mm=6, value_per_board_foot={"sugar maple": 8.0, "": 4.0}, value_classes=CLASSES
)


def board_foot_of(make: Any, length: float, width: float, **more: Any) -> float:
    piece = make.board("R", length, width, **more)
    return value_of(piece, SETTINGS) / (length * width * piece.thickness_mm / (144 * 25.4**3))


@pytest.mark.parametrize(
    ("length", "width", "more", "rate"),
    [
        (1500, 150, {}, 14.0),
        (1499.6, 149.6, {}, 14.0),  # within half a millimeter
        (1499, 150, {}, 8.0),
        (1500, 149, {}, 8.0),
        (2000, 200, {"species": "oak"}, 4.0),
        (700, 60, {"thickness_mm": 52.0}, 10.0),
        (599, 400, {}, 4.0),
        (599, 400, {"species": "oak"}, 2.0),
    ],
)
def test_the_first_class_that_is_reached_counts(
    make: Any, length: float, width: float, more: dict[str, Any], rate: float
) -> None:
    """Length, width, thickness and species decide; the order of the file is the order of the search."""
    assert board_foot_of(make, length, width, **more) == pytest.approx(rate)


def test_size_of_what_is_no_rectangle(make: Any) -> None:
    """An L of 1000 by 300 with arms of 100 is 1000 long and 120 wide, whatever way its grain runs."""
    ell = Shape(outer=Outline.polygon([(0, 0), (1000, 0), (1000, 100), (100, 100), (100, 300), (0, 300)]))
    assert size_of(ell, 0.0, SETTINGS) == pytest.approx((1000, 120), rel=1e-6)
    assert size_of(ell, 90.0, SETTINGS) == pytest.approx((300, 400), rel=1e-6)
    assert size_of(ell, None, SETTINGS) == pytest.approx((1000, 120), rel=1e-6)


def test_leftovers_are_worth_their_share_at_their_own_size(make: Any) -> None:
    """Half of a long board that falls to another class is worth half its board feet at that class's price."""
    piece = make.board("R", 1600, 200, thickness_mm=25.4)
    plan = make_plan(
        make.shop([piece], [make.part("p", 100, 80, thickness_mm=20)], [Order(name="o", part="p")]),
        seed=1,
        effort=1,
        seconds=100_000,
        workers=1,
    )
    blank = plan.layouts[0].blank
    taken = taken_by(blank, [piece])
    half = Shape(outer=Outline.rectangle(0, 0, 800, 200))
    feet = 800 * 200 * 25.4 / (144 * 25.4**3)
    assert left_value(blank, half, 25.4, taken, SETTINGS) == pytest.approx(8.0 * feet)
    assert left_value(blank, half, 20.0, taken, SETTINGS) == pytest.approx(8.0 * feet * 20 / 25.4)
    own = [replace(piece, value=100.0)]  # a row that says its own value: the leftover's share, 8 of 14
    assert left_value(blank, half, 25.4, own, SETTINGS) == pytest.approx(50.0 * 8 / 14)
    dearer = replace(SETTINGS, value_classes=(ValueClass(least_length_mm=1000, times=0.5),))
    assert left_value(blank, half, 25.4, taken, dearer) == pytest.approx(4.0 * feet)  # cutting adds nothing


def test_an_offcut_is_used_before_a_long_board(make: Any) -> None:
    """By default, with classes and by the book alike, the offcut goes first, though the board gives much back."""
    pieces = [make.board("long", 2400, 220), make.board("offcut", 420, 220)]
    parts, orders = [make.part("body", 380, 200)], [Order(name="o", part="body")]
    for settings in (
        {},
        {"value_classes": CLASSES, "value_per_board_foot": {"": 4.0}},
        {"value_classes": CLASSES, "value_per_board_foot": {"": 4.0}, "leftover_worth": 1.0},
        {"leftover_worth": 0.0},
    ):
        shop = make.shop(pieces, parts, orders, settings=settings)
        plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
        assert [layout.blank.name for layout in plan.layouts] == ["offcut"]


def test_what_comes_back_counts(make: Any) -> None:
    """Of two boards of about one value the one that gives more back is cut; the plan says what that is worth."""
    hole = Shape(outer=Outline.circle(650, 105, 90))
    gone = make.board("A", 900, 210, value=40.0)
    gone = replace(gone, shape=replace(gone.shape, holes=(hole.outer,)))
    kept = make.board("B", 900, 210, value=41.0)
    shop = make.shop([gone, kept], [make.part("body", 380, 190)], [Order(name="o", part="body")])
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    (layout,) = plan.layouts
    (value,) = (o for o in plan.objectives if o.goal == "value")
    back = sum(left.value for left in layout.leftovers)
    assert layout.blank.name == "B"
    assert back > 0
    assert value.value == pytest.approx(layout.value - 0.5 * back, abs=1e-4)
    assert {left.value for left in layout.leftovers if not left.usable} <= {0.0}


def test_rate_without_any_table(make: Any) -> None:
    """A shop that knows no money counts board feet."""
    piece = make.board("R", FOOT, FOOT, thickness_mm=25.4)
    plain = Settings(cutter_diameter_mm=6)
    assert rate_of(piece.species, 25.4, piece.shape, 0.0, plain) == 1.0
    assert value_of(piece, plain) == pytest.approx(1.0)


@pytest.mark.parametrize("values", [(24.0, 19.0), (None, None)])
def test_a_leftover_of_a_glue_up_is_worth_what_its_boards_are(make: Any, values: tuple[Any, Any]) -> None:
    """A long board glued to a short one of another price: what stays of the long one counts by its own price.

    By hand: area of the leftover on its side of the seam x thickness of the part x its price a cubic mm; the plan
    counted it by the mean price of both (14.71 in place of 13.16 in the shop that showed it).
    """
    boards = [make.board("long", 1400, 160, value=values[0]), make.board("short", 640, 205, value=values[1])]
    boards[1] = replace(boards[1], species="white ash")
    shop = make.shop(
        boards,
        [make.part("body", 540, 300, species=(), thickness_mm=44.5)],
        [Order(name="o", part="body")],
        settings={
            "value_per_board_foot": {"white ash": 3.0, "": 9.0},
            "leftover_shortest_mm": 300.0,
            "leftover_narrowest_mm": 60.0,
        },
    )
    shop = replace(
        shop,
        settings=replace(
            shop.settings,
            glueup=replace(shop.settings.glueup, mixed_species=True),
            machines=replace(shop.settings.machines, saw_cut_cost=1e6),
        ),
    )
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    (layout,) = plan.layouts
    assert len(layout.blank.members) == 2
    (left,) = [x for x in layout.leftovers if x.usable]
    ((_, seam_y), *_) = layout.blank.seams[0].line_mm
    lower, upper = (next(p for p in boards if p.name == m.piece) for m in layout.blank.members)
    points = left.shape.outer.points_mm
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    assert len(points) == 4  # a rectangle: nothing but its box has to be shared out
    tall = {
        lower.name: max(0.0, min(max(ys), seam_y) - min(ys)),
        upper.name: max(0.0, max(ys) - max(min(ys), seam_y)),
    }
    per_mm3 = {
        p.name: p.value / (p.shape.area_mm2 * p.thickness_mm)
        if p.value is not None
        else (3.0 if p.species == "white ash" else 9.0) / (144 * 25.4**3)
        for p in boards
    }
    wanted = sum((max(xs) - min(xs)) * tall[n] * 44.5 * per_mm3[n] for n in tall)
    assert tall["long"] > 60
    assert left.value == pytest.approx(wanted, rel=1e-4)
    assert audit(loads(dumps(plan))) == ()
    mean = sum(p.value or 0 for p in boards)
    wrong = replace(left, value=left.value * 1.1 if not mean else left.value + 1.5)
    told = replace(layout, leftovers=tuple(wrong if x is left else x for x in layout.leftovers))
    assert "A407" in {f.code for f in audit(replace(plan, layouts=(told,)))}
