"""A small shop folder on disk, with a drawing, written anew for each test that wants one."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

SHOP = """\
[shop]
name = "Small shop"
units = "mm"
rack = "rack.csv"

[cutter]
diameter = 6

[search]
effort = 1
workers = 1

[bed.bench]
travel_x = 900
travel_y = 400

[bed.stub]
travel_x = 250
travel_y = 80

[part.neck]
drawing = "neck.dxf"
thickness = 20
species = "sugar maple"

[part.neck.layers]
EDGE = "outline"

[[order]]
name = "spring"
part = "neck"
count = 2
"""

RACK = """\
piece,species,thickness_mm,length_mm,width_mm,note
R1,sugar maple,25,330,110,by the window
R2,sugar maple,25,700,110,
R3,white oak,25,700,110,
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "shop.toml").write_text(SHOP)
    (folder / "rack.csv").write_text(RACK)
    drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (300, 10), (300, 70), (0, 80)], close=True, dxfattribs={"layer": "EDGE"}
    )
    drawing.saveas(folder / "neck.dxf")
    return folder
