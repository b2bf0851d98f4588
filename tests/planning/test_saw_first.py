"""Boards and sheets too long for every bed, sawn into blanks first."""

from __future__ import annotations

import itertools
import json
import re
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from nestyield.audit.check import audit
from nestyield.model import Defect, MachineLimits, Order, Outline, Plan, Shape
from nestyield.model.facts import LayoutRejected
from nestyield.planfile import dumps, loads
from nestyield.planning import saw_first
from nestyield.planning.layouts import copies_spent
from nestyield.planning.run import make_plan

MARGIN, KERF = 5.0, 3.0
#: A bed that takes 300 x 200 mm.
SMALL = {"x": 300.0, "y": 200.0}


def planned(make: Any, pieces: list[Any], parts: list[Any], orders: list[Order], **more: Any) -> Plan:
    settings = more.pop("settings", {})
    shop = make.shop(
        pieces,
        parts,
        orders,
        beds=[make.bed(**SMALL)],
        settings={
            "leftover_shortest_mm": 100.0,
            "leftover_narrowest_mm": 40.0,
            **settings,
        },
    )
    return make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)


def wood_of(layout: Any) -> Any:
    """Return what is sawn off for a blank, in the piece's coordinates."""
    (member,) = layout.blank.members
    return shapely.Polygon(member.cut.outer.points_mm)


def check_by_hand(plan: Plan, name: str) -> list[Any]:
    """Blanks and rests of a piece lie in it, the blade's width apart, with their parts in them; return the blanks."""
    piece = plan.shop.piece(name)
    (sawing,) = [s for s in plan.sawings if s.piece == name]
    kerf = plan.shop.settings.machines.saw_kerf_mm
    layouts = [x for x in plan.layouts if x.blank.name in sawing.blanks]
    woods = [wood_of(x) for x in layouts]
    every = woods + [shapely.Polygon(r.shape.outer.points_mm) for r in sawing.rests]
    whole = shapely.Polygon(piece.shape.outer.points_mm)
    for k, wood in enumerate(every):
        assert whole.buffer(1e-3).contains(wood)
        assert all(wood.distance(other) > kerf - 2e-3 for other in every[:k])
    for layout, wood in zip(layouts, woods):
        x0, y0, x1, y1 = wood.bounds
        short, long = sorted((x1 - x0, y1 - y0))
        assert (short, long) <= (200.0 + 1e-6, 300.0 + 1e-6)
        assert long <= 300.0 + 1e-6
        inside = wood.buffer(-MARGIN + 2e-3, join_style="mitre")
        for at in layout.placements:
            assert at.angle_deg % 90 == 0
            w, h = part_size(plan, at.part)
            ring = shapely.affinity.rotate(box(0, 0, w, h), at.angle_deg, origin=(0, 0))
            if at.mirrored:
                ring = shapely.affinity.rotate(box(-w, 0, 0, h), at.angle_deg, origin=(0, 0))
            ring = shapely.affinity.translate(ring, at.x_um / 1000 + x0, at.y_um / 1000 + y0)
            assert inside.contains(ring)
    return woods


def part_size(plan: Plan, name: str) -> tuple[float, float]:
    points = plan.shop.part(name).outline.points_mm
    return max(x for x, _ in points), max(y for _, y in points)


@pytest.fixture(scope="module")
def long_board(make: Any) -> Plan:
    """A board 1000 x 120 mm with a knot at one end, for three bodies of 240 x 90 mm."""
    knot = Defect(name="defects.csv row 2", kind="knot", shape=Shape(outer=Outline.circle(60, 55, 20)))
    return planned(
        make,
        [make.board("long", 1000, 120, defects=(knot,))],
        [make.part("body", 240, 90, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body", count=3)],
    )


def test_a_long_board_gives_three_blanks(long_board: Plan) -> None:
    """Each blank is as long as its part, the cutter's path on both sides and 6 mm beside it; the rest is one piece."""
    assert [r.placed for r in long_board.orders] == [3]
    woods = check_by_hand(long_board, "long")
    assert [round(w.bounds[2] - w.bounds[0], 3) for w in woods] == [264.0] * 3
    (sawing,) = long_board.sawings
    # the knot's edge lies at 80 mm: 80 mm come off, then 3 x 264 and four cuts
    assert [round(c.at_mm, 3) for c in sawing.cuts] == [
        round(80 + k * (264 + sawing.kerf_mm), 3) for k in range(4)
    ]
    longest = max(sawing.rests, key=lambda r: r.area_mm2)
    assert longest.rectangle_mm[2] == pytest.approx(1000 - 80 - 3 * 264 - 4 * sawing.kerf_mm, abs=0.01)


def test_the_audit_accepts_it_and_the_file_holds_it(long_board: Plan) -> None:
    """The plan passes its check, also after it was written and read."""
    again = loads(dumps(long_board))
    assert audit(again) == ()
    assert again.sawings == long_board.sawings


def test_defects_end_where_the_saw_ends_them(make: Any) -> None:
    """A check along the whole board is in each blank as long as the blank, and no longer."""
    check = Defect(
        name="defects.csv row 2", kind="check", shape=Shape(outer=Outline.rectangle(0, 112, 1000, 118))
    )
    plan = planned(
        make,
        [make.board("long", 1000, 120, defects=(check,))],
        [make.part("body", 240, 90, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body", count=3)],
    )
    assert len(plan.layouts) == 3
    for layout in plan.layouts:
        wood = box(*shapely.Polygon(layout.blank.shape.outer.points_mm).bounds)
        (found,) = layout.blank.defects
        ground = shapely.Polygon(found.shape.outer.points_mm)
        assert wood.buffer(1e-3).covers(ground)
        assert ground.bounds[2] - ground.bounds[0] == pytest.approx(wood.bounds[2] - wood.bounds[0], abs=0.01)
    assert audit(plan) == ()


def test_a_sheet_is_sawn_both_ways(make: Any) -> None:
    """A sheet longer and wider than the table gives blanks that lie on it, as many as are wanted."""
    plan = planned(
        make,
        [make.board("sheet", 600, 450, species="birch plywood", thickness_mm=14.0)],
        [make.part("jig", 250, 150, grain_tolerance_deg=0.0, thickness_mm=12.0, species=("birch plywood",))],
        [Order(name="o", part="jig", count=3)],
    )
    assert [r.placed for r in plan.orders] == [3]
    check_by_hand(plan, "sheet")
    assert {c.across for c in plan.sawings[0].cuts} == {"x", "y"}


def slanted(make: Any) -> Plan:
    """A board whose lower edge falls from 40 mm at one end to nothing at 400 mm, for six bars."""
    shape = Shape(outer=Outline.polygon([(0, 40), (400, 0), (900, 0), (900, 260), (0, 260)]))
    bar = make.part("bar", 250, 70)
    return planned(make, [make.board("R", 1, 1, shape=shape)], [bar], [Order(name="o", part="bar", count=6)])


def test_a_cut_is_measured_from_where_the_wood_begins(make: Any) -> None:
    """The first length ends at 274 mm, where the slanted edge lies 40 x (1 - 274 / 400) = 12.6 mm up."""
    plan = slanted(make)
    assert [r.placed for r in plan.orders] == [6]
    cuts = plan.sawings[0].cuts
    assert (cuts[0].across, cuts[0].at_mm) == ("x", 274.0)
    assert (cuts[1].across, cuts[1].start_mm) == ("y", pytest.approx(12.6, abs=1e-3))
    assert audit(plan) == ()


def test_a_sawing_that_fails_its_check_is_left_out(make: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Measured from where no wood is, a sawing is rejected (A127); the plan names it and comes out with another."""
    monkeypatch.setattr(saw_first._Saw, "_begins", lambda self, across, start, *rest: start)
    plan = slanted(make)
    assert plan.orders[0].placed > 0
    rejected = [n for n in plan.notices if isinstance(n, LayoutRejected)]
    assert rejected
    assert {f.code for n in rejected for f in n.evidence} == {"A127"}
    assert audit(plan) == ()


def test_a_piece_that_lies_on_the_bed_is_not_sawn(make: Any) -> None:
    """A board that the table takes goes on it whole, though sawing would leave more."""
    plan = planned(
        make,
        [make.board("short", 298, 110)],
        [make.part("body", 150, 90, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body")],
    )
    assert [r.placed for r in plan.orders] == [1]
    assert plan.orders[0].placed > 0


def test_the_blade_keeps_clear_of_a_nail(make: Any) -> None:
    """A nail where the shortest blank would end moves the cut beyond it."""
    nail = Defect(name="defects.csv row 2", kind="nail hole", shape=Shape(outer=Outline.circle(265, 100, 2)))
    plan = planned(
        make,
        [make.board("long", 700, 110, defects=(nail,))],
        [make.part("body", 240, 90, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body")],
    )
    (sawing,) = plan.sawings
    (cut,) = sawing.cuts
    assert cut.defects == ()
    assert not box(cut.at_mm, 0, cut.at_mm + sawing.kerf_mm, 110).intersects(
        shapely.Point(265, 100).buffer(2)
    )


def test_all_that_is_sawn_off_a_copy_spends_it_once(make: Any) -> None:
    """Two boards alike, each sawn into two blanks, are two copies spent, not four."""
    plan = planned(
        make,
        [make.board("two", 700, 120, count=2)],
        [make.part("body", 240, 90, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body", count=5)],
    )
    assert [r.placed for r in plan.orders] == [4]
    assert copies_spent(plan.layouts) == {"two": 2}
    assert sorted((s.copy, s.blanks) for s in plan.sawings) == [
        (1, ("two.1", "two.2")),
        (2, ("two/2.1", "two/2.2")),
    ]
    assert audit(plan) == ()


FAULTS = [
    (lambda d: d["sawings"][0]["cuts"][1].update(at_mm=500.0), "A127"),
    (lambda d: d["sawings"][0]["cuts"][1].update(start_mm=0.0), "A127"),
    (lambda d: d["sawings"][0]["cuts"][1].update(to_mm=60.0), "A127"),
    (lambda d: d["sawings"][0]["cuts"].pop(), "A127"),
    (lambda d: d["sawings"][0].update(kerf_mm=1.0), "A127"),
    (lambda d: d["sawings"][0].update(value=99.0), "A127"),
    (lambda d: d["sawings"][0]["cuts"][0].update(defects=["defects.csv row 2"]), "A127"),
    (lambda d: d["sawings"][0]["blanks"].pop(), "A127"),
    (lambda d: d.update(sawings=[]), "A127"),
    (lambda d: d["sawings"][0]["rests"][0].update(value=99.0), "A407"),
    (lambda d: d["sawings"][0]["rests"][0].update(area_mm2=1.0), "A406"),
    (lambda d: d["sawings"][0]["rests"][0]["rectangle_mm"].__setitem__(2, 400.0), "A405"),
    (lambda d: d["sawings"][0]["rests"][0].update(shape=d["sawings"][0]["rests"][1]["shape"]), "A403"),
    (lambda d: d["layouts"][0].update(stock_area_mm2=110000.0), "A406"),
    (lambda d: d["layouts"][0].update(value=1000.0), "A407"),
    (lambda d: d["layouts"][0]["work"]["stages"][0]["steps"][0].update(to_x_um=1), "A529"),
    (lambda d: d["layouts"][0]["work"]["stages"][0]["steps"].pop(0), "A529"),
    (lambda d: d["cautions"].remove({"code": "crosscut safely"}), "A519"),
]


@pytest.mark.parametrize(("fault", "code"), FAULTS)
def test_the_audit_finds_a_wrong_sawing(long_board: Plan, fault: Any, code: str) -> None:
    """One wrong value in what the plan tells of sawing makes the check speak."""
    data = json.loads(dumps(long_board))
    fault(data)
    wrong = loads(json.dumps(data).encode())
    assert code in {f.code for f in audit(wrong)}


SHOP = """\
[shop]
name = "Test"
units = "in"
rack = "rack.csv"
[cutter]
diameter = 0.25
[leftover]
shortest = 6
narrowest = 2
[machines]
saw_kerf = "1/8"
[bed.bench]
travel_x = 12
travel_y = 8
[part.body]
drawing = "body.dxf"
thickness = 1.5
grain_tolerance = 0
[part.body.layers]
EDGE = "outline"
[[order]]
name = "two"
part = "body"
count = 2
"""


@pytest.fixture(scope="module")
def inch_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A board 40 x 5 in for two bodies of 10 x 4 in, planned through the command line."""
    import ezdxf

    from nestyield.cli import main

    folder = tmp_path_factory.mktemp("sawn")
    drawing = ezdxf.new(units=1)
    drawing.layers.add("EDGE")
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (10, 0), (10, 4), (0, 4)], close=True, dxfattribs={"layer": "EDGE"}
    )
    drawing.saveas(folder / "body.dxf")
    (folder / "shop.toml").write_text(SHOP)
    (folder / "rack.csv").write_text(
        "piece,species,thickness_in,length_in,width_in,value,note\nlong,sugar maple,1.75,40,5,80,from the barn\n"
    )
    assert main(["plan", str(folder), "--out", str(folder / "plan"), "--workers", "1", "-q"]) == 0
    return folder


def test_the_saw_sheet_tells_the_cuts_in_inches(inch_folder: Path) -> None:
    """The sheet's text has each cut from the fresh edge and from the corner, and no mm."""
    page = inch_folder / "plan" / "sheets" / "long.saw-letter.pdf"
    text = subprocess.run(
        ["pdftotext", "-layout", str(page), "-"], capture_output=True, text=True, check=False
    ).stdout
    if not text:
        pytest.skip("pdftotext is not installed; the sheet was not read")
    # 10 in, the cutter's 1/4 in and 6 mm on both sides: 10.97 in, to the next 1/32; the blade takes 1/8
    assert re.search(r"1\s+crosscut\s+11\s+11\s+0 to 5\s+long.1", text)
    assert re.search(r"2\s+crosscut\s+11\s+22 1/8\s+0 to 5\s+long.2", text)
    assert re.search(r"long-a\s+17 3/4 × 5 in", text)
    assert "mm" not in text


def test_the_whole_board_counts_as_used(inch_folder: Path) -> None:
    """Board feet and value are of all the board: 40 x 5 x 1 3/4 in are 2.43 board feet, worth 80."""
    report = (inch_folder / "plan" / "report.html").read_text()
    assert re.search(r"<dt>board feet used</dt><dd>2\.43</dd>", report)
    assert re.search(r"<dt>value of stock used</dt><dd>80(\.00)?</dd>", report)
    # parts 2 x 10 x 4, and 17 3/4 x 5 back: 40 %, and 84.4 % with it
    assert re.search(r"<dt>yield</dt><dd>40(\.0)?\s?%</dd>", report)
    kept = re.search(r"<dt>yield counting leftovers kept</dt><dd>([0-9.]+)", report)
    assert kept is not None
    assert 84.3 <= float(kept.group(1)) <= 100.0


def test_take_books_the_board_once_and_its_rest(inch_folder: Path) -> None:
    """Taking one of the two blanks takes both; the rest comes back with its share of the value; undo restores."""
    from nestyield.cli import main

    before = (inch_folder / "rack.csv").read_bytes()
    args = [str(inch_folder / "plan"), "--shop", str(inch_folder)]
    assert main(["take", *args, "--blank", "long.2", "-q"]) == 0
    rows = (inch_folder / "rack.csv").read_text().splitlines()
    head, long, rest = (row.split(",") for row in rows)
    assert dict(zip(head, long))["status"] == "taken"
    got = dict(zip(head, rest))
    assert (got["piece"], got["length_in"], got["width_in"], got["parent"]) == (
        "long-a",
        "17 3/4",
        "5",
        "long",
    )
    # a rest counts as its share of the board, at most: 80 x 17.75 / 40
    assert float(got["value"]) == pytest.approx(80 * 17.75 / 40, abs=0.01)
    assert main(["undo", str(inch_folder), "-q"]) == 0
    assert (inch_folder / "rack.csv").read_bytes() == before


def test_such_blanks_cannot_be_kept(inch_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Keeping one of them is refused with what to do instead."""
    from nestyield.cli import main

    args = [str(inch_folder / "plan"), "--shop", str(inch_folder), "--blank", "long.1"]
    assert main(["keep", *args]) == 2
    assert "take it, or put the piece on hold" in capsys.readouterr().err


def most_copies(length: float, parts: dict[float, int], kerf: float) -> int:
    """Return how many blanks, each one part and its two margins long, can be sawn off a board, by trying all."""
    best = 0
    for counts in itertools.product(*(range(n + 1) for n in parts.values())):
        n = sum(counts)
        used = sum(k * (size + 2 * MARGIN) for k, size in zip(counts, parts)) + max(0, n - 1) * kerf
        if used <= length:
            best = max(best, n)
    return best


@pytest.mark.parametrize("seed", range(6))
def test_as_many_as_trying_every_mixture(make: Any, seed: int) -> None:
    """On two random boards for two sizes of part, each too long to share a blank, no mixture makes more copies."""
    rng = np.random.default_rng(seed)
    sizes = {float(s): int(rng.integers(1, 4)) for s in rng.choice(np.arange(155, 289, 3), 2, replace=False)}
    boards = [float(b) for b in rng.integers(500, 900, 2)]
    plan = planned(
        make,
        [make.board(f"b{k}", b, 105) for k, b in enumerate(boards)],
        [make.part(f"p{size:g}", size, 90, grain_tolerance_deg=0.0) for size in sizes],
        [Order(name=f"p{size:g}", part=f"p{size:g}", count=n) for size, n in sizes.items()],
    )
    best = 0
    first, second = boards
    for split in itertools.product(*(range(n + 1) for n in sizes.values())):
        here = dict(zip(sizes, split))
        there = {s: n - here[s] for s, n in sizes.items()}
        kerf = plan.shop.settings.machines.saw_kerf_mm
        best = max(best, most_copies(first, here, kerf) + most_copies(second, there, kerf))
    assert sum(r.placed for r in plan.orders) == best


def test_a_long_board_makes_a_part_sawn_first(inch_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`fit --piece` says yes for a board that no bed takes whole, and what is sawn off it."""
    from nestyield.cli import main

    assert main(["fit", str(inch_folder), "--part", "body", "--piece", "long"]) == 0
    text = capsys.readouterr().out
    assert "body on long: yes" in text
    assert "a blank is sawn off it first: 0 in to 11 in of its length, 0 in to 5 in of its width" in text


@pytest.mark.parametrize(("cost", "sawn"), [(3.9, True), (4.1, False)])
def test_sawing_wins_until_its_cuts_cost_more(make: Any, cost: float, sawn: bool) -> None:
    """A long board worth 6 gives the part by one cut, a short one worth 10 without: nothing comes back, so at 4."""
    plan = planned(
        make,
        [make.board("long", 360, 120, value=6.0), make.board("short", 290, 120, value=10.0)],
        [make.part("body", 240, 90, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body")],
        settings={"machines": MachineLimits(saw_cut_cost=cost), "leftover_worth": 0.0},
    )
    assert [r.placed for r in plan.orders] == [1]
    assert bool(plan.sawings) == sawn


def test_a_bed_that_the_order_may_not_use_does_not_keep_a_board_whole(make: Any) -> None:
    """A large bed takes the board whole, for another order; the order that may use the small bed alone gets it sawn."""
    shop = make.shop(
        [make.board("long", 700, 120), make.board("other", 600, 120, species="black walnut", count=2)],
        [
            make.part("body", 240, 90, grain_tolerance_deg=0.0, species=("sugar maple",)),
            make.part("wide", 350, 90, grain_tolerance_deg=0.0),
        ],
        [
            Order(name="small", part="body", beds=("small",)),
            Order(name="large", part="wide", count=2, beds=("large",)),
        ],
        beds=[make.bed("small", **SMALL), make.bed("large", x=2000, y=2000)],
    )
    plan = make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)
    assert {r.order: r.placed for r in plan.orders}["small"] == 1
    (sawing,) = plan.sawings
    assert sawing.piece == "long"
