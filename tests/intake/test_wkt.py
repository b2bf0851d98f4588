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
        ("POLYGON ((0 0, 10 10, 10 0, 0 10, 0 0))", "cross itself"),
        ("POLYGON EMPTY", "empty"),
        ("POLYGON ((0 0, 1 1))", "expected"),
        ("MULTIPOLYGON (((0 0, 1 0, 1 1, 0 0)), ((5 5, 6 5, 6 6, 5 5)))", "MULTIPOLYGON"),
        ("POINT (1 2)", "POINT"),
        ("POLYGON ((0 0, 1 0, 1 1, 0 0)", "text with an error"),
        ("POLYGON ((0 0, 1e999 0, 1 1, 0 0))", "finite"),
        ("POLYGON ((0 0, nan 0, 1 1, 0 0))", "finite"),
        ("hello", "text with an error"),
        ("", "expected well-known text"),
        ("POLYGON ((0 0, 5 0, 5 0, 0 0))", "expected"),
        ("POLYGON ((0 0, 400 0, 400 100, 0 100), (10 10, 20 10))", "expected"),
        ("POLYGON ((0 0, 9 9))", "expected"),
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
