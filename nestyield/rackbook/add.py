"""Add new pieces to the rack and their defects to the defect table, whole or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nestyield.intake.database import digest_of, read_tables
from nestyield.intake.shop import SHOP_FILE
from nestyield.intake.table import Table
from nestyield.model import Shape
from nestyield.rackbook.cells import RowColumns, plain
from nestyield.rackbook.commit import Book, database_places, open_book
from nestyield.rackbook.disk import Disk
from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.in_database import TableWork
from nestyield.rackbook.journal import Entry, FileChange
from nestyield.rackbook.now import shop_now
from nestyield.rackbook.rows import with_columns
from nestyield.rackbook.take import changed_rows, decimal_comma, file_table, file_text, table_names

_CHORD_MM = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedPiece:
    """A piece that is new in the rack.

    Parameters
    ----------
    name, species : str
    thickness_mm : float
    shape : Shape
    grain_deg : float or None
        From its length; None where it is not known: the row is then on hold.
    note : str
        Into the column ``note``, where the rack has one.
    defects : tuple of (str, Shape)
        Kind and outline, right through.
    """

    name: str
    species: str
    thickness_mm: float
    shape: Shape
    grain_deg: float | None = 0.0
    note: str = ""
    defects: tuple[tuple[str, Shape], ...] = ()


def add_pieces(shop_dir: Path, pieces: Sequence[AddedPiece], *, disk: Disk | None = None) -> Entry:
    """Add a row for each piece under the rack's own headings, in its units, separators and decimal mark.

    Rows that are there stay as they are, byte for byte; `undo` takes the addition back.

    Parameters
    ----------
    shop_dir : Path
    pieces : sequence of AddedPiece
    disk : Disk, optional
        For tests.

    Raises
    ------
    RackbookError
        When a name is in use, when there is no table for defects, or when the shop cannot be read; nothing is
        written then.
    """
    if not pieces:
        raise RackbookError("expected pieces to add, got none")
    with open_book(shop_dir, "adding pieces", disk) as book:
        names = table_names(book)
        places = database_places(file_text(book, SHOP_FILE).encode())
        tables = read_tables(places.values(), book.shop)
        shop = shop_now(book.shop)
        for name, table in tables.items():
            if shop.files.get(name) != digest_of(table):
                raise ChangedError(f"{name} was changed by someone else just now; look at it and try again")
        comma = decimal_comma(book)
        old = {key: tables.get(name) or file_table(book, name) for key, name in names.items()}
        new = {"rack": _rack(old["rack"], pieces, RowColumns(old["rack"], shop.units, comma))}
        if any(p.defects for p in pieces):
            if "defects" not in names:
                raise RackbookError(
                    f"piece {next(p.name for p in pieces if p.defects)!r} has defects, and the shop has no "
                    f'defect table for them: add defects = "defects.csv" to [shop] and make that file '
                    f"with the header piece,kind,outline,face"
                )
            new["defects"] = _defects(old["defects"], pieces, RowColumns(old["defects"], shop.units, comma))
        return _commit(book, names, old, new, tables, [p.name for p in pieces])


def _commit(
    book: Book,
    names: dict[str, str],
    old: dict[str, Table],
    new: dict[str, Table],
    tables: dict[str, Table],
    added: list[str],
) -> Entry:
    in_files = {names[key]: table for key, table in new.items() if names[key] not in tables}
    in_database = {names[key]: table for key, table in new.items() if names[key] in tables}
    changes = tuple(
        FileChange(name=names[key], before=None, after=None, lines=changed_rows(old[key], table))
        for key, table in new.items()
        if names[key] in in_files
    )
    entry = Entry(entry=0, action="add", leftovers=tuple(added), files=changes)
    places = database_places(file_text(book, SHOP_FILE).encode())
    work = TableWork(folder=book.shop, places=places, old=tables, new=in_database) if in_database else None
    return book.commit(entry, {name: table.to_bytes() for name, table in in_files.items()}, work)


def _rack(table: Table, pieces: Sequence[AddedPiece], columns: RowColumns) -> Table:
    name = columns.name("piece")
    there = {table.record(row)[name] for row in table.rows} if name is not None else set()
    if twice := [p.name for p in pieces if p.name in there]:
        raise RackbookError(f"piece {twice[0]!r} is in the rack already; choose another --name")
    wanted = ["outline"]
    if any(p.grain_deg for p in pieces):
        wanted.append("grain")
    if any(p.grain_deg is None for p in pieces):
        wanted.append("status")
    table, columns = with_columns(table, wanted, columns)
    for piece in pieces:
        values = {
            "piece": piece.name,
            "species": piece.species,
            "thickness": columns.length("thickness", piece.thickness_mm),
            "outline": columns.polygon("outline", piece.shape, _CHORD_MM),
            "grain": "" if piece.grain_deg is None else columns.decimal(plain(round(piece.grain_deg, 1))),
            "count": "1",
            "status": "hold" if piece.grain_deg is None else "ready",
            "note": piece.note,
        }
        table = table.with_row(columns.cells(values))
    return table


def _defects(table: Table, pieces: Sequence[AddedPiece], columns: RowColumns) -> Table:
    table, columns = with_columns(table, ["outline"], columns)
    for piece in pieces:
        for kind, shape in piece.defects:
            values = {
                "piece": piece.name,
                "kind": kind,
                "outline": columns.polygon("outline", shape, _CHORD_MM),
                "face": "through",
            }
            table = table.with_row(columns.cells(values))
    return table
