"""Seams under parts."""

from __future__ import annotations

from typing import Any

import pytest

from nestyield.model import Outline, Placement, Seam, Settings, Shape, Zone
from nestyield.placement.stock import blank_of
from nestyield.planning.seams import seams_under

SETTINGS = Settings(cutter_diameter_mm=6)


def zone(name: str, x0: float, y0: float, x1: float, y1: float, **more: Any) -> Zone:
    return Zone(
        **{"name": name, "role": "pocket", "shape": Shape(outer=Outline.rectangle(x0, y0, x1, y1)), **more}
    )


def test_worked_by_hand(make: Any) -> None:
    """Length under the part, zones crossed with their lengths, and where the seam shows."""
    seam = Seam(name="seam 1", line_mm=((0.0, 100.0), (500.0, 100.0)))
    far = Seam(name="seam 2", line_mm=((0.0, 190.0), (500.0, 190.0)))
    blank = blank_of(make.board("R", 500, 200, seams=(seam, far)))
    part = make.part(
        "p", 300, 80,
        zones=(
            zone("A", 20, 10, 60, 70, depth_mm=20.0),
            zone("B", 100, 45, 130, 70, depth_mm=20.0, face="back"),
            zone("C", 200, 50, 290, 60, depth_mm=20.0),
        ),
    )  # fmt: skip
    place = Placement(part="p", order="o", copy=1, angle_deg=0, mirrored=False, x_um=50_000, y_um=60_000)
    (found,) = seams_under(blank, [(part, place)], SETTINGS)
    assert found.seam == "seam 1"
    assert found.length_mm == pytest.approx(300)
    assert found.zones == (("A", pytest.approx(40)),)  # the seam lies at y = 40 of the part
    assert found.visible == ("front", "back", "edge")
    assert found.wood_left_mm == (("A", 24.5),)  # of 44.5 mm, 20 deep


def test_mirrored_and_turned(make: Any) -> None:
    """Zones are carried along by the placement."""
    seam = Seam(name="seam 1", line_mm=((100.0, 0.0), (100.0, 400.0)))
    blank = blank_of(make.board("R", 400, 400, seams=(seam,)))
    part = make.part(
        "p",
        300,
        80,
        zones=(zone("low", 0, 5, 300, 25, depth_mm=9.0), zone("high", 0, 55, 300, 75, depth_mm=9.0)),
    )
    # mirrored: (x, y) -> (-x, y), turned by 90: (-y, -x), shifted: (140 - y, 350 - x): seam at y = 40
    place = Placement(part="p", order="o", copy=1, angle_deg=90, mirrored=True, x_um=140_000, y_um=350_000)
    (found,) = seams_under(blank, [(part, place)], SETTINGS)
    assert found.zones == ()
    moved = Placement(part="p", order="o", copy=1, angle_deg=90, mirrored=True, x_um=115_000, y_um=350_000)
    (found,) = seams_under(blank, [(part, moved)], SETTINGS)
    assert found.zones == (("low", pytest.approx(300)),)
    assert found.length_mm == pytest.approx(300)


def test_hidden_where_the_wood_is_cut_away(make: Any) -> None:
    """A seam whose whole run on the front lies in pockets shows on the back and the edge only."""
    seam = Seam(name="seam 1", line_mm=((0.0, 20.0), (500.0, 20.0)))
    blank = blank_of(make.board("R", 500, 200, seams=(seam,)))
    part = make.part("p", 300, 80, zones=(zone("A", -1, -1, 301, 81, depth_mm=20.0),))
    place = Placement(part="p", order="o", copy=1, angle_deg=0, mirrored=False, x_um=0, y_um=0)
    (found,) = seams_under(blank, [(part, place)], SETTINGS)
    assert found.visible == ("back", "edge")
