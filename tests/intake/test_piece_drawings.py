"""Rack pieces kept in drawings."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from nestyield.intake.drawings import Drawings
from nestyield.intake.files import ShopFiles
from nestyield.intake.piece_drawings import LayerMeaning, piece_from_drawing
from nestyield.intake.problems import Problems
from nestyield.intake.shop import read_shop
from nestyield.model import Defect, Finding, Shape

Read = Callable[..., tuple[Shape | None, tuple[Defect, ...], list[Finding]]]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def run(
        draw: Callable[[Any], None],
        cell: str = "a.dxf",
        units: int = 4,
        stated: str | None = None,
        **meanings: Any,
    ) -> tuple[Shape | None, tuple[Defect, ...], list[Finding]]:
        doc = ezdxf.new(units=units)
        draw(doc.modelspace())
        doc.saveas(tmp_path / "a.dxf")
        problems = Problems()
        shape, defects = piece_from_drawing(
            cell,
            stated=stated,
            drawings=Drawings(files=ShopFiles(folder=tmp_path, problems=problems), chaining_mm=0.1),
            meanings={k.casefold(): LayerMeaning(**v) for k, v in meanings.items()} if meanings else None,
            file="rack.csv",
            where="row 2, column outline",
            key="row 2",
        )
        return shape, defects, problems.findings

    return run


def box(space: Any, layer: str, x: float = 0, size: float = 100) -> None:
    corners = [(x, 0), (x + size, 0), (x + size, size), (x, size)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})


def circle(space: Any, layer: str, x: float, y: float, radius: float) -> None:
    space.add_circle((x, y), radius, dxfattribs={"layer": layer})


def test_single_layer_is_the_outline(read: Read) -> None:
    """A drawing with curves on one layer only needs no more words; inner outlines are holes."""

    def draw(space: Any) -> None:
        box(space, "WHATEVER")
        circle(space, "WHATEVER", 50, 50, 10)
        space.add_text("piece 7", dxfattribs={"layer": "NOTES"})

    shape, defects, findings = read(draw)
    assert shape is not None
    assert shape.area_mm2 == pytest.approx(10_000 - 100 * math.pi)
    assert defects == ()
    assert findings == []


def test_layers_by_meaning(read: Read) -> None:
    """[rack_layers] tells outline, holes and defects apart."""

    def draw(space: Any) -> None:
        box(space, "EDGE")
        circle(space, "TAP", 50, 50, 10)
        circle(space, "KNOTS", 20, 20, 6)
        circle(space, "KNOTS", 500, 20, 6)  # beside the piece
        circle(space, "SCRIBBLE", 80, 80, 3)

    shape, defects, findings = read(
        draw,
        EDGE={"role": "outline"},
        TAP={"role": "hole"},
        KNOTS={"role": "defect", "kind": "knot", "face": "top", "depth_mm": 9.0},
    )
    assert shape is not None
    assert shape.area_mm2 == pytest.approx(10_000 - 100 * math.pi)
    assert [(d.kind, d.face, d.depth_mm) for d in defects] == [("knot", "top", 9.0)]
    assert "layer KNOTS, CIRCLE" in defects[0].name
    assert [(f.code, f.severity) for f in findings] == [("D006", "note")]
    assert "SCRIBBLE" in findings[0].message


def test_one_file_for_many_pieces(read: Read) -> None:
    """FILE#LAYER takes one layer; defects drawn over it belong to it."""

    def draw(space: Any) -> None:
        box(space, "TREAD_A")
        box(space, "TREAD_B", x=200, size=50)
        circle(space, "KNOT", 20, 20, 6)
        circle(space, "KNOT", 220, 20, 6)

    meanings = {"KNOT": {"role": "defect", "kind": "knot"}}
    for cell, area in (("a.dxf#tread_a", 10_000), ("a.dxf # TREAD_B", 2500)):
        shape, defects, findings = read(draw, cell, **meanings)
        assert shape is not None
        assert shape.area_mm2 == area
        assert len(defects) == 1
        assert findings == []


@pytest.mark.parametrize(
    ("cell", "layers", "code", "told"),
    [
        ("a.dxf", ["A", "B"], "D019", "A, B"),
        ("a.dxf", [], "D019", "no curves"),
        ("a.dxf#C", ["A", "B"], "D005", "'C'"),
        ("b.dxf", ["A"], "D001", "name one that is: a.dxf"),
        ("../a.dxf", ["A"], "S010", "outside"),
        ("#A", ["A"], "S010", "file name"),
    ],
)
def test_what_cannot_be_told_is_asked(cell: str, layers: list[str], code: str, told: str, read: Read) -> None:
    """Missing files and layers, and drawings with several layers, are errors that say what to write."""

    def draw(space: Any) -> None:
        for i, layer in enumerate(layers):
            box(space, layer, x=200 * i)

    shape, _, findings = read(draw, cell)
    assert shape is None
    assert [f.code for f in findings] == [code]
    assert told in str(findings[0])


def test_two_outlines_on_the_layer(read: Read) -> None:
    """Two pieces on one layer are an error with both places."""

    def draw(space: Any) -> None:
        box(space, "A")
        box(space, "A", x=200)

    shape, _, findings = read(draw)
    assert shape is None
    assert findings[0].code == "D019"
    assert "at x 200, y 0 mm" in findings[0].where


def test_hole_at_the_edge(read: Read) -> None:
    """A hole that reaches over the edge belongs into the outline."""

    def draw(space: Any) -> None:
        box(space, "EDGE")
        circle(space, "TAP", 0, 50, 10)

    shape, _, findings = read(draw, EDGE={"role": "outline"}, TAP={"role": "hole"})
    assert shape is None
    assert [f.code for f in findings] == ["D020"]


def test_unit_of_the_row(read: Read) -> None:
    """drawing_units of the row serves drawings that do not say."""
    shape, _, findings = read(lambda space: box(space, "A", size=10), units=0, stated="in")
    assert shape is not None
    assert shape.area_mm2 == pytest.approx(254**2)
    assert findings == []
    shape, _, findings = read(lambda space: box(space, "A", size=10), units=0)
    assert shape is None
    assert "row 2" in findings[0].message


def test_rack_layers_of_the_shop_file(good_shop: Path) -> None:
    """Roles in short, kinds in short, and mistakes with their key and line."""
    text = (good_shop / "shop.toml").read_text(encoding="utf-8")
    layers = (
        '\n[rack_layers]\nEDGE = "outline"\nKNOTS = "knot"\nCRACKS = { role = "defect", kind = "check" }\n'
    )
    (good_shop / "shop.toml").write_text(text + layers, encoding="utf-8")
    shop, findings = read_shop(good_shop)
    assert shop is not None
    assert findings == ()
    wrong = (
        '\n[rack_layers]\nA = "edge"\nB = { role = "defect", kind = "gnarl" }\n'
        'C = { role = "hole", kind = "knot" }\n'
    )
    (good_shop / "shop.toml").write_text(text + wrong, encoding="utf-8")
    _, findings = read_shop(good_shop)
    assert [f.code for f in findings] == ["S006", "S008", "S004"]
    assert "rack_layers.B.kind, line 36" in findings[1].where
