"""Where compiled kernels are kept: a folder that can be written, the same for all processes of a run.

``NUMBA_CACHE_DIR`` wins when it is set, else it is the user's cache directory. Where that cannot be written,
the run has a folder of its own, private and gone with it, so that its processes compile once and not each for
itself. Each state of the code has a folder of its own: a kernel kept on disk does not notice a change in a
kernel that it calls. Several processes may start at once: one compiles, the others wait for it.
"""

from __future__ import annotations

import atexit
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

#: Set for the processes of a run whose folder goes with it.
_OF_THIS_RUN = "NESTYIELD_KERNELS_OF_THIS_RUN"
#: What ``NUMBA_CACHE_DIR`` was then.
_ASKED = "NESTYIELD_KERNELS_ASKED"


def user_folder() -> Path:
    """Return the folder that is asked for, by the platform's custom; it may not exist yet."""
    override = os.environ.get("NUMBA_CACHE_DIR")
    if override == os.environ.get(_OF_THIS_RUN):
        override = os.environ.get(_ASKED)
    base = os.environ.get("XDG_CACHE_HOME")
    if override:
        return Path(override)
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "nestyield" / "kernels"
    return (Path(base) if base else Path.home() / ".cache") / "nestyield" / "kernels"


@cache
def kernel_folder() -> Path | None:
    """Return a folder that can be written, made when missing; None when there is none at all.

    Called before other processes are started, it settles the folder for these too.
    """
    kept = _kept()
    if kept is not None:
        return kept
    try:
        made = Path(tempfile.mkdtemp(prefix="nestyield-kernels-"))  # for this user alone
    except OSError:
        return None
    os.environ[_ASKED] = os.environ.get("NUMBA_CACHE_DIR", "")
    os.environ["NUMBA_CACHE_DIR"] = os.environ[_OF_THIS_RUN] = str(made)
    atexit.register(_remove, made, os.getpid())
    return made


def goes_with_run() -> bool:
    """Tell whether what is compiled now is compiled again in the next run."""
    folder = kernel_folder()
    return folder is None or os.environ.get(_OF_THIS_RUN) == str(folder)


def _kept() -> Path | None:
    try:
        own = os.environ.get(_OF_THIS_RUN)
        folder = Path(own) if own else user_folder()
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return folder
    except (OSError, RuntimeError):  # also no home at all
        return None


def _remove(folder: Path, made_by: int) -> None:
    if os.getpid() == made_by:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Wait until no other process compiles into the folder; where files cannot be locked, do not wait."""
    folder = kernel_folder()
    try:
        import fcntl

        lock = None if folder is None else (folder / "compiling.lock").open("wb")
    except (ImportError, OSError):
        lock = None
    if lock is None:
        yield
        return
    with lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
