"""Tables of comma, semicolon or tab separated values, read without losing a byte.

The text follows RFC 4180, as spreadsheets write it: quoted cells, doubled quotes, line breaks in
quotes, any line end. Lines that begin with ``#`` are comments.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from nestyield.intake.files import decode, read_regular
from nestyield.model import InputError, ModelError
from nestyield.model.finding import Finding

BOM = b"\xef\xbb\xbf"
DELIMITERS = (",", ";", "\t")

#: A first line with which some spreadsheets name their delimiter.
_SEPARATOR_LINE = re.compile(r'"?sep=.?"?', re.IGNORECASE)

LineKind = Literal["header", "row", "comment", "blank"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One record of a table with the exact text that it was read from.

    Parameters
    ----------
    kind : {"header", "row", "comment", "blank"}
    number : int
        Line of the file on which it begins, from 1; 0 when made in code.
    text : str
        Exact text with its line end (none at the end of some files).
    cells : tuple of str
        Cells as written, not stripped; empty for comments and blank lines.
    key : str
        Of a row in a database; ``""`` in a file.
    """

    kind: LineKind
    number: int
    text: str
    cells: tuple[str, ...] = ()
    key: str = ""

    @property
    def place(self) -> str:
        """How the row is called in messages."""
        return f"row {self.key or self.number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with everything that its file held.

    Parameters
    ----------
    lines : tuple of Line
        All lines in order, comments and blank ones too.
    delimiter : str
    newline : str
        Line end of the header, used for new rows.
    bom : bool
        Whether the file begins with a byte order mark.
    key : str
        Column that tells rows, of a table in a database; ``""`` for a file.
    """

    lines: tuple[Line, ...]
    delimiter: str = ","
    newline: str = "\n"
    bom: bool = False
    key: str = ""

    @property
    def header(self) -> tuple[str, ...]:
        """Column names, stripped, in file order."""
        for line in self.lines:
            if line.kind == "header":
                return tuple(c.strip() for c in line.cells)
        return ()

    @property
    def rows(self) -> tuple[Line, ...]:
        """Rows that hold data, in file order."""
        return tuple(line for line in self.lines if line.kind == "row")

    def record(self, row: Line) -> dict[str, str]:
        """Return a row as column name to stripped cell; cells that are missing are empty."""
        cells = [c.strip() for c in row.cells] + [""] * len(self.header)
        return dict(zip(self.header, cells))

    def to_bytes(self) -> bytes:
        """Return the file; equal to what was read when nothing was changed."""
        return (BOM if self.bom else b"") + "".join(line.text for line in self.lines).encode("utf-8")

    def column(self, name: str) -> int:
        """Return the index of a column; ModelError when there is none."""
        if name not in self.header:
            raise ModelError(f"expected a column {name!r}, the table has {', '.join(self.header)}")
        return self.header.index(name)

    def with_cells(self, row: Line, cells: Mapping[str, str]) -> Table:
        """Return the table with some cells of one row changed; every other byte stays.

        Parameters
        ----------
        row : Line
            One of ``rows``.
        cells : mapping of str to str
            New cells by column name.
        """
        values = list(row.cells) + [""] * (len(self.header) - len(row.cells))
        for name, value in cells.items():
            values[self.column(name)] = value
        kept = {
            k: text
            for k, (text, cell) in enumerate(zip(self._written(row), row.cells))
            if k < len(values) and values[k] == cell
        }
        new = replace(self._row(values, row.number, row.text, kept), key=row.key)
        return replace(self, lines=tuple(new if line is row else line for line in self.lines))

    def _written(self, row: Line) -> list[str]:
        """Return the cells of a row as they are written in the file, quotes and all."""
        body = row.text.rstrip("\r\n")
        cell = re.compile(rf'(?:"(?:[^"]|"")*")?[^{re.escape(self.delimiter)}\r\n]*')
        out, position = [], 0
        while True:
            match = cell.match(body, position)
            assert match is not None
            out.append(match[0])
            position = match.end() + 1
            if position > len(body):
                return out

    def with_row(self, cells: Mapping[str, str]) -> Table:
        """Return the table with a row added at the end; columns not named are empty.

        Parameters
        ----------
        cells : mapping of str to str
            Cells by column name; unknown names raise ModelError.
        """
        values = [""] * len(self.header)
        for name, value in cells.items():
            values[self.column(name)] = value
        lines = list(self.lines)
        if lines and lines[-1].text and not lines[-1].text.endswith(("\n", "\r")):
            lines[-1] = replace(lines[-1], text=lines[-1].text + self.newline)
        return replace(self, lines=(*lines, self._row(values, 0, self.newline)))

    def with_column(self, name: str) -> Table:
        """Return the table with an empty column added at the right, if it is not there yet."""
        if name in self.header:
            return self
        width = len(self.header)
        lines = []
        for line in self.lines:
            if line.kind in ("header", "row"):
                values = list(line.cells) + [""] * (width - len(line.cells))
                values.insert(width, name if line.kind == "header" else "")
                new = replace(self._row(values, line.number, line.text), kind=line.kind)
                if len(line.cells) == width:  # nothing else in the row need change
                    body = line.text.rstrip("\r\n")
                    added = self._row(["", values[width]], 0, line.text).text
                    new = replace(new, text=body + added)
                line = new
            lines.append(line)
        return replace(self, lines=tuple(lines))

    def _row(
        self, values: Iterable[str], number: int, old_text: str, kept: Mapping[int, str] | None = None
    ) -> Line:
        """Return a line of some cells; those that are kept are written as they were."""
        end = old_text[len(old_text.rstrip("\r\n")) :]
        values, texts = list(values), []
        for k, value in enumerate(values):
            out = io.StringIO()
            # the line end given here also makes the writer quote cells that hold one
            csv.writer(out, delimiter=self.delimiter, lineterminator="\r\n").writerow([value, ""])
            plain = out.getvalue().removesuffix(f"{self.delimiter}\r\n")
            texts.append((kept or {}).get(k, plain))
        text = self.delimiter.join(texts)
        if text.lstrip().startswith("#"):  # a quote keeps the row from being a comment
            first = next(iter(values))
            text = f'"{first}"{text[len(first) :]}'
        return Line(kind="row", number=number, text=text + end, cells=tuple(values))


def parse_table(data: bytes) -> tuple[Table | None, str]:
    """Split a table into its lines.

    Parameters
    ----------
    data : bytes
        UTF-8, with or without byte order mark.

    Returns
    -------
    (Table or None, str)
        None and the reason when it is no table.
    """
    text, why = decode(data)
    if text is None:
        return None, why
    first = next((line for line in _lines(text) if _kind(line) == "row"), None)
    if first is None:
        return None, "has no header row"
    delimiter = _delimiter(first)
    try:
        records = _records(text, delimiter)
    except ModelError as error:
        return None, str(error)
    lines: list[Line] = []
    seen_header = False
    for number, record, cells in records:
        kind = _kind(record)
        if kind == "row" and not any(c.strip() for c in cells):
            kind = "blank"
        if kind != "row":
            lines.append(Line(kind=kind, number=number, text=record))
            continue
        lines.append(Line(kind="row" if seen_header else "header", number=number, text=record, cells=cells))
        seen_header = True
    if not seen_header:
        return None, "has no header row"
    end = first[len(first.rstrip("\r\n")) :] or "\n"
    return Table(lines=tuple(lines), delimiter=delimiter, newline=end, bom=data.startswith(BOM)), ""


def read_table(path: Path) -> Table:
    """Read a table from a file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Table

    Raises
    ------
    InputError
        When the file cannot be read or holds no table.
    """
    data, why = read_regular(path)
    table = None
    if data is not None:
        table, why = parse_table(data)
    if table is None:
        raise InputError([Finding(code="R001", severity="error", message=f"the table {why}", file=path.name)])
    return table


def _records(text: str, delimiter: str) -> list[tuple[int, str, tuple[str, ...]]]:
    """Cut a text into records: first line, exact text with its line end, cells.

    As in RFC 4180 a quote counts only at the beginning of a cell, so ``1 3/4"`` needs none.
    """
    other = rf"[^{re.escape(delimiter)}\r\n]*"
    cell = re.compile(rf'"((?:[^"]|"")*)"({other})|({other})')
    end = re.compile(r"\r\n|\n|\r|\Z")
    records: list[tuple[int, str, tuple[str, ...]]] = []
    position, number = 0, 1
    while position < len(text):
        began, cells = position, []
        line = re.compile(r"[^\r\n]*").match(text, position)
        if line is not None and line[0].lstrip().startswith("#"):
            position = line.end()
        else:
            while True:
                match = cell.match(text, position)
                if match is None or (match[1] is None and match[0].startswith('"')):
                    raise ModelError(_open_quote(text, position, delimiter, number))
                if match[1] is not None and match[1].startswith(delimiter) and match[2].strip():
                    raise ModelError(_open_quote(text, position, delimiter, number))
                cells.append(match[3] if match[1] is None else match[1].replace('""', '"') + match[2])
                position = match.end()
                if not text.startswith(delimiter, position):
                    break
                position += 1
        closing = end.match(text, position)
        position = closing.end() if closing else len(text)
        record = text[began:position]
        records.append((number, record, tuple(cells)))
        number += len(_lines(record))
    return records


def _open_quote(text: str, position: int, delimiter: str, number: int) -> str:
    """Return what is wrong with a quote that opens a cell and is not closed at the end of one."""
    if re.compile(rf'"\s*({re.escape(delimiter)}|[\r\n]|\Z)').match(text, position):
        return f"has a quote alone in a cell of line {number}; for a ditto mark, write the words out"
    return f"has a quote in line {number} that is never closed"


def _lines(text: str) -> list[str]:
    """Split at CR LF, LF or CR only, keeping them."""
    return io.StringIO(text, newline="").readlines()


def _kind(record: str) -> LineKind:
    if not record.strip() or _SEPARATOR_LINE.fullmatch(record.strip()):
        return "blank"
    return "comment" if record.lstrip().startswith("#") else "row"


def _delimiter(header: str) -> str:
    outside = "".join(header.split('"')[::2])
    return max(DELIMITERS, key=outside.count)
