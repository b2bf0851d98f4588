"""One writer at a time: a lock that the system lets go when its holder ends, however it ends."""

from __future__ import annotations

import contextlib
import fcntl
import os
from collections.abc import Iterator
from pathlib import Path

from nestyield.rackbook.errors import BusyError


@contextlib.contextmanager
def lock(path: Path, doing: str) -> Iterator[None]:
    """Hold the lock for a while.

    The file stays where it is; what counts is the system's lock on it, so a killed run leaves none
    behind. The text inside says who holds it, for people.

    Parameters
    ----------
    path : Path
        The lock file; its folder must be there.
    doing : str
        One or two words for the one who finds it locked: ``taking``, ``the nightly run``.

    Raises
    ------
    BusyError
        When another process holds it; says which and what it is doing.
    """
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o666)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.pread(handle, 200, 0).decode("utf-8", "replace").strip() or "another run"
            raise BusyError(f"{path} is locked by {holder}; try again when it has ended") from None
        with contextlib.suppress(OSError):  # a full disk must not keep the lock from working
            os.ftruncate(handle, 0)
            os.pwrite(handle, f"process {os.getpid()}, {doing}\n".encode(), 0)
        yield
        with contextlib.suppress(OSError):
            os.ftruncate(handle, 0)
    finally:
        os.close(handle)
