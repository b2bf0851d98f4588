"""Every write of the rack book, one system call a step, so that a test can stop after each of them."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable
from pathlib import Path

#: Ending of files that are not yet in their place.
NEW = ".nestyield-new"


def sha(data: bytes) -> str:
    """Return the SHA-256 of some bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


class Disk:
    """Writes files so that a reader sees the old bytes or the new ones, also after a loss of power.

    Parameters
    ----------
    step : callable, optional
        Called with the name of each step after it is done; tests use it to stop there.
    """

    def __init__(self, step: Callable[[str], object] | None = None) -> None:
        self._step = step or (lambda name: None)

    def tell(self, name: str) -> None:
        """Tell of a step that is no write of a file."""
        self._step(name)

    def make_folder(self, path: Path) -> None:
        """Make a folder, if it is not there, and see it on the disk."""
        if path.is_dir():
            return
        path.mkdir()
        self._step(f"mkdir {path.name}")
        self.sync_folder(path.parent)

    def sync_folder(self, path: Path) -> None:
        """Bring the names in a folder to the disk."""
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        self._step(f"fsync folder {path.name}")

    def stage(self, path: Path, data: bytes) -> Path:
        """Write the bytes that ``path`` shall have beside it, brought to the disk.

        A file that is already there lends its permissions. When the disk is full nothing stays behind.

        Returns
        -------
        Path
            The staged file.
        """
        new = path.with_name(f".{path.name}{NEW}")
        try:
            handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW, 0o666)
            try:
                self._step(f"open {new.name}")
                left = memoryview(data)
                while left:
                    left = left[os.write(handle, left) :]
                    self._step(f"write {new.name}")
                with contextlib.suppress(OSError):
                    os.fchmod(handle, path.stat().st_mode & 0o7777)
                os.fsync(handle)
                self._step(f"fsync {new.name}")
            finally:
                os.close(handle)
        except OSError:
            with contextlib.suppress(OSError):
                new.unlink()
            raise
        return new

    def put(self, new: Path, path: Path) -> None:
        """Put a staged file in its place."""
        os.replace(new, path)
        self._step(f"rename {path.name}")
        self.sync_folder(path.parent)

    def write(self, path: Path, data: bytes) -> None:
        """Give a file new bytes at once."""
        self.put(self.stage(path, data), path)

    def remove(self, path: Path) -> None:
        """Remove a file, if it is there."""
        try:
            path.unlink()
        except FileNotFoundError:
            return
        self._step(f"unlink {path.name}")
        self.sync_folder(path.parent)
