"""From a shop to a checked plan."""

from __future__ import annotations

import subprocess
import sys
import textwrap
from dataclasses import replace
from typing import Any

import pytest

from nestyield.model import (
    Bed,
    Defect,
    GlueUpRules,
    KeepOut,
    Order,
    Outline,
    Plan,
    Seam,
    Shape,
    Shop,
)
from nestyield.model.facts import (
    BedsRefuse,
    ClosestRefusal,
    DefectFilled,
    FitsIfRelaxed,
    NarrowerMargin,
    NoBedForPart,
    NoPieceOfSpecies,
    OrderOnHold,
    PiecesOnHold,
    PiecesSpent,
    RackCounts,
    Reason,
    RowsRefused,
    StoppedEarly,
    TooThinWhenPlaned,
    WiderPiece,
)
from nestyield.planfile import dumps
from nestyield.planning import run
from nestyield.planning.workers import LEAST_ROWS_TO_SHARE, WorkerError


def plan(shop: Shop, **more: Any) -> Plan:
    return run.make_plan(shop, **{"seed": 1, "effort": 1, "seconds": 300.0, "workers": 1, **more})


def used(made: Plan) -> dict[str, list[str]]:
    return {layout.blank.name: [p.part for p in layout.placements] for layout in made.layouts}


def test_least_valuable_stock_first(make: Any) -> None:
    """Of pieces that would do, the one worth least is taken, by its own value or by board feet."""
    pieces = [
        make.board("big", 900, 200),
        make.board("dear", 320, 100, value=99.0),
        make.board("small", 330, 110),
    ]
    shop = make.shop(pieces, [make.part("p", 300, 80)], [Order(name="o", part="p")])
    assert used(plan(shop)) == {"small": ["p"]}
    shop = replace(shop, pieces=(*shop.pieces[:2], replace(shop.pieces[2], status="hold")))
    assert used(plan(shop)) == {"big": ["p"]}


def test_several_on_one_piece_and_copies_of_a_row(make: Any) -> None:
    """Parts share a piece where that spends less, copies of a row are numbered, orders get their copies."""
    pieces = [make.board("R", 320, 100, count=5), make.board("sheet", 650, 210, value=0.1)]
    shop = make.shop(
        pieces,
        [make.part("p", 300, 80)],
        [Order(name="later", part="p", count=4), Order(name="first", part="p", count=3, priority=1)],
    )
    made = plan(shop)
    assert used(made) == {"R": ["p"], "R/2": ["p"], "R/3": ["p"], "sheet": ["p"] * 4}
    got = sorted((p.order, p.copy) for layout in made.layouts for p in layout.placements)
    assert got == [("first", 1), ("first", 2), ("first", 3), *(("later", k) for k in (1, 2, 3, 4))]
    assert [r.placed for r in made.orders] == [4, 3]
    assert [layout.blank.members[0].copy for layout in made.layouts] == [1, 2, 3, 1]


def test_measures(make: Any) -> None:
    """Yield, board feet and value of a layout are those worked out by hand."""
    piece = make.board("R", 600, 100)
    shop = make.shop([piece], [make.part("p", 190, 90)], [Order(name="o", part="p")],
                     settings={"value_per_board_foot": {"sugar maple": 10.0}})  # fmt: skip
    (layout,) = plan(shop).layouts
    assert layout.part_area_mm2 == pytest.approx(190 * 90)
    assert layout.stock_area_mm2 == pytest.approx(600 * 100)
    assert layout.board_feet == pytest.approx(600 * 100 * 47 / 2_359_737.216)
    assert layout.value == pytest.approx(10 * layout.board_feet)
    # the part lies 5 mm from an end, the cutter takes 6: 600 - 5 - 190 - 6 = 399 mm stay
    assert layout.usable_area_mm2 == pytest.approx(399 * 100, rel=2e-3)


def reasons(shop: Shop) -> tuple[Reason, ...]:
    made = plan(shop)
    assert made.layouts == ()
    assert [n.code for n in made.notices] == ["P010"]
    return made.orders[0].reasons


def test_reason_too_narrow(make: Any) -> None:
    """The nearest piece is named with what it lacks."""
    pieces = [make.board("R1", 500, 60), make.board("R2", 500, 80.5), make.board("R3", 200, 200)]
    shop = make.shop(pieces, [make.part("p", 300, 80, species=("sugar maple",), grain_tolerance_deg=0)],
                     [Order(name="o", part="p")], settings={"glueup": GlueUpRules(most_pieces=1)})  # fmt: skip
    first, second = reasons(shop)
    assert isinstance(first, ClosestRefusal)
    assert (first.species, first.thickness_um, first.used) == (("sugar maple",), 44_500, False)
    assert isinstance(first.refusal, FitsIfRelaxed)
    assert first.refusal.piece == "R2"
    margin, wider = first.refusal.relaxations  # 80 + 2 x 5 on 80.5
    assert isinstance(margin, NarrowerMargin)
    assert margin.reachable_um == pytest.approx(250, abs=40)
    assert isinstance(wider, WiderPiece)
    assert 9_450 <= wider.missing_um <= 9_600
    assert second == RackCounts(rows=3, refused=(RowsRefused(rows=3, cause="without a place"),))


def test_reason_thickness_and_species(make: Any) -> None:
    """With nothing thick enough the thickness is what is told; with no such wood at all, the wood."""
    pieces = [make.board("R1", 500, 200, thickness_mm=45.0), make.board("R2", 500, 200, species="oak")]
    part = make.part("p", 300, 80, species=("sugar maple",))
    first, second = reasons(make.shop(pieces, [part], [Order(name="o", part="p")]))
    assert first == ClosestRefusal(
        species=("sugar maple",),
        thickness_um=44_500,
        refusal=TooThinWhenPlaned(piece="R1", thickness_um=45_000, planed_um=43_400, far_um=950, enough=True),
    )
    one = (RowsRefused(rows=1, cause="too thin"), RowsRefused(rows=1, cause="of other species"))
    assert second == RackCounts(rows=2, refused=one)
    walnut = replace(part, species=("black walnut",))
    first, _ = reasons(make.shop(pieces, [walnut], [Order(name="o", part="p")]))
    assert first == NoPieceOfSpecies(species=("black walnut",))


def test_reason_hold_bed_and_spent(make: Any) -> None:
    """A piece on hold that would do is named; so is a bed that is too small, and what a piece went to."""
    part = make.part("p", 300, 80)
    held = make.shop([make.board("R1", 500, 200, status="hold")], [part], [Order(name="o", part="p")])
    assert reasons(held)[0] == PiecesOnHold(pieces=("R1",))
    small = make.shop(
        [make.board("R1", 500, 200)], [part], [Order(name="o", part="p")], beds=[make.bed("b", 290, 90)]
    )
    nowhere, closest, _ = reasons(small)
    assert nowhere == NoBedForPart()
    assert isinstance(closest, ClosestRefusal)
    assert isinstance(closest.refusal, BedsRefuse)
    assert (closest.refusal.piece, closest.refusal.bed, closest.refusal.along) == ("R1", "b", "x")
    both = make.shop([make.board("R1", 320, 100)], [part], [Order(name="o", part="p", count=2)])
    made = plan(both)
    assert made.orders[0].placed == 1
    assert made.orders[0].reasons[0] == PiecesSpent(pieces=("R1",))


def test_reason_defect(make: Any) -> None:
    """A piece that is large enough but for a defect says which."""
    knot = Defect(name="defects.csv row 7", kind="knot", shape=Shape(outer=Outline.circle(160, 50, 5)))
    shop = make.shop(
        [make.board("R1", 320, 100, defects=(knot,))],
        [make.part("p", 300, 80)],
        [Order(name="o", part="p")],
        settings={
            "glueup": GlueUpRules(most_pieces=1)
        },  # else the knot is ripped out and the board glued again
    )
    closest = reasons(shop)[0]
    assert isinstance(closest, ClosestRefusal)
    assert isinstance(closest.refusal, FitsIfRelaxed)
    assert closest.refusal.piece == "R1"
    assert DefectFilled(kind="knot", defect="defects.csv row 7") in closest.refusal.relaxations


def test_purchase(make: Any) -> None:
    """The least board for a missing order, margins and planing included; none when no bed takes the part."""
    part = make.part("p", 300, 80, species=("sugar maple",), grain_tolerance_deg=0)
    made = plan(make.shop([], [part], [Order(name="o", part="p", count=2)]))
    (buy,) = made.purchases
    assert (buy.count, buy.length_mm, buy.width_mm, buy.thickness_mm) == (2, 310.0, 90.0, 46.1)
    assert buy.board_feet == pytest.approx(2 * 310 * 90 * 46.1 / 2_359_737.216)
    nowhere = make.shop([], [part], [Order(name="o", part="p")], beds=[make.bed("b", 290, 90)])
    made = plan(nowhere)
    assert made.purchases == ()
    assert made.orders[0].reasons[0] == NoBedForPart()


def test_orders_on_hold(make: Any) -> None:
    """An order on hold is reported and not planned, and needs nobody."""
    shop = make.shop(
        [make.board("R", 500, 200)], [make.part("p", 300, 80)], [Order(name="o", part="p", hold=True)]
    )
    made = plan(shop)
    assert made.layouts == ()
    assert made.orders[0].reasons == (OrderOnHold(),)
    assert made.notices == ()


def test_bed_moves_the_part(make: Any) -> None:
    """A place that the bed refuses is given up for one that it takes."""
    clamp = KeepOut(name="clamp", outline=Outline.rectangle(0, 0, 150, 600), blocks="cutter")
    table = Bed(
        name="b",
        travel_x_mm=600,
        travel_y_mm=600,
        table_x_mm=(0, 600),
        table_y_mm=(0, 600),
        keep_outs=(clamp,),
    )
    shop = make.shop(
        [make.board("R", 600, 100)], [make.part("p", 300, 80)], [Order(name="o", part="p")], beds=[table]
    )
    (layout,) = plan(shop).layouts
    assert layout.chosen is not None
    assert layout.setups[layout.chosen].fits


def test_orders_share_no_bed(make: Any) -> None:
    """Parts whose orders name different beds never share a blank."""
    beds = [make.bed("one"), make.bed("two")]
    orders = [Order(name="a", part="p", beds=("one",)), Order(name="b", part="p", beds=("two",))]
    shop = make.shop(
        [make.board("R", 640, 100), make.board("S", 640, 100)], [make.part("p", 300, 80)], orders, beds=beds
    )
    made = plan(shop)
    assert used(made) == {"R": ["p"], "S": ["p"]}
    assert {s.bed for layout in made.layouts for s in layout.setups} == {"one", "two"}


def test_seams_of_a_glued_up_piece(make: Any) -> None:
    """A row that is a glued-up blank reports its seam under the part."""
    seam = Seam(name="seam 1", line_mm=((0.0, 50.0), (400.0, 50.0)))
    shop = make.shop(
        [make.board("R", 400, 100, seams=(seam,))], [make.part("p", 300, 80)], [Order(name="o", part="p")]
    )
    made = plan(shop)
    assert made.layouts[0].seams[0].length_mm == pytest.approx(300, abs=0.1)
    assert made.objectives[-1].goal == "seams"


def rack(make: Any, rows: int) -> Shop:
    return make.shop(
        [make.board(f"R{k}", 320 + k, 100 + k % 3) for k in range(rows)],
        [make.part("p", 300, 80), make.part("q", 150, 60)],
        [Order(name="o", part="p", count=2), Order(name="u", part="q", count=3, priority=2)],
    )


@pytest.mark.study
def test_any_number_of_workers(make: Any) -> None:
    """The same bytes with one process and with three; with two, see the test below."""
    shop = rack(make, LEAST_ROWS_TO_SHARE)
    assert dumps(plan(shop)) == dumps(plan(shop, workers=3))


def test_script_without_guard(tmp_path: Any) -> None:
    """A plain script that plans at its top level works with two processes, and gives the bytes of one."""
    script = tmp_path / "mine.py"
    script.write_text(
        textwrap.dedent(
            """
            from nestyield.model import *
            from nestyield.planfile import dumps
            from nestyield.planning.run import make_plan
            board = Shape(outer=Outline.rectangle(0, 0, 320, 100))
            shop = Shop(
                name="", units="mm", settings=Settings(cutter_diameter_mm=6), beds=(),
                parts=(Part(name="p", drawing="", outline=Outline.rectangle(0, 0, 300, 80),
                            thickness_mm=40),),
                pieces=tuple(Piece(name=f"R{k}", species="x", thickness_mm=45, shape=board)
                             for k in range(9)),
                orders=(Order(name="o", part="p"),),
            )
            plans = [make_plan(shop, seed=1, effort=1, seconds=6000, workers=n) for n in (1, 2)]
            print(plans[0].orders[0].placed, dumps(plans[0]) == dumps(plans[1]))
            """
        )
    )
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, timeout=120)
    assert (done.stdout, done.returncode) == ("1 True\n", 0), done.stderr


@pytest.mark.study
def test_fault_in_a_worker_survives(make: Any) -> None:
    """A fault of the program in another process is told with the piece and that process's traceback."""
    shop = rack(make, LEAST_ROWS_TO_SHARE)
    beyond = Defect(name="d", kind="knot", shape=Shape(outer=Outline.circle(2e7, 0, 5)))
    far = make.board("far", 900, 200, defects=(beyond,))
    with pytest.raises(WorkerError, match=r"(?s)while trying piece far:.*Traceback"):
        plan(replace(shop, pieces=(*shop.pieces, far)), workers=2)


def test_ceiling_returns_the_best_so_far(make: Any) -> None:
    """A run that hits the ceiling gives a checked plan that says so."""
    made = plan(rack(make, 4), seconds=1e-9)
    assert made.stopped == "seconds"
    assert made.notices[0] == StoppedEarly(by="seconds")
    counts = made.orders[0].reasons[-1]
    assert isinstance(counts, RackCounts)
    assert "not tried" in [r.cause for r in counts.refused]


def test_interrupt_returns_the_best_so_far(make: Any) -> None:
    """Ctrl-C while pieces are tried gives a checked plan from those that were, marked as stopped."""

    def press(what: str, done: int, of: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    made = plan(rack(make, 4), progress=press)
    assert made.stopped == "interrupt"
    assert [r.placed for r in made.orders] == [0, 3]


@pytest.mark.parametrize("k", [2, 5])
def test_planted_inventory(make: Any, k: int) -> None:
    """K blanks that can serve K orders in one way only: the choice finds it."""
    lengths = [200 + 20 * i for i in range(k)]
    pieces = [make.board(f"R{i}", length + 10.2, 90.2, value=1.0) for i, length in enumerate(lengths)]
    parts = [make.part(f"p{i}", length, 80, grain_tolerance_deg=0) for i, length in enumerate(lengths)]
    orders = [Order(name=f"o{i}", part=f"p{i}", priority=1 + i) for i in range(k)]
    made = plan(make.shop(pieces[::-1], parts, orders))
    assert used(made) == {f"R{i}": [f"p{i}"] for i in range(k)}


def test_a_run_that_is_stopped_at_once_claims_nothing(make):
    """Boards that hold the part were not tried: no reason says that they do not, and nothing is listed to buy."""
    shop = make.shop(
        [make.board("B1", 400, 220), make.board("B2", 100, 220)],
        [make.part("body", 300, 200)],
        [Order(name="b", part="body", count=1)],
    )
    made = plan(shop, seconds=1e-6)
    assert (made.stopped, made.layouts) == ("seconds", ())
    (result,) = made.orders
    assert [r.code for r in result.reasons] == ["stopped before trying", "rack counts"]
    assert made.purchases == ()


def test_sheets_to_buy_are_as_thick_as_the_part(make):
    """Nothing is planed off plywood: 4 mm of it for a part of 4 mm; maple has the planing on top."""
    for species, thickness in (("birch plywood", 4.0), ("sugar maple", 5.6)):
        part = replace(make.part("plate", 300, 200, thickness_mm=4.0), species=(species,))
        shop = make.shop([make.board("B", 100, 100)], [part], [Order(name="p", part="plate")])
        shop = replace(shop, settings=replace(shop.settings, planing_mm=0.8))
        (buy,) = plan(shop).purchases
        assert buy.thickness_mm == pytest.approx(thickness)
