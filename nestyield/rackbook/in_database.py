"""Tables of the rack that lie in a database: changed in one transaction that also notes the booking.

With each booking a row goes into the table ``nestyield_book`` of the database: a token, the number and the
line of the journal. The transaction is the moment from which a change is true: after a kill, a token that is
there tells that the files of the shop folder (journal, shop file) are to be brought to their end, one that is
not, that nothing was changed.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from nestyield.intake.database import (
    BUSY_S,
    Place,
    connected,
    digest_of,
    read_table_of,
    row_text,
    sqlalchemy,
)
from nestyield.intake.rack import RACK_COLUMNS
from nestyield.intake.table import Line, Table
from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.journal import Entry, FileChange
from nestyield.rackbook.lines import Changes

#: The table that notes bookings.
BOOK = "nestyield_book"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableWork:
    """What is to be changed in tables of one database.

    Parameters
    ----------
    folder : Path
        Of the shop.
    places : dict of str to Place
        By name.
    old, new : dict of str to Table
        As they were read, and as they are to be, by name of the place.
    """

    folder: Path
    places: Mapping[str, Place]
    old: Mapping[str, Table]
    new: Mapping[str, Table]

    @property
    def database(self) -> str:
        """SHA-256 of the database as the shop file names it; the name itself goes into no book."""
        return database_digest(self.places)

    @contextmanager
    def begun(self) -> Iterator[Begun]:
        """Lock the tables, see that they are as they were read, and change them; nothing is true yet.

        Raises
        ------
        ChangedError
            When somebody has changed one of them since.
        RackbookError
            When a table has no column for what is to be written, or one of a kind that cannot hold it.
        DatabaseError
            When the database refuses.
        """
        with connected(next(iter(self.places.values())), self.folder, writing=True) as connection:
            _lock(connection, self.places)
            for name, old in self.old.items():
                if digest_of(read_table_of(connection, self.places[name])) != digest_of(old):
                    raise ChangedError(
                        f"{name} was changed by someone else just now; look at it and try again"
                    )
            changes = []
            for name, new in sorted(self.new.items()):
                place, old = self.places[name], self.old[name]
                _change(connection, place, old, new)
                after = read_table_of(connection, place)
                changes.append(
                    FileChange(
                        name=name, before=digest_of(old), after=digest_of(after), lines=_lines(old, after)
                    )
                )
            yield Begun(connection, self.places, tuple(changes))


@dataclass(frozen=True, slots=True)
class Begun:
    """A transaction in which the tables are changed already.

    Parameters
    ----------
    connection : Connection
    places : dict of str to Place
    changes : tuple of FileChange
        What it changes, for the journal.
    """

    connection: Any
    places: Mapping[str, Place]
    changes: tuple[FileChange, ...]

    def note(self, entry: Entry) -> None:
        """Write the booking into the database's own book."""
        sa = sqlalchemy()
        book = _book(sa, self.places)
        book.create(self.connection, checkfirst=True)
        row = {"token": entry.token, "entry": entry.entry, "line": entry.to_line()}
        self.connection.execute(book.insert().values(**row))

    def commit(self) -> None:
        """Make it true."""
        self.connection.commit()


def stands(folder: Path, places: Mapping[str, Place], entry: Entry) -> bool:
    """Tell whether the transaction of a booking that was cut short became true.

    A transaction whose end is still on its way is waited for.

    Raises
    ------
    RackbookError
        When the shop file names another database now.
    """
    if not places or database_digest(places) != entry.database:
        raise RackbookError(
            f"entry {entry.entry} of the journal was cut short in another database than the shop file names "
            f"now: name that one again, or remove .nestyield/pending to forget that entry"
        )
    sa = sqlalchemy()
    with connected(next(iter(places.values())), folder, writing=True) as connection:
        _lock(connection, places)
        book = _book(sa, places)
        if not sa.inspect(connection).has_table(BOOK, book.schema):
            return False
        asked = sa.select(book.c.token).where(book.c.token == entry.token)
        return connection.execute(asked).first() is not None


def database_digest(places: Mapping[str, Place]) -> str:
    """Return the SHA-256 of the database as the shop file names it."""
    return hashlib.sha256(next(iter(places.values())).database.encode()).hexdigest()


def restored(table: Table, name: str, lines: Changes) -> Table:
    """Return a table without a change.

    Raises
    ------
    ChangedError
        When a row that it wrote is no longer so.
    """
    rows = {row.key: row for row in table.rows}
    gone: set[str] = set()
    for before, after in lines:
        was = json.loads(before) if before is not None else None
        wrote = json.loads(after) if after is not None else {}
        key = wrote.get(table.key, "")
        row = rows.get(key)
        if row is None or json.loads(row.text) != wrote:
            raise ChangedError(
                f"{name} was changed since that take: row {key} is {'gone' if row is None else 'another'}; "
                f"undo what came after it first"
            )
        if was is None:
            gone.add(key)
        else:
            cells = tuple(was.get(column, "") for column in table.header)
            rows[key] = replace(row, cells=cells, text=row_text(table.header, cells))
    kept = [rows[line.key] if line.kind == "row" else line for line in table.lines if line.key not in gone]
    return replace(table, lines=tuple(kept))


def _book(sa: Any, places: Mapping[str, Place]) -> Any:
    schema = next(iter(places.values())).table.rpartition(".")[0] or None
    return sa.Table(
        BOOK,
        sa.MetaData(schema=schema),
        sa.Column("token", sa.String(64), primary_key=True),
        sa.Column("entry", sa.Integer),
        sa.Column("line", sa.Text),
    )


def _lock(connection: Any, places: Mapping[str, Place]) -> None:
    """Keep other writers out until the transaction ends; SQLite has done so when it was begun."""
    if connection.dialect.name == "postgresql":
        quote = connection.dialect.identifier_preparer.quote
        names = ", ".join(".".join(quote(word) for word in p.table.split(".")) for p in places.values())
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{BUSY_S}s'")
        connection.exec_driver_sql(f"LOCK TABLE {names} IN SHARE ROW EXCLUSIVE MODE")


def _change(connection: Any, place: Place, old: Table, new: Table) -> None:
    sa = sqlalchemy()
    missing = [column for column in new.header if column not in old.header]
    if missing:
        raise RackbookError(
            f"{place.name} has no column {missing[0]!r}, which this take writes: add it as text "
            f"(ALTER TABLE {place.table} ADD COLUMN {missing[0]} TEXT) and take again"
        )
    schema, _, name = place.table.rpartition(".")
    columns = {c["name"]: c for c in sa.inspect(connection).get_columns(name, schema or None)}
    table = sa.table(name, *(sa.column(c) for c in columns), schema=schema or None)
    was = {row.key: row for row in old.rows}
    key = table.c[old.key]
    for row in new.rows:
        cells = dict(zip(new.header, row.cells))
        before = dict(zip(old.header, was[row.key].cells)) if row.key else {}
        values = {
            c: _value(connection, place, columns[c], text)
            for c, text in cells.items()
            if text != before.get(c, "")
        }
        if not row.key:
            if (
                old.key not in RACK_COLUMNS
            ):  # the database gives it one; of a copied row it would be another's
                values.pop(old.key, None)
            connection.execute(sa.insert(table).values(**values))
        elif values:
            here = key == _value(connection, place, columns[old.key], row.key)
            _one(connection.execute(sa.update(table).where(here).values(**values)), place, row)
    for gone in set(was) - {row.key for row in new.rows}:
        here = key == _value(connection, place, columns[old.key], gone)
        _one(connection.execute(sa.delete(table).where(here)), place, was[gone])


def _one(result: Any, place: Place, row: Line) -> None:
    if result.rowcount != 1:
        raise RackbookError(f"expected one {row.place} in {place.name}, got {result.rowcount}")


def _value(connection: Any, place: Place, column: Mapping[str, Any], text: str) -> object:
    """Return a cell as its column has it."""
    try:
        kind = column["type"].python_type
    except NotImplementedError:
        kind = str
    if not text:
        return None if column.get("nullable", True) or kind is not str else ""
    try:
        if kind is int:
            return int(text)
        if kind in (float, Decimal):
            number = sum(map(Fraction, text.split()), Fraction())  # 12 3/8
            exact = kind is Decimal and connection.dialect.name != "sqlite"  # which has no decimals
            return float(number) if not exact else Decimal(number.numerator) / number.denominator
        if kind is bool:
            return {"true": True, "false": False}[text.lower()]
        if issubclass(kind, datetime.date):
            return kind.fromisoformat(text)
    except (ValueError, KeyError, ArithmeticError):
        raise RackbookError(
            f"column {column['name']!r} of {place.name} is of type {column['type']} and cannot hold "
            f"{text!r}; make it a column of text"
        ) from None
    return text


def _lines(old: Table, new: Table) -> Changes:
    before, after = ({row.key: row.text for row in table.rows} for table in (old, new))
    keys = [*before, *(k for k in after if k not in before)]
    return tuple((before.get(k), after.get(k)) for k in keys if before.get(k) != after.get(k))
