"""Columns of a table by meaning: units in the name, misspellings told, cells read with their row."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from nestyield.intake.lengths import UNIT_MM, LengthError, parse_length, spreadsheet_damage
from nestyield.intake.problems import Problems, nearest, shown
from nestyield.intake.table import Line, Table
from nestyield.model.units import Units
from nestyield.words import Words

#: Likeness from which an unknown column looks like a slip of the pen.
LIKE_A_SLIP = 0.8
#: A unit at the end of a heading.
_UNIT = re.compile(r"[\s_]*[_\[( ](mm|cm|m|in|ft)[\])]?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """Finding codes of one kind of table.

    Parameters
    ----------
    missing, misspelt, long_row, cell : str
    """

    missing: str
    misspelt: str
    long_row: str
    cell: str


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
    """

    table: Table
    file: str
    units: Units
    codes: Codes
    problems: Problems
    comma: bool = False
    _index: dict[str, int] = field(default_factory=dict)
    _unit: dict[str, str] = field(default_factory=dict)

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
                message = f"columns {shown(first)} and {shown(heading)} mean the same; keep one"
                self.problems.error(self.codes.missing, message, self.file, where)
            else:
                self._index[name], self._unit[name] = i, unit
        if not any(name in self._index or self.misspelt(name, 0.6) for name in required):
            found = ", ".join(shown(h) for h in self.table.header[:8])
            more = " ..." if len(self.table.header) > 8 else ""
            wanted = ", ".join((*required, *expected))
            self.problems.error(
                self.codes.missing,
                f"expected the names of the columns in the first line: {wanted}; got {found}{more}",
                self.file,
                where,
            )
            return False
        told: set[str] = set()
        names = [*known, *(f"{k}_{u}" for k, is_length in known.items() if is_length for u in UNIT_MM)]
        for name in dict.fromkeys((*required, *expected)):
            slip = self.misspelt(name, 0.6 if name in required else LIKE_A_SLIP)
            if name in self._index or (slip is None and name not in required):
                continue
            hint = f"; is {slip!r} meant?" if slip else ""
            self.problems.error(
                self.codes.missing, f"expected a column {name!r}, it is missing{hint}", self.file, where
            )
            if slip:  # read as meant, so that all that is wrong in the rows is told, too
                told.add(slip)
                self._index[name] = self.table.header.index(slip)
                self._unit[name] = self._unit_in(slip)
        for heading in unknown:
            close = nearest(heading.replace(" ", "_"), names, LIKE_A_SLIP) if heading else None
            read = close and re.sub(r"_(mm|cm|m|in|ft)$", "", close) in self._index
            if close and heading not in told and not read:
                self.problems.warning(
                    self.codes.misspelt,
                    f"column {shown(heading)} is kept but not read; did you mean {close!r}?",
                    self.file,
                    where,
                )
        missing = [name for name in required if name not in self._index]
        return not missing and not twice

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
        return match[1] if match else self.units

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
        """Add an error when a row has filled cells beyond the header."""
        beyond = row.cells[len(self.table.header) :]
        extra = any(c.strip() for c in beyond) or (beyond and not self._all_rows_long())
        if extra:
            curly = ', straight ones ("), not curly' if re.search("[“”„]", row.text) else ""
            self.error(
                row,
                f"expected at most {len(self.table.header)} cells as in the header, got {len(row.cells)}; "
                "put quotes "
                f"around a cell that holds {shown(self.table.delimiter)}{curly}",
                code=self.codes.long_row,
            )
        return not extra

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
                self.error(row, f"expected a length for {name}, the cell is empty", name)
            return None
        try:
            return parse_length(self._with_point(cell), self.unit(name))
        except LengthError as error:
            self.error(row, str(error), name)
            return None

    def positive(self, row: Line, name: str, required: bool = False) -> float | None:
        """Return a length above 0 in mm; None when empty or wrong (then with an error)."""
        value = self.length(row, name, required)
        if value is not None and not value > 0:
            self.error(row, f"expected {name} > 0, got {self.text(row, name)}", name)
            return None
        return value

    def number(
        self, row: Line, name: str, low: float | None = None, high: float | None = None, meaning: str = ""
    ) -> float | None:
        """Return a finite number; None when empty or wrong (then with an error that adds its meaning)."""
        cell = self._with_point(self.text(row, name).removesuffix("%").removesuffix("°").strip())
        if not cell:
            return None
        try:
            value = float(cell)
        except ValueError:
            hint = "; write a point as decimal mark" if "," in cell else ""
            damage = spreadsheet_damage(cell)
            if damage:
                self.error(row, damage, name)
                return None
            begins = re.match(r"[+-]?\d+(?:\.\d+)?(?=\s*[a-z])", cell, re.IGNORECASE)
            if begins and not hint:
                hint = f"; write {begins[0]} alone"
            self.error(row, f"expected a number for {name}{meaning}, got {shown(cell)}{hint}", name)
            return None
        if not math.isfinite(value):
            self.error(row, f"expected a finite number for {name}, got {shown(cell)}", name)
            return None
        if (low is not None and value < low) or (high is not None and value > high):
            rule = f">= {low:g}" if high is None else f"from {low:g} to {high:g}"
            self.error(row, f"expected {name} {rule}, got {shown(cell)}", name)
            return None
        return value

    def integer(self, row: Line, name: str, low: int, high: int, default: int) -> int:
        """Return a whole number; the default when empty or wrong (then with an error)."""
        value = self.number(row, name, low, high)
        if value is None:
            return default
        if not value.is_integer():
            self.error(row, f"expected a whole number for {name}, got {self.text(row, name)}", name)
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
        hint = f"; did you mean {near!r}?" if near else ""
        self.error(row, f"expected {name} to be one of {', '.join(choices)}, got {shown(cell)}{hint}", name)
        return default
