"""Answers kept between runs: a folder of plain files that may be deleted at any time.

The commands keep theirs in the user's cache folder, up to ``MOST_BYTES``; ``NESTYIELD_ANSWERS`` names another
folder, and none at all where it is empty. Several processes may use one folder at once: a file is there whole
or not at all.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
import time
from pathlib import Path

#: Names the folder of kept answers; empty: nothing is kept.
FOLDER = "NESTYIELD_ANSWERS"
#: The folder of the commands is let grow to this, bytes; then what was used longest ago goes.
MOST_BYTES = 256 * 2**20
# What a process that was ended left half written is removed after so long, seconds.
_LEFT_S = 3600.0
_HALF = ".new-"


def answers_folder() -> Path | None:
    """Return the folder in which commands keep answers, by the platform's custom; None for none."""
    asked = os.environ.get(FOLDER)
    if asked is not None:
        return Path(asked) if asked else None
    base = os.environ.get("LOCALAPPDATA" if sys.platform == "win32" else "XDG_CACHE_HOME")
    try:
        if sys.platform == "darwin":
            return Path.home() / "Library" / "Caches" / "nestyield" / "answers"
        return (Path(base) if base else Path.home() / ".cache") / "nestyield" / "answers"
    except RuntimeError:  # no home at all
        return None


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
        self._put = False

    def get(self, key: str) -> bytes | None:
        """Return what was put under a key, None when it is not there."""
        path = self._path(key)
        self._used.add(path.name)
        try:
            head, _, data = path.read_bytes().partition(b"\n")
        except OSError:
            return None
        with contextlib.suppress(OSError):
            os.utime(path)
        return data if head.decode("ascii", "replace") == hashlib.sha256(data).hexdigest() else None

    def put(self, key: str, data: bytes) -> None:
        """Keep bytes under a key; a disk that refuses is no error."""
        path = self._path(key)
        self._used.add(path.name)
        self._put = True
        with contextlib.suppress(OSError):
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self._folder, prefix=_HALF)
            try:
                with os.fdopen(handle, "wb") as out:
                    out.write(hashlib.sha256(data).hexdigest().encode() + b"\n" + data)
                os.replace(name, path)
            except BaseException:
                with contextlib.suppress(OSError):
                    os.unlink(name)
                raise

    def trim(self, most: int = MOST_BYTES) -> int:
        """Remove what was used longest ago until no more than ``most`` bytes are left; return how many files.

        Only where something was put. A file that another process removes meanwhile is no error.
        """
        if not self._put:
            return 0
        files: list[tuple[float, str, int]] = []
        with contextlib.suppress(OSError), os.scandir(self._folder) as found:
            for entry in found:
                with contextlib.suppress(OSError):
                    state = entry.stat(follow_symlinks=False)
                    files.append((state.st_mtime, entry.path, state.st_size))
        left, gone, late = sum(size for *_, size in files), 0, time.time() - _LEFT_S
        for used, path, size in sorted(files):
            half = os.path.basename(path).startswith(_HALF)
            if (left > most and not half) or (half and used < late):
                with contextlib.suppress(OSError):
                    os.unlink(path)
                    left, gone = left - size, gone + 1
        return gone

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
