"""Results kept between runs: a folder of plain files that may be deleted at any time."""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from pathlib import Path


class AnswerCache:
    """Bytes by key. A file that is damaged, gone or cannot be written counts as not there.

    Each file holds the SHA-256 of what follows on its first line. Nothing in it is ever run or unpickled.

    Parameters
    ----------
    folder : Path
        Made when something is put.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._used: set[str] = set()

    def get(self, key: str) -> bytes | None:
        """Return what was put under a key, None when it is not there."""
        path = self._path(key)
        self._used.add(path.name)
        try:
            head, _, data = path.read_bytes().partition(b"\n")
        except OSError:
            return None
        return data if head.decode("ascii", "replace") == hashlib.sha256(data).hexdigest() else None

    def put(self, key: str, data: bytes) -> None:
        """Keep bytes under a key; a disk that refuses is no error."""
        path = self._path(key)
        self._used.add(path.name)
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self._folder, prefix=".new-")
            try:
                with os.fdopen(handle, "wb") as out:
                    out.write(hashlib.sha256(data).hexdigest().encode() + b"\n" + data)
                os.replace(name, path)
            except BaseException:
                with contextlib.suppress(OSError):
                    os.unlink(name)
                raise

    def sweep(self) -> int:
        """Remove what was neither got nor put since this object was made; return how many files."""
        gone = 0
        with contextlib.suppress(OSError):
            for path in sorted(self._folder.iterdir()):
                if path.name not in self._used and path.is_file():
                    path.unlink()
                    gone += 1
        return gone

    def _path(self, key: str) -> Path:
        return self._folder / hashlib.sha256(key.encode()).hexdigest()
