"""Pockets from both faces: told where they meet or nearly do, with figures worked out by hand."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

from nestyield.cli import main

SHOP = """\
[shop]
name = "Pockets"
units = "mm"
rack = "rack.csv"

[cutter]
diameter = 6

[bed.bench]
travel_x = 900
travel_y = 400

[part.body]
drawing = "body.dxf"
thickness = 40

[part.body.layers]
EDGE = "outline"
PICKUP = {{ role = "pocket", face = "front", depth = {front} }}
CAVITY = {{ role = "pocket", face = "{face}", depth = 22 }}

[[order]]
part = "body"
"""


@pytest.mark.parametrize(
    ("front", "face", "left", "says"),
    [
        (19, "back", 110, "they meet, and a hole goes right through"),  # 19 + 22 = 41 of 40
        (17, "back", 110, "only 1 mm of wood stays between them"),
        (15, "back", 110, ""),  # 3 mm stay
        (19, "front", 110, ""),  # both from the front: the deeper one counts
        (19, "back", 130, ""),  # the cavity begins 10 mm beyond the pickup
    ],
)
def test_pockets_over_each_other(
    front: int, face: str, left: int, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The pickup is cut from x 40 to 120; a cavity from 110 on lies over it on 10 x 30 mm."""
    (tmp_path / "shop.toml").write_text(SHOP.format(front=front, face=face))
    (tmp_path / "rack.csv").write_text("piece,species,thickness,length,width\nB,alder,45,400,200\n")
    drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
    for layer, x0, y0, x1, y1 in (
        ("EDGE", 0, 0, 300, 150),
        ("PICKUP", 40, 60, 120, 90),
        ("CAVITY", left, 40, 200, 110),
    ):
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        drawing.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    drawing.saveas(tmp_path / "body.dxf")
    code = main(["check", str(tmp_path), "--verbose"])
    told = "".join(capsys.readouterr()).replace("\u00a0", " ").replace("\u202f", " ")
    assert ("D026" in told) == bool(says)
    assert code == (1 if says else 0)
    if says:
        assert "lie over each other on 10 × 30 mm" in told
        assert says in told
