"""Thick boards sawn into leaves for thinner parts."""

from __future__ import annotations

import csv
import json
import re
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Defect, Layer, MachineLimits, Order, Outline, Plan, Shape
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan

#: Of these shops: kerf, planing of a sawn face, planing of each face before routing, millimeters.
KERF, FLAT, PLANING = 1.5, 1.0, 0.8
SAW = MachineLimits(resaw_height_mm=160.0, resaw_kerf_mm=KERF, resaw_planing_mm=FLAT, resaw_cost=5.0)


def flaw(kind: str, x: float, y: float, face: str, depth: float | None, row: int = 2) -> Defect:
    shape = Shape(outer=Outline.circle(x, y, 10))
    return Defect(name=f"defects.csv row {row}", kind=kind, shape=shape, face=face, depth_mm=depth)


def planned(make: Any, pieces: list[Any], parts: list[Any], orders: list[Order], **more: Any) -> Plan:
    settings = {"leftover_shortest_mm": 100.0, "leftover_narrowest_mm": 40.0, "machines": SAW, **more}
    shop = make.shop(pieces, parts, orders, settings=settings)
    return make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)


def top(make: Any, thick: float = 18.0, name: str = "top") -> Any:
    return make.part(name, 350, 130, thickness_mm=thick, grain_tolerance_deg=0.0)


def layers(plan: Plan) -> list[Layer | None]:
    return [layout.blank.members[0].layer for layout in plan.layouts]


def test_a_thick_board_gives_two_leaves(make: Any) -> None:
    """45 mm are 2 x (18 + 2 x 0.8) + 1.5 + 2 x 1 and 2.3 mm more: two tops, where there was none without a resaw."""
    board = make.board("thick", 400, 150, thickness_mm=45.0)
    orders = [Order(name="o", part="top", count=2)]
    before = planned(make, [board], [top(make)], orders, machines=MachineLimits())
    assert [r.placed for r in before.orders] == [0]
    assert before.sawings == ()
    plan = planned(make, [board], [top(make)], orders)
    assert [r.placed for r in plan.orders] == [2]
    (sawing,) = plan.sawings
    assert (sawing.blanks, sawing.cuts, sawing.rests, sawing.kerf_mm) == (
        ("thick.1", "thick.2"),
        (),
        (),
        KERF,
    )
    first, second = layers(plan)
    assert first is not None
    assert second is not None
    leaf = 18.0 + 2 * PLANING
    assert first.top_mm == 0.0
    assert min(first.thickness_mm, second.thickness_mm) == pytest.approx(leaf)
    assert second.top_mm - first.bottom_mm == pytest.approx(KERF + 2 * FLAT)
    assert second.bottom_mm == 45.0
    assert sawing.resaw is not None
    (cut,) = sawing.resaw.cuts
    assert (cut.at_mm, cut.fence_mm) == pytest.approx((first.bottom_mm + FLAT, first.bottom_mm + FLAT))
    assert sawing.resaw.height_mm == 150.0
    assert audit(loads(dumps(plan))) == ()


@pytest.mark.parametrize(("thick", "made"), [(2 * 19.6 + 3.5, 2), (2 * 19.6 + 3.5 - 0.01, 1)])
def test_to_the_last_hundredth(make: Any, thick: float, made: int) -> None:
    """Two leaves, a kerf and two planed faces are 42.7 mm; a hundredth less gives one leaf."""
    board = make.board("thick", 400, 150, thickness_mm=round(thick, 3))
    plan = planned(
        make, [board], [top(make)], [Order(name="o", part="top", count=2)], thickness_tolerance_mm=0.0
    )
    assert [r.placed for r in plan.orders] == [made]
    assert audit(plan) == ()


@pytest.mark.parametrize(
    ("limits", "why"),
    [
        ({"resaw_height_mm": 149.9}, "higher than the saw takes"),
        ({"resaw_height_mm": None}, "no saw"),
        ({"resaw_shortest_mm": 401.0}, "shorter than is safe"),
        ({"resaw_narrowest_mm": 151.0}, "narrower than is safe"),
        ({"resaw_thinnest_mm": 23.0}, "leaves too thin"),
    ],
)
def test_limits_of_the_saw(make: Any, limits: dict[str, Any], why: str) -> None:
    """A board that the machine cannot take is not resawn."""
    board = make.board("thick", 400, 150, thickness_mm=45.0)
    plan = planned(make, [board], [top(make)], [Order(name="o", part="top")], machines=replace(SAW, **limits))
    assert ([r.placed for r in plan.orders], plan.sawings) == ([0], ()), why
    assert audit(plan) == ()


def test_a_sheet_is_not_resawn(make: Any) -> None:
    """Sheet material has no grain, and is not resawn."""
    board = make.board("sheet", 400, 150, thickness_mm=45.0, grain_deg=None)
    plan = planned(make, [board], [top(make)], [Order(name="o", part="top")])
    assert [r.placed for r in plan.orders] == [0]


def test_a_flaw_is_in_the_leaves_that_it_reaches(make: Any) -> None:
    """A knot 25 mm deep from the top leaves the lower leaf clear: it starts no higher than 25 mm less what is planed."""
    board = make.board("thick", 400, 150, thickness_mm=60.0, defects=(flaw("knot", 200, 70, "top", 25.0),))
    plan = planned(make, [board], [top(make)], [Order(name="o", part="top")])
    assert [r.placed for r in plan.orders] == [1]
    (leaf,) = layers(plan)
    assert leaf is not None
    (placement,) = plan.layouts[0].placements
    spare = leaf.thickness_mm - 18.0
    off = spare / 2 if placement.top_off_mm is None else placement.top_off_mm
    assert leaf.top_mm + off >= 25.0 - 1e-6
    assert audit(plan) == ()


def test_metal_keeps_the_saw_away(make: Any) -> None:
    """A nail 21 mm deep keeps cuts below 24 mm: of 32 mm no leaf is left then, without it one is; 60 mm have room."""
    nail = flaw("nail hole", 390, 145, "top", 21.0)
    for thick, defects, made in ((32.0, (), 1), (32.0, (nail,), 0), (60.0, (nail,), 1)):
        board = make.board("thick", 400, 150, thickness_mm=thick, defects=defects)
        plan = planned(make, [board], [top(make)], [Order(name="o", part="top")])
        assert [r.placed for r in plan.orders] == [made]
        for sawing in plan.sawings:
            assert sawing.resaw is not None
            assert all(cut.at_mm >= 24.0 - 1e-6 for cut in sawing.resaw.cuts) or not defects
        assert audit(plan) == ()


def test_a_loose_knot_in_the_cut_is_told(make: Any) -> None:
    """The saw may meet a loose knot outside the part; the cut names it."""
    board = make.board(
        "thick", 460, 150, thickness_mm=45.0, defects=(flaw("loose knot", 445, 70, "through", None),)
    )
    plan = planned(make, [board], [top(make)], [Order(name="o", part="top", count=2)])
    assert [r.placed for r in plan.orders] == [2]
    (sawing,) = plan.sawings
    assert sawing.resaw is not None
    assert [c.defects for c in sawing.resaw.cuts] == [("defects.csv row 2",)]
    assert audit(plan) == ()


def test_it_stands_on_the_sound_edge(make: Any) -> None:
    """Bark along the lower edge: the board stands on the upper one; bark along both: it is not resawn."""
    bark = [Shape(outer=Outline.rectangle(0, y, 400, y + 4)) for y in (0.0, 146.0)]
    flaws = [Defect(name=f"defects.csv row {k}", kind="bark", shape=s) for k, s in enumerate(bark, 2)]
    part = make.part("slim", 350, 110, thickness_mm=18.0, grain_tolerance_deg=0.0)
    for some, made in ((flaws[:1], 1), (flaws, 0)):
        board = make.board("thick", 400, 150, thickness_mm=45.0, defects=tuple(some))
        plan = planned(make, [board], [part], [Order(name="o", part="slim")])
        assert [r.placed for r in plan.orders] == [made]
        for sawing in plan.sawings:
            assert sawing.resaw is not None
            assert {y for _, y in sawing.resaw.edge_mm} == {150.0}
        assert audit(plan) == ()


@pytest.mark.parametrize(("cost", "resawn"), [(5.9, True), (6.1, False)])
def test_resawing_wins_until_the_cut_costs_more(make: Any, cost: float, resawn: bool) -> None:
    """A thick board worth 10 gives both tops by one cut, two thin ones worth 8 each give them without: at 6."""
    boards = [make.board("thick", 400, 150, thickness_mm=45.0, value=10.0)]
    boards += [make.board(f"thin{k}", 400, 150, thickness_mm=20.0, value=8.0) for k in (1, 2)]
    limits = replace(SAW, resaw_cost=cost)
    orders = [Order(name="o", part="top", count=2)]
    plan = planned(make, boards, [top(make)], orders, machines=limits, leftover_worth=0.0)
    assert [r.placed for r in plan.orders] == [2]
    assert bool(plan.sawings) == resawn


def test_what_is_left_of_the_thickness_counts(make: Any) -> None:
    """One top of 60 mm worth 60: the rest of 60 - 19.6 - 3.5 mm counts for half of its share, against a board of 50."""
    boards = [make.board("thick", 400, 150, thickness_mm=60.0, value=60.0)]
    boards += [make.board("thin", 400, 150, thickness_mm=20.0, value=50.0)]
    plan = planned(make, boards, [top(make)], [Order(name="o", part="top")])
    (sawing,) = plan.sawings
    (rest,) = sawing.rests
    assert rest.value == pytest.approx(36.9)
    assert sawing.resaw is not None
    assert [r.thickness_mm for r in sawing.resaw.rests] == [pytest.approx(36.9)]
    assert audit(plan) == ()


@pytest.fixture(scope="module")
def three(make: Any) -> Plan:
    """Two tops of two thicknesses and a rest, with a knot in the rest and one in the lowest leaf."""
    knots = (flaw("knot", 200, 70, "top", 10.0), flaw("loose knot", 15, 75, "bottom", 30.0, 3))
    board = make.board("thick", 430, 150, thickness_mm=70.0, defects=knots, value=70.0)
    parts = [top(make), top(make, 12.0, "back")]
    return planned(make, [board], parts, [Order(name="o", part="top"), Order(name="p", part="back")])


def test_three_layers(three: Plan) -> None:
    """The knot in the top 10 mm goes with the rest or is planed off."""
    assert [r.placed for r in three.orders] == [1, 1]
    (sawing,) = three.sawings
    assert sawing.resaw is not None
    assert len(sawing.resaw.cuts) == 2
    assert len(sawing.rests) == 1
    assert audit(loads(dumps(three))) == ()


FAULTS = [
    (lambda d: d["sawings"][0]["resaw"]["cuts"][0].update(at_mm=22.0), "A129"),
    (lambda d: d["sawings"][0]["resaw"]["cuts"][0].update(fence_mm=22.0), "A129"),
    (lambda d: d["sawings"][0]["resaw"]["cuts"].pop(), "A129"),
    (lambda d: d["sawings"][0]["resaw"]["cuts"][0].update(defects=["defects.csv row 2"]), "A129"),
    (lambda d: d["sawings"][0]["resaw"].update(height_mm=140.0), "A129"),
    (lambda d: d["sawings"][0]["resaw"].update(edge_mm=[[0.0, 70.0], [430.0, 70.0]]), "A129"),
    (lambda d: d["sawings"][0]["resaw"].update(edge_mm=[[0.0, 0.0], [0.0, 150.0]]), "A129"),
    (lambda d: d["sawings"][0]["resaw"].update(edge_mm=[[0.0, 0.0], [100.0, 0.0]]), "A129"),
    (lambda d: d["sawings"][0]["resaw"].update(planing_mm=0.0), "A129"),
    (lambda d: d["sawings"][0].update(kerf_mm=3.2), "A129"),
    (lambda d: d["sawings"][0].update(resaw=None), "A129"),
    (lambda d: d["sawings"][0]["resaw"]["rests"][0].update(bottom_mm=69.0), "A129"),
    (lambda d: d["sawings"][0]["resaw"]["rests"].pop(), "A129"),
    (lambda d: d["sawings"][0]["rests"][0].update(value=99.0), "A407"),
    (lambda d: d["sawings"][0].update(value=99.0), "A127"),
    (lambda d: d["sawings"][0]["blanks"].pop(), "A127"),
    (lambda d: d.update(sawings=[]), "A127"),
    (lambda d: d["layouts"][0]["blank"].update(thickness_mm=30.0), "A110"),
    (lambda d: d["layouts"][-1]["blank"].update(defects=[]), "A111"),
    (lambda d: d["layouts"][0]["blank"]["members"][0].update(layer=None), "A110"),
    (lambda d: d["layouts"][0].update(board_feet=9.0), "A407"),
    (lambda d: d["layouts"][0].update(value=70.0), "A407"),
    (lambda d: _step(d).update(from_um=1000), "A529"),
    (lambda d: _step(d).update(top_sawn=not _step(d)["top_sawn"]), "A529"),
    (lambda d: d["cautions"].remove(_caution(d)), "A519"),
    (lambda d: _caution(d).update(highest_um=999000), "A519"),
]


def _step(data: dict[str, Any]) -> dict[str, Any]:
    steps = data["layouts"][0]["work"]["stages"][0]["steps"]
    return next(s for s in steps if s["code"] == "resaw first")


def _caution(data: dict[str, Any]) -> dict[str, Any]:
    return next(c for c in data["cautions"] if c["code"] == "resaw safely")


@pytest.mark.parametrize(("fault", "code"), FAULTS)
def test_the_audit_finds_a_wrong_resaw(three: Plan, fault: Any, code: str) -> None:
    """One wrong value in what the plan tells of leaves makes the check speak."""
    data = json.loads(dumps(three))
    fault(data)
    wrong = loads(json.dumps(data).encode())
    assert code in {f.code for f in audit(wrong)}


@pytest.mark.parametrize(
    "limits",
    [
        {"resaw_height_mm": 149.0},
        {"resaw_height_mm": None},
        {"resaw_shortest_mm": 431.0},
        {"resaw_narrowest_mm": 151.0},
        {"resaw_thinnest_mm": 30.0},
    ],
)
def test_the_audit_knows_the_limits_of_the_saw(three: Plan, limits: dict[str, Any]) -> None:
    """A plan resawn beyond what the shop's machine takes is rejected."""
    machines = replace(three.shop.settings.machines, **limits)
    settings = replace(three.shop.settings, machines=machines)
    wrong = replace(three, shop=replace(three.shop, settings=settings))
    assert "A129" in {f.code for f in audit(wrong)}


def test_the_audit_keeps_the_saw_from_metal(three: Plan) -> None:
    """A nail hole right through the board, in a corner that no part needs, makes every cut wrong."""
    piece = three.shop.pieces[0]
    nail = flaw("nail hole", 425, 140, "through", None, 4)
    pieces = (replace(piece, defects=(*piece.defects, nail)),)
    wrong = replace(three, shop=replace(three.shop, pieces=pieces))
    told = [f.message for f in audit(wrong) if f.code == "A129"]
    assert any("metal" in message for message in told)


SHOP = """\
[shop]
name = "Test"
units = "in"
rack = "rack.csv"
defects = "defects.csv"
[cutter]
diameter = 0.25
[allowance]
planing = "1/32"
[leftover]
shortest = 6
narrowest = 2
[machines]
resaw_height = 8
resaw_kerf = "1/16"
resaw_planing = "1/32"
[bed.bench]
travel_x = 30
travel_y = 20
[part.top]
drawing = "top.dxf"
thickness = "5/8"
grain_tolerance = 0
[part.top.layers]
EDGE = "outline"
[[order]]
name = "one"
part = "top"
"""


@pytest.fixture(scope="module")
def inch_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A board 1 3/4 in thick for a top of 5/8 in, with a knot 1/2 in deep at one end, and one right through."""
    import ezdxf

    from nestyield.cli import main

    folder = tmp_path_factory.mktemp("resawn")
    drawing = ezdxf.new(units=1)
    points = [(0, 0), (14, 0), (14, 5), (0, 5)]
    drawing.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": "EDGE"})
    drawing.saveas(folder / "top.dxf")
    (folder / "shop.toml").write_text(SHOP)
    (folder / "rack.csv").write_text(
        "piece,species,thickness_in,length_in,width_in,value\nthick,sugar maple,1.75,18,6,70\n"
    )
    (folder / "defects.csv").write_text(
        "piece,kind,x_in,y_in,diameter_in,face,depth_in,seen by\n"
        "thick,knot,16.5,3,1,top,1.25,Ann\nthick,knot,17.4,1,0.5,through,,Ann\n"
    )
    assert main(["plan", str(folder), "--out", str(folder / "plan"), "--workers", "1", "-q"]) == 0
    return folder


def test_the_saw_sheet_tells_fence_and_leaves(inch_folder: Path) -> None:
    """5/8 + 2/32 in and 1/32 for the sawn face: the fence stands 23/32 from the blade; 1 3/4 - 23/32 - 1/16 stay."""
    page = inch_folder / "plan" / "sheets" / "thick.saw-letter.pdf"
    text = subprocess.run(
        ["pdftotext", "-layout", str(page), "-"], capture_output=True, text=True, check=False
    ).stdout
    if not text:
        pytest.skip("pdftotext is not installed; the sheet was not read")
    assert re.search(r"\b1\s+23/32\s+thick\.1\s+31/32", text) or re.search(
        r"\b1\s+31/32\s+thick-a\s+23/32", text
    )
    assert "mm" not in text
    flat = " ".join(text.split())
    for words in ("stickers", "Resaw only what your machine's manual allows", "no board higher than 8 in"):
        assert words in flat


def test_the_table_of_cuts(inch_folder: Path) -> None:
    """sawing.csv has the cut with fence and depth."""
    with (inch_folder / "plan" / "sawing.csv").open(encoding="utf-8-sig") as text:
        (row,) = csv.DictReader(text)
    assert (row["piece"], row["how"], row["runs_from_in"]) == ("thick", "resaw", "")
    assert row["comes_off_in"] in ("0 23/32", "0 31/32")


def test_take_books_the_rest_with_its_thickness_and_flaws(inch_folder: Path) -> None:
    """The rest is 1 3/4 - 11/16 - 1/8 = 15/16 in, worth its share; the knot reaches what it reaches; undo restores."""
    from nestyield.cli import main

    files = [inch_folder / "rack.csv", inch_folder / "defects.csv"]
    before = [f.read_bytes() for f in files]
    plan = loads((inch_folder / "plan" / "plan.json").read_bytes())
    (sawing,) = plan.sawings
    assert sawing.resaw is not None
    (layer,) = sawing.resaw.rests
    assert main(["take", str(inch_folder / "plan"), "--shop", str(inch_folder), "-q"]) == 0
    with files[0].open() as text:
        rows = {row["piece"]: row for row in csv.DictReader(text)}
    rest = rows["thick-a"]
    assert (float(rest["thickness_in"]), rest["length_in"], rest["width_in"]) == (0.9375, "18", "6")
    assert float(rest["value"]) == pytest.approx(70 * 0.9375 / 1.75, abs=0.01)
    with files[1].open() as text:
        flaws = [row for row in csv.DictReader(text) if row["piece"] == "thick-a"]
    deep, through = sorted(flaws, key=lambda row: float(row["x_in"]))
    assert (through["face"], through["depth_in"], through["seen by"]) == ("through", "", "Ann")
    if layer.top_mm == 0.0:  # of 1 1/4 in all 15/16
        assert (deep["face"], deep["depth_in"]) == ("through", "")
    else:  # 1 1/4 less 13/16
        assert (deep["face"], float(deep["depth_in"])) == ("top", 0.4375)
    assert main(["undo", str(inch_folder), "-q"]) == 0
    assert [f.read_bytes() for f in files] == before


def test_the_whole_board_counts_once(inch_folder: Path) -> None:
    """Board feet are of the whole board, 18 x 6 x 1 3/4 in; the yield counts both leaves: 70 of 2 x 108 in2."""
    report = (inch_folder / "plan" / "report.html").read_text()
    assert re.search(r"<dt>board feet used</dt><dd>1\.31</dd>", report)
    assert re.search(r"<dt>yield</dt><dd>32(\.4)?\s?%</dd>", report)
    assert "It is resawn into leaves." in report


def test_the_lightest_wood_counts_for_leaves_too(make: Any) -> None:
    """A part as light as can be is not made of leaves of heavy wood while a light board lies ready."""
    from nestyield.model import WeightWish

    wish = WeightWish(lightest=True)
    part = make.part("top", 350, 130, thickness_mm=18.0, grain_tolerance_deg=0.0, species=(), weight=wish)
    boards = [
        make.board("thick", 400, 150, thickness_mm=45.0, value=1.0),
        make.board("light", 400, 150, thickness_mm=20.0, species="western redcedar", value=50.0),
    ]
    plan = planned(make, boards, [part], [Order(name="o", part="top")])
    assert [m.piece for layout in plan.layouts for m in layout.blank.members] == ["light"]
    assert audit(plan) == ()
