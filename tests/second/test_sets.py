"""The second checker on sets: whole, and of matching wood."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import ezdxf
from study_shops import run

from tests.second.check import of_plan

SHOP = """
[shop]
units = "mm"
rack = "rack.csv"
[cutter]
diameter = 6
[bed.bench]
travel_x = 900
travel_y = 600
travel_z = 90
[part.body]
drawing = "part.dxf"
thickness = 40
layers = { EDGE = "outline" }
[part.neck]
drawing = "part.dxf"
thickness = 20
layers = { EDGE = "outline" }
[[order]]
name = "bodies"
part = "body"
set = "s"
match = "species"
[[order]]
name = "necks"
part = "neck"
set = "s"
match = "species"
"""
RACK = """piece,species,thickness,length,width
B-1,sugar maple,43,330,130
N-1,sugar maple,23,330,130
"""


def test_a_set_of_unlike_wood_is_found(tmp_path: Path) -> None:
    """The plan is sound; with a neck of walnut, or without it, the set is not."""
    shop, out = tmp_path / "shop", tmp_path / "plan"
    shop.mkdir()
    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (300, 0), (300, 100), (0, 100)], close=True, dxfattribs={"layer": "EDGE"}
    )
    drawing.saveas(shop / "part.dxf")
    (shop / "shop.toml").write_text(SHOP)
    (shop / "rack.csv").write_text(RACK)
    assert run("plan", shop, "--out", out, "--workers", 1)[0] == 0
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert not of_plan(plan).found
    unlike, alone = copy.deepcopy(plan), copy.deepcopy(plan)
    next(p for p in unlike["shop"]["pieces"] if p["name"] == "N-1")["species"] = "black walnut"
    alone["layouts"] = [x for x in alone["layouts"] if x["blank"]["name"] != "N-1"]
    for wrong, what in ((unlike, "does not match"), (alone, "not whole")):
        assert any(what in str(f) for f in of_plan(wrong).found), what
