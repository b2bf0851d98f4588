"""Parts of strips on edge: ripped off boards, turned by a quarter, glued face to face."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nestyield.audit.check import audit
from nestyield.model import Defect, GlueUpRules, MachineLimits, Order, Outline, Plan, Shape, Zone
from nestyield.model.facts import NotOnEdge, RipNarrow
from nestyield.paperwork import strip_sheet
from nestyield.paperwork.canvas import Text
from nestyield.paperwork.saw_sheet import saw_sheet
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan
from nestyield.planning.strip_blank import RippedStrip, strip_blank

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from second import check as second

#: Of these shops: planing of each face, margin, the saw's kerf, millimeters.
PLANING, MARGIN, KERF = 0.8, 5.0, 3.2
#: A neck of 25 mm is cut from strips ripped to 26.6; a board of 31.6 makes 30 mm of the blank's width, so 80 mm and a
#: margin on each side are three strips, which 3 x 26.6 + 2 x 3.2 mm of board give.
RIPPED, THICK, WIDE, LONG = 25.0 + 2 * PLANING, 30.0 + 2 * PLANING, 3 * 26.6 + 2 * KERF, 710.0
ONE = [Order(name="o", part="neck")]


def neck(make: Any, **more: Any) -> Any:
    return make.part("neck", 700, 80, **{"thickness_mm": 25.0, "strips": "only", **more})


def board(make: Any, name: str = "b", long: float = LONG, wide: float = WIDE, **more: Any) -> Any:
    return make.board(name, long, wide, **{"thickness_mm": THICK, "moisture_pct": 8.0, **more})


def planned(make: Any, pieces: list[Any], part: Any, orders: list[Order] = ONE, **more: Any) -> Plan:
    settings = {"leftover_shortest_mm": 100.0, "leftover_narrowest_mm": 40.0, **more}
    shop = make.shop(pieces, [part], orders, settings=settings)
    return make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)


def sound(plan: Plan) -> bool:
    """Neither check finds anything, and the plan reads back."""
    assert audit(plan) == ()
    assert loads(dumps(plan)) == plan
    assert second.of_plan(json.loads(dumps(plan))).found == []
    return True


def knot(
    x: float, y: float, face: str = "through", depth: float | None = None, across: float = 12.0
) -> Defect:
    shape = Shape(outer=Outline.circle(x, y, across / 2))
    return Defect(name="defects.csv row 2", kind="knot", shape=shape, face=face, depth_mm=depth)


def made_of(plan: Plan) -> list[str]:
    return [m.piece for layout in plan.layouts for m in layout.blank.members]


def test_three_strips_of_a_board_stand_on_edge(make: Any) -> None:
    """A board that is exactly enough gives the neck; a hundredth less of length, width or thickness gives none."""
    plan = planned(make, [board(make)], neck(make))
    (layout,) = plan.layouts
    blank = layout.blank
    assert made_of(plan) == ["b", "b", "b"]
    assert blank.thickness_mm == pytest.approx(RIPPED)
    assert [s.line_mm[0][1] for s in blank.seams] == [30.0, 60.0]
    corners = [min(m.cut.outer.points_mm) for m in blank.members if m.cut is not None]
    assert corners == [(0.0, pytest.approx(k * (RIPPED + KERF))) for k in range(3)]
    (sawing,) = plan.sawings
    # the board is as long as the strips: two rips, and the third strip reaches its edge
    assert [(c.across, c.at_mm) for c in sawing.cuts] == [
        ("y", pytest.approx(RIPPED)),
        ("y", pytest.approx(2 * RIPPED + KERF)),
    ]
    told = layout.on_edge
    assert told is not None
    assert [(s.letter, s.ripped_mm, s.planed_mm, s.up) for s in told.strips] == [
        (letter, pytest.approx(RIPPED), pytest.approx(30.0), "far") for letter in "ABC"
    ]
    # hard maple, 200 psi at the least (trade facts): 710 x 26.6 mm in pounds-force, clamps of 4450 N
    force = 200 * 4.4482216152605 / 25.4**2 * 710 * RIPPED
    assert told.press.needed == -(-force // 4450)
    assert sound(plan)
    for less in ({"long": LONG - 0.01}, {"wide": WIDE - 0.01}, {"thickness_mm": THICK - 0.01}):
        assert planned(make, [board(make, **less)], neck(make)).layouts == ()


def test_only_parts_that_say_so(make: Any) -> None:
    """Without the setting the board is too thick to be planed down, and no strips are made of it."""
    thick = board(make, thickness_mm=60.0, wide=2 * RIPPED + KERF)
    assert planned(make, [thick], neck(make, strips="no")).layouts == ()
    plan = planned(make, [thick], neck(make, strips="allowed"))
    assert made_of(plan) == ["b", "b"]
    assert sound(plan)


def test_the_switch_comes_at_the_cost_of_joints_and_cuts(make: Any) -> None:
    """A flat board is left when strips, two joints and two rips cost a cent less, and taken when a cent more."""
    rules = {"glueup": GlueUpRules(joint_cost=3.0), "machines": MachineLimits(saw_cut_cost=1.0)}
    for value, taken in ((17.99, ["flat"]), (18.01, ["b", "b", "b"])):
        flat = make.board("flat", LONG, 90.0, thickness_mm=RIPPED, moisture_pct=8.0, value=value)
        strips = board(make, value=10.0)
        assert made_of(planned(make, [flat, strips], neck(make, strips="allowed"), **rules)) == taken
    only = planned(make, [flat, strips], neck(make), **rules)
    assert made_of(only) == ["b", "b", "b"]


def test_rests_go_back_and_the_board_is_cut_to_length(make: Any) -> None:
    """A longer and wider board is crosscut with room for pins, ripped thrice; both rests have their sizes."""
    plan = planned(make, [board(make, long=1200.0, wide=160.0)], neck(make))
    (sawing,) = plan.sawings
    # 710 mm and 25 on each end for pins and screws
    assert [(c.across, c.at_mm) for c in sawing.cuts] == [
        ("x", 760.0),
        ("y", pytest.approx(RIPPED)),
        ("y", pytest.approx(2 * RIPPED + KERF)),
        ("y", pytest.approx(3 * RIPPED + 2 * KERF)),
    ]
    sizes = [r.rectangle_mm[2:] for r in sawing.rests if r.usable]
    assert sizes == [
        pytest.approx((1200 - 760 - KERF, 160.0), abs=0.01),
        pytest.approx((760.0, 160 - 3 * (RIPPED + KERF)), abs=0.01),
    ]
    assert sound(plan)


def test_strips_of_two_boards_lie_alike_about_the_middle(make: Any) -> None:
    """Two strips of maple and one of walnut: the walnut stands between, where woods may be mixed."""
    maple = board(make, "m", wide=2 * RIPPED + KERF)
    walnut = board(make, "w", wide=RIPPED, species="black walnut")
    rules = GlueUpRules(mixed_species=True)
    plan = planned(make, [walnut, maple], neck(make), glueup=rules)
    assert made_of(plan) == ["m", "w", "m"]
    assert plan.layouts[0].blank.species == "sugar maple + black walnut"
    assert sound(plan)
    assert planned(make, [walnut, maple], neck(make)).layouts == ()
    damp = replace(walnut, moisture_pct=12.0)
    assert planned(make, [damp, maple], neck(make), glueup=rules).layouts == ()


def test_a_seam_keeps_off_a_hole(make: Any) -> None:
    """With seams 25 and 55 mm from the lower edge of the neck a hole at 26 is in the way: a fourth strip moves them."""
    hole = Zone(name="H", role="hole", shape=Shape(outer=Outline.circle(300, 26, 3)))
    part = neck(make, zones=(hole,))
    assert planned(make, [board(make)], part).layouts == ()
    plan = planned(make, [board(make, wide=4 * RIPPED + 3 * KERF)], part)
    assert made_of(plan) == ["b"] * 4
    assert sound(plan)
    (layout,) = plan.layouts
    (at,) = layout.placements
    sign = -1 if at.angle_deg == 180.0 else 1
    center = sign * 26 + at.y_um / 1000
    assert min(abs(s.line_mm[0][1] - center) for s in layout.blank.seams) >= 3 + 3 - 0.02


@pytest.mark.parametrize("ended", [False, True])
@pytest.mark.parametrize("near_up", [False, True])
def test_a_defect_turns_with_its_strip(make: Any, ended: bool, near_up: bool) -> None:
    """A knot, 5 mm deep from the top at a corner of its strip, lies where a rotation of the board as a solid brings it."""
    piece = replace(board(make), defects=(knot(100.0, 36.0, "top", 5.0),))
    settings = make.shop([piece], [], []).settings
    strip = RippedStrip(row=0, copy=1, low_um=(0, 29_800), long_um=710_000, wide_um=26_600)
    plain = replace(strip, low_um=(0, 0))
    blank = strip_blank([piece], [plain, strip], [(False, False), (ended, near_up)], settings)
    (found,) = blank.defects
    # the strip as a solid, x along, y across, z up, its middle at 0: turned about x until an edge is up, then about z
    middle = np.array([355.0, 29.8 + 13.3, -THICK / 2])
    knots = np.array([[94.0, 30.0, -5.0], [106.0, 42.0, -PLANING]]) - middle
    quarter = 1 if not near_up else -1
    about_x = np.array([[1, 0, 0], [0, 0, -quarter], [0, quarter, 0]])
    # the first end at the left or at the right: about the upright axis, where the other has not brought it there
    about_z = np.diag([-1, -1, 1]) if ended else np.eye(3)
    lies = knots @ about_x.T @ about_z.T + np.array([355.0, 45.0, -13.3])
    low, high = lies.min(axis=0), lies.max(axis=0)
    x, y = zip(*found.shape.outer.points_mm)
    assert (min(x), max(x)) == pytest.approx((low[0], high[0]), abs=0.01)
    assert (min(y), max(y)) == pytest.approx((low[1], high[1]), abs=0.01)
    assert found.span_mm(blank.thickness_mm) == pytest.approx((-high[2], -low[2]), abs=0.01)


def test_a_knot_comes_to_lie_where_a_pocket_is(make: Any) -> None:
    """A knot at the top of the only board, near the edge of a strip: turned with that edge up it is in the pocket."""
    pocket = Zone(
        name="P",
        role="pocket",
        shape=Shape(outer=Outline.rectangle(100, 40, 160, 56)),
        face="front",
        depth_mm=12.0,
    )
    spoiled = replace(board(make), defects=(knot(135.0, 36.0, "top", 8.0),))
    plan = planned(make, [spoiled], neck(make, zones=(pocket,)))
    assert made_of(plan) == ["b", "b", "b"]
    assert sound(plan)
    assert planned(make, [spoiled], neck(make)).layouts == ()
    deep = replace(spoiled, defects=(knot(135.0, 44.0, "top", 8.0, 20.0),))
    assert planned(make, [deep], neck(make, zones=(pocket,))).layouts == ()


def test_strips_lie_past_a_knot_where_the_board_is_large_enough(make: Any) -> None:
    """A knot through the board: strips are ripped on either side of it, none comes near nails."""
    spoiled = replace(board(make, wide=WIDE + 20), defects=(knot(300.0, 35.0),))
    plan = planned(make, [spoiled], neck(make))
    assert plan.layouts[0].blank.defects == ()
    assert sound(plan)
    nail = replace(knot(300.0, 35.0), kind="nail hole")
    assert planned(make, [replace(spoiled, defects=(nail,))], neck(make)).layouts == ()
    long = replace(board(make, long=1100.0), defects=(nail,))
    past = planned(make, [long], neck(make))
    assert sound(past)
    assert min(x for x, _ in past.layouts[0].blank.members[0].cut.outer.points_mm) > 306.0


def test_what_lacks_is_told_and_bought(make: Any) -> None:
    """A board that gives too few strips is refused by name; the board told does, and half a millimeter less does not."""
    short = board(make, wide=60.0)
    plan = planned(make, [short], neck(make))
    (reason,) = [r for r in plan.orders[0].reasons if getattr(r, "refusal", None) is not None]
    assert isinstance(reason.refusal, NotOnEdge)
    (bought,) = plan.purchases
    # square strips: 26.6 mm thick, so 25 of the width each, four of them
    assert (bought.count, bought.thickness_mm, bought.length_mm) == (1, pytest.approx(RIPPED), LONG)
    assert bought.width_mm == pytest.approx(4 * RIPPED + 3 * KERF)
    assert audit(plan) == ()
    enough = board(make, "new", wide=bought.width_mm, thickness_mm=bought.thickness_mm)
    assert made_of(planned(make, [enough], neck(make))) == ["new"] * 4
    less = board(make, "new", wide=bought.width_mm - 0.5, thickness_mm=bought.thickness_mm)
    assert planned(make, [less], neck(make)).layouts == ()


@pytest.fixture(scope="module")
def two(make: Any) -> Plan:
    """Return a plan of strips of a board with a knot."""
    pocket = Zone(
        name="P",
        role="pocket",
        shape=Shape(outer=Outline.rectangle(100, 40, 160, 56)),
        face="front",
        depth_mm=12.0,
    )
    spoiled = replace(board(make, long=900.0), defects=(knot(135.0, 36.0, "top", 8.0),))
    return planned(make, [spoiled], neck(make, zones=(pocket,)))


def members(told: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = told["layouts"][0]["blank"]["members"]
    return found


def _cut_elsewhere(told: dict[str, Any]) -> None:
    for p in members(told)[1]["cut"]["outer"]["points_mm"]:
        p[1] += 1.0


FAULTS: list[tuple[Callable[[dict[str, Any]], None], str]] = [
    (_cut_elsewhere, "A127"),
    (lambda t: members(t)[1]["strip"].update(top_off_mm=0.2, bottom_off_mm=1.4), "A138"),
    (lambda t: members(t)[1].update(mirrored=not members(t)[1]["mirrored"]), "A138"),
    (lambda t: members(t)[1].update(y_um=members(t)[1]["y_um"] + 500), "A138"),
    (lambda t: t["layouts"][0]["blank"].update(seams=t["layouts"][0]["blank"]["seams"][:1]), "A138"),
    (lambda t: t["shop"]["parts"][0].update(strips="no"), "A137"),
    (lambda t: t["layouts"][0]["on_edge"]["strips"][0].update(up="near"), "A139"),
    (lambda t: t["layouts"][0]["on_edge"]["strips"][0].update(end_for_end=True), "A139"),
    (lambda t: t["layouts"][0]["on_edge"]["strips"][0].update(ripped_mm=20.0), "A139"),
    (lambda t: t["layouts"][0]["on_edge"]["press"].update(needed=2, count=2), "A139"),
    (lambda t: t["layouts"][0]["on_edge"]["steps"].pop(1), "A139"),
    (lambda t: t["layouts"][0]["on_edge"]["cautions"].pop(0), "A139"),
    (lambda t: t["layouts"][0].update(on_edge=None), "A139"),
    (lambda t: t["sawings"][0]["cuts"].pop(), "A127"),
    (lambda t: t.update(sawings=[]), "A127"),
]


@pytest.mark.parametrize("k", range(len(FAULTS)))
def test_the_audit_finds_it(two: Plan, k: int) -> None:
    """Each single fault in a plan of strips is told by its code."""
    from nestyield.planfile.text import PlanFile

    fault, code = FAULTS[k]
    told = json.loads(dumps(two))
    fault(told)
    told.pop("inputs_sha256")
    wrong = PlanFile.model_validate({"plan": told}).plan
    assert code in {f.code for f in audit(wrong)}


def test_a_flaw_left_out_is_missed(make: Any) -> None:
    """A knot of the board that the blank does not have, or has at another depth, is told by both checkers."""
    pocket = Zone(
        name="P", role="pocket", shape=Shape(outer=Outline.rectangle(50, 10, 650, 70)), depth_mm=20.0
    )
    spoiled = replace(board(make), defects=(knot(135.0, 36.0, "top", 8.0),))
    plan = planned(make, [spoiled], neck(make, zones=(pocket,)))
    (layout,) = plan.layouts
    (flaw,) = layout.blank.defects
    assert sound(plan)
    other = replace(flaw, face="bottom" if flaw.face == "top" else "top")
    for defects in ((), (other,)):
        blank = replace(layout.blank, defects=defects)
        wrong = replace(plan, layouts=(replace(layout, blank=blank),))
        assert "A111" in {f.code for f in audit(wrong)}
        assert "strips" in {f[0] for f in second.of_plan(json.loads(dumps(wrong))).found}


def said(pages: list[Any]) -> str:
    text = " ".join(t.text for page in pages for t in page.items if isinstance(t, Text))
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def test_sheets_tell_how_to_rip_and_turn(make: Any) -> None:
    """The saw sheet names the strips and warns of narrow rips; the strip sheet says where seams lie and what is up."""
    plan = planned(make, [board(make, long=1200.0, wide=160.0)], neck(make))
    told = plan.layouts[0].on_edge
    assert told is not None
    assert any(isinstance(c, RipNarrow) and c.wide_um == 26_600 for c in told.cautions)
    sheet = said(strip_sheet.strip_sheet(plan, plan.layouts[0], "a4"))
    for words in (
        "Strip sheet",
        "seam 1: 30 mm and seam 2: 60 mm",
        "edge away from corner 0",
        "push stick",
        "quartersawn",
    ):
        assert words in sheet
    saw = said(saw_sheet(plan, plan.sawings[0], "a4"))
    for words in ("A of glue-up 1", "C of glue-up 1", "strip: see its strip sheet", "push stick"):
        assert words in saw


SHOP = """\
[shop]
name = "Test"
units = "mm"
rack = "rack.csv"
[cutter]
diameter = 6
[allowance]
blank_margin = 5
[leftover]
shortest = 150
narrowest = 40
[bed.big]
travel_x = 1200
travel_y = 800
[part.neck]
drawing = "neck.dxf"
thickness = 25
strips = "only"
[part.neck.layers]
EDGE = "outline"
[[order]]
part = "neck"
"""


def test_from_a_shop_folder_to_the_rack_and_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Plan, verify, take and undo: the board is taken, two rests go back rough, undo gives the same bytes."""
    import ezdxf

    from nestyield.cli import main

    drawing = ezdxf.new(units=4)
    points = [(0, 0), (700, 0), (700, 80), (0, 80)]
    drawing.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": "EDGE"})
    drawing.saveas(tmp_path / "neck.dxf")
    (tmp_path / "shop.toml").write_text(SHOP)
    rack = tmp_path / "rack.csv"
    rows = [
        "piece,species,thickness_mm,length_mm,width_mm,value,moisture",
        "b,sugar maple,31.6,1200,160,40,8",
    ]
    rack.write_text("\n".join(rows) + "\n")
    before = rack.read_bytes()
    plan = str(tmp_path / "plan")
    assert main(["plan", str(tmp_path), "--out", plan, "--workers", "1"]) == 0
    assert (
        "Rip b into strips on edge before gluing: glue-up 1; b-a, b-b left over." in capsys.readouterr().out
    )
    assert main(["verify", plan, "--shop", str(tmp_path), "-q"]) == 0
    assert second.findings(tmp_path / "plan", tmp_path).found == []
    for name in ("glue-up-1.strips-a4.pdf", "b.saw-a4.pdf", "glue-up-1-a4.pdf"):
        assert (tmp_path / "plan" / "sheets" / name).stat().st_size > 1000
    assert main(["take", plan, "--shop", str(tmp_path), "-q"]) == 0
    with rack.open() as text:
        booked = list(csv.DictReader(text))
    assert [r["status"] for r in booked if r["piece"] == "b"] == ["taken"]
    rests = sorted((float(r["length_mm"]), float(r["width_mm"])) for r in booked if r["parent"] == "b")
    assert rests == [
        pytest.approx((1200 - 760 - KERF, 160.0), abs=0.05),
        pytest.approx((760.0, 160 - 3 * (RIPPED + KERF)), abs=0.05),
    ]
    assert {float(r["thickness_mm"]) for r in booked if r["parent"] == "b"} == {31.6}
    assert main(["undo", str(tmp_path), "-q"]) == 0
    assert rack.read_bytes() == before


def test_boards_whose_moisture_never_agrees_are_passed_over(make: Any) -> None:
    """A damp board and a dry one, every strip flawed: no order of eleven strips is allowed, nor are they all gone through."""
    wide = 6 * RIPPED + 5 * KERF
    flaw = [Defect(name="f", kind="knot", shape=Shape(outer=Outline.rectangle(300, 2, 320, wide - 2)))]
    thin = {"thickness_mm": 10.0, "wide": wide, "defects": flaw}
    dry, damp = board(make, "dry", moisture_pct=6.0, **thin), board(make, "damp", moisture_pct=14.0, **thin)
    assert planned(make, [dry, damp], neck(make)).layouts == ()
