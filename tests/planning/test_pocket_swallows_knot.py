"""A knot that only fits in a pocket deep enough from the right face, from drawing to plan.

The drawing, millimeters (margin 6.35 all round, so that the piece of 212.7 x 92.7 leaves no play)::

    part 200 x 80 x 40, front up          piece 212.7 x 92.7 x 44, from its top
    +------------------------------+      +--------------------------------+
    |                              |      |                                |
    |  +--------+ (70, 50)         |      |                                |
    |  |   P    |                  |      |      (K) 20 across,            |
    |  |   x (50, 30)              |      |      middle (56.35, 36.35)     |
    |  +--------+                  |      |                                |
    |  (30, 10)                    |      |                                |
    +------------------------------+      +--------------------------------+

Laid front up and as drawn, the pocket's middle comes to 50 + 6.35 and 30 + 6.35: on the knot. The three
other ways bring it elsewhere: turned by 180 degrees to (150, 50) of the part's place, back up to (150, 30)
or (50, 50), where the pocket's edge runs through the knot (30 to 70 across, the knot 20 to 40).

In depth: 44 - 40 = 4 mm are planed away, at least 0.8 off each face, so at most 3.2 off the face with the
knot. Of a knot 10 mm deep at least 10 - 3.2 = 6.8 mm are left in the part, counted from that face. A pocket of
6.9 mm from the same face takes it away when at least 10 - 6.9 = 3.1 mm come off that face; one of 6.7 mm would
need 3.3 and leaves 0.1 mm of knot in its floor; a pocket from the other face leaves all of it.
"""

from __future__ import annotations

import json
from pathlib import Path

import ezdxf
import pytest

from nestyield.cli import main

SHOP = """
[shop]
name = "One knot"
units = "mm"
rack = "rack.csv"
defects = "defects.csv"

[cutter]
diameter = 6.35

[bed.bench]
travel_x = 400
travel_y = 300

[part.body]
drawing = "body.dxf"
thickness = 40
grain_tolerance = 5

[part.body.layers]
BODY = "outline"
P = {{ role = "pocket", face = "{pocket}", depth = {depth} }}

[[order]]
part = "body"
"""


def drawing(folder: Path) -> None:
    """The part of the module's sketch as DXF."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    body, pocket = [(0, 0), (200, 0), (200, 80), (0, 80)], [(30, 10), (70, 10), (70, 50), (30, 50)]
    msp.add_lwpolyline(body, close=True, dxfattribs={"layer": "BODY"})
    msp.add_lwpolyline(pocket, close=True, dxfattribs={"layer": "P"})
    doc.saveas(folder / "body.dxf")


@pytest.mark.parametrize(
    ("pocket", "depth", "knot", "fits"),
    [
        ("front", 6.9, "top", True),
        ("front", 6.7, "top", False),
        ("back", 6.9, "top", False),
        ("back", 6.9, "bottom", True),
        ("front", 6.9, "bottom", False),
    ],
)
@pytest.mark.outside(source="worked by hand, see the drawing and arithmetic above the test", mark="D")
def test_a_pocket_takes_the_knot_away_or_does_not(
    pocket: str, depth: float, knot: str, fits: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The plan lays the part where the sketch says, planed as the arithmetic says, or proves that it cannot."""
    shop, out = tmp_path / "shop", tmp_path / "out"
    shop.mkdir()
    drawing(shop)
    (shop / "shop.toml").write_text(SHOP.format(pocket=pocket, depth=depth))
    (shop / "rack.csv").write_text(
        "piece,species,thickness_mm,length_mm,width_mm\nB-1,sugar maple,44,212.7,92.7\n"
    )
    (shop / "defects.csv").write_text(
        f"piece,kind,x_mm,y_mm,diameter_mm,face,depth_mm\nB-1,knot,56.35,36.35,20,{knot},10\n"
    )
    code = main(["plan", str(shop), "--out", str(out)])
    told = capsys.readouterr()
    said = told.out
    assert code in (0, 1), told.err
    plan = json.loads((out / "plan.json").read_text())
    if fits:
        assert code == 0
        (at,) = plan["layouts"][0]["placements"]
        assert (at["angle_deg"], at["mirrored"], at["front_up"]) == (0.0, False, True)
        assert (at["x_um"], at["y_um"]) == (6350, 6350)
        off = at["top_off_mm"] if knot == "top" else 4.0 - at["top_off_mm"]
        assert 3.1 - 1e-9 <= off <= 3.2 + 1e-9
    else:
        assert code == 1
        assert plan["layouts"] == []
        (result,) = plan["orders"]
        (filled,) = [
            r for r in result["reasons"][0]["refusal"]["relaxations"] if r["code"] == "defect filled"
        ]
        assert (filled["kind"], filled["defect"]) == ("knot", "defects.csv row 2")
        assert "if the knot in defects.csv row 2 may be filled" in said
        (proof,) = result["certificates"]
        assert all(i["kind"] == "infeasible" for b in proof["branches"] for i in b["intervals"])
        assert "0 of 1 body" in said
    assert main(["verify", str(out), "--shop", str(shop)]) == 0
