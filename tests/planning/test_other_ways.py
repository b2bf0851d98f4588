"""The runners-up of each blank, on boards whose values are worked out by hand, and kept instead of the plan's."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from nestyield.audit.check import audit
from nestyield.cli import main
from nestyield.planfile import loads

SHOP = """\
[shop]
name = "Runners-up"
units = "mm"
rack = "rack.csv"

[cutter]
diameter = 6

[allowance]
planing = 0
blank_margin = 5

[glueup]
joint_cost = 3

[leftover]
shortest = 900
narrowest = 900

[search]
effort = 1
workers = 1

[bed.bench]
travel_x = 900
travel_y = 400

[part.block]
drawing = "block.dxf"
thickness = 20
grain_tolerance = 0

[part.block.layers]
EDGE = "outline"

[[order]]
name = "spring"
part = "block"
count = 1
"""

#: Nothing comes back, so a board costs its own value. The block of 300 x 160 with 5 mm all round wants 310 x 170:
#: A, B, C and D each hold it; E and F are 90 wide, and glued they are 180 wide: 4 + 5 + one joint of 3 = 12.
RACK = """\
piece,species,thickness,length,width,count,value,status
A,sugar maple,20,320,175,1,7,ready
B,sugar maple,20,330,175,1,9,ready
C,sugar maple,20,340,175,2,11,ready
D,sugar maple,20,350,175,1,13,ready
H,sugar maple,20,355,175,1,8,hold
E,sugar maple,20,320,90,1,4,ready
F,sugar maple,20,320,90,1,5,ready
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("runners")
    shop, out = folder / "shop", folder / "out"
    shop.mkdir()
    (shop / "shop.toml").write_text(SHOP)
    (shop / "rack.csv").write_text(RACK)
    drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (300, 0), (300, 160), (0, 160)], close=True, dxfattribs={"layer": "EDGE"}
    )
    drawing.saveas(shop / "block.dxf")
    assert main(["plan", str(shop), "--out", str(out), "--quiet"]) == 0
    return shop, out


def rows(out: Path) -> list[dict[str, str]]:
    return list(csv.DictReader((out / "other_ways.csv").read_text(encoding="utf-8-sig").splitlines()))


def test_the_three_next_best_are_told(made: tuple[Path, Path]) -> None:
    """A is taken; B, C and D follow, each with the money that it costs more.

    The glue-up would come before D, but glue-ups that cannot gain are not tried, and only what was tried is told.
    """
    _, out = made
    told = [(r["instead_of"], r["way"], r["pieces"], r["joints"], r["costs_more"]) for r in rows(out)]
    assert told == [("A", "1", "B", "0", "2.00"), ("A", "2", "C", "0", "4.00"), ("A", "3", "D", "0", "6.00")]
    first = rows(out)[0]
    assert float(first["yield_pct"]) == pytest.approx(100 * 300 * 160 / (330 * 175), abs=0.06)
    feet = 330 * 175 * 20 / (144 * 25.4**3)
    assert float(first["board_feet_used_up"]) == pytest.approx(feet, abs=0.006)
    report = (out / "report.html").read_text()
    assert "Other ways to make it (3)" in report
    assert '--blank "A" --way 1' in report.replace("&#34;", '"')


def test_a_way_that_is_kept_is_the_next_plan(made: tuple[Path, Path], tmp_path: Path, capsys) -> None:  # type: ignore[no-untyped-def]
    """Kept, the second way is what the next plan cuts; a number that is not there is told."""
    shop, out = made
    assert main(["keep", str(out), "--shop", str(shop), "--blank", "A", "--way", "4"]) == 2
    assert "blank 'A' has no way 4: its other ways are 1 to 3" in capsys.readouterr().err
    assert main(["keep", str(out), "--shop", str(shop), "--way", "1"]) == 2
    assert "expected one --blank that the --way is for" in capsys.readouterr().err
    assert main(["keep", str(out), "--shop", str(shop), "--blank", "A", "--way", "2"]) == 0
    try:
        again = tmp_path / "again"
        assert main(["plan", str(shop), "--out", str(again), "--quiet"]) == 0
        plan = json.loads((again / "plan.json").read_bytes())
        (layout,) = plan["layouts"]
        assert [m["piece"] for m in layout["blank"]["members"]] == ["C"]
        assert layout["value"] == 11
        assert layout["chosen"] is not None
        assert main(["verify", str(again)]) == 0
    finally:
        assert main(["keep", "--shop", str(shop), "--release", "C"]) == 0


def test_the_audit_catches_what_is_wrong_with_a_way(made: tuple[Path, Path]) -> None:
    """A wrong cost, a place past the edge, a copy that the rack has not, a blank that is not there: A612."""
    _, out = made
    plan = loads((out / "plan.json").read_bytes())
    assert audit(plan) == ()
    way = plan.other_ways[0]
    (placed,) = way.placements
    (member,) = way.blank.members
    wrong = [
        replace(way, costs_more=way.costs_more + 0.01),
        replace(way, back=way.value),
        replace(way, instead_of="B"),
        replace(way, placements=(replace(placed, y_um=placed.y_um + 20_000),)),
        replace(way, placements=()),
        replace(way, blank=replace(way.blank, members=(replace(member, copy=2),))),
        replace(way, stock_area_mm2=way.stock_area_mm2 * 1.01),
        replace(way, used_up=way.used_up * 2),
    ]
    for bad in wrong:
        found = {f.code for f in audit(replace(plan, other_ways=(bad,)))}
        assert found == {"A612"}, bad
