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


PORCH = """\
[shop]
name = "Back porch"
units = "in"
rack = "rack.csv"

[cutter]
diameter = "1/4"

[value]
"black limba" = 14
other = 6

[species."black limba"]
radial = 4.5
tangential = 6.2
density = 30
synonyms = ["korina"]

[bed.bench]
travel_x = 30
travel_y = 16

[part.body]
drawing = "body.dxf"
thickness = "1 3/4"
species = "korina"

[part.body.layers]
EDGE = "outline"

[part.neck]
drawing = "neck.dxf"
thickness = "3/4"
species = "sugar maple"

[part.neck.layers]
EDGE = "outline"

[[order]]
name = "one body"
part = "body"

[[order]]
name = "necks"
part = "neck"
count = 5

[search]
effort = 1
workers = 1
"""
PORCH_RACK = """\
piece,species,thickness,length,width,count
L1,black limba,1 7/8,17,7,1
L2,korina,1 7/8,18,7 1/4,1
L3,limba,1 7/8,17,14,1
M1,sugar maple,7/8,30,4,1
M2,hard maple,7/8,26,6 1/2,1
M3,sugar maple,3/4,30,4,1
"""


@pytest.fixture
def porch(tmp_path: Path) -> Path:
    """A small shop in inches: bodies 15 3/4 x 12 1/2 in of a wood of its own, necks 25 x 2 1/2 in of maple."""
    folder = tmp_path / "porch"
    folder.mkdir()
    (folder / "shop.toml").write_text(PORCH)
    (folder / "rack.csv").write_text(PORCH_RACK)
    for name, (length, width) in {"body": (15.75, 12.5), "neck": (25.0, 2.5)}.items():
        drawing = ezdxf.new("R2010", units=ezdxf.units.IN)
        drawing.modelspace().add_lwpolyline(
            [(0, 0), (length, 0), (length, width), (0, width)], close=True, dxfattribs={"layer": "EDGE"}
        )
        drawing.saveas(folder / f"{name}.dxf")
    return folder
