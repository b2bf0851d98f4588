"""What drawings hold, and the blank turned over."""

import dataclasses
import io
import math
from itertools import combinations

import pytest
from ezdxf import recover
from shapely import box
from shapely.geometry import LineString

from nestyield.model import TearOutRisk
from nestyield.model.facts import RisingGrain
from nestyield.paperwork import curves, dxf, features, fonts


def radius(p: tuple[float, float], q: tuple[float, float], bulge: float) -> float:
    """Return the radius of an arc by the definition of its bulge: tangent of a quarter of the angle it turns."""
    return math.dist(p, q) / (2 * abs(math.sin(2 * math.atan(bulge))))


def test_faces_change_over(plan):
    """Turned over, faces keep the names that are written on the wood; a second turn brings everything back."""
    layout = plan.layouts[0]
    first = features.features(plan, layout)
    over = features.turned_over(features.features(plan, layout), layout.work.flip_axis_mm)
    layers = {f.layer for f in over}
    assert {"POCKET BOTTOM 32 MM", "POCKET TOP 19 MM"} <= layers
    (controls,) = [f for f in over if f.name == "CONTROLS"]
    assert controls.face == "bottom"
    assert controls.label.endswith(", bottom face")
    back = features.turned_over(over, layout.work.flip_axis_mm)
    for a, b in zip(first, back):
        assert a.name == b.name
        if a.outline:
            for p, q in zip(a.outline.points_mm, b.outline.points_mm):
                assert math.dist(p, q) < 1e-9


def test_pins_stay_where_they_stand(plan):
    """Pins on the flip axis have the same places in both drawings."""

    def pins(over):
        doc, _ = recover.read(io.BytesIO(dxf.drawing(plan, plan.layouts[0], over)))
        found = doc.modelspace().query('CIRCLE[layer=="PIN"]')
        return sorted((round(p.dxf.center.x, 6), round(p.dxf.center.y, 6)) for p in found)

    assert pins(False) == pins(True) == [(18.0, 125.0), (400.0, 125.0)]


def test_mirrored_arcs_keep_their_radii(plan):
    """The outline in the turned drawing has as many arcs, radii within 1 micrometer, and the other sense."""
    from nestyield.model import Outline

    doc, auditor = recover.read(io.BytesIO(dxf.drawing(plan, plan.layouts[0], True)))
    assert not auditor.errors
    (part,) = doc.modelspace().query('LWPOLYLINE[layer=="PART"]')
    rows = list(part.get_points("xyb"))
    got = Outline(points_mm=tuple((x, y) for x, y, _ in rows), bulges=tuple(b for *_, b in rows))
    source = plan.shop.parts[0].outline
    want = [radius(p, q, b) for p, q, b in curves.segments(source) if b]
    radii = [radius(p, q, b) for p, q, b in curves.segments(got) if b]
    assert radii == pytest.approx(want, abs=0.001)
    assert got.signed_area_mm2 == pytest.approx(-source.signed_area_mm2, rel=1e-6)


@pytest.mark.parametrize("over", [False, True], ids=["top", "bottom"])
def test_no_text_stands_across_an_outline(plan, inch_plan, over):
    """Texts keep clear of outlines of blank, parts, pockets and holes, and of each other."""
    for shop in (plan, inch_plan):
        held = features.content(shop, shop.layouts[0], over)
        lines = [
            LineString([*curves.chords(f.outline, 0.1), f.outline.points_mm[0]])
            for f in held.features
            if f.outline and f.layer.split(" ")[0] in ("BLANK", "PART", "POCKET", "HOLE", "CUTOUT")
        ]
        size = features.TEXT_HEIGHT_MM
        boxes = [
            box(x, y, x + fonts.width(n.text, size), y + 0.73 * size)
            for n in held.notes
            for x, y in [n.at_mm]
        ]
        for note, rect in zip(held.notes, boxes):
            assert sum(line.intersection(rect).length for line in lines) < 1.0, note.text
        assert all(a.intersection(b).area < 0.5 for a, b in combinations(boxes, 2))


def test_those_alike_are_told_once(plan):
    """Two holes of one name and depth carry one text with their number."""
    labels = [f.label for f in features.features(plan, plan.layouts[0]) if f.kind == "hole"]
    assert labels == ["2 × STUDS 20 mm deep, top face", ""]


def test_edges_to_watch_have_a_layer(plan):
    """A stretch that may tear is an open line of its own, on a layer that is not cut."""
    watch = TearOutRisk(
        placement=0,
        line_mm=((50, 70), (90, 71)),
        length_mm=40.0,
        angle_deg=30.0,
        rule=RisingGrain(from_deg=15.0, to_deg=75.0),
    )
    layout = dataclasses.replace(plan.layouts[1], watch=(watch,))
    doc, auditor = recover.read(io.BytesIO(dxf.drawing(plan, layout)))
    assert not auditor.errors
    (line,) = doc.modelspace().query('LWPOLYLINE[layer=="WATCH"]')
    assert not line.closed
    assert [p[:2] for p in line.get_points("xy")] == [(50, 70), (90, 71)]
    assert doc.layers.get("WATCH").dxf.plot == 0


def test_only_blanks_worked_from_below_have_a_second_drawing(plan, rendered):
    """A blank that is never turned over has one drawing."""
    assert features.has_bottom(plan.layouts[0])
    assert not features.has_bottom(plan.layouts[1])
    assert "drawings/C07.bottom.dxf" in rendered
    assert "drawings/T-3.bottom.dxf" not in rendered
