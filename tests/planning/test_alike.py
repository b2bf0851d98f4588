"""Many parts on several alike sheets: all of them in one search, and parts as tall as the sheet."""

import csv
import json
from pathlib import Path

import ezdxf
import pytest
import shapely
from shapely.affinity import affine_transform

from nestyield.cli import main

BENCH = Path(__file__).parents[3] / "shared" / "bench" / "bins" / "TB001.json"
#: Millimeters to the unit of the data: places of whole units are whole micrometers.
SCALE = 0.6


def write_shop(folder: Path, parts: dict[str, list[list[float]]], sheets: int) -> None:
    """Write a shop of square sheets, 600 mm, and one copy of each part; nothing between parts, no margin."""
    folder.mkdir()
    lines = ["[shop]", 'name = "Sheets"', 'units = "mm"', 'rack = "rack.csv"', "chaining = 0"]
    lines += ["[cutter]", "diameter = 6", "[allowance]", "between_parts = 0", "blank_margin = 0"]
    lines += ["[bed.big]", "travel_x = 2000", "travel_y = 2000"]
    lines += ["[search]", "effort = 1", "seconds = 100000", "seed = 1", "workers = 1"]
    for name, corners in parts.items():
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 4
        doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "EDGE"})
        doc.saveas(folder / f"{name}.dxf")
        lines += [f"[part.{name}]", f'drawing = "{name}.dxf"', "thickness = 19", 'show_face = "top"']
        lines += ["grain = 0", "grain_tolerance = 0", f"[part.{name}.layers]", 'EDGE = "outline"']
        lines += ["[[order]]", f'part = "{name}"', "count = 1"]
    (folder / "shop.toml").write_text("\n".join(lines))
    with (folder / "rack.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["piece", "species", "thickness", "length", "width", "grain", "count"])
        rows.writerow(["sheet", "black cherry", 20.6, 600, 600, 0, sheets])


def test_thirty_parts_on_as_few_sheets_as_hold_them(tmp_path: Path) -> None:
    """Thirty parts that fill ten sheets (TB001: Terashima-Marin et al. 2010) lie on eleven or ten, by shapely.

    Many of them are as tall as the sheet. Filled one after the other, sixteen sheets held 28 of them.
    """
    if not BENCH.is_file():
        pytest.skip("the open benchmark data is not beside the project (../shared/bench/bins)")
    data = json.loads(BENCH.read_text())
    parts = {p["id"]: [[SCALE * v for v in xy] for xy in p["polygon"]] for p in data["parts"]}
    write_shop(tmp_path / "shop", parts, 16)
    assert main(["plan", str(tmp_path / "shop"), "--out", str(tmp_path / "out"), "-q"]) == 0
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    assert len(plan["layouts"]) <= 11
    assert sorted(at["part"] for x in plan["layouts"] for at in x["placements"]) == sorted(parts)
    # an edge gives way by 2 micrometers
    sheet = shapely.box(0, 0, 600, 600).buffer(0.003, join_style="mitre")
    for layout in plan["layouts"]:
        lying = []
        for at in layout["placements"]:
            assert at["angle_deg"] in (0.0, 180.0)
            assert not at["mirrored"]
            c = 1.0 if at["angle_deg"] == 0.0 else -1.0
            shift = (at["x_um"] / 1e3, at["y_um"] / 1e3)
            lying.append(affine_transform(shapely.Polygon(parts[at["part"]]), (c, 0, 0, c, *shift)))
        assert all(sheet.covers(p) for p in lying)
        assert sum(p.area for p in lying) - shapely.union_all(lying).area < 1.0
