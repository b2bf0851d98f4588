"""Drawings read by two readers of their own: a library's audit, and a parser of the format written here."""

from __future__ import annotations

import csv
import dataclasses
import io
from collections import Counter

import ezdxf
import pytest
from ezdxf import bbox

from nestyield.paperwork.write import render_all

pytestmark = pytest.mark.outside(source="DXF reference: group codes, HEADER variables", mark="S")


def pairs(text: str) -> list[tuple[int, str]]:
    """Group codes and values, as the format has them: two lines each."""
    lines = text.splitlines()
    return [(int(lines[k]), lines[k + 1].strip()) for k in range(0, len(lines) - 1, 2)]


def header(text: str) -> dict[str, list[float | str]]:
    """Variables of the HEADER section."""
    out: dict[str, list[float | str]] = {}
    name, inside = "", False
    for code, value in pairs(text):
        if (code, value) == (2, "HEADER"):
            inside = True
        elif inside and (code, value) == (0, "ENDSEC"):
            break
        elif inside and code == 9:
            name = value
            out[name] = []
        elif inside and name:
            out[name].append(float(value) if code in (10, 20, 30, 40) else value)
    return out


def entities(text: str) -> list[tuple[str, list[tuple[int, str]]]]:
    """Entities of the ENTITIES section, each with its groups; extended data left out."""
    out: list[tuple[str, list[tuple[int, str]]]] = []
    inside = False
    for code, value in pairs(text):
        if (code, value) == (2, "ENTITIES"):
            inside = True
        elif inside and (code, value) == (0, "ENDSEC"):
            break
        elif inside and code == 0:
            out.append((value, []))
        elif inside and out and code < 1000:
            out[-1][1].append((code, value))
    return out


def points(groups: list[tuple[int, str]]) -> list[tuple[float, float]]:
    xs = [float(v) for c, v in groups if c == 10]
    ys = [float(v) for c, v in groups if c == 20]
    return list(zip(xs, ys))


@pytest.fixture(scope="module")
def drawn(rendered, inch_rendered):
    return {
        f"{unit} {name}": data.decode()
        for unit, files in (("mm", rendered), ("in", inch_rendered))
        for name, data in files.items()
        if name.endswith(".dxf")
    }


def test_an_audit_finds_nothing(drawn):
    """The library's audit of each drawing has neither errors nor repairs."""
    assert len(drawn) > 4
    for name, text in drawn.items():
        found = ezdxf.read(io.StringIO(text)).audit()
        assert (list(found.errors), list(found.fixes)) == ([], []), name


def test_extents_hold_every_point(drawn):
    """EXTMIN and EXTMAX of the header hold all vertices and circles, and are no farther out than texts reach."""
    for name, text in drawn.items():
        found = header(text)
        (x0, y0, _), (x1, y1, _) = found["$EXTMIN"], found["$EXTMAX"]
        assert x0 < x1 < 1e6, name
        seen = []
        for kind, groups in entities(text):
            radius = next((float(v) for c, v in groups if c == 40), 0.0) if kind == "CIRCLE" else 0.0
            for x, y in points(groups):
                assert x0 - 1e-6 <= x - radius <= x + radius <= x1 + 1e-6, name
                assert y0 - 1e-6 <= y - radius <= y + radius <= y1 + 1e-6, name
                seen.append((x - radius, y - radius))
        assert min(x for x, _ in seen) == pytest.approx(x0, abs=1.0)


def test_both_readers_see_the_same(drawn):
    """Kinds, layers and first points of all entities agree between the parser here and the library."""
    for name, text in drawn.items():
        here = Counter(
            (kind, next(v for c, v in groups if c == 8), tuple(round(v, 6) for v in points(groups)[0]))
            for kind, groups in entities(text)
        )
        there = Counter()
        for e in ezdxf.read(io.StringIO(text)).modelspace():
            kind = e.dxftype()
            at = (
                e.get_points()[0][:2]
                if kind == "LWPOLYLINE"
                else (e.dxf.center if kind == "CIRCLE" else e.dxf.insert)
            )
            there[kind, e.dxf.layer, (round(at[0], 6), round(at[1], 6))] += 1
        assert here == there, name


def test_no_line_is_there_twice(drawn):
    """No two entities of one layer have the same points."""
    for name, text in drawn.items():
        seen = Counter(
            (kind, next(v for c, v in groups if c == 8), tuple(sorted(points(groups))))
            for kind, groups in entities(text)
            if kind != "TEXT"
        )
        assert [k[:2] for k, n in seen.items() if n > 1] == [], name


def test_thickness_as_stock_and_as_cut(plan, drawn):
    """The heading tells both: the stock's thickness and that at which the part is cut."""
    layout = plan.layouts[0]
    texts = [
        next(v for c, v in g if c == 1) for k, g in entities(drawn["mm drawings/C07.dxf"]) if k == "TEXT"
    ]
    stock = f"{layout.blank.thickness_mm:g}"
    cut = f"{plan.shop.part(layout.placements[0].part).thickness_mm:g}"
    assert any(f"stock {stock}" in t and f"as cut {cut}" in t for t in texts), texts


def test_both_directions_on_request(plan):
    """With the key, a drawing has the blank's length along Y too, its box at zero; the table tells the travel."""
    settings = dataclasses.replace(plan.shop.settings, both_directions=True)
    other = dataclasses.replace(plan, shop=dataclasses.replace(plan.shop, settings=settings))
    layout = other.layouts[0]
    upright = tuple(
        dataclasses.replace(s, fits=True, refusals=()) if s.along == "y" else s for s in layout.setups
    )
    other = dataclasses.replace(
        other, layouts=(dataclasses.replace(layout, setups=upright), *other.layouts[1:])
    )
    files = render_all(other)
    assert {"drawings/C07.along-y.dxf", "drawings/C07.along-y.svg"} <= set(files)
    assert not any("along-y" in n or n == "travel.csv" for n in render_all(plan))
    rows = list(csv.DictReader(io.StringIO(files["travel.csv"].decode("utf-8-sig"))))
    outline = plan.shop.part(layout.placements[0].part).outline
    if layout.placements[0].angle_deg % 180 == 0:
        xs = [p[0] for p in outline.points_mm]
        # arcs may bulge beyond the corners, never less
        assert float(rows[0]["least_travel_x_mm"]) >= max(xs) - min(xs) + settings.cutter_diameter_mm - 0.01
    assert (rows[0]["blank_along"], rows[1]["blank_along"]) == ("x", "y")
    assert rows[0]["least_travel_x_mm"] == rows[1]["least_travel_y_mm"]
    box = []
    for end in ("", ".along-y"):
        doc = ezdxf.read(io.StringIO(files[f"drawings/C07{end}.dxf"].decode()))
        found = bbox.extents(e for e in doc.modelspace() if e.dxf.layer == "BLANK")
        box.append((found.extmin.x, found.extmin.y, found.size.x, found.size.y))
    assert box[1][:2] == pytest.approx((0.0, 0.0), abs=0.01)
    assert box[1][2:] == pytest.approx(box[0][2:][::-1], abs=0.01)


def test_the_zero_is_the_datum_corner(plan, build):
    """In single pieces and glue-ups alike the lower left corner of the blank's box is the zero of the drawing."""
    glued = build.glued_plan()
    for made in (plan, glued):
        files = render_all(made)
        for name in (n for n in files if n.endswith(".dxf") and ".bottom" not in n):
            doc = ezdxf.read(io.StringIO(files[name].decode()))
            found = bbox.extents((e for e in doc.modelspace() if e.dxf.layer == "BLANK"), fast=False)
            assert (found.extmin.x, found.extmin.y) == pytest.approx((0.0, 0.0), abs=0.02), name
            texts = [e.dxf.text for e in doc.modelspace().query("TEXT")]
            assert any("Zero: the datum corner" in t or "datum corner" in t for t in texts), name
