"""Take a booking back."""

from __future__ import annotations

from pathlib import Path

from nestyield.rackbook.commit import Book, open_book
from nestyield.rackbook.disk import Disk, sha
from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.journal import Entry, FileChange, standing
from nestyield.rackbook.kept import KEPT
from nestyield.rackbook.lines import Changes, places


def undo(shop_dir: Path, number: int | None = None, *, disk: Disk | None = None) -> Entry:
    """Take back the last take that stands, or a certain one.

    Files that nobody touched since get the very bytes that they had. In a file that was changed since,
    the lines of that take are put back one by one, and everything else stays.

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
        for change in entry.files:
            data, lines = _restored(book, change)
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


def _restored(book: Book, change: FileChange) -> tuple[bytes | None, Changes]:
    """Return the bytes of a file without a change, and the lines that this changes."""
    now = book.read(change.name)
    lines = tuple((after, before) for before, after in change.lines)
    if (None if now is None else sha(now)) == change.after:
        return (None if change.before is None else book.kept(change.before)), lines
    if change.name == KEPT:  # blanks kept or let go since then count for more
        return now, ()
    if now is None:
        raise ChangedError(f"{change.name} is gone")
    text = now.decode()
    for before, after in change.lines:
        there = [] if after is None else places(text, after)
        if after is None or len(there) != 1:
            shown = (after or before or "").strip()[:120]
            raise ChangedError(
                f"{change.name} was changed since that take: expected this line once, found it "
                f"{len(there)} times: {shown!r}; undo what came after it first"
            )
        start, end = there[0]
        text = text[:start] + (before or "") + text[end:]
    return text.encode(), lines
