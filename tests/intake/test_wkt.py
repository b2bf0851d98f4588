"""Well-known text in tables."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.intake.wkt import WktError, is_wkt, parse_lines, parse_polygon


def test_polygon_with_a_hole_in_inches() -> None:
    """Outer ring and holes are scaled to mm; the repeated last point is dropped."""
    shape = parse_polygon("POLYGON ((0 0, 10 0, 10 5, 0 5, 0 0), (1 1, 2 1, 2 2, 1 2, 1 1))", 25.4)
    assert shape.outer.points_mm == ((0, 0), (254, 0), (254, 127), (0, 127))
    assert len(shape.holes) == 1
    assert shape.area_mm2 == pytest.approx(49 * 25.4**2)


def test_ring_that_is_not_closed_is_closed() -> None:
    """A ring without its first point at the end means the same."""
    a = parse_polygon("POLYGON ((0 0, 10 0, 10 5, 0 5))", 1.0)
    assert a == parse_polygon("polygon((0 0,10 0,10 5,0 5,0 0))", 1.0)


def test_lines() -> None:
    """One line or several, as points in mm."""
    assert parse_lines("LINESTRING (0 95, 500 95)", 1.0) == [((0, 95), (500, 95))]
    assert len(parse_lines("MULTILINESTRING ((0 92, 430 92), (0 220, 430 220))", 1.0)) == 2


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("POLYGON ((0 0, 10 10, 10 0, 0 10, 0 0))", "crosses or touches itself near x 5, y 5"),
        ("POLYGON EMPTY", "empty"),
        ("POLYGON ((0 0, 1 1))", "less than 3 different corners"),
        ("MULTIPOLYGON (((0 0, 1 0, 1 1, 0 0)), ((5 5, 6 5, 6 6, 5 5)))", "MULTIPOLYGON"),
        ("POINT (1 2)", "POINT"),
        ("POLYGON ((0 0, 1 0, 1 1, 0 0)", "text with an error"),
        ("POLYGON ((0 0, 1e999 0, 1 1, 0 0))", "finite"),
        ("POLYGON ((0 0, nan 0, 1 1, 0 0))", "finite"),
        ("hello", "text with an error"),
        ("", "expected well-known text"),
        ("POLYGON ((0 0, 5 0, 5 0, 0 0))", "less than 3 different corners"),
        ("POLYGON ((0 0, 400 0, 400 100, 0 100), (10 10, 20 10))", "less than 3 different corners"),
        ("POLYGON ((0 0, 9 9))", "less than 3 different corners"),
        ("CURVEPOLYGON (CIRCULARSTRING (0 0, 4 4, 8 0, 4 -4, 0 0))", "straight lines, got CURVEPOLYGON"),
        ("circularstring (0 0, 4 4, 8 0)", "straight lines, got CIRCULARSTRING"),
    ],
)
def test_bad_polygons_are_refused(text: str, told: str) -> None:
    """The message states the rule and what was found."""
    with pytest.raises(WktError, match=told):
        parse_polygon(text, 1.0)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("POLYGON ((0 0, 1 0, 1 1, 0 0))", "LINESTRING"),
        ("LINESTRING EMPTY", "empty"),
        ("LINESTRING (0 0, 0 0)", "length 0"),
        ("LINESTRING (0 0)", "text with an error"),
        ("LINESTRING (0 0, inf 0)", "finite"),
    ],
)
def test_bad_lines_are_refused(text: str, told: str) -> None:
    """The message states the rule and what was found."""
    with pytest.raises(WktError, match=told):
        parse_lines(text, 1.0)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text makes anything but a shape or a WktError."""
    for reader in (parse_polygon, parse_lines):
        with contextlib.suppress(WktError):
            reader(text, 1.0)


def test_an_empty_hole_is_none() -> None:
    """A hole without points cuts nothing."""
    assert parse_polygon("POLYGON ((0 0, 40 0, 40 10, 0 10), EMPTY)", 1.0).holes == ()


def test_file_names_are_no_well_known_text() -> None:
    """A cell with a drawing's name is told apart from well-known text."""
    assert is_wkt(" polygon ((0 0, 1 0, 1 1))")
    assert is_wkt("POLYGON Z ((0 0 0, 1 0 0, 1 1 0))")
    assert not is_wkt("offcut-7.dxf")
    assert not is_wkt("offcut (7).dxf")
    assert not is_wkt("offcuts.dxf#LAYER")


@pytest.mark.parametrize(
    ("text", "corners"),
    [
        ("POLYGON ((0 0, 20 1/4 0, 20 1/4 6 1/2, 0 6 1/2))", [(0, 0), (20.25, 0), (20.25, 6.5), (0, 6.5)]),
        ("POLYGON ((0 0, 20-1/4 0, 20¼ 6½, 0 6.5))", [(0, 0), (20.25, 0), (20.25, 6.5), (0, 6.5)]),
        ("0,0 20 1/4,0 20 1/4,6 0,6", [(0, 0), (20.25, 0), (20.25, 6), (0, 6)]),
        ("0,0; 20 1/4,0; 20 1/4,6; 0,6", [(0, 0), (20.25, 0), (20.25, 6), (0, 6)]),
        ("(0, 1/2) (20 3/16, 1/2) (5 7/8, 6)", [(0, 0.5), (20.1875, 0.5), (5.875, 6)]),
        ("0 0, 5 1/2, 5 6", [(0, 0), (5, 0.5), (5, 6)]),
    ],
)
@pytest.mark.outside(source="a tape measure: mixed numbers are whole plus top over bottom", mark="P")
def test_corners_with_fractions(text: str, corners: list[tuple[float, float]]) -> None:
    """Fractions stand for the numbers that they are, in well-known text and in lists of corners."""
    assert is_wkt(text)
    found = parse_polygon(text, 25.4).outer.points_mm
    assert [v for point in found for v in point] == pytest.approx(
        [25.4 * v for point in corners for v in point]
    )


@pytest.mark.parametrize("text", ["0,0 700,0 660", "1,2 3,4", "POLYGON ((0 0, 3/0 1, 2 2))"])
def test_corners_that_are_none(text: str) -> None:
    """An odd number of numbers, two corners, and a fraction over nothing are refused."""
    with pytest.raises(WktError):
        parse_polygon(text, 1.0)


def test_seams_with_fractions() -> None:
    """A seam may have fractions, too."""
    assert parse_lines("LINESTRING (0 3 1/2, 20 1/4 3 1/2)", 1.0) == [((0.0, 3.5), (20.25, 3.5))]


def test_a_file_name_is_no_list_of_corners() -> None:
    """Names of drawings stay names."""
    assert not is_wkt("offcut-7.dxf")
    assert not is_wkt("7 1/2.dxf#EDGE")
