"""Drawings of every version, blocks, mirrored entities, layers."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ezdxf.math import Matrix44

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]
BODY = {"layer": "BODY"}


@pytest.mark.outside(source="ezdxf (general DXF library) as writer of every version", mark="S")
@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
def test_every_version(version: str, binary: bool, new: Any, read: Any) -> None:
    """Lines, arcs, circles and bulges give the same exact areas in every version, ASCII and binary."""
    doc, space = new(version, units=0)
    space.add_circle((0, 0), 10, dxfattribs=BODY)
    space.add_line((50, 0), (90, 0), dxfattribs=BODY)
    space.add_arc((90, 20), 20, 270, 90, dxfattribs=BODY)
    space.add_line((90, 40), (50, 40), dxfattribs=BODY)
    space.add_arc((50, 20), 20, 90, 270, dxfattribs=BODY)
    space.add_polyline2d([(200, 0, 1), (220, 0, 1)], format="xyb", close=True, dxfattribs=BODY)
    expected = [100 * math.pi, 1600 + 400 * math.pi, 100 * math.pi]
    if version != "R12":
        space.add_lwpolyline(
            [(300, 0, 0.5), (310, 0, 0), (310, 10, -0.3), (300, 10, 0)],
            format="xyb",
            close=True,
            dxfattribs=BODY,
        )
        expected.append(100 + segment(10, 0.5) - segment(10, 0.3))
        space.add_ellipse((400, 0), (20, 0), 0.5, dxfattribs=BODY)
        expected.append(200 * math.pi)
    from nestyield.intake.dxf_units import UnitRule

    result = read(doc, binary=binary, rule=UnitRule(stated="mm"))
    assert sorted(result.areas()) == pytest.approx(sorted(expected), abs=0.05)
    assert [a for a in result.areas() if abs(a - 200 * math.pi) > 1] == pytest.approx(
        [e for e in expected if abs(e - 200 * math.pi) > 1], abs=1e-6
    )
    assert result.codes == []


def segment(chord: float, bulge: float) -> float:
    """Area between chord and arc, from the included angle."""
    angle = 4 * math.atan(bulge)
    radius = chord / 2 / math.sin(angle / 2)
    return radius**2 * (angle - math.sin(angle)) / 2


def block_with_shapes(doc: Any) -> float:
    """A block of four outlines on layer 0; returns their total area."""
    block = doc.blocks.new("KNOB")
    block.add_circle((0, 0), 10)
    block.add_lwpolyline([(20, 0, 1), (40, 0, 0.3), (35, 12, 0)], format="xyb", close=True)
    block.add_line((50, 0), (60, 0))
    block.add_line((60, 0), (60, 10))
    block.add_arc((60, 0), 10, 90, 180)
    block.add_ellipse((90, 0), (12, 3), 0.4)
    block.add_attdef("NAME", (0, 0))
    triangle = abs((40 - 20) * (12 - 0) - (35 - 20) * 0) / 2
    poly = triangle + segment(20, 1) + segment(math.hypot(5, 12), 0.3)
    return 100 * math.pi + poly + 25 * math.pi + math.pi * (144 + 9) * 0.4


@pytest.mark.parametrize(
    ("attribs", "factor", "copies"),
    [
        ({}, 1, 1),
        ({"rotation": 33}, 1, 1),
        ({"xscale": 2, "yscale": 2}, 4, 1),
        ({"xscale": -1}, 1, 1),
        ({"xscale": 2, "yscale": 0.5, "rotation": 20}, 1, 1),
        ({"xscale": -3, "yscale": 1, "rotation": 200}, 3, 1),
        ({"extrusion": (0, 0, -1)}, 1, 1),
        ({"extrusion": (0, 0, -1), "xscale": 2, "yscale": 1, "rotation": 40}, 2, 1),
        (
            {"column_count": 3, "row_count": 2, "column_spacing": 200, "row_spacing": 100, "rotation": 45},
            1,
            6,
        ),
        ({"column_count": 2, "column_spacing": 400, "xscale": 2, "yscale": 3}, 6, 2),
    ],
)
def test_inserts(attribs: dict[str, Any], factor: float, copies: int, new: Any, read: Any) -> None:
    """Blocks scaled, turned, mirrored and in arrays keep their areas times the scale."""
    doc, space = new()
    area = block_with_shapes(doc)
    insert = space.add_blockref("KNOB", (15, 7), dxfattribs={**BODY, **attribs})
    insert.add_attrib("NAME", "left", (0, 0))
    result = read(doc)
    assert len(result.areas()) == 4 * copies
    assert sum(result.areas()) == pytest.approx(area * factor * copies, rel=2e-5)
    assert {f.severity for f in result.findings} <= {"note"}


def test_nested_inserts(new: Any, read: Any) -> None:
    """A block within a block: transformations multiply, layer 0 takes the layer of the outer insert."""
    doc, space = new()
    area = block_with_shapes(doc)
    outer = doc.blocks.new("OUTER")
    outer.add_blockref("KNOB", (5, 5), dxfattribs={"rotation": 30, "xscale": 2, "yscale": 1})
    outer.add_circle((0, 300), 8, dxfattribs={"layer": "HOLES"})
    space.add_blockref("OUTER", (0, 0), dxfattribs={**BODY, "xscale": 1, "yscale": 3, "rotation": 10})
    result = read(doc)
    assert sum(result.areas()) == pytest.approx(area * 6, rel=2e-5)
    assert result.areas("HOLES") == pytest.approx([192 * math.pi], rel=2e-5)


@pytest.mark.outside(source="ezdxf Matrix44 on block content, an independent transformation", mark="S")
def test_insert_lies_where_a_matrix_puts_it(new: Any, read: Any) -> None:
    """Centroids of inserted circles lie where an affine matrix puts their middles."""
    rng = np.random.default_rng(4)
    for _ in range(12):
        doc, space = new()
        block = doc.blocks.new("B", base_point=(3, 4))
        block.add_circle((17, 5), 2)
        sx, sy = rng.uniform(0.3, 3, 2) * rng.choice([-1, 1], 2)
        turn, at = rng.uniform(0, 360), rng.uniform(-200, 200, 2)
        space.add_blockref("B", at, dxfattribs={**BODY, "xscale": sx, "yscale": sy, "rotation": turn})
        m = (
            Matrix44.translate(-3, -4, 0)
            @ Matrix44.scale(sx, sy, 1)
            @ Matrix44.z_rotate(math.radians(turn))
            @ Matrix44.translate(at[0], at[1], 0)
        )
        middle = m.transform((17, 5, 0))
        (closed,) = read(doc).closed["BODY"]
        assert closed.polygon.centroid.x == pytest.approx(middle.x, abs=2e-3)
        assert closed.polygon.centroid.y == pytest.approx(middle.y, abs=2e-3)


def test_block_that_contains_itself_or_is_missing(new: Any, read: Any) -> None:
    """A block within itself and a block that is not there are errors on their layer."""
    doc, space = new()
    loop = doc.blocks.new("LOOP")
    loop.add_blockref("LOOP", (1, 1))
    space.add_blockref("LOOP", (0, 0), dxfattribs=BODY)
    space.add_blockref("GONE", (0, 0), dxfattribs=BODY)
    result = read(doc)
    told = "\n".join(map(str, result.findings))
    assert result.codes == ["D018", "D018"]
    assert "'LOOP' contains itself" in told
    assert "'GONE' is missing" in told


def test_blocks_that_multiply_are_stopped(new: Any, read: Any) -> None:
    """Blocks of blocks of blocks that make millions of entities are refused, not read for hours."""
    doc, space = new()
    doc.blocks.new("B0").add_circle((0, 0), 1)
    for level in range(1, 9):
        block = doc.blocks.new(f"B{level}")
        for k in range(10):
            block.add_blockref(f"B{level - 1}", (k, 0))
    space.add_blockref("B3", (0, 0), dxfattribs={**BODY, "column_count": 500, "row_count": 500})
    result = read(doc)
    assert result.drawing is None
    assert result.codes == ["D024"]


@pytest.mark.parametrize(
    ("kind", "area"), [("arc", 25 * math.pi / 4), ("lw", 100 * math.pi), ("2d", 100 * math.pi)]
)
def test_mirrored_entities(kind: str, area: float, new: Any, read: Any) -> None:
    """Entities drawn from behind (extrusion 0, 0, -1) lie mirrored, and join with plain ones."""
    doc, space = new()
    behind = {**BODY, "extrusion": (0, 0, -1)}
    if kind == "arc":
        space.add_arc((10, 0), 5, 0, 90, dxfattribs=behind)  # from (-15, 0) to (-10, 5)
        space.add_line((-15, 0), (-10, 0), dxfattribs=BODY)
        space.add_line((-10, 0), (-10, 5), dxfattribs=BODY)
    elif kind == "lw":
        space.add_lwpolyline([(20, 0, 1), (40, 0, 1)], format="xyb", close=True, dxfattribs=behind)
    else:
        space.add_polyline2d([(20, 0, 1), (40, 0, 1)], format="xyb", close=True, dxfattribs=behind)
    result = read(doc)
    assert result.areas() == pytest.approx([area])
    assert result.closed["BODY"][0].polygon.bounds[2] < 0
    assert result.codes == []


def test_mirrored_ellipse(new: Any, read: Any) -> None:
    """Half an ellipse drawn from behind lies on the side where its parameters put it."""
    doc, space = new()
    space.add_ellipse(
        (0, 0), (20, 0), 0.5, 0, math.pi, dxfattribs={**BODY, "extrusion": (0, 0, -1)}
    )  # half circle of parameters runs over y below 0
    space.add_line((-20, 0), (20, 0), dxfattribs=BODY)
    result = read(doc)
    assert result.areas() == pytest.approx([100 * math.pi], abs=0.03)
    assert result.closed["BODY"][0].polygon.bounds[1] == pytest.approx(-10, abs=3e-3)


def test_height_and_other_planes(new: Any, read: Any) -> None:
    """A flat entity at some height is read with a note; one on edge or rising is an error that names it."""
    doc, space = new()
    space.add_circle((0, 0, 7), 4, dxfattribs=BODY)
    space.add_polyline3d([(20, 0, 5), (30, 0, 5), (30, 10, 5)], close=True, dxfattribs=BODY)
    good = read(doc)
    assert good.codes == ["D016", "D016"]
    assert {f.severity for f in good.findings} == {"note"}
    assert good.areas() == pytest.approx([16 * math.pi, 50])
    space.add_circle((60, 0), 4, dxfattribs={**BODY, "extrusion": (0, 1, 0.2)})
    space.add_line((0, 0, 0), (1, 1, 1), dxfattribs=BODY)
    space.add_ellipse((0, 0), (1, 0, 1), 0.5, dxfattribs=BODY)
    space.add_spline([(0, 0, 0), (1, 1, 1), (2, 0, 1), (3, 3, 3)], dxfattribs=BODY)
    bad = [f for f in read(doc).findings if f.severity == "error"]
    assert [f.code for f in bad] == ["D015"] * 4
    assert all("BODY" in f.where for f in bad)


def test_marks_are_left_out_with_a_note(new: Any, read: Any) -> None:
    """Points, texts, dimensions and hatches are no outline and do no harm."""
    doc, space = new()
    space.add_circle((0, 0), 4, dxfattribs=BODY)
    space.add_point((0, 0), dxfattribs=BODY)
    space.add_text("front", dxfattribs=BODY)
    space.add_mtext("front", dxfattribs=BODY)
    space.add_hatch(dxfattribs=BODY)
    space.add_linear_dim((0, 0), (0, 0), (9, 0), dxfattribs=BODY).render()
    result = read(doc)
    assert len(result.areas()) == 1
    assert set(result.codes) == {"D017"}
    assert {f.severity for f in result.findings} == {"note"}


@pytest.mark.parametrize("kind", ["3DFACE", "SOLID", "HELIX", "RAY", "POLYFACE"])
def test_what_cannot_be_read_is_named(kind: str, new: Any, read: Any) -> None:
    """Entities that are no flat curve are errors that name kind and handle."""
    doc, space = new()
    if kind == "3DFACE":
        entity = space.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs=BODY)
    elif kind == "SOLID":
        entity = space.add_solid([(0, 0), (1, 0), (0, 1)], dxfattribs=BODY)
    elif kind == "HELIX":
        entity = space.add_helix(1, 1, 1, dxfattribs=BODY)
    elif kind == "RAY":
        entity = space.add_ray((0, 0), (1, 0), dxfattribs=BODY)
    else:
        entity = space.add_polyface(dxfattribs=BODY)
    (finding,) = read(doc).findings
    assert (finding.code, finding.severity) == ("D017", "error")
    assert str(entity.dxf.handle) in finding.where


def test_paper_space_and_invisible_entities_are_not_read(new: Any, read: Any) -> None:
    """Only what shows in model space counts."""
    doc, space = new()
    space.add_circle((0, 0), 4, dxfattribs=BODY)
    space.add_circle((50, 0), 9, dxfattribs={**BODY, "invisible": 1})
    doc.paperspace().add_circle((0, 0), 99, dxfattribs=BODY)
    result = read(doc)
    assert result.areas() == pytest.approx([16 * math.pi])
    assert result.codes == ["D017"]


def test_hidden_layers_are_marked(new: Any, read: Any) -> None:
    """Layers that are off or frozen are read and marked, so that the shop file decides."""
    doc, space = new()
    doc.layers.add("BODY").off()
    doc.layers.add("ICE").freeze()
    space.add_circle((0, 0), 4, dxfattribs=BODY)
    space.add_circle((0, 0), 4, dxfattribs={"layer": "ICE"})
    layers = read(doc).drawing.layers
    assert layers["body"].hidden == "off"
    assert layers["ice"].hidden == "frozen"


def test_labels_name_handle_block_and_insert(new: Any, read: Any) -> None:
    """An entity in a block is named by its own handle, the block and the insert."""
    doc, space = new()
    circle = doc.blocks.new("KNOB").add_circle((0, 0), 3)
    insert = space.add_blockref("KNOB", (0, 0), dxfattribs=BODY)
    (closed,) = read(doc).closed["BODY"]
    assert closed.label == f"CIRCLE {circle.dxf.handle} in block KNOB (INSERT {insert.dxf.handle})"


def test_layer_names_beyond_ascii(new: Any, read: Any) -> None:
    """Layer names with accents are read in the encodings of old and new versions."""
    for version in ("R12", "R2000", "R2010"):
        doc, space = new(version)
        space.add_circle((0, 0), 4, dxfattribs={"layer": "ÖFFNUNG"})
        from nestyield.intake.dxf_units import UnitRule

        assert "öffnung" in read(doc, rule=UnitRule(fallback="mm")).drawing.layers


@pytest.mark.outside(
    source="drawings written by dxfwrite, GDAL, dxf-writer, @tarikjabiri/dxf, pstoedit, potrace; "
    "versions in tests/intake/samples/README.md",
    mark="S",
)
@pytest.mark.parametrize(
    ("file", "layer", "areas", "unit"),
    [
        ("dxfwrite.dxf", "BODY", [300 * 160 + 3200 * math.pi], "mm"),
        ("dxfwrite.dxf", "POCKET", [3600], "mm"),
        ("dxfwrite.dxf", "HOLES", [100 * math.pi, 7.5**2 * math.pi], "mm"),
        ("gdal.dxf", "BODY", [1.5 * math.sqrt(3) * 100**2 * 25.4**2], None),
        ("gdal.dxf", "POCKET", [1600 * 25.4**2], None),
        ("dxf-writer.dxf", "BODY", [320 * 180 - (4 - math.pi) * 400], None),
        ("dxf-writer.dxf", "HOLES", [12.5**2 * math.pi, 450 * math.pi, 200 * math.pi], None),
        ("dxf-writer.dxf", "POCKET", [1200], None),
        ("tarikjabiri-dxf.dxf", "BODY", [200 * 100 + 1250 * math.pi], None),
        ("tarikjabiri-dxf.dxf", "HOLES", [64 * math.pi, 450 * 0.4 * math.pi, 50 * math.pi], None),
        ("tarikjabiri-dxf.dxf", "ARCH", [2 / 3 * 30 * 15], None),
        ("tarikjabiri-dxf.dxf", "POCKET", [18 * math.pi], None),
        ("pstoedit.dxf", "0", [200 * 120 * (25.4 / 72) ** 2, 1600 * math.pi * (25.4 / 72) ** 2], "mm"),
        ("pstoedit-spline.dxf", "0", [200 * 120 * (25.4 / 72) ** 2, 1600 * math.pi * (25.4 / 72) ** 2], "mm"),
        ("potrace.dxf", "0", [200 * 100], "mm"),
    ],
)
def test_other_writers(file: str, layer: str, areas: list[float], unit: str | None, read: Any) -> None:
    """Drawings by independent general writers are read to the areas that their sources have."""
    from nestyield.intake.dxf_units import UnitRule

    result = read(Path(__file__).with_name("samples") / file, rule=UnitRule(stated=unit))
    rough = 6e-3 if file == "pstoedit.dxf" else 1e-4 if layer in ("HOLES", "POCKET", "ARCH") else 3e-4
    assert result.areas(layer) == pytest.approx(areas, rel=rough)  # pstoedit draws its circle as chords
    assert {f.severity for f in result.findings} <= {"note"}
