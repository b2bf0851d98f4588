"""Book the pieces of a plan out of the rack and its leftovers in."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nestyield.audit.check import audit
from nestyield.intake.database import digest_of, places_of, read_tables
from nestyield.intake.shop import SHOP_FILE
from nestyield.intake.table import Table, parse_table
from nestyield.model import Layout, Plan, Shop
from nestyield.model.same_orders import same_orders
from nestyield.model.sets import wood_of
from nestyield.planfile import loads
from nestyield.rackbook.blanks import chosen
from nestyield.rackbook.cells import RowColumns
from nestyield.rackbook.commit import Book, database_places, open_book
from nestyield.rackbook.compare import differences
from nestyield.rackbook.disk import Disk, sha
from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.in_database import TableWork
from nestyield.rackbook.journal import Entry, FileChange, standing
from nestyield.rackbook.kept import KEPT, without
from nestyield.rackbook.lines import Changes, changed, changed_at, split
from nestyield.rackbook.now import shop_now
from nestyield.rackbook.orders import book_orders
from nestyield.rackbook.rows import NewPiece, as_flaw, book_defects, book_in, book_out, new_pieces
from nestyield.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a take did.

    Parameters
    ----------
    entry : Entry
        As it stands in the journal.
    notes : tuple of str
        What a person still has to do.
    """

    entry: Entry
    notes: tuple[str, ...]


def take(
    plan_dir: Path,
    shop_dir: Path,
    blanks: Sequence[str] = (),
    *,
    orders: bool = True,
    disk: Disk | None = None,
) -> Taken:
    """Book blanks of a plan: used pieces out, leftovers and their defects in, orders less what was cut.

    Parameters
    ----------
    plan_dir : Path
        Holds ``plan.json``.
    shop_dir : Path
        The shop folder that it was made from.
    blanks : sequence of str, optional
        Names of blanks; none means all of the plan. Blanks sawn off one copy of a piece are taken together.
    orders : bool
        Whether the counts of the orders in the shop file go down by what was cut.
    disk : Disk, optional
        For tests.

    Raises
    ------
    ChangedError
        When a row that the blanks use is not what it was when the plan was made, or was taken already.
    RackbookError
        When the plan fails its check, when there is no such blank, or when a table cannot be used.
    """
    data = (plan_dir / "plan.json").read_bytes()
    plan = loads(data)
    layouts = chosen(plan, blanks)
    wrong = [str(f) for f in audit(plan) if f.severity != "note"]
    if wrong:
        raise RackbookError(f"the plan fails its check and is not taken: {'; '.join(wrong[:3])}")
    with open_book(shop_dir, "taking", disk) as book:
        _not_twice(book.entries, sha(data), layouts)
        return _take(book, plan, sha(data), layouts, orders)


def _begun(plan: Plan, cut: Counter[str]) -> tuple[str, ...]:
    """Return for each set of which more parts are cut than of others what is begun."""
    out = []
    for name in dict.fromkeys(o.set for o in plan.shop.orders if o.set):
        orders = [o for o in plan.shop.orders if o.set == name and not o.hold]
        if any(cut[o.name] for o in orders) and len({cut[o.name] / o.per_set for o in orders}) > 1:
            told = ", ".join(f"{cut[o.name]} {o.part}" for o in orders)
            out.append(f"set {name!r} is begun, not whole: {told} booked; the next plan makes the rest of it")
    return tuple(out)


def _woods(plan: Plan, layouts: Sequence[Layout]) -> dict[str, list[str]]:
    """Return for each order that matches of what wood its copies on some blanks are."""
    orders = {o.name: o for o in plan.shop.orders if o.match}
    out: dict[str, list[str]] = {}
    for layout in layouts:
        for at in layout.placements:
            if at.order in orders:
                wood = wood_of(plan.shop, layout.blank, orders[at.order].match)
                out.setdefault(at.order, []).extend([wood] if wood else [])
    return out


def _not_twice(entries: Iterable[Entry], digest: str, layouts: Sequence[Layout]) -> None:
    for entry in standing(tuple(entries)):
        for layout in layouts:
            if entry.plan == digest and layout.blank.name in entry.blanks:
                raise ChangedError(
                    f"blank {layout.blank.name!r} of this plan was taken already "
                    f"(entry {entry.entry} of the journal)"
                )


def _take(book: Book, plan: Plan, digest: str, layouts: Sequence[Layout], orders: bool) -> Taken:
    names = table_names(book)
    places = database_places(file_text(book, SHOP_FILE).encode())
    tables = read_tables(places.values(), book.shop)
    shop = shop_now(book.shop)
    for name, table in tables.items():
        if shop.files.get(name) != digest_of(table):
            raise ChangedError(f"{name} was changed by someone else just now; look at it and try again")
    now = {piece.name: piece for piece in shop.pieces}
    used = Counter(piece for piece, _ in {copy for layout in layouts for copy in layout.blank.copies})
    words = Words(shop.units)
    reasons = [
        r
        for name, n in sorted(used.items())
        for r in differences(plan.shop.piece(name), now.get(name), n, words)
    ]
    if reasons:
        raise ChangedError(
            f"the rack is not what it was when the plan was made: {'; '.join(reasons)}; plan again"
        )
    pieces = new_pieces(plan, layouts, now)
    files: dict[str, bytes | None] = {}
    changes = []
    written: dict[str, Table] = {}
    for name, old, new in _changed_tables(book, names, tables, shop, used, pieces):
        if name in tables:
            written[name] = new
            continue
        files[name] = new.to_bytes()
        changes.append(FileChange(name=name, before=None, after=None, lines=changed_rows(old, new)))
    cut = Counter(p.order for layout in layouts for p in layout.placements if p.order)
    notes: tuple[str, ...] = ()
    if orders and cut:
        old_text = file_text(book, SHOP_FILE)
        called = same_orders(plan.shop.orders, shop.orders)
        new_text, notes = book_orders(old_text, cut, plan, called, _woods(plan, layouts))
        if new_text != old_text:
            files[SHOP_FILE] = new_text.encode()
            texts = split(old_text), split(new_text)
            changes.append(
                FileChange(
                    name=SHOP_FILE, before=None, after=None, lines=changed(*texts), at=changed_at(*texts)
                )
            )
    notes = (*notes, *_begun(plan, cut))
    kept = book.read(KEPT)
    if kept is not None:
        left = without(kept, layouts)
        if left != kept:
            files[KEPT] = left
    entry = Entry(
        entry=0,
        action="take",
        plan=digest,
        blanks=tuple(layout.blank.name for layout in layouts),
        pieces=dict(sorted(used.items())),
        leftovers=tuple(p.name for p in pieces),
        cut=dict(sorted(cut.items())),
        files=tuple(changes),
    )
    work = TableWork(folder=book.shop, places=places, old=tables, new=written) if written else None
    return Taken(entry=book.commit(entry, files, work), notes=notes)


def _changed_tables(
    book: Book,
    names: dict[str, str],
    tables: Mapping[str, Table],
    shop: Shop,
    used: Counter[str],
    pieces: Sequence[NewPiece],
) -> list[tuple[str, Table, Table]]:
    chord = shop.settings.chord_error_mm
    now = {piece.name: piece for piece in shop.pieces}
    comma = decimal_comma(book)
    rack = tables.get(names["rack"]) or file_table(book, names["rack"])
    new = book_out(rack, used, now, RowColumns(rack, shop.units, comma))
    here = "defects" not in names
    large = [(p.name, d) for p in pieces for d, _ in p.defects if as_flaw(d) is None]
    columns = RowColumns(new, shop.units, comma)
    new = book_in(new, pieces, columns, chord, shop.settings.measured_mm, holes_here=here)
    changed = [(names["rack"], rack, new)]
    if here and large:
        raise RackbookError(
            f"leftover {large[0][0]!r} has {large[0][1].kind} that no circle holds well, and the shop has no "
            f'defect table: add defects = "defects.csv" to [shop] and make that file '
            f"with the header piece,kind,outline,face,depth"
        )
    if not here and any(p.defects or p.holes for p in pieces):
        defects = tables.get(names["defects"]) or file_table(book, names["defects"])
        columns = RowColumns(defects, shop.units, comma)
        changed.insert(
            0, (names["defects"], defects, book_defects(defects, pieces, columns, names["defects"], chord))
        )
    return changed


def table_names(book: Book) -> dict[str, str]:
    """Return how the rack table and, if there is one, the defect table are called: file or database table."""
    data: dict[str, Any] = tomllib.loads(file_text(book, SHOP_FILE))
    names = {key: str(data["shop"][key]) for key in ("rack", "defects") if key in data["shop"]}
    return names | {key: place.name for key, place in places_of(names).items()}


def decimal_comma(book: Book) -> bool:
    """Tell whether the shop's tables have decimal commas."""
    return bool(tomllib.loads(file_text(book, SHOP_FILE))["shop"].get("decimal") == "comma")


def file_text(book: Book, name: str) -> str:
    """Return the text of a file of the shop; RackbookError where there is none."""
    data = book.read(name)
    if data is None:
        raise RackbookError(f"{name} is not in the shop folder")
    return data.decode()


def file_table(book: Book, name: str) -> Table:
    """Return a file of the shop as a table; RackbookError where it is none."""
    table, why = parse_table(file_text(book, name).encode())
    if table is None:
        raise RackbookError(f"{name} {why}")
    return table


def changed_rows(old: Table, new: Table) -> Changes:
    """Return rows that changed; a column that was added is not a change of the rows that it leaves empty."""
    for name in new.header:
        old = old.with_column(name)
    return changed([line.text for line in old.lines], [line.text for line in new.lines])
