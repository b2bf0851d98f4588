"""Take a booking back."""

from __future__ import annotations

from pathlib import Path

from nestyield.intake.database import read_tables
from nestyield.intake.shop import SHOP_FILE
from nestyield.rackbook.commit import Book, database_places, open_book
from nestyield.rackbook.disk import Disk, sha
from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.in_database import TableWork, database_digest, restored
from nestyield.rackbook.journal import Entry, FileChange, standing
from nestyield.rackbook.kept import KEPT
from nestyield.rackbook.lines import Changes, places, replayed, split
from nestyield.rackbook.restored import restored_orders


def undo(shop_dir: Path, number: int | None = None, *, disk: Disk | None = None) -> Entry:
    """Take back the last take or addition that stands, or a certain one.

    Files that nobody touched since get the very bytes that they had. In a file that was changed since,
    the lines of that take are put back one by one, those of the shop file each in its own order, and
    everything else stays.

    Parameters
    ----------
    shop_dir : Path
    number : int, optional
        Entry of the journal; left out, the last take that stands.
    disk : Disk, optional
        For tests.

    Returns
    -------
    Entry
        The take that was undone.

    Raises
    ------
    RackbookError
        When there is nothing to undo.
    ChangedError
        When a line that it wrote is no longer there.
    """
    with open_book(shop_dir, "undoing", disk) as book:
        entry = _which(book, number)
        files: dict[str, bytes | None] = {}
        changes = []
        tables = _tables_restored(book, entry)
        for change in entry.files:
            if tables is not None and change.name in tables.places:
                continue
            data, lines = _restored(book, entry, change)
            files[change.name] = data
            changes.append(FileChange(name=change.name, before=None, after=None, lines=lines))
        book.commit(
            Entry(
                entry=0,
                action="undo",
                blanks=entry.blanks,
                pieces=entry.pieces,
                leftovers=entry.leftovers,
                cut=entry.cut,
                undoes=entry.entry,
                files=tuple(changes),
            ),
            files,
            tables,
        )
        return entry


def _which(book: Book, number: int | None) -> Entry:
    takes = standing(book.entries)
    if number is None:
        if not takes:
            raise RackbookError("there is no take to undo in this shop's journal")
        return takes[-1]
    for entry in takes:
        if entry.entry == number:
            return entry
    standing_now = ", ".join(str(e.entry) for e in takes) or "none"
    raise RackbookError(f"entry {number} is not a take that stands (these do: {standing_now})")


def _tables_restored(book: Book, entry: Entry) -> TableWork | None:
    """Return the tables of a database without a take; None when it changed none."""
    if not entry.token:
        return None
    places = database_places(book.read(SHOP_FILE) or b"")
    if not places or database_digest(places) != entry.database:
        raise RackbookError(
            f"entry {entry.entry} was booked in another database than the shop file names now; name that one "
            f"to undo it"
        )
    old = read_tables(places.values(), book.shop)
    lines = {change.name: change.lines for change in entry.files if change.name in places}
    new = {name: restored(old[name], name, mine) for name, mine in lines.items()}
    return TableWork(folder=book.shop, places=places, old=old, new=new)


def _restored(book: Book, entry: Entry, change: FileChange) -> tuple[bytes | None, Changes]:
    """Return the bytes of a file without a change, and the lines that this changes."""
    now = book.read(change.name)
    lines = tuple((after, before) for before, after in change.lines)
    if (None if now is None else sha(now)) == change.after:
        return (None if change.before is None else book.kept(change.before)), lines
    if change.name == KEPT:  # blanks kept or let go since then count for more
        return now, ()
    if now is None:
        raise ChangedError(f"{change.name} is gone")
    texts = _texts(book, change)
    if texts is None:
        text, why = _line_by_line(now.decode(), change)
    else:
        text, why = restored_orders(*texts, now.decode())
    if why:
        later = [
            str(e.entry) for e in standing(book.entries) if e.entry > entry.entry and _changes(e, change)
        ]
        first = f"; or undo first what came after it: entry {', '.join(reversed(later))}" if later else ""
        raise ChangedError(f"{change.name} was changed since that take: {why}, then undo again{first}")
    return text.encode(), lines


def _changes(entry: Entry, change: FileChange) -> bool:
    return any(other.name == change.name for other in entry.files)


def _texts(book: Book, change: FileChange) -> tuple[str, str] | None:
    """Return the shop file before and after a booking; None for other files, and where it cannot be told."""
    if change.name != SHOP_FILE or change.before is None or len(change.at) != len(change.lines):
        return None
    before = book.kept(change.before).decode()
    after = "".join(replayed(split(before), change.lines, change.at))
    return (before, after) if sha(after.encode()) == change.after else None


def _line_by_line(text: str, change: FileChange) -> tuple[str, str]:
    """Return a text with lines put back that each stand in it once; or what must be written first."""
    for before, after in change.lines:
        there = [] if after is None else places(text, after)
        if after is None or len(there) != 1:
            shown = (after or before or "").strip()[:120]
            times = f"it is there {len(there)} times" if there else "it is not there"
            found = f"expected this line once, and {times}: {shown!r}"
            if len(there) > 1 and change.name == SHOP_FILE:  # booked before the journal told places
                return text, f"{found}; put a comment behind the others ({shown}  # other)"
            return text, f"{found}; write it there once as it was"
        start, end = there[0]
        text = text[:start] + (before or "") + text[end:]
    return text, ""
