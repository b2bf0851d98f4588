"""Parts cut from two neighboring leaves of one board, opened like a book."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nestyield.audit.check import audit
from nestyield.model import Defect, MachineLimits, Order, Outline, Plan, Shape, Zone
from nestyield.model.facts import NotBookMatched, OpenBook, PiecesOnHold, ResawLeaves
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan

#: Of these shops: kerf, planing of a sawn face, planing of each face, jointing, margin, millimeters.
KERF, FLAT, PLANING, JOINTING, MARGIN = 1.5, 1.0, 0.8, 0.8, 5.0
SAW = MachineLimits(resaw_height_mm=160.0, resaw_kerf_mm=KERF, resaw_planing_mm=FLAT, resaw_cost=5.0)
#: Thickness of the part, and of the thinnest board with two leaves for it.
PART = 18.0
LEAST = 2 * (PART + 2 * PLANING) + KERF + 2 * FLAT


def planned(make: Any, pieces: list[Any], parts: list[Any], orders: list[Order], **more: Any) -> Plan:
    settings = {"leftover_shortest_mm": 100.0, "leftover_narrowest_mm": 40.0, "machines": SAW, **more}
    shop = make.shop(pieces, parts, orders, settings=settings)
    return make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)


def knot(x: float, y: float, face: str, depth: float | None, row: int = 2) -> Defect:
    shape = Shape(outer=Outline.circle(x, y, 6))
    return Defect(name=f"defects.csv row {row}", kind="knot", shape=shape, face=face, depth_mm=depth)


def plate(make: Any, **more: Any) -> Any:
    return make.part(
        "plate", 350, 140, **{"thickness_mm": PART, "grain_tolerance_deg": 1.0, "book_match": True, **more}
    )


ONE = [Order(name="o", part="plate")]


def on_blank(member: Any, x: float, y: float) -> complex:
    """Return where a point of a piece lies in the blank, by the rule of the schema."""
    z = complex(-x if member.mirrored else x, y)
    a = math.radians(member.angle_deg)
    return z * complex(math.cos(a), math.sin(a)) + complex(member.x_um, member.y_um) / 1000


def check_by_hand(plan: Plan) -> None:
    """Every place of one leaf lies at the mirror image of the same place of the other, and the part in the middle."""
    (layout,) = plan.layouts
    one, other = layout.blank.members
    assert (one.piece, one.copy) == (other.piece, other.copy)
    assert one.mirrored != other.mirrored
    assert one.layer is not None
    assert other.layer is not None
    upper, lower = sorted((one.layer, other.layer), key=lambda layer: layer.top_mm)
    assert lower.top_mm - upper.bottom_mm == pytest.approx(KERF + 2 * FLAT)
    (seam,) = layout.blank.seams
    (_, y0), (_, y1) = seam.line_mm
    assert y0 == y1
    for x, y in ((0, 0), (400, 0), (400, 80), (123, 45)):
        a, b = on_blank(one, x, y), on_blank(other, x, y)
        assert abs(a - complex(b.real, 2 * y0 - b.imag)) < 0.003
    (at,) = layout.placements
    assert at.angle_deg % 180 == 0
    part = plan.shop.part(at.part)
    ys = [on_blank(at, x, y).imag for x, y in part.outline.points_mm]
    assert (min(ys) + max(ys)) / 2 == pytest.approx(y0, abs=0.003)


def test_two_leaves_make_a_plate_twice_as_wide(make: Any) -> None:
    """A board of 75.8 mm is half of 140, the margin of 5 and 0.8 for jointing: one plate, where none was before."""
    board = make.board("b", 400, 75.8, thickness_mm=LEAST)
    plain = plate(make, book_match=False)
    assert [r.placed for r in planned(make, [board], [plain], ONE).orders] == [0]
    plan = planned(make, [board], [plate(make)], ONE)
    assert [r.placed for r in plan.orders] == [1]
    check_by_hand(plan)
    assert audit(loads(dumps(plan))) == ()
    (sawing,) = plan.sawings
    assert sawing.blanks == ("glue-up 1",)
    steps = plan.layouts[0].glueup.steps  # type: ignore[union-attr]
    assert steps[:2] == (ResawLeaves(piece="b", upper="B", lower="A"), OpenBook(board="B"))


@pytest.mark.parametrize("more", [0.0, 4.0])
def test_the_matched_faces_lose_no_more_than_planing(make: Any, more: float) -> None:
    """Leaves thicker than they must be lose the shop's 0.8 mm at the faces that one cut made, the rest outside."""
    board = make.board("b", 400, 75.8, thickness_mm=LEAST + 2 * more)
    plan = planned(make, [board], [plate(make)], ONE)
    (layout,) = plan.layouts
    assert layout.glueup is not None
    assert layout.glueup.top_off_mm == pytest.approx(PLANING)
    assert layout.glueup.bottom_off_mm == pytest.approx(PLANING + more)
    assert audit(loads(dumps(plan))) == ()


@pytest.mark.parametrize(
    ("thick", "width", "made"),
    [(LEAST, 75.8, 1), (LEAST - 0.01, 75.8, 0), (LEAST, 75.7, 0)],
)
def test_to_the_last_hundredth(make: Any, thick: float, width: float, made: int) -> None:
    """A hundredth less of thickness or a tenth less of width, and there is no book match."""
    board = make.board("b", 400, width, thickness_mm=thick)
    plan = planned(make, [board], [plate(make)], ONE, thickness_tolerance_mm=0.0)
    assert [r.placed for r in plan.orders] == [made]
    assert audit(plan) == ()
    if not made:
        refusal = plan.orders[0].reasons[0].refusal  # type: ignore[union-attr]
        assert isinstance(refusal, NotBookMatched)
        (buy,) = plan.purchases
        assert (buy.thickness_mm, buy.width_mm) == (pytest.approx(LEAST), pytest.approx(75.8, abs=0.11))


@pytest.mark.parametrize(
    "wrong", [{"thickness_mm": 40.0}, {"width_mm": 70.0}, {"width_mm": 90.0}, {"count": 2}]
)
def test_the_audit_knows_what_to_buy(make: Any, wrong: dict[str, Any]) -> None:
    """A board to buy that has no two leaves for the plate, or is larger than it needs, is found."""
    plan = planned(make, [make.board("b", 400, 60, thickness_mm=LEAST)], [plate(make)], ONE)
    assert audit(plan) == ()
    (buy,) = plan.purchases
    assert "A615" in {f.code for f in audit(replace(plan, purchases=(replace(buy, **wrong),)))}


def test_nothing_else_makes_it(make: Any) -> None:
    """A board wide and thick enough by itself, and two to glue up, make no plate that is to be book matched."""
    boards = [make.board("wide", 400, 300, thickness_mm=20.0)]
    boards += [make.board(f"half{k}", 400, 90, thickness_mm=20.0) for k in (1, 2)]
    assert [r.placed for r in planned(make, boards, [plate(make)], ONE).orders] == [0]
    assert [r.placed for r in planned(make, boards, [plate(make, book_match=False)], ONE).orders] == [1]


@pytest.mark.parametrize(("y", "made"), [(40.0, 1), (20.0, 0)])
def test_a_flaw_is_looked_at_in_both_leaves(make: Any, y: float, made: int) -> None:
    """A knot right through is in both leaves: an opening of the plate takes one, its mirror image is solid, or open too.

    The joint lies at 75.0 mm of the board; openings lie 29 to 41 mm off the middle, on one side or on both.
    """
    openings = [Outline.rectangle(160, 70 + 27, 190, 70 + 43), Outline.rectangle(160, 70 - 43, 190, 70 - 27)]
    board = make.board("b", 360, 75.8, thickness_mm=LEAST, defects=(knot(180, y, "through", None),))
    for some, found in ((openings, made), (openings[:1], 0)):
        zones = tuple(
            Zone(name=f"OPEN#{k}", role="cutout", shape=Shape(outer=o), face="through")
            for k, o in enumerate(some)
        )
        plan = planned(make, [board], [plate(make, zones=zones)], ONE)
        assert [r.placed for r in plan.orders] == [found]
        assert audit(plan) == ()


def test_a_shallow_flaw_is_in_one_leaf_only(make: Any) -> None:
    """A knot in the upper leaf alone needs an opening on one side alone; the plate is turned so that it has it there."""
    opening = Zone(
        name="OPEN",
        role="cutout",
        shape=Shape(outer=Outline.rectangle(160, 27, 190, 43)),
        face="through",
    )
    board = make.board("b", 360, 75.8, thickness_mm=LEAST, defects=(knot(180, 40, "top", 15.0),))
    plan = planned(make, [board], [plate(make, zones=(opening,))], ONE)
    assert [r.placed for r in plan.orders] == [1]
    assert audit(plan) == ()


def test_the_joint_lies_on_the_center_line(make: Any) -> None:
    """A center line 60 mm from one edge and 80 mm from the other lies on the joint, not the middle."""
    line = Zone(name="MID", role="center_line", line_mm=((0.0, 60.0), (350.0, 60.0)))
    plan = planned(make, [make.board("b", 400, 85.8, thickness_mm=LEAST)], [plate(make, zones=(line,))], ONE)
    assert [r.placed for r in plan.orders] == [1]
    (layout,) = plan.layouts
    (at,) = layout.placements
    assert on_blank(at, 100, 60).imag == pytest.approx(layout.blank.seams[0].line_mm[0][1], abs=0.003)
    assert audit(plan) == ()


def test_a_bad_edge_is_ripped_off(make: Any) -> None:
    """Wane 6 mm wide along the upper edge of a board of 100 mm: the joint lies below it, or at the other edge."""
    wane = Defect(
        name="defects.csv row 2", kind="wane", shape=Shape(outer=Outline.rectangle(0, 94, 400, 100))
    )
    plan = planned(make, [make.board("b", 400, 100, thickness_mm=LEAST, defects=(wane,))], [plate(make)], ONE)
    assert [r.placed for r in plan.orders] == [1]
    y = plan.layouts[0].blank.seams[0].line_mm[0][1]
    for member in plan.layouts[0].blank.members:
        low = min(abs(on_blank(member, 100, at).imag - y) for at in (94.0, 100.0))
        crossed = (on_blank(member, 100, 94.0).imag - y) * (on_blank(member, 100, 50.0).imag - y) <= 0
        assert crossed or low >= 70.0
    assert audit(plan) == ()


def test_a_board_on_hold_is_told_as_one(make: Any) -> None:
    """A board on hold that would do is told so; one taken is told as taken; both pass the check."""
    board = make.board("b", 400, 80, thickness_mm=60.0)
    plan = planned(make, [replace(board, status="hold")], [plate(make)], ONE)
    assert [r.placed for r in plan.orders] == [0]
    assert plan.orders[0].reasons[0] == PiecesOnHold(pieces=("b",))
    assert audit(plan) == ()
    gone = planned(make, [replace(board, status="taken")], [plate(make)], ONE)
    assert "taken" in {row.cause for row in gone.orders[0].reasons[-1].refused}  # type: ignore[union-attr]
    assert audit(gone) == ()


def test_fit_knows_of_book_matches(make: Any) -> None:
    """The question whether the plate goes on a board is answered by its leaves."""
    from nestyield.planning.questions import part_on_piece

    for width, found in ((80.0, True), (75.0, False)):
        board = make.board("b", 400, width, thickness_mm=60.0)
        shop = make.shop([board], [plate(make)], [], settings={"machines": SAW})
        answer = part_on_piece(shop, shop.parts[0], board, ("bench",))
        assert (answer.maker is not None) == found


@pytest.fixture(scope="module")
def booked(make: Any) -> Plan:
    """A board with two leaves for a plate and one to spare."""
    board = make.board("b", 400, 80, thickness_mm=60.0, defects=(knot(390, 70, "top", 9.0),), value=60.0)
    return planned(make, [board], [plate(make)], ONE, most_planed_away_mm=4.0)


def test_what_is_left_of_the_board(booked: Plan) -> None:
    """Of 60 mm two leaves of 19.6 and two cuts of 3.5 leave 13.8 mm, worth its share."""
    (sawing,) = booked.sawings
    (rest,) = sawing.rests
    assert rest.value == pytest.approx(60 - 2 * 19.6 - 2 * 3.5)
    check_by_hand(booked)
    assert audit(booked) == ()


def _members(data: dict[str, Any]) -> list[dict[str, Any]]:
    members: list[dict[str, Any]] = data["layouts"][0]["blank"]["members"]
    return members


def _shifted(data: dict[str, Any], key: str, by: int) -> None:
    _members(data)[1][key] += by


def _deeper(data: dict[str, Any]) -> None:
    layer = max((m["layer"] for m in _members(data)), key=lambda layer: layer["top_mm"])
    layer.update(top_mm=layer["top_mm"] + 1.0, bottom_mm=layer["bottom_mm"] + 1.0)


FAULTS = [
    (lambda d: _shifted(d, "x_um", 100), "A130"),
    (lambda d: _shifted(d, "y_um", 100), "A130"),
    (lambda d: _members(d)[1].update(mirrored=False), "A130"),
    (lambda d: _members(d)[1].update(angle_deg=180.5), "A130"),
    (
        lambda d: d["layouts"][0]["placements"][0].update(
            y_um=d["layouts"][0]["placements"][0]["y_um"] + 100
        ),
        "A130",
    ),
    (lambda d: _members(d)[1].update(layer=None), "A130"),
    (_deeper, "A130"),
    (_deeper, "A129"),
    (lambda d: d["layouts"][0]["glueup"]["steps"].pop(0), "A123"),
    (lambda d: d["layouts"][0]["glueup"]["steps"][1].update(board="A"), "A123"),
    (lambda d: d["layouts"][0].update(value=60.0), "A407"),
    (lambda d: d["layouts"][0].update(stock_area_mm2=32000.0), "A406"),
    (lambda d: d.update(sawings=[]), "A127"),
]


@pytest.mark.parametrize(("fault", "code"), FAULTS)
def test_the_audit_finds_a_wrong_book_match(booked: Plan, fault: Any, code: str) -> None:
    """One wrong value in what the plan tells of a book match makes the check speak."""
    data = json.loads(dumps(booked))
    fault(data)
    wrong = loads(json.dumps(data).encode())
    assert code in {f.code for f in audit(wrong)}


def test_a_part_that_asks_for_none_may_have_none(booked: Plan) -> None:
    """The same plan for a part that is not to be book matched is rejected, and a plain one for a part that is."""
    plain = replace(booked.shop.parts[0], book_match=False)
    wrong = replace(booked, shop=replace(booked.shop, parts=(plain,)))
    assert "A130" in {f.code for f in audit(wrong)}


def test_a_plain_blank_is_no_book_match(make: Any) -> None:
    """A plan that lays a part to be book matched on one board is rejected."""
    plan = planned(make, [make.board("b", 400, 160, thickness_mm=20.0)], [plate(make, book_match=False)], ONE)
    asked = replace(plan.shop.parts[0], book_match=True)
    assert "A130" in {f.code for f in audit(replace(plan, shop=replace(plan.shop, parts=(asked,))))}


SHOP = """\
[shop]
name = "Test"
units = "mm"
rack = "rack.csv"
[cutter]
diameter = 6
[leftover]
shortest = 100
narrowest = 40
[machines]
resaw_height = 160
resaw_cost = 1
[bed.bench]
travel_x = 900
travel_y = 600
[part.plate]
drawing = "plate.dxf"
thickness = 18
grain_tolerance = 1
book_match = true
[part.plate.layers]
EDGE = "outline"
[[order]]
name = "one"
part = "plate"
"""


def test_from_a_shop_folder_to_the_rack_and_back(tmp_path: Path) -> None:
    """Plan, verify, take and undo through the command line: the rest of the thickness is booked, and taken out again."""
    import ezdxf

    from nestyield.cli import main

    drawing = ezdxf.new(units=4)
    points = [(0, 0), (350, 0), (350, 140), (0, 140)]
    drawing.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": "EDGE"})
    drawing.saveas(tmp_path / "plate.dxf")
    (tmp_path / "shop.toml").write_text(SHOP)
    rack = tmp_path / "rack.csv"
    rack.write_text("piece,species,thickness_mm,length_mm,width_mm,value\nb,sugar maple,60,400,80,60\n")
    before = rack.read_bytes()
    assert main(["plan", str(tmp_path), "--out", str(tmp_path / "plan"), "--workers", "1", "-q"]) == 0
    assert main(["verify", str(tmp_path / "plan"), "--shop", str(tmp_path), "-q"]) == 0
    for name in ("b.saw-a4.pdf", "glue-up-1.glue-up-a4.pdf", "glue-up-1-a4.pdf"):
        assert (tmp_path / "plan" / "sheets" / name).stat().st_size > 1000
    assert main(["take", str(tmp_path / "plan"), "--shop", str(tmp_path), "-q"]) == 0
    with rack.open() as text:
        rows = list(csv.DictReader(text))
    assert rows[0]["status"] == "taken"
    # 60 less two leaves of 18 + 2 x 0.8 and two cuts of 1.6 + 2 x 0.8
    rests = [
        float(r["thickness_mm"]) for r in rows[1:] if r["parent"] == "b" and float(r["length_mm"]) == 400
    ]
    assert rests == [pytest.approx(60 - 2 * 19.6 - 2 * 3.2)]
    assert main(["undo", str(tmp_path), "-q"]) == 0
    assert rack.read_bytes() == before


@pytest.mark.parametrize("seed", [0, *(pytest.param(k, marks=pytest.mark.study) for k in (1, 2, 3))])
def test_book_matches_of_random_boards_are_mirrored(make: Any, seed: int) -> None:
    """Boards at any grain, with knots anywhere: what is found is mirrored, and passes the check."""
    rng = np.random.default_rng(seed)
    knots = tuple(
        knot(
            float(rng.uniform(10, 410)),
            float(rng.uniform(5, 90)),
            str(rng.choice(["top", "bottom"])),
            12.0,
            k,
        )
        for k in range(2, 4)
    )
    board = make.board(
        "b",
        420,
        96,
        thickness_mm=float(rng.uniform(44, 75)),
        defects=knots,
        grain_deg=float(rng.uniform(-2, 2)),
    )
    plan = planned(make, [board], [plate(make)], ONE)
    assert audit(plan) == ()
    for layout in plan.layouts:
        one, other = layout.blank.members
        y = layout.blank.seams[0].line_mm[0][1]
        for x in (0.0, 200.0, 420.0):
            a, b = on_blank(one, x, 50.0), on_blank(other, x, 50.0)
            assert abs(a - complex(b.real, 2 * y - b.imag)) < 0.003
