"""Pieces that are measured only so well: parts keep off their edges and flaws by the error, and the plan tells it."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import shapely

from nestyield.api import check_shop, take, write_plan
from nestyield.audit.check import audit
from nestyield.model import Defect, Order, Outline, Plan, Shape, Shop
from nestyield.model.facts import BetterMeasured, ClosestRefusal, FitsIfRelaxed, MeasuredWood
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan

MARGIN, JOINTING, CUTTER = 5.0, 0.8, 6.0


def planned(make: Any, *pieces: Any, **part: Any) -> Plan:
    """Plan one body of 450 x 200 mm, which may not turn: it needs 460 x 210 mm and twice the error."""
    shop = make.shop(
        list(pieces),
        [make.part("body", 450, 200, grain_tolerance_deg=0.0, **part)],
        [Order(name="o", part="body")],
    )
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    assert [str(f) for f in audit(plan) if f.severity == "error"] == []
    assert loads(dumps(plan)) == plan
    return plan


def laid(plan: Plan) -> shapely.Polygon:
    """The one body of the plan: never turned by other than half turns, so a box."""
    (layout,) = plan.layouts
    (at,) = layout.placements
    angle = at.angle_deg % 360.0
    assert angle in (0.0, 180.0)
    sx = (-1 if at.mirrored else 1) * (1 if angle == 0 else -1)
    sy = 1 if angle == 0 else -1
    x, y = at.x_um / 1000, at.y_um / 1000
    return shapely.box(*sorted_box(x, x + sx * 450, y, y + sy * 200))


def sorted_box(x0: float, x1: float, y0: float, y1: float) -> tuple[float, float, float, float]:
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def codes(plan: Plan) -> set[str]:
    return {f.code for f in audit(plan) if f.severity == "error"}


@pytest.mark.outside(source="margin and error on either side, added up by hand", mark="D")
def test_the_error_is_kept_from_every_edge(make: Any) -> None:
    """A board with exactly the room takes the part, a margin and the error from each edge; a hair less does not."""
    room = 2 * (MARGIN + 1.5)
    plan = planned(make, make.board("B", 450 + room + 0.2, 200 + room + 0.2, measured_mm=1.5))
    edge = shapely.box(0, 0, 450 + room + 0.2, 200 + room + 0.2).boundary
    assert laid(plan).distance(edge) >= MARGIN + 1.5 - 0.002
    (told,) = [c for c in plan.layouts[0].cautions if isinstance(c, MeasuredWood)]
    assert (told.pieces, told.measured_um) == (("B",), 1500)
    assert 1498 <= (told.room_um or 0) <= 1602
    assert not planned(make, make.board("B", 450 + room - 0.1, 200 + room + 9, measured_mm=1.5)).layouts


@pytest.mark.parametrize("spare", [0.4, 1.0])
@pytest.mark.outside(source="the error that leaves the margin on either side, worked out by hand", mark="D")
def test_a_refusal_that_only_the_error_decides(make: Any, spare: float) -> None:
    """The reason says how well the piece must be measured, with a place that the audit confirms."""
    plan = planned(make, make.board("B", 450 + 2 * (MARGIN + spare), 300.0, measured_mm=2.0))
    assert plan.layouts == ()
    (reason,) = [r for r in plan.orders[0].reasons if isinstance(r, ClosestRefusal)]
    assert isinstance(reason.refusal, FitsIfRelaxed)
    (way,) = [w for w in reason.refusal.relaxations if isinstance(w, BetterMeasured)]
    assert way.measured_um == 2000
    assert 1000 * spare - 60 <= way.needed_um <= 1000 * spare
    for wrong in (
        replace(way, needed_um=1000 * spare + 100),
        replace(way, x_um=way.x_um + 900),
        replace(way, measured_um=2100),
    ):
        refusal = replace(reason.refusal, relaxations=(wrong,))
        result = replace(plan.orders[0], reasons=(replace(reason, refusal=refusal),))
        assert codes(replace(plan, orders=(result,))) == {"A610"}


def test_flaws_may_be_off_too(make: Any) -> None:
    """A part keeps off a knot by the error, and off metal by the cutter and the error."""
    for kind, clear in (("knot", 2.0), ("metal", CUTTER + 2.0)):
        spot = Defect(name="flaw", kind=kind, shape=Shape(outer=Outline.circle(600, 120, 10)))
        length = 600 - 10 - clear  # up to where the flaw may be
        for spare, fits in ((0.3, True), (-0.3, False)):
            board = make.board("B", 700, 300, defects=(spot,), measured_mm=2.0)
            part = {"outline": Outline.rectangle(0, 0, length - (MARGIN + 2.0) - spare, 230)}
            plan = planned(make, board, glue=False, **part)
            assert bool(plan.layouts) == fits, (kind, spare)


@pytest.mark.outside(source="the widths of two boards, their joint and errors, added up by hand", mark="D")
@pytest.mark.parametrize(("spare", "made"), [(0.6, True), (-0.6, False)])
def test_glue_ups_are_made_of_what_is_there_in_any_case(make: Any, spare: float, made: bool) -> None:
    """Two boards hold the body when it, margins, jointing and the errors of four edges go into their widths."""
    width = (200 + 2 * MARGIN + 2 * JOINTING + 4 * 1.0 + spare) / 2
    boards = [make.board(n, 500, width, measured_mm=1.0) for n in "AB"]
    plan = planned(make, *boards)
    assert bool(plan.layouts) == made
    if made:
        (layout,) = plan.layouts
        assert layout.blank.measured_mm == 0.0
        (told,) = [c for c in layout.cautions if isinstance(c, MeasuredWood)]
        assert (sorted(told.pieces), told.measured_um, told.room_um) == (["A", "B"], 1000, None)
        wider = replace(plan.shop, pieces=tuple(replace(p, measured_mm=4.0) for p in plan.shop.pieces))
        assert codes(replace(plan, shop=wider)) & {"A109", "A113", "A115"}


def test_the_audit_looks_at_the_error(make: Any) -> None:
    """A part nearer to the edge, another error of the blank, and a caution left out or untrue are found."""
    plan = planned(make, make.board("B", 463.2, 213.2, measured_mm=1.5))
    (layout,) = plan.layouts
    (at,) = layout.placements
    x = laid(plan).bounds[0]
    assert MARGIN + 1.5 - 0.002 <= x <= MARGIN + 1.7
    nearer = replace(layout, placements=(replace(at, x_um=at.x_um - 1000),))
    assert "A204" in codes(replace(plan, layouts=(nearer,)))
    exact = replace(layout, blank=replace(layout.blank, measured_mm=0.0))
    assert "A110" in codes(replace(plan, layouts=(exact,)))
    cautions = [c for c in layout.cautions if not isinstance(c, MeasuredWood)]
    (told,) = [c for c in layout.cautions if isinstance(c, MeasuredWood)]
    for others in (cautions, [*cautions, replace(told, room_um=3000)]):
        assert "A519" in codes(replace(plan, layouts=(replace(layout, cautions=tuple(others)),)))


SHOP = """\
[shop]
units = "in"
rack = "rack.csv"
[cutter]
diameter = "1/4 in"
[allowance]
measured = "1/8 in"
[leftover]
shortest = 6
narrowest = 1
[bed.bench]
travel_x = 60
travel_y = 30
[part.neck]
drawing = "neck.dxf"
thickness = 1
[part.neck.layers]
EDGE = "outline"
[[order]]
part = "neck"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    import ezdxf

    shop = tmp_path / "shop"
    shop.mkdir()
    doc = ezdxf.new(units=1)
    corners = [(0, 0), (12, 0), (12, 3), (0, 3)]
    doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "EDGE"})
    doc.saveas(shop / "neck.dxf")
    (shop / "shop.toml").write_text(SHOP)
    return shop


def of_one_board(folder: Path, head: str, cell: str, error: float) -> Shop:
    """Read a rack of one board, with a column or without, and check what it says of the measure."""
    (folder / "rack.csv").write_text(
        f"piece,species,thickness,length,width{head}\nB-1,ash,1 1/8,30,8{cell}\n"
    )
    shop, findings = check_shop(folder)
    assert shop is not None
    assert [f for f in findings if f.severity != "note"] == []
    assert shop.piece("B-1").measured_mm == pytest.approx(error * 25.4)
    return shop


CELLS = [("", "", 1 / 8), (",measured_mm", ",0", 0.0)]


@pytest.mark.parametrize(("head", "cell", "error"), CELLS)
def test_a_row_or_the_shop_says_how_well_it_is_measured(
    folder: Path, head: str, cell: str, error: float
) -> None:
    """A row without the column has the shop's error, a row that is measured exactly none."""
    of_one_board(folder, head, cell, error)


@pytest.mark.parametrize(
    ("head", "cell", "error"),
    [(",measured", ",1/16", 1 / 16), *(pytest.param(*c, marks=pytest.mark.study) for c in CELLS)],
)
def test_from_the_rack_to_the_papers_and_back(
    folder: Path, tmp_path: Path, head: str, cell: str, error: float
) -> None:
    """A row says how well it is measured, else the shop; table and report tell it; leftovers inherit it."""
    shop = of_one_board(folder, head, cell, error)
    out = tmp_path / "plan"
    write_plan(make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1), out)
    said = {0.125: "1/8", 0.0625: "1/16"}.get(error)
    table = (out / "cautions.csv").read_text(encoding="utf-8").splitlines()
    rows = [r for r in csv.reader(table) if "measured to" in str(r)]
    page = (out / "report.html").read_text(encoding="utf-8").replace("\u202f", " ").replace("\u00a0", " ")
    assert len(rows) == (1 if said else 0)
    if said:
        assert f"B-1 is measured to {said} in" in " ".join(rows[0])
        assert f"B-1 is measured to {said} in" in page
        assert " mm" not in " ".join(rows[0])
    else:
        assert "is measured to" not in page
    take(out, folder)
    again, _ = check_shop(folder)
    assert again is not None
    left = [p for p in again.pieces if p.parent == "B-1"]
    assert left
    assert {round(p.measured_mm, 6) for p in left} == {round(error * 25.4, 6)}


def test_a_measure_that_is_none(folder: Path) -> None:
    """A negative one is refused at its cell."""
    (folder / "rack.csv").write_text(
        "piece,species,thickness,length,width,measured\nB-1,ash,1 1/8,30,8,-1/16\nB-2,ash,1 1/8,30,8,well\n"
    )
    _, findings = check_shop(folder)
    assert [f.where for f in findings if f.severity == "error"] == [
        "row 2, column measured",
        "row 3, column measured",
    ]
