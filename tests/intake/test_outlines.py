"""Outlines of a layer: open, crossing, doubled, nested, branching, slivers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from nestyield.intake.outlines import nesting, open_lines
from nestyield.intake.problems import Problems

BODY = {"layer": "BODY"}


def rectangle(space: Any, x: float, y: float, w: float, h: float) -> list[Any]:
    corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    return [space.add_line(corners[i], corners[(i + 1) % 4], dxfattribs=BODY) for i in range(4)]


def test_open_outline_names_both_ends(new: Any, read: Any) -> None:
    """An open outline is an error with layer, handles, and the gap or both ends of what lacks."""
    doc, space = new()
    lines = rectangle(space, 0, 0, 100, 50)
    lines[3].dxf.end = (0, 0.4)
    finding = read(doc).one("D007")
    assert finding.severity == "error"
    assert f"layer BODY, LINE {lines[0].dxf.handle}" in finding.where
    assert finding.message.startswith("the outline has a gap of 0.4 mm at x 0, y 0 mm; join the ends")
    lines[3].destroy()
    message = read(doc).one("D007").message
    assert message == "the outline is open from x 0, y 0 mm to x 0, y 50 mm (50 mm); draw the missing line"


def test_gaps_within_chaining_are_closed(new: Any, read: Any) -> None:
    """A gap up to the tolerance is closed: silently when tiny, else with a note of its width and place."""
    for gap, codes in ((0.005, []), (0.08, ["D014"]), (0.12, ["D007"])):
        doc, space = new()
        rectangle(space, 0, 0, 100, 50)[3].dxf.end = (0, gap)
        result = read(doc, chaining=0.1)
        assert result.codes == codes
        if gap < 0.1:
            assert result.areas() == pytest.approx([5000], abs=100 * gap)
    assert "0.08 mm" in read_note(new, read)


def read_note(new: Any, read: Any) -> str:
    doc, space = new()
    rectangle(space, 0, 0, 100, 50)[3].dxf.end = (0, 0.08)
    return str(read(doc).one("D014").message)


def test_places_are_told_in_the_drawings_unit(new: Any, read: Any) -> None:
    """In a drawing in inches a place is told in inches."""
    doc, space = new(units=1)
    rectangle(space, 1, 2, 4, 3)[3].dxf.end = (1, 2.5)
    assert "from x 1, y 2 in to x 1, y 2.5 in (0.5 in)" in read(doc).one("D007").message


def test_self_crossing_is_told_with_its_place(new: Any, read: Any) -> None:
    """A bow tie is an error at the crossing."""
    doc, space = new()
    space.add_lwpolyline([(0, 0), (40, 40), (40, 0), (0, 40)], close=True, dxfattribs=BODY)
    finding = read(doc).one("D008")
    assert finding.severity == "error"
    assert "at x 20, y 20 mm" in finding.message


def test_self_crossing_of_arcs(new: Any, read: Any) -> None:
    """An arc that swings through the opposite side is an error."""
    doc, space = new()
    space.add_lwpolyline(
        [(0, 0, 0), (100, 0, 0), (100, 20, -0.9), (0, 20, 0)], format="xyb", close=True, dxfattribs=BODY
    )
    assert read(doc).codes == ["D008"]


def test_outlines_that_cross_each_other(new: Any, read: Any) -> None:
    """Two circles that overlap are an error at a crossing; two that touch are not."""
    doc, space = new()
    space.add_circle((0, 0), 10, dxfattribs=BODY)
    other = space.add_circle((20, 0), 10, dxfattribs=BODY)
    assert read(doc).codes == []
    other.dxf.center = (15, 0)
    finding = read(doc).one("D008")
    assert "at x 7.5" in finding.message
    assert other.dxf.handle in finding.message + finding.where


def test_doubled_entities_are_used_once(new: Any, read: Any) -> None:
    """A line, a circle and a polyline drawn twice are warnings, and the outline is read once."""
    doc, space = new()
    lines = rectangle(space, 0, 0, 100, 50)
    twin = space.add_line(lines[1].dxf.end, lines[1].dxf.start, dxfattribs=BODY)
    space.add_circle((300, 0), 10, dxfattribs=BODY)
    space.add_circle((300, 0), 10.001, dxfattribs=BODY)
    square = [(500, 0), (520, 0), (520, 20), (500, 20)]
    space.add_lwpolyline(square, close=True, dxfattribs=BODY)
    space.add_lwpolyline(square[2:] + square[:2], close=True, dxfattribs=BODY)
    result = read(doc)
    assert result.areas() == pytest.approx([5000, 100 * math.pi, 400])
    assert result.codes == ["D009"] * 3
    assert {f.severity for f in result.findings} == {"warning"}
    assert twin.dxf.handle in result.findings[0].where


def test_branch_is_told_once(new: Any, read: Any) -> None:
    """A line too many at a corner is one error with all lines that meet there."""
    doc, space = new()
    rectangle(space, 0, 0, 100, 50)
    space.add_line((100, 50), (130, 60), dxfattribs=BODY)
    finding = read(doc).one("D011")
    assert "3 lines meet at x 100, y 50 mm" in finding.message


def test_many_problems_are_not_a_flood(new: Any, read: Any) -> None:
    """A hundred open lines are listed up to a limit, and the rest is counted."""
    doc, space = new()
    for k in range(100):
        space.add_line((10 * k, 0), (10 * k + 5, 3), dxfattribs=BODY)
    result = read(doc)
    assert len(result.findings) == 9
    assert "92 more" in result.findings[-1].message


def test_sliver_is_left_out_with_a_warning(new: Any, read: Any) -> None:
    """An outline with next to no width is left out and told."""
    doc, space = new()
    space.add_circle((0, 0), 10, dxfattribs=BODY)
    space.add_lwpolyline([(50, 0), (90, 0), (90, 0.004)], close=True, dxfattribs=BODY)
    result = read(doc)
    assert len(result.areas()) == 1
    assert result.one("D012").severity == "warning"


def test_entities_without_length_are_left_out(new: Any, read: Any) -> None:
    """A line of no length is a note, not an open outline."""
    doc, space = new()
    space.add_circle((0, 0), 10, dxfattribs=BODY)
    space.add_line((5, 5), (5, 5), dxfattribs=BODY)
    space.add_lwpolyline([(7, 7), (7, 7)], dxfattribs=BODY)
    result = read(doc)
    assert len(result.areas()) == 1
    assert "and 1 more" in result.one("D013").where


def test_nesting(new: Any, read: Any) -> None:
    """The smallest outline around each is found, also for many."""
    doc, space = new()
    for radius in (50, 40, 30):
        space.add_circle((0, 0), radius, dxfattribs=BODY)
    space.add_circle((35, 0), 2, dxfattribs=BODY)
    space.add_circle((200, 0), 20, dxfattribs=BODY)
    closed = read(doc).closed["BODY"]
    assert nesting(closed) == [None, 0, 1, 1, None]


def test_open_lines_for_center_lines(new: Any, read: Any) -> None:
    """Lines in a row become one line; a closed one or a branch is an error."""
    doc, space = new()
    space.add_line((0, 0), (100, 0), dxfattribs=BODY)
    space.add_line((100, 0), (200, 0), dxfattribs=BODY)
    space.add_arc((200, 50), 50, 270, 300, dxfattribs=BODY)
    drawing = read(doc).drawing
    problems = Problems()
    (line,) = open_lines(drawing, drawing.layers["body"], 0.1, problems)
    assert line[0][0] == (0, 0)
    assert line[0][-1] == pytest.approx((200 + 50 * math.sin(math.pi / 6), 50 - 50 * math.cos(math.pi / 6)))
    space.add_circle((0, 90), 5, dxfattribs=BODY)
    drawing = read(doc).drawing
    assert open_lines(drawing, drawing.layers["body"], 0.1, problems) is None
    assert [f.code for f in problems.findings] == ["D010"]


def test_shuffled_drawing_gives_the_same_outlines(new: Any, read: Any) -> None:
    """The order in which lines were drawn does not change the areas."""
    rng = np.random.default_rng(6)
    doc, space = new()
    for k in range(12):
        rectangle(space, 130 * k, 40 * (k % 3), 100 + k, 30 + k)
    expected = sorted(read(doc).areas())
    ends = [(e.dxf.start, e.dxf.end) for e in space]
    shuffled, other = new()
    for i in rng.permutation(len(ends)):
        a, b = ends[i] if rng.random() < 0.5 else ends[i][::-1]
        other.add_line(a, b, dxfattribs=BODY)
    assert sorted(read(shuffled).areas()) == pytest.approx(expected)


def test_large_drawings_are_read(new: Any, read: Any) -> None:
    """A thousand outlines of four thousand lines are chained and compared."""
    doc, space = new()
    for k in range(1000):
        rectangle(space, 12.0 * (k % 50), 12.0 * (k // 50), 10, 10)
    assert read(doc).areas() == pytest.approx([100.0] * 1000)


def test_copies_are_found_across_any_border(new: Any, read: Any) -> None:
    """Copies up to a hundredth of a millimeter off, along X and Y, are left out wherever they lie."""
    for at in (0.0, 0.0099, 12.34, -7.005):
        doc, space = new()
        for dx, dy in ((0, 0), (0.006, 0), (0, 0.006), (-0.006, -0.002), (0, 0)):
            space.add_circle((at + dx, at + dy), 20, dxfattribs=BODY)
        result = read(doc)
        assert result.codes == ["D009"] * 4
        assert result.areas() == pytest.approx([400 * math.pi], rel=1e-4)


def test_a_layer_full_of_outlines_is_refused(new: Any, read: Any) -> None:
    """More outlines than any part has are told at once, not compared each with each."""
    doc, space = new()
    for k in range(3001):
        space.add_circle((3.0 * (k % 60), 3.0 * (k // 60)), 1, dxfattribs=BODY)
    assert read(doc).one("D024").message.startswith("expected at most 3000 outlines on a layer, got 3001")


@pytest.mark.parametrize("center", [(1e12, 0), (0, -1e11), (3e7, 3e7)])
def test_ellipses_far_out_are_refused_before_they_are_followed(new: Any, read: Any, center: Any) -> None:
    """Where coordinates are coarser than the fit, an ellipse or spline is refused instead of cut into millions."""
    doc, space = new()
    space.add_ellipse(center, major_axis=(1000, 0), ratio=0.001, dxfattribs=BODY)
    space.add_open_spline(
        [(center[0] + x, center[1] + y) for x, y in ((0, 0), (9, 7), (20, 1), (40, 0))], dxfattribs=BODY
    )
    assert "more than 10 km" in read(doc).findings[0].message
