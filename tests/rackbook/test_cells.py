"""Values as cells, in the maker's columns and units."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.geometry.shape import to_shapely
from nestyield.intake.lengths import parse_length
from nestyield.intake.table import parse_table
from nestyield.intake.wkt import parse_lines, parse_polygon
from nestyield.model import Outline, Shape
from nestyield.rackbook.cells import LONGEST_CELL, RowColumns, clip_lines, number


def columns(header: str, units: str = "mm") -> RowColumns:
    table, why = parse_table((header + "\n").encode())
    assert table is not None, why
    return RowColumns(table, units)  # type: ignore[arg-type]


@given(st.integers(-5_000_000, 5_000_000), st.sampled_from(["mm", "cm", "m", "in", "ft"]))
def test_a_micrometer_survives_in_every_unit(um, unit):
    """A length on the grid that is written in any unit reads back as the same micrometer."""
    assert round(parse_length(number(um / 1000, unit), unit) * 1000) == um


def test_columns_are_found_by_meaning():
    """Headings with units, capitals and brackets are the maker's; the unit of a bare one is the shop's."""
    found = columns("Piece,Thickness (in),outline_mm,Length", "in")
    assert found.name("thickness") == "Thickness (in)"
    assert (found.unit("thickness"), found.unit("outline"), found.unit("length")) == ("in", "mm", "in")
    assert found.name("parent") is None
    assert found.cells({"piece": "A", "parent": "B"}) == {"Piece": "A"}


@pytest.mark.parametrize(("header", "units"), [("outline", "mm"), ("outline", "in"), ("outline_cm", "in")])
def test_an_outline_reads_back_never_larger(header, units):
    """An outline with arcs and a hole reads back inside the true one, close to it."""
    shape = Shape(outer=Outline.circle(100, 100, 80), holes=(Outline.circle(90, 110, 20),))
    cols = columns(header, units)
    text = cols.polygon("outline", shape, 0.02)
    factor = {"mm": 1.0, "in": 25.4, "cm": 10.0}[cols.unit("outline")]
    back = to_shapely(parse_polygon(text, factor))
    true = shape.area_mm2
    assert true - 0.02 * 2 * 3.1416 * 100 <= back.area <= true
    assert back.buffer(-0.001).within(to_shapely(shape))


def test_an_outline_of_very_many_points_still_fits_a_cell():
    """An outline too long for a spreadsheet's cell is trimmed on the safe side."""
    import math

    n = 3000
    points = [
        ((300 + math.sin(40 * t)) * math.cos(t), (300 + math.sin(40 * t)) * math.sin(t))
        for t in (2 * math.pi * k / n for k in range(n))
    ]
    shape = Shape(outer=Outline.polygon(points))
    text = columns("outline").polygon("outline", shape, 0.02)
    assert len(text) <= LONGEST_CELL
    back = to_shapely(parse_polygon(text, 1.0))
    assert back.within(to_shapely(shape).buffer(0.001))
    assert back.area > 0.99 * shape.area_mm2


def test_seams_are_clipped():
    """Only the runs of a seam inside a leftover are written; scraps of a seam are dropped."""
    shape = Shape(
        outer=Outline.polygon([(0, 0), (100, 0), (100, 50), (60, 50), (60, 10), (40, 10), (40, 50), (0, 50)])
    )
    runs = clip_lines([[(-10, 30), (200, 30)], [(0, 49.9), (0.5, 49.9)]], shape)
    assert runs == [[(0, 30), (40, 30)], [(60, 30), (100, 30)]]
    text = columns("seams").lines("seams", runs)
    assert parse_lines(text, 1.0) == [((0.0, 30.0), (40.0, 30.0)), ((60.0, 30.0), (100.0, 30.0))]
    assert columns("seams").lines("seams", []) == ""


@pytest.mark.parametrize(
    ("value_in", "written"),
    [
        (15.62, "15 39/64"),
        (15.624921, "15 5/8"),
        (15.625, "15 5/8"),
        (10.0, "10"),
        (9.99, "9 63/64"),
        (0.75, "0.75"),
    ],
)
def test_sizes_in_inches_are_read_off_a_rule(value_in, written):
    """A size is a fraction, a hair more than it is at the most; below an inch a decimal, of which none makes a date."""
    cell = columns("length_in").size("length", value_in * 25.4)
    assert cell == written
    assert -0.03 <= value_in * 25.4 - parse_length(cell, "in") < 25.4 / 64


@pytest.mark.parametrize(
    ("value_mm", "written", "with_comma"),
    [(848.983, "849", "849"), (848.96, "848.9", "848,9"), (551.0, "551", "551"), (159.199, "159.2", "159,2")],
)
def test_sizes_in_mm_are_read_off_a_rule(value_mm, written, with_comma):
    """A size is told in tenths, rounded down but for a hair, with the decimal mark of the table."""
    assert columns("length_mm").size("length", value_mm) == written
    table, _ = parse_table(b"piece;length_mm\n")
    assert RowColumns(table, "mm", comma=True).size("length", value_mm) == with_comma
