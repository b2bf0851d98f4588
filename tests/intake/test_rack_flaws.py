"""Rough and live edges, and flaws in short, in the rack table."""

from __future__ import annotations

import contextlib
import math
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestyield.api import check_shop, plan, take, write_plan
from nestyield.intake.rack_flaws import FlawError, parse_edges, parse_flaws
from nestyield.model import Defect, Outline, Shape
from nestyield.starter import starter_files

BOARD = Shape(outer=Outline.rectangle(0.0, 0.0, 500.0, 200.0))
#: A straight edge of 30, widths 9 1/2, 10 and 9 1/4 at 0, 10 and 30.
WIDTHS = [(0, 0), (30, 0), (30, 9.25), (10, 10), (0, 9.5)]


def region(defect: Defect) -> shapely.Polygon:
    return shapely.Polygon(defect.shape.outer.points_mm)


@pytest.mark.parametrize(
    ("text", "boxes"),
    [
        ("live far", [(0, 180, 500, 200)]),
        ("Live edge far", [(0, 180, 500, 200)]),
        ("rough near; live left, right", [(0, 0, 500, 20), (0, 0, 20, 200), (480, 0, 500, 200)]),
        ("rough 2-3", [(480, 0, 500, 200)]),
        ("live 3-4", [(0, 180, 500, 200)]),
        ("rough 4-1", [(0, 0, 20, 200)]),
    ],
)
@pytest.mark.outside(
    source="rectangles worked out by hand: 0,0 lower left, corners counter-clockwise", mark="D"
)
def test_strips_lie_along_the_edge(text: str, boxes: list[tuple[float, ...]]) -> None:
    """Each edge becomes a strip of the width asked for, inside the piece, of its kind."""
    found = parse_edges(text, BOARD, 20.0, "rack.csv row 3")
    assert [region(d).bounds for d in found] == [pytest.approx(b) for b in boxes]
    for defect, box in zip(found, boxes):
        assert region(defect).area == pytest.approx((box[2] - box[0]) * (box[3] - box[1]))
        assert defect.kind in ("live edge", "rough edge")
        assert defect.name.startswith("rack.csv row 3 (")


def test_a_side_of_several_edges() -> None:
    """The far side of a piece by widths is all its edges that face away, and only those."""
    shape = Shape(outer=Outline.polygon([(x * 25.4, y * 25.4) for x, y in WIDTHS]))
    (strip,) = parse_edges("live far", shape, 25.4, "r")
    for (x0, y0), (x1, y1) in (((30, 9.25), (10, 10)), ((10, 10), (0, 9.5))):
        for t in (0.1, 0.5, 0.9):
            on = shapely.Point((x0 + t * (x1 - x0)) * 25.4, (y0 + t * (y1 - y0)) * 25.4)
            assert region(strip).distance(on) < 1e-6
    assert region(strip).distance(shapely.Point(15 * 25.4, 8.5 * 25.4)) > 0
    assert not region(strip).contains(shapely.Point(5.0, 25.4 * 4))


@pytest.mark.parametrize(
    ("text", "kind", "face", "x", "y", "diameter"),
    [
        ("small knot at 12, 5", "knot", "through", 12, 5, 0.75),
        ("pin knot about 12 1/4, 5", "knot", "through", 12.25, 5, 0.5 + 2 * 0.5),
        ("3/8 in nail hole at 20, 3 1/2 top", "nail hole", "top", 20, 3.5, 0.375),
        ("1 1/2 in loose knots about 3, 4", "loose knot", "through", 3, 4, 1.5 + 2 * 0.5),
        ("Medium Screw-Hole at 1 ft, 4 bottom", "screw hole", "bottom", 12, 4, 1.5),
    ],
)
@pytest.mark.outside(
    source="American lumber grading: pin, small, medium knots to 1/2, 3/4, 1 1/2 in", mark="M"
)
def test_flaws(text: str, kind: str, face: str, x: float, y: float, diameter: float) -> None:
    """Size by name or length, kind, place; "about" makes it larger all round by the allowance."""
    (found,) = parse_flaws(text, "in", 12.7, "r")
    x0, y0, x1, y1 = shapely.MultiPoint(found.shape.outer.points_mm).bounds
    assert (found.kind, found.face) == (kind, face)
    assert ((x0 + x1) / 2 / 25.4, (y0 + y1) / 2 / 25.4) == pytest.approx((x, y))
    assert (x1 - x0) / 25.4 == pytest.approx(diameter)
    assert found.shape.area_mm2 == pytest.approx(math.pi * (diameter * 25.4 / 2) ** 2, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("far", "expected live or rough and an edge, got 'far'; write live far"),
        ("live", "expected live or rough and an edge"),
        ("live 5-1", "expected corners from 1 to 4, got 5-1"),
        ("live top", "unknown edge 'top'; write live far"),
    ],
)
def test_edges_that_are_none(text: str, told: str) -> None:
    """Each is refused with what to write."""
    with pytest.raises(FlawError, match=told):
        parse_edges(text, BOARD, 10.0, "r")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("small knot 12, 5", "expected a size, a kind and a place"),
        ("knot at 12, 5", "the knot has no size; write small knot at 12, 5"),
        ("smal knot at 12, 5", "expected a size: a length, or pin, small, thumb, medium, large; got 'smal'"),
        ("small knott at 12, 5", "did you mean 'knot'"),
        ("small knot at 12, five", "expected a length"),
        ("0 knot at 12, 5", "above 0"),
    ],
)
def test_flaws_that_are_none(text: str, told: str) -> None:
    """Each is refused with what to write."""
    with pytest.raises(FlawError, match=told):
        parse_flaws(text, "in", 12.7, "r")


def shop_with(folder: Path, edges: str, flaws: str, more: str = "") -> Path:
    for name, data in starter_files("in").items():
        (folder / name).write_bytes(data)
    (folder / "rack.csv").write_text(
        "piece,species,thickness_in,outline_in,edges,flaws\n"
        f'B-3,sugar maple,1.75,"widths 0: 9 1/2, 10: 10, 30: 9 1/4","{edges}","{flaws}"\n'
    )
    (folder / "defects.csv").write_text("piece,kind,x,y,diameter\n")
    text = (folder / "shop.toml").read_text()
    text = text.replace("[allowance] ", f"[allowance]\n{more}\n#", 1) if more else text
    (folder / "shop.toml").write_text(text)
    return folder


def test_errors_name_row_and_column(tmp_path: Path) -> None:
    """What cannot be read, and a flaw outside the piece, are errors R013 at their cell."""
    _, findings = check_shop(shop_with(tmp_path, "soft far", "small knot at 40, 5"))
    told = {f.where: f for f in findings}
    assert told["row 2, column edges"].code == told["row 2, column flaws"].code == "R013"
    assert "(small knot at 40, 5) lies outside the piece (30 × 10 in)" in told["row 2, column flaws"].message


def test_parts_keep_off_live_edges_and_leftovers_inherit_them(tmp_path: Path) -> None:
    """The part lies as far from the live edge as the shop asks, and what is left of the edge is booked."""
    folder = tmp_path / "shop"
    folder.mkdir()
    shop_with(folder, "live far, rough left", "", more="rough_edge = 2")
    made = plan(folder, workers=1)
    (layout,) = made.layouts
    live = shapely.LineString([(x * 25.4, y * 25.4) for x, y in WIDTHS[2:]])
    (placed,) = layout.placements
    outline = shapely.Polygon(made.shop.part("lap steel").outline.points_mm)
    cos, sin = (f(math.radians(placed.angle_deg)) for f in (math.cos, math.sin))
    flip = -1.0 if placed.mirrored else 1.0
    laid = shapely.affinity.affine_transform(
        outline, [cos * flip, -sin, sin * flip, cos, placed.x_um / 1000, placed.y_um / 1000]
    )
    assert live.distance(laid) >= 2 * 25.4 - 0.01
    assert laid.bounds[0] >= 2 * 25.4 - 0.01
    write_plan(made, tmp_path / "plan")
    take(tmp_path / "plan", folder)
    rows = (folder / "defects.csv").read_text().splitlines()
    assert any(row.startswith("B-3-a,live edge,") for row in rows)
    shop, findings = check_shop(folder)
    assert shop is not None
    told = [f.message for f in findings if f.severity != "note"]
    assert all("no piece on the rack is MDF" in m for m in told)  # the rack of this test has none


def test_a_sheet_without_grain_is_read_as_a_sheet(tmp_path: Path) -> None:
    """Sheet material whose grain is left empty has none, with a note; 0 and wood are as they were."""
    shop_with(tmp_path, "", "")
    (tmp_path / "rack.csv").write_text(
        "piece,species,thickness,length,width,grain\nS-1,MDF,1/2,24,16,\nS-2,MDF,1/2,24,16,0\nB,ash,1,24,16,\n"
    )
    shop, findings = check_shop(tmp_path)
    assert shop is not None
    assert [p.grain_deg for p in shop.pieces] == [None, 0.0, 0.0]
    (told,) = [f for f in findings if f.code == "R005"]
    assert (told.severity, told.where) == ("note", "row 2, column grain")


_WORDS = ["live", "rough", "edge", "far", "near", "left", "2-3", "3-2", "9-9", "small", "knot", "about", "at", "12", "5",
          "1/2", "in", "1/0", ",", ";", "-", "nail hole", "top", "\u201c", "0", "1e9", "nan"]  # fmt: skip


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from(_WORDS), max_size=10))
def test_any_words_end_in_defects_or_a_message(words: list[str]) -> None:
    """Whatever stands in the cells is read or refused with FlawError; strips lie in the piece."""
    text = " ".join(words)
    wood = shapely.box(0, 0, 500, 200).buffer(1e-6)
    with contextlib.suppress(FlawError):
        for defect in parse_edges(text, BOARD, 20.0, "r"):
            assert region(defect).difference(wood).area == pytest.approx(0, abs=1e-6)
    with contextlib.suppress(FlawError):
        for defect in parse_flaws(text, "in", 12.7, "r"):
            assert defect.shape.area_mm2 > 0
