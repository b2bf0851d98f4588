"""The tables of a rack copied whole: from files into a database, out of it again, or from one to another."""

from __future__ import annotations

import contextlib
import csv
import io
import shutil
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from nestyield.intake.database import (
    Place,
    connected,
    is_database,
    place_of,
    places_of,
    read_tables,
    sqlalchemy,
)
from nestyield.intake.rack import RACK_COLUMNS
from nestyield.intake.shop import SHOP_FILE
from nestyield.intake.table import Table, read_table
from nestyield.model.units import Units
from nestyield.planfile.folder import OutputError
from nestyield.rackbook.cells import RowColumns
from nestyield.rackbook.errors import RackbookError

#: Columns that a take may write; a rack table that is made has them all, a defect table the second.
WRITTEN = {
    "rack": ("status", "outline", "parent", "grain", "seams", "measured", "flaws"),
    "defects": ("outline",),
}
#: The key of a table that is made.
KEY = "id"


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """What was copied.

    Parameters
    ----------
    rows : dict of str to int
        Rows by key of the shop file, ``rack`` and ``defects``.
    names : dict of str to str
        What the shop file then says for each key.
    comments : int
        Lines of comments in the files; a database has no place for them.
    """

    rows: dict[str, int]
    names: dict[str, str]
    comments: int


def table_names(shop_dir: Path) -> dict[str, str]:
    """Return ``rack`` and ``defects`` as the shop file has them; it must be one that can be read."""
    section = tomllib.loads((shop_dir / SHOP_FILE).read_text(encoding="utf-8-sig"))["shop"]
    return {key: str(section[key]) for key in ("rack", "defects") if key in section}


def copy_rack(shop_dir: Path, names: Mapping[str, str], units: Units, to: str) -> Copied:
    """Copy the tables of a rack, whole or not at all, never over one that is there. The shop file stays.

    Parameters
    ----------
    shop_dir : Path
    names : mapping of str to str
        ``rack`` and ``defects`` as the shop file has them.
    units : {"mm", "in"}
        Of the shop.
    to : str
        A SQLite file, the URL of a database, or a new folder for ``rack.csv`` and ``defects.csv``; relative
        to the current folder.

    Raises
    ------
    OutputError, DatabaseError, RackbookError
        When one is there already, or cannot be written.
    """
    places = places_of(names)
    kept = read_tables(places.values(), shop_dir)
    tables = {
        key: kept[places[key].name] if key in places else read_table(shop_dir / name)
        for key, name in names.items()
    }
    rows = {key: len(table.rows) for key, table in tables.items()}
    comments = sum(line.kind == "comment" for table in tables.values() for line in table.lines)
    if not is_database(to):
        _to_files(tables, Path(to))
        return Copied(rows=rows, names={key: f"{key}.csv" for key in tables}, comments=0)
    if "#" in to:
        raise RackbookError("expected a database without #TABLE: the tables are called rack and defects")
    _to_database({key: (place_of(to, key), table) for key, table in tables.items()}, units)
    named = to if "://" in to or to.startswith("${") else Path(to).name
    return Copied(rows=rows, names=dict.fromkeys(tables, named), comments=comments)


def _to_files(tables: Mapping[str, Table], folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputError(f"{folder} is there already, nothing was written; choose a new folder")
    folder.parent.mkdir(parents=True, exist_ok=True)
    new = Path(tempfile.mkdtemp(dir=folder.parent, prefix=".rack-"))
    try:
        new.chmod(0o755)
        for key, table in tables.items():
            (new / f"{key}.csv").write_bytes(_csv(table))
        new.replace(folder)
    except BaseException:
        shutil.rmtree(new, ignore_errors=True)
        raise


def _csv(table: Table) -> bytes:
    if not table.key:
        return table.to_bytes()
    own = table.key not in RACK_COLUMNS  # a key that is no column of the maker's stays in the database
    keep = [i for i, name in enumerate(table.header) if not (own and name == table.key)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for line in table.lines:
        cells = [*line.cells, *[""] * len(table.header)]
        writer.writerow([cells[i] for i in keep])
    return out.getvalue().encode()


def _to_database(tables: Mapping[str, tuple[Place, Table]], units: Units) -> None:
    sa = sqlalchemy()
    first = next(iter(tables.values()))[0]
    file = None if "://" in first.database or first.database.startswith("${") else Path(first.database)
    made = file is not None and not file.exists()
    if file is not None and made:
        file.touch()
    try:
        with connected(first, Path(), writing=True) as connection:
            for key, (place, table) in tables.items():
                if sa.inspect(connection).has_table(place.table):
                    raise RackbookError(
                        f"the database has a table {place.table!r} already; nothing was written"
                    )
                columns = _columns(key, table, units)
                key_name = KEY if KEY not in {c.lower() for c in columns} else f"nestyield_{KEY}"
                new = sa.Table(
                    place.table,
                    sa.MetaData(),
                    sa.Column(key_name, sa.Integer, primary_key=True, autoincrement=True),
                    *(sa.Column(name, sa.Text) for name in columns),
                )
                new.create(connection)
                width = len(table.header)
                for row in table.rows:
                    cells = zip(table.header, [*row.cells, *[""] * width][:width])
                    values = {name: cell.strip() or None for name, cell in cells if name in columns}
                    connection.execute(new.insert().values(**values))
            connection.commit()
    except BaseException:
        if file is not None and made:
            with contextlib.suppress(OSError):
                file.unlink()
        raise


def _columns(key: str, table: Table, units: Units) -> list[str]:
    """Return the columns of a table that is made: those of the old one, and what a take may write."""
    header = [name for name in table.header if name and not (name == table.key and name not in RACK_COLUMNS)]
    folded = [name.casefold() for name in header]
    twice = next((name for name in header if folded.count(name.casefold()) > 1), None)
    if twice:
        raise RackbookError(
            f"expected columns of different names, {twice!r} is there twice; rename one of them"
        )
    known = RowColumns(table, units)
    return [*header, *(name for name in WRITTEN[key] if known.name(name) is None)]
