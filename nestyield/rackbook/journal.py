r"""The journal of a shop: what was booked, one JSON object a line, in ``.nestyield/journal``.

A line says ``{"entry": 3, "action": "take", "plan": SHA-256 of plan.json, "blanks": [...],
"pieces": {"M-01": 1}, "leftovers": ["M-01-a"], "cut": {"spring three": 1}, "files": [...]}``. Each of
``files`` is ``{"name": "rack.csv", "before": SHA-256, "after": SHA-256, "lines": [[before, after], ...]}``
with the exact lines of the table that changed (null: no such line), and for the shop file ``"at"``,
where they stand; before or after is null when there was no such file. The bytes before are kept as
``.nestyield/before/SHA-256``. An undo is a line of its own:
``{"entry": 4, "action": "undo", "undoes": 3, "files": [...]}``; new pieces are a line
with the action ``add`` and their rows as ``leftovers``. Lines are only ever added.

A table of a database stands among the files as ``table rack``; its sums are of its rows, its lines are rows
as JSON. Then ``"database"`` is the SHA-256 of the database's address (which stands nowhere in the book), and
``"token"`` tells the row of the same booking in the database's own table, ``nestyield_book``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import TypeAdapter

from nestyield.rackbook.errors import RackbookError

FOLDER = ".nestyield"
JOURNAL = "journal"

_DIGEST = re.compile(r"[0-9a-f]{64}")

Action = Literal["take", "undo", "add"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileChange:
    """One file, before and after.

    Parameters
    ----------
    name : str
        Relative to the shop folder.
    before, after : str or None
        SHA-256 of its bytes; None when there was or is no such file.
    lines : tuple of (str or None, str or None)
        Lines that changed, with their line ends; None for a line that was added or taken away.
    at : tuple of int
        For the shop file, before which line of the file as it was each of them stands, from 0; else empty.
    """

    name: str
    before: str | None
    after: str | None
    lines: tuple[tuple[str | None, str | None], ...] = ()
    at: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal.

    Parameters
    ----------
    entry : int
        From 1.
    action : {"take", "undo", "add"}
    plan : str
        SHA-256 of the ``plan.json`` that was taken from, or ``""``.
    blanks : tuple of str
    pieces : dict of str to int
        Rack row -> copies used.
    leftovers : tuple of str
        Rows added.
    cut : dict of str to int
        Order -> copies cut.
    undoes : int
        Entry that this one takes back; 0 for none.
    files : tuple of FileChange
    database, token : str
        SHA-256 of the address of the database whose tables are changed, and what tells the booking there;
        ``""`` where all are files.
    """

    entry: int
    action: Action
    plan: str = ""
    blanks: tuple[str, ...] = ()
    pieces: dict[str, int] = field(default_factory=dict)
    leftovers: tuple[str, ...] = ()
    cut: dict[str, int] = field(default_factory=dict)
    undoes: int = 0
    files: tuple[FileChange, ...] = ()
    database: str = ""
    token: str = ""

    def to_line(self) -> str:
        """Return the journal's line, with its line end."""
        unused = None if self.token else {"database", "token"}
        return _adapter().dump_json(self, exclude=unused).decode() + "\n"

    @classmethod
    def from_line(cls, line: str | bytes) -> Entry:
        """Read a line of the journal; ValueError when it is none."""
        entry = _adapter().validate_json(line, strict=False)
        for change in entry.files:
            digests = [d for d in (change.before, change.after) if d is not None]
            if "\0" in change.name or not all(_DIGEST.fullmatch(d) for d in digests):
                raise ValueError(f"expected a file name and SHA-256 sums, got {change.name!r}, {digests}")
        return entry


@cache
def _adapter() -> TypeAdapter[Entry]:
    return TypeAdapter(Entry)


def read_journal(shop: Path) -> tuple[Entry, ...]:
    """Return all entries of a shop's journal, oldest first; none when there is no journal.

    Raises
    ------
    RackbookError
        When a line is not an entry; names the line.
    """
    path = shop / FOLDER / JOURNAL
    try:
        text = path.read_bytes().decode()
    except FileNotFoundError:
        return ()
    except UnicodeDecodeError as error:
        raise RackbookError(f"{path} is not UTF-8: {error}") from error
    entries = []
    for number, line in enumerate(text.split("\n")[: -1 if text.endswith("\n") else None], start=1):
        try:
            entries.append(Entry.from_line(line))
        except ValueError as error:
            why = " ".join(str(error).split())[:200]
            raise RackbookError(f"{path}, line {number} is not an entry of the journal: {why}") from error
    return tuple(entries)


def standing(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the takes and additions that no undo took back, oldest first."""
    undone = {e.undoes for e in entries if e.action == "undo"}
    return tuple(e for e in entries if e.action != "undo" and e.entry not in undone)
