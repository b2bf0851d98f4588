"""Outline and zones of a part."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from nestyield.intake.shop import read_shop
from nestyield.model import Finding, Part

Read = Callable[..., tuple[Part | None, list[Finding]]]


@pytest.fixture
def read(good_shop: Path) -> Read:
    def run(draw: Callable[[Any], None], layers: str) -> tuple[Part | None, list[Finding]]:
        doc = ezdxf.new(units=4)
        space = doc.modelspace()
        corners = [(0, 0), (400, 0), (400, 240), (0, 240)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "BODY"})
        draw(space)
        doc.saveas(good_shop / "mandolin.dxf")
        path = good_shop / "shop.toml"
        text = path.read_text(encoding="utf-8")
        old = 'PICKUPS = { role = "pocket", face = "front", depth = 19 }'
        path.write_text(text.replace(old, layers), encoding="utf-8")
        shop, findings = read_shop(good_shop)
        return (None if shop is None else shop.part("mandolin")), list(findings)

    return run


def circle(space: Any, layer: str, x: float, y: float, radius: float) -> None:
    space.add_circle((x, y), radius, dxfattribs={"layer": layer})


def test_several_outlines_are_several_zones(read: Read) -> None:
    """Zones are numbered in drawing order from the second on."""

    def draw(space: Any) -> None:
        for k in range(3):
            circle(space, "Pickups", 100 + 60 * k, 120, 10 + k)

    part, findings = read(draw, 'PICKUPS = { role = "pocket", depth = 19, tolerates = { knot = "allowed" } }')
    assert part is not None
    assert findings == []
    assert [z.name for z in part.zones] == ["Pickups", "Pickups#2", "Pickups#3"]
    assert [z.face for z in part.zones] == ["front"] * 3
    assert part.zones[0].tolerates == {"knot": "allowed"}
    assert part.zones[1].shape is not None
    assert part.zones[1].shape.area_mm2 == pytest.approx(121 * math.pi)


def test_islands(read: Read) -> None:
    """An outline inside a pocket is an island of it; one inside the island a pocket again."""

    def draw(space: Any) -> None:
        for radius in (80, 50, 20):
            circle(space, "P", 200, 120, radius)

    part, _ = read(draw, 'P = { role = "pocket", depth = 10 }')
    assert part is not None
    areas = [z.shape.area_mm2 for z in part.zones if z.shape is not None]
    assert areas == pytest.approx([math.pi * (6400 - 2500), math.pi * 400])


def test_faces_and_depths(read: Read) -> None:
    """Cutouts and holes without depth go through; pockets and contours have face and depth."""

    def draw(space: Any) -> None:
        for i, layer in enumerate(("A", "B", "C", "D", "E", "F")):
            circle(space, layer, 50 + 50 * i, 5 if layer == "F" else 120, 10)
        space.add_line((0, 120), (400, 120), dxfattribs={"layer": "CL"})

    part, findings = read(
        draw,
        'A = "cutout"\nB = "hole"\nC = { role = "hole", depth = 20 }\nD = "no_seam"\nE = "screw_row"\n'
        'F = { role = "contour", face = "back", depth = "1/4 in" }\nCL = "center_line"\n',
    )
    assert part is not None
    assert findings == []
    assert [(z.name, z.role, z.face, z.depth_mm) for z in part.zones] == [
        ("A", "cutout", "through", None),
        ("B", "hole", "through", None),
        ("C", "hole", "front", 20.0),
        ("D", "no_seam", "through", None),
        ("E", "screw_row", "through", None),
        ("F", "contour", "back", 6.35),
        ("CL", "center_line", "front", None),
    ]
    assert part.zones[-1].line_mm == ((0, 120), (400, 120))


@pytest.mark.parametrize(
    ("role", "x", "code", "severity"),
    [
        ('"cutout"', 600, "D020", "error"),
        ('"cutout"', 400, "D020", "warning"),
        ('"hole"', 405, "D020", "warning"),
        ('{ role = "cutout", over_edge = true }', 400, "D020", "note"),
        ('{ role = "hole", over_edge = true }', 405, "D020", "note"),
        ('{ role = "cutout", over_edge = true }', 600, "D020", "error"),
        ('{ role = "pocket", depth = 9 }', 600, "D020", "error"),
        ('{ role = "pocket", depth = 9 }', 400, "D020", "note"),
        ('{ role = "contour", depth = 9 }', 400, None, None),
        ('{ role = "contour", depth = 9 }', 200, "D020", "warning"),
        ('"no_seam"', 400, "D020", "note"),
        ('"cutout"', 389.96, None, None),
    ],
)
def test_zones_at_and_over_the_edge(
    role: str, x: float, code: str | None, severity: str | None, read: Read
) -> None:
    """Zones outside are errors, openings at the edge warnings; pockets and contours may run out."""
    part, findings = read(lambda space: circle(space, "P", x, 120, 10), f"P = {role}")
    assert [(f.code, f.severity) for f in findings] == ([(code, severity)] if code else [])
    assert (part is None) == (severity == "error")


def test_unnamed_layers_are_told_once(read: Read) -> None:
    """Layers that the shop file does not name are listed in one note."""

    def draw(space: Any) -> None:
        circle(space, "P", 100, 100, 9)
        circle(space, "FRAME", 100, 100, 900)
        circle(space, "JUNK", 0, 0, 0)

    part, findings = read(draw, 'P = "cutout"')
    assert part is not None
    (note,) = findings
    assert (note.code, note.severity) == ("D006", "note")
    assert "FRAME" in note.message


def test_ignored_layers_may_hold_anything(read: Read) -> None:
    """A layer set to ignore is not read, whatever it holds, and need not be there."""

    def draw(space: Any) -> None:
        circle(space, "P", 100, 100, 9)
        space.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs={"layer": "MODEL"})
        space.add_line((0, 0), (5, 5), dxfattribs={"layer": "MODEL"})

    part, findings = read(draw, 'P = "cutout"\nMODEL = "ignore"\nGONE = "ignore"')
    assert part is not None
    assert findings == []


def test_hidden_layer_is_read_with_a_note(read: Read) -> None:
    """A layer that is off but named is read, and told."""

    def draw(space: Any) -> None:
        circle(space, "P", 100, 100, 9)
        space.doc.layers.add("P").off()

    part, findings = read(draw, 'P = "cutout"')
    assert part is not None
    assert [(f.code, f.severity) for f in findings] == [("D021", "note")]


def test_open_line_on_a_zone_layer(read: Read) -> None:
    """A screw row drawn as a line is told as open: zones are closed outlines."""
    part, findings = read(
        lambda space: space.add_line((10, 10), (90, 10), dxfattribs={"layer": "P"}) and None,
        'P = "screw_row"',
    )
    assert part is None
    assert "D007" in [f.code for f in findings]


def test_layer_named_twice(read: Read) -> None:
    """Names that differ by case only are one layer to a drawing."""
    _, findings = read(lambda space: circle(space, "P", 100, 100, 9), 'P = "cutout"\np = "hole"')
    assert [f.code for f in findings] == ["S009"]
