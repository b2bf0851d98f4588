"""Values of the model as cells of the maker's tables: the maker's columns, the maker's units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import LineString, MultiLineString, Polygon

from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.shape import to_shapely
from nestyield.intake import columns as intake
from nestyield.intake.defects import DEFECT_COLUMNS
from nestyield.intake.lengths import UNIT_MM
from nestyield.intake.problems import Problems
from nestyield.intake.rack import CODES, RACK_COLUMNS
from nestyield.intake.table import Table
from nestyield.model import Point, Shape, Units
from nestyield.words import MM_PER_INCH, Words, wood_mm

#: Decimals that keep a micrometer.
_DECIMALS = {"mm": 3, "cm": 4, "m": 6, "in": 6, "ft": 7}
#: Longest outline in a cell; spreadsheets cut a cell at 32,767 characters.
LONGEST_CELL = 30_000


class RowColumns:
    """The columns of a rack or defect table by what they mean.

    Parameters
    ----------
    table : Table
    units : {"mm", "in"}
        Unit of columns whose name carries none.
    comma : bool
        Whether numbers are written with a decimal comma.
    """

    def __init__(self, table: Table, units: Units, comma: bool = False) -> None:
        self.units: Units = units
        self.comma = comma
        known = {**DEFECT_COLUMNS, **RACK_COLUMNS}
        self._found = intake.Columns(table=table, file="", units=units, codes=CODES, problems=Problems())
        self._found.find(known, ())

    def name(self, meaning: str) -> str | None:
        """Return the name of the column that holds something, None when there is none."""
        return self._found.heading(meaning)

    def unit(self, meaning: str) -> str:
        """Return the unit of a column."""
        return self._found.unit(meaning)

    def cells(self, values: dict[str, str]) -> dict[str, str]:
        """Return cells by column name, without those that the table has no column for."""
        return {name: text for meaning, text in values.items() if (name := self.name(meaning)) is not None}

    def decimal(self, text: str) -> str:
        """Return a number with the decimal mark of the table."""
        return text.replace(".", ",") if self.comma else text

    def length(self, meaning: str, value_mm: float) -> str:
        """Return a length as the column has it."""
        return self.decimal(number(value_mm, self.unit(meaning)))

    def size(self, meaning: str, value_mm: float) -> str:
        """Return a length or width as read off a rule: in 64ths of an inch or tenths of a millimeter.

        It is rounded down; a hair that the chords of a drawing take off an even figure is given back. Below
        an inch it is a decimal: spreadsheets make a date of ``3/4``.
        """
        inches = self.unit(meaning) == "in"
        shown_mm = wood_mm(value_mm, "in" if inches else "mm")
        if not inches or shown_mm < MM_PER_INCH:
            return self.length(meaning, shown_mm)
        return Words("in").number(shown_mm)

    def polygon(self, meaning: str, shape: Shape, chord_error_mm: float) -> str:
        """Return an outline as well-known text, never larger than the shape."""
        polygon = to_shapely(flatten_shape(shape, chord_error_mm, "inside"))
        text = self._wkt(meaning, polygon)
        trim = chord_error_mm
        while len(text) > LONGEST_CELL and trim < 1.0:
            smaller = polygon.buffer(-trim, join_style="mitre").simplify(trim)
            parts = [p for p in shapely.get_parts(smaller) if not p.is_empty]
            text = self._wkt(meaning, max(parts, key=lambda p: p.area)) if parts else text
            trim *= 2
        return text

    def lines(self, meaning: str, lines: Sequence[Sequence[Point]]) -> str:
        """Return lines as well-known text; ``""`` when there are none."""
        if not lines:
            return ""
        unit = self.unit(meaning)
        written = [f"({_points(line, unit)})" for line in lines]
        return f"LINESTRING {written[0]}" if len(written) == 1 else f"MULTILINESTRING ({', '.join(written)})"

    def _wkt(self, meaning: str, polygon: Polygon) -> str:
        unit = self.unit(meaning)
        rings = [polygon.exterior, *polygon.interiors]
        return f"POLYGON ({', '.join(f'({_points(ring.coords, unit)})' for ring in rings)})"


def number(value_mm: float, unit: str) -> str:
    """Return a length without its unit, exact to a micrometer, no trailing zeros."""
    text = f"{value_mm / float(UNIT_MM[unit]):.{_DECIMALS[unit]}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def plain(value: float) -> str:
    """Return a number without needless digits."""
    return f"{value:.6f}".rstrip("0").rstrip(".") or "0"


def clip_lines(lines: Iterable[Sequence[Point]], shape: Shape) -> list[list[Point]]:
    """Return the runs of lines that lie in a shape, millimeters; shorter than 1 mm ones are dropped."""
    polygon = to_shapely(shape)
    found = []
    for line in lines:
        inside = LineString(line).intersection(polygon)
        parts = inside.geoms if isinstance(inside, MultiLineString) else [inside]
        for part in parts:
            if isinstance(part, LineString) and part.length >= 1.0:
                found.append([(float(x), float(y)) for x, y in part.coords])
    return sorted(found)


def _points(points: Iterable[Sequence[float]], unit: str) -> str:
    return ", ".join(f"{number(p[0], unit)} {number(p[1], unit)}" for p in points)
