"""Canvases as SVG, read back by an XML parser."""

import math
import re
from xml.etree import ElementTree

import pytest

from nestyield.model import Outline
from nestyield.paperwork import svg
from nestyield.paperwork.canvas import Canvas


def radius(p: tuple[float, float], q: tuple[float, float], bulge: float) -> float:
    """Return the radius of an arc by the definition of its bulge: tangent of a quarter of the angle it turns."""
    return math.dist(p, q) / (2 * abs(math.sin(2 * math.atan(bulge))))


NS = "{http://www.w3.org/2000/svg}"


@pytest.mark.outside(source="SVG 1.1, section 8.3.8, elliptical arc", mark="S")
def test_an_arc_is_an_arc_with_the_right_flags():
    """A quarter that runs counter-clockwise keeps its radius; y runs down, so the sweep flag is 0."""
    bulge = 0.41421356237309503
    quarter = Outline(points_mm=((10, 0), (0, 10), (0, 0)), bulges=(bulge, 0.0, 0.0))
    assert svg.path_data(quarter, 20.0) == "M10 20A10 10 0 0 0 0 10L0 20L10 20Z"
    back = Outline(points_mm=((0, 10), (10, 0), (0, 0)), bulges=(-bulge, 0.0, 0.0))
    assert "A10 10 0 0 1 10 20" in svg.path_data(back, 20.0)


def test_a_wide_arc_sets_the_large_flag():
    """Three quarters of a circle are not drawn as the remaining quarter."""
    outline = Outline(points_mm=((10, 0), (0, -10)), bulges=(2.414213562373095, 0.0))
    assert "A10 10 0 1 0" in svg.path_data(outline, 0.0)


def test_document_is_full_size():
    """Width and height are in millimeters and the user unit is one of them."""
    canvas = Canvas(width_mm=120.0, height_mm=80.0, title="a <b>", description="c & d")
    root = ElementTree.fromstring(svg.document(canvas))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("120mm", "80mm", "0 0 120 80")
    assert root.find(f"{NS}title").text == "a <b>"


def test_names_do_no_harm(nasty):
    """Whatever a text holds, the file parses and holds nothing but its own elements."""
    canvas = Canvas(width_mm=10, height_mm=10, title=nasty, description=nasty)
    canvas.text((0, 0), nasty, 3.0)
    for text in (svg.document(canvas), svg.inline(canvas)):
        root = ElementTree.fromstring(text)
        assert {e.tag.removeprefix(NS) for e in root.iter()} <= {"svg", "title", "desc", "rect", "text"}


def test_inline_has_a_name_for_those_who_hear_it():
    """A picture in a page says what it is, or is hidden where words beside it do."""
    canvas = Canvas(width_mm=10, height_mm=10, title="Blank", description="one part")
    assert 'aria-label="Blank. one part"' in svg.inline(canvas)
    assert 'aria-hidden="true"' in svg.inline(canvas, hidden=True)


def test_blank_svg_keeps_blank_coordinates(plan, rendered):
    """In the drawing at full size a point (x, y) of the blank stands at (x, -y), arcs included."""
    root = ElementTree.fromstring(rendered["drawings/C07.svg"].decode())
    (part,) = [e for e in root.iter() if e.get("data-layer") == "PART"]
    data = part.get("d")
    assert data.count("A") == 8
    from nestyield.paperwork import curves

    want = curves.move_of(plan.layouts[0].placements[0]).outline(plan.shop.parts[0].outline)
    start = re.match(r"M(\S+) (\S+?)[A-Z]", data)
    assert (float(start[1]), -float(start[2])) == pytest.approx(want.points_mm[0], abs=1e-3)
    radii = [float(m) for m in re.findall(r"A(\S+) ", data)]
    source = [radius(p, q, b) for p, q, b in curves.segments(plan.shop.parts[0].outline) if b]
    assert radii == pytest.approx(source, abs=0.001)
    layers = {e.get("data-layer") for e in root.iter()} - {None}
    assert {"BLANK", "PART", "POCKET BOTTOM 32 MM", "PIN", "SEAM", "LEFTOVER"} <= layers
    width = float(root.get("width").removesuffix("mm"))
    assert float(root.get("viewBox").split()[2]) == width


def test_same_geometry_as_the_dxf(rendered):
    """DXF and SVG hold the same number of outlines on each layer."""
    import io
    from collections import Counter

    from ezdxf import recover

    for name in ("C07", "C07.bottom", "T-3"):
        doc, _ = recover.read(io.BytesIO(rendered[f"drawings/{name}.dxf"]))
        dxf = Counter(e.dxf.layer for e in doc.modelspace() if e.dxftype() != "TEXT")
        root = ElementTree.fromstring(rendered[f"drawings/{name}.svg"].decode())
        paths = Counter(e.get("data-layer") for e in root.iter() if e.get("data-layer"))
        assert dxf == paths
