"""The DXF of a blank, read back."""

import io
import math
import re

import ezdxf
import pytest
from ezdxf import recover

from nestyield.model import Outline
from nestyield.paperwork import curves, dxf


def radius(p: tuple[float, float], q: tuple[float, float], bulge: float) -> float:
    """Return the radius of an arc by the definition of its bulge: tangent of a quarter of the angle it turns."""
    return math.dist(p, q) / (2 * abs(math.sin(2 * math.atan(bulge))))


def read(data):
    """Read a DXF strictly and return its drawing, after the library's own audit found nothing."""
    doc, auditor = recover.read(io.BytesIO(data))
    assert not auditor.errors
    assert not auditor.fixes
    return doc


def outlines(doc, layer):
    """Closed outlines of a layer, as lines and arcs."""
    out = []
    for e in doc.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'):
        if e.closed:
            rows = list(e.get_points("xyb"))
            out.append(
                Outline(points_mm=tuple((x, y) for x, y, _ in rows), bulges=tuple(b for *_, b in rows))
            )
    return out


def test_outlines_come_back_in_their_places(plan, rendered):
    """Each part's outline read back has its corners and arcs where the plan puts them."""
    for layout, name in zip(plan.layouts, ("C07", "T-3")):
        found = outlines(read(rendered[f"drawings/{name}.dxf"]), "PART")
        assert len(found) == len(layout.placements)
        for got, placement in zip(found, layout.placements):
            want = curves.move_of(placement).outline(plan.shop.part(placement.part).outline)
            assert len(got.points_mm) == len(want.points_mm)
            for p, q in zip(got.points_mm, want.points_mm):
                assert math.dist(p, q) < 1e-5
            assert got.bulges == pytest.approx(want.bulges, abs=1e-9)


def test_arcs_keep_their_radii(plan, rendered):
    """As many arcs as in the part's own drawing, radii within 1 micrometer, turned by 183 degrees."""
    source = [radius(p, q, b) for p, q, b in curves.segments(plan.shop.parts[0].outline) if b]
    (got,) = outlines(read(rendered["drawings/C07.dxf"]), "PART")
    radii = [radius(p, q, b) for p, q, b in curves.segments(got) if b]
    assert radii == pytest.approx(source, abs=0.001)


@pytest.mark.outside(source="DXF reference, header variables $INSUNITS and $MEASUREMENT", mark="S")
def test_units_stand_in_the_header(rendered, inch_rendered):
    """Millimeters are 4, inches are 1, and the coordinates follow."""
    mm, inch = read(rendered["drawings/C07.dxf"]), read(inch_rendered["drawings/C07.dxf"])
    assert (mm.header["$INSUNITS"], mm.header["$MEASUREMENT"]) == (4, 1)
    assert (inch.header["$INSUNITS"], inch.header["$MEASUREMENT"]) == (1, 0)
    (a,), (b,) = outlines(mm, "PART"), outlines(inch, "PART")
    for p, q in zip(a.points_mm, b.points_mm):
        assert (q[0] * 25.4, q[1] * 25.4) == pytest.approx(p, abs=1e-4)


def test_layers_have_plain_names_with_depths(rendered, inch_rendered):
    """A layer says what is cut, from which face of the blank, and how deep."""
    layers = {layer.dxf.name for layer in read(rendered["drawings/C07.dxf"]).layers}
    wanted = {"BLANK", "PART", "POCKET TOP 19 MM", "POCKET BOTTOM 32 MM", "CONTOUR TOP 12 MM", "CUTOUT"}
    wanted |= {"HOLE TOP 20 MM", "SEAM", "DEFECT", "LEFTOVER", "LEFTOVER RECTANGLE", "PIN", "HOLD DOWN"}
    assert wanted <= layers
    inch = {layer.dxf.name for layer in read(inch_rendered["drawings/C07.dxf"]).layers}
    assert "POCKET TOP 0.748 IN" in inch
    assert not any(name.endswith(" MM") for name in inch)


def test_depth_and_face_go_with_the_entity(rendered):
    """The extended data of a pocket holds its kind, name, face and depth, and a text says so too."""
    doc = read(rendered["drawings/C07.dxf"])
    (pocket,) = doc.modelspace().query('LWPOLYLINE[layer=="POCKET BOTTOM 32 MM"]')
    data = pocket.get_xdata(dxf.APP)
    assert [t.value for t in data if t.code == 1040] == [32.0]
    assert {"kind=pocket", "name=CONTROLS", "face=bottom"} <= {t.value for t in data if t.code == 1000}
    texts = [t.dxf.text for t in doc.modelspace().query("TEXT")]
    assert "CONTROLS 32 mm deep, bottom face" in texts


def test_depth_of_an_inch_drawing_is_in_inches(inch_rendered):
    """A pocket 32 mm deep says 32 / 25.4 = 1.2598 in its extended data, and the same in its layer's name."""
    doc = read(inch_rendered["drawings/C07.dxf"])
    (pocket,) = doc.modelspace().query('LWPOLYLINE[layer=="POCKET BOTTOM 1.26 IN"]')
    (depth,) = [t.value for t in pocket.get_xdata(dxf.APP) if t.code == 1040]
    assert depth == pytest.approx(32 / 25.4, abs=1e-6)


def test_only_leftovers_to_keep_are_drawn(plan, rendered):
    """Each leftover to keep is drawn by its name; waste is not."""
    space = read(rendered["drawings/C07.dxf"]).modelspace()
    named = {t.value for e in space.query('LWPOLYLINE[layer=="LEFTOVER"]') for t in e.get_xdata(dxf.APP)}
    for leftover in plan.layouts[0].leftovers:
        assert (f"name={leftover.name}" in named) == leftover.usable


def test_round_holes_and_pins_are_circles(plan, rendered):
    """Drilled holes and pins come as circles with the right middle and radius."""
    space = read(rendered["drawings/C07.dxf"]).modelspace()
    holes = space.query('CIRCLE[layer=="HOLE TOP 20 MM"]')
    assert [h.dxf.radius for h in holes] == pytest.approx([5.5, 5.5])
    pins = sorted((p.dxf.center.x, p.dxf.center.y, p.dxf.radius) for p in space.query('CIRCLE[layer=="PIN"]'))
    assert pins == [(18.0, 125.0, 3.0), (400.0, 125.0, 3.0)]


def test_nothing_depends_on_clock_or_version(plan):
    """Twice the same bytes, a fixed date, and no version of the library that wrote it."""
    first = dxf.drawing(plan, plan.layouts[0])
    assert first == dxf.drawing(plan, plan.layouts[0])
    lines = first.decode("utf-8").split("\n")
    dates = [lines[k + 2] for k, line in enumerate(lines) if line.startswith("$TD") and "CREATE" in line]
    assert dates == ["2451545.0", "2451545.0"]
    assert ezdxf.__version__.encode() not in first


def test_names_do_no_harm(build, nasty):
    """Whatever a name holds, the file reads back clean and shows one line of text."""
    plan = build.plan(blank_name=nasty, part_name=nasty, species=nasty)
    doc = read(dxf.drawing(plan, plan.layouts[0]))
    for text in doc.modelspace().query("TEXT"):
        assert "\n" not in text.dxf.text
        assert "%%" not in text.dxf.text
    assert len(outlines(doc, "PART")) == 1


def test_readme_lists_every_layer():
    """The table of layers in README names each kind of layer that a drawing can have."""
    from pathlib import Path

    from nestyield.paperwork.dxf import _COLORS

    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    table = text.partition("| layer | what is on it |")[2].partition("\n\n")[0]
    named = {name.split()[0] for name in re.findall(r"`([^`]+)`", table)}
    assert set(_COLORS) <= named
