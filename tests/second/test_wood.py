"""The second checker on sheets: MDF only for a part that has no grain, or whose species names it."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import ezdxf
import pytest
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
[part.template]
drawing = "part.dxf"
thickness = 12
layers = { EDGE = "outline" }
"""
ORDER = """
[[order]]
name = "templates"
part = "template"
"""


def planned(folder: Path, key: str) -> tuple[int, dict]:
    """Plan one template on a rack that holds a sheet of MDF alone."""
    shop, out = folder / "shop", folder / "plan"
    shop.mkdir()
    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (300, 0), (300, 100), (0, 100)], close=True, dxfattribs={"layer": "EDGE"}
    )
    drawing.saveas(shop / "part.dxf")
    (shop / "shop.toml").write_text(SHOP + key + ORDER)
    (shop / "rack.csv").write_text("piece,species,thickness,length,width,grain\nS-1,MDF,12,600,400,none\n")
    code = run("plan", shop, "--out", out, "--workers", 1)[0]
    return code, json.loads((out / "plan.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("key", ['grain = "none"', 'species = ["MDF"]\ngrain_tolerance = 90'])
def test_a_part_with_a_grain_on_mdf_is_found(key: str, tmp_path: Path) -> None:
    """A sound plan on MDF passes; when the part has a grain and names no species, its wood is wrong."""
    code, plan = planned(tmp_path, key)
    assert code == 0
    assert len(plan["layouts"]) == 1
    assert not [f for f in of_plan(plan).found if f[0] == "species"]
    wrong = copy.deepcopy(plan)
    part = wrong["shop"]["parts"][0]
    part["grain_deg"] = 0.0
    part.pop("species", None)
    assert [f for f in of_plan(wrong).found if f[0] == "species"]


def test_that_no_piece_is_of_the_species_is_looked_at(tmp_path: Path) -> None:
    """A part with a grain has no piece on a rack of MDF; a part without one has, and the answer is wrong."""
    code, plan = planned(tmp_path, "")
    assert code == 1
    assert not plan["layouts"]
    assert not [f for f in of_plan(plan).found if f[0] == "refusals"]
    wrong = copy.deepcopy(plan)
    wrong["shop"]["parts"][0]["grain_deg"] = None
    assert [f for f in of_plan(wrong).found if f[0] == "refusals"]
