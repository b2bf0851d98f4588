"""Several files changed as one: all of them and the journal's line, or none.

1. The new bytes of each file are written beside it (``.rack.csv.nestyield-new``), the old bytes into
   ``.nestyield/before``, the new journal beside the old. All of it is brought to the disk.
2. ``.nestyield/pending`` is put in place: from here on the change is true.
3. The new files are renamed into their places, then the journal, and ``pending`` is removed.

Whoever comes after a kill calls `recover`: with ``pending`` there it finishes step 3, without it only
strays of step 1 are swept away. A full disk stops step 1, where nothing has been changed yet.

Where tables lie in a database, its transaction is begun before step 1 and becomes true after step 2, and that
is the moment from which the change is: with ``pending`` there, `recover` asks the database and finishes or
forgets.
"""

from __future__ import annotations

import contextlib
import re
import secrets
import signal
import threading
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.intake.database import TABLE, DatabaseError, Place, places_of
from nestyield.intake.shop import SHOP_FILE
from nestyield.rackbook.disk import NEW, Disk, sha
from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.journal import FOLDER, JOURNAL, Entry, FileChange, read_journal, standing
from nestyield.rackbook.lock import lock

if TYPE_CHECKING:
    from nestyield.rackbook.in_database import Begun, TableWork

PENDING = "pending"
BEFORE = "before"
LOCK = "lock"
#: How files in the folder of earlier bytes are named; anything else there is not ours.
_DIGEST = re.compile(r"[0-9a-f]{64}")
_WAITING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@dataclass(frozen=True, slots=True)
class Book:
    """The shop folder while its lock is held.

    Parameters
    ----------
    shop : Path
    disk : Disk
    entries : tuple of Entry
        The journal so far.
    seen : dict of str to (bytes or None)
        What was read; a commit is refused when it has changed since.
    """

    shop: Path
    disk: Disk
    entries: tuple[Entry, ...]
    seen: dict[str, bytes | None] = field(default_factory=dict)

    def read(self, name: str) -> bytes | None:
        """Return the bytes of a file of the shop folder, None when there is none."""
        if name not in self.seen:
            self.seen[name] = _bytes(self.shop, name)
        return self.seen[name]

    def kept(self, digest: str) -> bytes:
        """Return bytes that were kept before an earlier change."""
        path = self.shop / FOLDER / BEFORE / digest
        try:
            data = path.read_bytes()
        except FileNotFoundError:
            raise RackbookError(f"{path} is gone; the change that it belongs to cannot be undone") from None
        if sha(data) != digest:
            raise RackbookError(f"{path} was changed; the change that it belongs to cannot be undone")
        return data

    def commit(
        self, entry: Entry, files: Mapping[str, bytes | None], tables: TableWork | None = None
    ) -> Entry:
        """Change files and add the entry to the journal, as one.

        Parameters
        ----------
        entry : Entry
            Its number and files are filled in here; lines that its files name are kept.
        files : mapping of str to (bytes or None)
            New bytes by name relative to the shop folder; None removes the file.
        tables : TableWork, optional
            What changes in a database.

        Returns
        -------
        Entry
            As written.
        """
        told = {f.name: f for f in entry.files}
        old = {name: self.read(name) for name in files}
        changes = tuple(
            replace(
                told.get(name, FileChange(name=name, before=None, after=None)),
                before=_sha(old[name]),
                after=_sha(new),
            )
            for name, new in sorted(files.items())
            if old[name] != new
        )
        number = max((e.entry for e in self.entries), default=0) + 1
        entry = replace(entry, entry=number, files=changes)
        with _unbroken():
            if tables is None:
                self._write(entry, old, files)
                return entry
            try:
                with tables.begun() as begun:
                    token, found = secrets.token_hex(16), sorted((*changes, *begun.changes), key=_name)
                    entry = replace(entry, files=tuple(found), database=tables.database, token=token)
                    begun.note(entry)
                    self._write(entry, old, files, begun)
            except DatabaseError:  # it may have heard "commit" and failed to say so
                _settle(self.shop, self.disk)
                if entry not in read_journal(self.shop):
                    raise
        return entry

    def _write(
        self,
        entry: Entry,
        old: Mapping[str, bytes | None],
        files: Mapping[str, bytes | None],
        begun: Begun | None = None,
    ) -> None:
        folder = self.shop / FOLDER
        staged: list[Path] = []
        try:
            self.disk.make_folder(folder / BEFORE)
            for change in _in_folder(entry):
                before, after = old[change.name], files[change.name]
                if before is not None and change.before is not None:
                    kept = folder / BEFORE / change.before
                    if not kept.exists():
                        self.disk.write(kept, before)
                if after is not None:
                    staged.append(self.disk.stage(_place(self.shop, change.name), after))
            staged.append(self.disk.stage(folder / JOURNAL, _journal_with(folder, entry)[1]))
            for parent in sorted({path.parent for path in staged}):
                self.disk.sync_folder(parent)
            for name, data in self.seen.items():
                if _bytes(self.shop, name) != data:
                    raise ChangedError(
                        f"{name} was changed by someone else just now; look at it and try again"
                    )
            self.disk.write(folder / PENDING, entry.to_line().encode())
        except BaseException:
            if not (folder / PENDING).exists():
                for path in staged:
                    with contextlib.suppress(OSError):
                        path.unlink()
            raise
        if begun is not None:
            begun.commit()
            self.disk.tell("commit")
        _finish(self.shop, self.disk, entry)


@contextlib.contextmanager
def _unbroken() -> Iterator[None]:
    """Let Ctrl-C and the like wait until the files agree again.

    Handlers are exchanged rather than signals blocked: a mask holds for one thread only, and a library may
    run others. Outside the main thread nothing is to be done, since handlers run in the main one.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    held = {s: signal.signal(s, lambda number, _: came.append(number)) for s in _WAITING}
    try:
        yield
    finally:
        for waiting, handler in held.items():
            signal.signal(waiting, signal.SIG_DFL if handler is None else handler)
        for number in came[:1]:
            signal.raise_signal(number)


@contextlib.contextmanager
def open_book(shop: Path, doing: str, disk: Disk | None = None) -> Iterator[Book]:
    """Hold the lock of a shop folder, with an earlier change that was cut short settled first.

    Parameters
    ----------
    shop : Path
    doing : str
        For the one who finds it locked.
    disk : Disk, optional
        For tests.

    Raises
    ------
    BusyError
        When another process has it open.
    RackbookError
        When there is no such folder, or an earlier change cannot be settled.
    """
    disk = disk or Disk()
    if not shop.is_dir():
        raise RackbookError(f"{shop} is not a folder")
    folder = shop / FOLDER
    disk.make_folder(folder)
    with lock(folder / LOCK, doing):
        _settle(shop, disk)
        entries = read_journal(shop)
        _let_go(shop, disk, entries)
        yield Book(shop, disk, entries)


def recover(shop: Path, disk: Disk | None = None) -> bool:
    """Finish a change that was cut short, if there is one. Costs nothing when there is none.

    Parameters
    ----------
    shop : Path

    Returns
    -------
    bool
        Whether there was one.
    """
    if not (shop / FOLDER / PENDING).exists():
        return False
    with open_book(shop, "finishing a change that was cut short", disk):
        return True


def _place(shop: Path, name: str) -> Path:
    """Return where a file of the shop lies; RackbookError when a journal names one outside the folder."""
    path = (shop / name).resolve()
    if not path.is_relative_to(shop.resolve()):
        raise RackbookError(f"expected a file inside the shop folder, got {name!r}")
    return path


def _bytes(shop: Path, name: str) -> bytes | None:
    try:
        return _place(shop, name).read_bytes()
    except FileNotFoundError:
        return None


def _sha(data: bytes | None) -> str | None:
    return None if data is None else sha(data)


def _settle(shop: Path, disk: Disk) -> None:
    folder = shop / FOLDER
    pending = folder / PENDING
    if pending.exists():
        try:
            entry = Entry.from_line(pending.read_bytes())
        except ValueError as error:
            raise RackbookError(f"{pending} cannot be read: {error}") from error
        if not entry.token or _became_true(shop, entry):
            _finish(shop, disk, entry)
        else:
            disk.remove(pending)
    _sweep(shop, disk)


def _finish(shop: Path, disk: Disk, entry: Entry) -> None:
    """Bring a change that has become true to its end; may be called again after a kill."""
    folder = shop / FOLDER
    for change in _in_folder(entry):
        path = _place(shop, change.name)
        now = _sha(_bytes(shop, change.name))
        if now == change.after:
            continue
        new = path.with_name(f".{path.name}{NEW}")
        ready = change.after is None or (new.exists() and sha(new.read_bytes()) == change.after)
        if now != change.before or not ready:
            raise RackbookError(
                f"entry {entry.entry} of the journal was cut short, and {change.name} was changed by hand "
                f"before it could be finished: put {FOLDER}/{BEFORE}/{change.before} back in its place, "
                f"or remove {FOLDER}/{PENDING} to forget that entry"
            )
        if change.after is None:
            disk.remove(path)
        else:
            disk.put(new, path)
    journal = folder / JOURNAL
    text, then = _journal_with(folder, entry)
    if text != then:
        staged = journal.with_name(f".{JOURNAL}{NEW}")
        if staged.exists() and staged.read_bytes() == then:
            disk.put(staged, journal)
        else:
            disk.write(journal, then)
    disk.remove(folder / PENDING)


def _in_folder(entry: Entry) -> list[FileChange]:
    """Return the changes of an entry that are of files, not of tables in a database."""
    return [c for c in entry.files if not (entry.token and c.name.startswith(TABLE))]


def _became_true(shop: Path, entry: Entry) -> bool:
    from nestyield.rackbook.in_database import stands

    return stands(shop, database_places(_bytes(shop, SHOP_FILE) or b""), entry)


def database_places(shop_file: bytes) -> dict[str, Place]:
    """Return the tables of a shop file that lie in a database, by how they are called."""
    section = tomllib.loads(shop_file.decode()).get("shop", {})
    places = places_of({key: section.get(key) for key in ("rack", "defects")})
    return {place.name: place for place in places.values()}


def _name(change: FileChange) -> str:
    return change.name


def _journal_with(folder: Path, entry: Entry) -> tuple[bytes, bytes]:
    """Return the journal's bytes now and with the entry as its last line."""
    journal = folder / JOURNAL
    now = journal.read_bytes() if journal.exists() else b""
    line = entry.to_line().encode()
    if now.endswith(line):
        return now, now
    return now, now + (b"" if now.endswith(b"\n") or not now else b"\n") + line


def _sweep(shop: Path, disk: Disk) -> None:
    """Remove what a change that never became true left behind."""
    folder = shop / FOLDER
    names = {JOURNAL, PENDING}
    strays = [folder / f".{name}{NEW}" for name in names]
    if (folder / BEFORE).is_dir():
        strays += (folder / BEFORE).glob(f".*{NEW}")
    strays += shop.glob(f".*{NEW}")
    for stray in sorted(strays):
        if stray.is_file():
            disk.remove(stray)


def _let_go(shop: Path, disk: Disk, entries: Sequence[Entry]) -> None:
    """Remove earlier bytes that no undo can ask for: those that no take that stands has replaced."""
    needed = {change.before for entry in standing(entries) for change in entry.files}
    folder = shop / FOLDER / BEFORE
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if _DIGEST.fullmatch(path.name) and path.name not in needed and path.is_file():
            disk.remove(path)
