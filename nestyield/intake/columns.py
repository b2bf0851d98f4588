"""Columns of a table by meaning: units in the name, misspellings told, cells read with their row."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import takewhile

from nestyield.intake.lengths import (
    UNIT_MM,
    UNIT_NAMES,
    DecimalCommaError,
    LengthError,
    parse_length,
    spreadsheet_damage,
    without_comma,
)
from nestyield.intake.problems import Problems, nearest, shown
from nestyield.intake.slipped import (
    AND_THEN,
    is_bare,
    no_length,
    no_names,
    run_together,
    slipped_rows,
    too_many,
)
from nestyield.intake.table import Line, Table
from nestyield.model import Finding
from nestyield.model.units import Units
from nestyield.words import Words, listed

#: Likeness from which an unknown column looks like a slip of the pen.
LIKE_A_SLIP = 0.8
#: A unit at the end of a heading.
_UNIT = re.compile(
    r"[\s_]*[_\[( ](mm|cm|m|in|ft|in\.|ft\.|inch|inches|feet|foot|millimet(?:er|re)s?|centimet(?:er|re)s?)"
    r"[\])]?$"
)
#: Numbers in words, from none on.
_COUNTED = (
    *("none", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
#: Marks that stand for "as above".
_DITTO = frozenset(('"', '""', "''", "″", "”", "“", "„", "〃", "do.", "ditto", "dto", "dto.", "dito"))
_COMMA = re.compile(r"[+-]?\d+,\d+\s*(?:mm|cm|m|in|ft|kg|g|lb|%)?")
#: So many rows alike make a column of them.
MANY_ROWS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """Finding codes of one kind of table.

    Parameters
    ----------
    missing, misspelt, long_row, cell, size : str
    """

    missing: str
    misspelt: str
    long_row: str
    cell: str
    size: str


@dataclass(slots=True, kw_only=True)
class Columns:
    """A table seen by the meaning of its columns.

    Parameters
    ----------
    table : Table
    file : str
    units : {"mm", "in"}
        Unit of length columns that do not name theirs.
    codes : Codes
    problems : Problems
    comma : bool
        Whether cells may have a decimal comma.
    doubts : dict of str to Finding
        Warnings about fractions without a unit, by place of the row.
    """

    table: Table
    file: str
    units: Units
    codes: Codes
    problems: Problems
    comma: bool = False
    _index: dict[str, int] = field(default_factory=dict)
    _unit: dict[str, str] = field(default_factory=dict)
    _lengths: frozenset[str] = frozenset()
    _commas_told: bool = False
    doubts: dict[str, Finding] = field(default_factory=dict)
    _fractions: dict[str, Finding] = field(default_factory=dict)
    _long_told: bool = False
    _slipped: dict[int, str] | None = None

    def find(
        self, known: Mapping[str, bool], required: tuple[str, ...], expected: tuple[str, ...] = ()
    ) -> bool:
        """Find the known columns.

        Parameters
        ----------
        known : mapping of str to bool
            Column -> whether it is a length, so that its name may end in ``_mm``, ``_in`` ...
        required : tuple of str
            Columns that must be there.
        expected : tuple of str
            Columns without which most rows would be wrong: a slip in their names is an error.

        Returns
        -------
        bool
            Whether all required columns can be read, perhaps under a misspelt name, and none is there twice.
        """
        twice = False
        self._lengths = frozenset(name for name, length in known.items() if length)
        header = next(line for line in self.table.lines if line.kind == "header")
        where = header.place if header.number else ""
        unknown: list[str] = []
        for i, heading in enumerate(self.table.header):
            name, unit = self._meaning(heading, known)
            if name is None:
                unknown.append(heading)
            elif name in self._index:
                twice = True
                first = self.table.header[self._index[name]]
                both = f"columns {shown(first)} and {shown(heading)} both hold the {name}"
                same = f"the column {shown(heading)} is there twice"
                message = f"{same if first == heading else both}; delete or rename one"
                self.problems.error(self.codes.missing, message, self.file, where)
            else:
                self._index[name], self._unit[name] = i, unit
        if not any(name in self._index or self.misspelt(name, 0.6) for name in required):
            message = no_names(self.table, (*required, *expected), self.units)
            self.problems.error(self.codes.missing, message, self.file, where)
            return False
        told: set[str] = set()
        names = [*known, *(f"{k}_{u}" for k, is_length in known.items() if is_length for u in UNIT_MM)]
        for name in dict.fromkeys((*required, *expected)):
            slip = self.misspelt(name, 0.6 if name in required else LIKE_A_SLIP)
            if name in self._index or (slip is None and name not in required):
                continue
            message = f"the table has no column {name!r}; add it"
            if slip:
                message = f"column {slip!r} is not known; rename it {self._renamed(name, slip)}"
            self.problems.error(self.codes.missing, message, self.file, where)
            if slip:  # read as meant, so that all that is wrong in the rows is told, too
                told.add(slip)
                self._index[name] = self.table.header.index(slip)
                self._unit[name] = self._unit_in(slip)
        for heading in unknown:
            close = nearest(heading.replace(" ", "_"), names, LIKE_A_SLIP) if heading else None
            read = close and re.sub(r"_(mm|cm|m|in|ft)$", "", close) in self._index
            if close and heading not in told and not read:
                meant = re.sub(r"_(mm|cm|m|in|ft)$", "", close)
                message = f"column {shown(heading)} is not read; if {meant} is meant, rename it {close}"
                self.problems.warning(self.codes.misspelt, message, self.file, where)
        missing = [name for name in required if name not in self._index]
        return not missing and not twice

    def _renamed(self, name: str, heading: str) -> str:
        """Return how a column is to be called: with the unit of its old name, else that of the shop."""
        return f"{name}_{self._unit_in(heading)}" if name in self._lengths else name

    def _meaning(self, heading: str, known: Mapping[str, bool]) -> tuple[str | None, str]:
        folded = re.sub(r"[\s_]+", "_", heading.strip().casefold())
        if folded in known:
            return folded, self.units
        match = re.fullmatch(r"(.+?)_?[\[(]?(mm|cm|m|in|ft)[\])]?", folded)
        if match and known.get(match[1].rstrip("_")) and folded[len(match[1])] in "_[(":
            return match[1].rstrip("_"), match[2]
        return None, ""

    @property
    def words(self) -> Words:
        """Write quantities in the units of the shop."""
        return Words(self.units)

    def misspelt(self, name: str, cutoff: float = LIKE_A_SLIP) -> str | None:
        """Return a heading that is not known and looks like a column that is not there, else None."""
        if name in self._index:
            return None
        read = {self.table.header[i] for i in self._index.values()}
        bare = {_UNIT.sub("", h.casefold()): h for h in self.table.header if h and h not in read}
        near = nearest(name, bare, cutoff)
        return None if near is None else bare[near]

    def _unit_in(self, heading: str) -> str:
        """Return the unit that a heading ends in, else that of the shop."""
        match = _UNIT.search(heading.casefold())
        return UNIT_NAMES[match[1]] if match else self.units

    def has(self, name: str) -> bool:
        """Tell whether the table has a column."""
        return name in self._index

    def heading(self, name: str) -> str | None:
        """Return a column's name as the maker wrote it, None when there is none."""
        return self.table.header[self._index[name]] if name in self._index else None

    def unit(self, name: str) -> str:
        """Return the unit of a length column."""
        return self._unit.get(name, self.units)

    def where(self, row: Line, name: str = "") -> str:
        """Return row and column for a finding; the row is the line of the file."""
        heading = self.table.header[self._index[name]] if name in self._index else name
        return row.place + (f", column {heading}" if heading else "")

    def error(self, row: Line, message: str, name: str = "", code: str = "") -> None:
        """Add an error about a cell, with code ``codes.cell`` unless another is given."""
        self.problems.error(code or self.codes.cell, message, self.file, self.where(row, name))

    def check_width(self, row: Line) -> bool:
        """Add an error when a row has filled cells beyond the header, or when cells have slipped."""
        width = len(self.table.header)
        beyond = row.cells[width:]
        if any(c.strip() for c in beyond) or (beyond and not self._all_rows_long()):
            if len(self.table.rows) >= MANY_ROWS and self._all_rows_long():
                self._tell_short_header()
                return False
            what = f"the row has {len(row.cells)} cells, the header {width}"
            if re.search("[“”„]", row.text):
                todo = 'curly quotes do not hold a cell together, write straight ones (")'
            else:
                todo = too_many(self._names(), row.cells, self.table.delimiter, self.comma)
            self.error(row, f"{what}; {todo}", code=self.codes.long_row)
            return False
        return self._check_slipped(row) and self._check_ditto(row)

    def _tell_short_header(self) -> None:
        """Add one error when all rows have more cells than the header names."""
        if self._long_told:
            return
        self._long_told = True
        header = next(line for line in self.table.lines if line.kind == "header")
        least = min(len(row.cells) for row in self.table.rows)
        message = f"the rows have {least} cells, and this line names {len(self.table.header)} columns"
        self.problems.error(
            self.codes.long_row, f"{message}; write the name that lacks", self.file, header.place
        )

    def _names(self) -> list[str | None]:
        """Return the meaning of each column, None for the maker's own."""
        meanings: dict[int, str] = {i: name for name, i in self._index.items()}
        return [meanings.get(i) for i in range(len(self.table.header))]

    def _check_slipped(self, row: Line) -> bool:
        """Add one error for all rows that lack a cell in the same place."""
        if len(row.cells) >= len(self.table.header):
            return True
        if self._slipped is None:
            self._slipped = slipped_rows(self._names(), self.table.header, self.table.rows, self.comma)
        if self._slipped.get(row.number):
            self.error(row, self._slipped[row.number], code=self.codes.long_row)
        return row.number not in self._slipped

    def _check_ditto(self, row: Line) -> bool:
        """Add an error for each cell with a mark for "as above"."""
        marks = [
            name
            for name in self._index
            if name not in ("note", "parent") and self.text(row, name).casefold() in _DITTO
        ]
        for name in marks:
            above = [self.text(r, name) for r in takewhile(lambda r: r is not row, self.table.rows)]
            written = next((t for t in reversed(above) if t and t.casefold() not in _DITTO), "")
            out = f": {written}" if written else ""
            self.error(row, f"a ditto mark is not read; write the cell out{out}", name)
        return not marks

    def _all_rows_long(self) -> bool:
        """Tell whether every row has cells beyond the header, as some programs write them: no stray comma."""
        return all(len(row.cells) > len(self.table.header) for row in self.table.rows)

    def text(self, row: Line, name: str) -> str:
        """Return a cell, stripped; ``""`` when there is none."""
        i = self._index.get(name)
        return row.cells[i].strip() if i is not None and i < len(row.cells) else ""

    def _with_point(self, cell: str) -> str:
        """Return a cell with its decimal comma as a point, where the shop writes commas."""
        if not self.comma or cell.count(",") != 1 or "." in cell:
            return cell
        return re.sub(r"(\d),(\d)", r"\1.\2", cell)

    def decimal(self, row: Line, name: str) -> str:
        """Return a cell with its decimal comma as a point, where the shop writes commas."""
        return self._with_point(self.text(row, name))

    def length(self, row: Line, name: str, required: bool = False) -> float | None:
        """Return a length in mm; None when empty or wrong (then with an error)."""
        cell = self.text(row, name)
        if not cell:
            if required:
                self.error(row, f"this row has no {name}; write it in {self.unit(name)}", name)
            return None
        try:
            value = parse_length(self._with_point(cell), self.unit(name))
        except DecimalCommaError:
            self._tell_comma(row, name, cell)
            return None
        except LengthError as error:
            how_well = ("1/4 in" if self.units == "in" else "5 mm") if "measured" in self._lengths else ""
            self.error(
                row, no_length(cell, self.heading(AND_THEN.get(name, "")), how_well) or str(error), name
            )
            return None
        if self.unit(name) == "in" and (meant := run_together(cell)):
            read = self.words.length(value, style="setting")
            message = f"{cell} is read as {read}; if {meant} is meant, write {meant}"
            self.problems.warning(self.codes.size, message, self.file, self.where(row, name))
        if "/" in cell and self.unit(name) in ("mm", "cm") and is_bare(cell):
            self._tell_fraction(row, name, cell, value)
        return value

    def _tell_fraction(self, row: Line, name: str, cell: str, value: float) -> None:
        """Ask about a fraction in a column of mm; once for a column that is full of them."""
        alike = [t for r in self.table.rows if "/" in (t := self.text(r, name)) and is_bare(t)]
        found = self._fractions.get(name)
        if found is None or len(alike) < MANY_ROWS:
            todo = f"if inches are meant, write {cell} in"
            if len(alike) >= MANY_ROWS:
                todo = f"if column {self.heading(name)} is in inches, rename it {name}_in"
            read = f"{value / float(UNIT_MM[self.unit(name)]):g} {self.unit(name)}"
            message = f"{cell} is read as {read}; {todo}"
            found = self.problems.warning(self.codes.size, message, self.file, self.where(row, name))
            self._fractions[name] = found
        if name in ("thickness", "length", "width"):
            self.doubts[row.place] = found

    def _tell_comma(self, row: Line, name: str, cell: str) -> None:
        """Add one error about decimal commas for the whole table."""
        if self._commas_told:
            return
        self._commas_told = True
        with_comma = [c for r in self.table.rows for c in r.cells if _COMMA.fullmatch(c.strip())]
        if len(with_comma) > 1:
            message = f'the table has decimal commas ({cell}); under [shop] write decimal = "comma"'
        else:
            message = without_comma(cell)
        self.error(row, message, name)

    def positive(self, row: Line, name: str, required: bool = False) -> float | None:
        """Return a length above 0 in mm; None when empty or wrong (then with an error)."""
        value = self.length(row, name, required)
        if value is not None and not value > 0:
            cell = self.text(row, name)
            self.error(row, f"the {name} is {cell}; write the true {name}, in {self.unit(name)}", name)
            return None
        return value

    def number(
        self, row: Line, name: str, low: float | None = None, high: float | None = None, meaning: str = ""
    ) -> float | None:
        """Return a finite number; None when empty or wrong (then with an error, or with its meaning)."""
        cell = self._with_point(self.text(row, name).removesuffix("%").removesuffix("°").strip())
        if not cell:
            return None
        try:
            value = float(cell)
        except ValueError:
            begins = re.match(r"[+-]?\d+(?:\.\d+)?(?=\s*[a-z])", cell, re.IGNORECASE)
            if damage := spreadsheet_damage(cell):
                self.error(row, damage, name)
            elif _COMMA.fullmatch(cell):
                self._tell_comma(row, name, cell)
            elif begins:
                self.error(row, f"the {name} takes a bare number; write {begins[0]}", name)
            elif cell.casefold() in _COUNTED:
                todo = f"numbers are written in figures; write {_COUNTED.index(cell.casefold())}"
                self.error(row, todo, name)
            else:
                plain = f"expected a number for {name}, got {shown(cell)}"
                self.error(row, f"{shown(cell)} is no number; {meaning}" if meaning else plain, name)
            return None
        if not math.isfinite(value):
            self.error(row, f"expected a finite number for {name}, got {shown(cell)}", name)
            return None
        if (low is not None and value < low) or (high is not None and value > high):
            rule = f"of at least {low:g}" if high is None else f"from {low:g} to {high:g}"
            self.error(row, f"the {name} cannot be {cell}; write a number {rule}", name)
            return None
        return value

    def integer(self, row: Line, name: str, low: int, high: int, default: int) -> int:
        """Return a whole number; the default when empty or wrong (then with an error)."""
        value = self.number(row, name, low, high)
        if value is None:
            return default
        if not value.is_integer():
            either = f"{math.floor(value)} or {math.ceil(value)}"
            cell = self.text(row, name)
            self.error(row, f"the {name} {cell} is not a whole number; write {either}", name)
            return default
        return int(value)

    def choice(
        self,
        row: Line,
        name: str,
        choices: tuple[str, ...],
        default: str,
        meant: Mapping[str, str] | None = None,
    ) -> str:
        """Return one of some words; the default when empty or wrong (then with an error).

        Parameters
        ----------
        row : Line
        name : str
        choices : tuple of str
        default : str
        meant : mapping of str to str, optional
            Other words -> the choice that is probably meant, for the hint.
        """
        cell = self.text(row, name)
        if not cell:
            return default
        if cell.casefold() in choices:
            return cell.casefold()
        near = (meant or {}).get(cell.casefold()) or nearest(cell, choices)
        known = listed(choices, "or")
        hint = f"{shown(cell)} is no {name}; write {near or known}" + (f" (known: {known})" if near else "")
        self.error(row, hint, name)
        return default
