"""A folder of a plan on disk: written beside its place, then put there whole."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nestyield.model import NestyieldError

#: Lists every other file of the folder, in the form that ``sha256sum --check`` reads.
SUMS = "SHA256SUMS"
PLAN = "plan.json"


class OutputError(NestyieldError, OSError):
    """The output folder cannot be used without losing something that is in it."""


def files_of(folder: Path) -> list[Path]:
    """Return every file below a folder, sorted, except the list of sums."""
    return sorted(p for p in folder.rglob("*") if not p.is_dir() and p != folder / SUMS)


def sums(folder: Path) -> str:
    """Return the text of the list of sums for the files of a folder."""
    return "".join(
        f"{hashlib.sha256(p.read_bytes()).hexdigest()}  {p.relative_to(folder).as_posix()}\n"
        for p in files_of(folder)
    )


def check_replaceable(folder: Path) -> None:
    """Refuse a folder that holds anything but an earlier plan as it was written.

    Raises
    ------
    OutputError
        Says what would be lost.
    """
    if not folder.exists():
        return
    if not folder.is_dir():
        raise OutputError(f"{folder} is a file; expected a folder for the plan")
    inside = sorted(p.name for p in folder.iterdir())
    if not inside:
        return
    advice = "choose another folder with --out, or move it away"
    if SUMS not in inside or PLAN not in inside:
        raise OutputError(f"{folder} is not empty and holds no earlier plan: {advice}")
    lines = (folder / SUMS).read_text(encoding="utf-8", errors="replace").splitlines()
    known = {name: digest for digest, _, name in (line.partition("  ") for line in lines)}
    for path in files_of(folder):
        name = path.relative_to(folder).as_posix()
        if name not in known:
            raise OutputError(f"{folder} holds {name}, which is not from an earlier plan: {advice}")
        if path.is_symlink() or hashlib.sha256(path.read_bytes()).hexdigest() != known[name]:
            raise OutputError(f"{folder}/{name} was changed since it was written: {advice}")


@contextmanager
def replace_folder(out: Path) -> Iterator[Path]:
    """Give an empty folder to write into, and put it in the place of ``out`` when nothing failed.

    Parameters
    ----------
    out : Path
        New, empty, or an earlier plan that nobody changed. Its parent is made when missing.

    Yields
    ------
    Path
        A folder beside ``out``. It becomes ``out`` when the block ends, and is removed when it raises.

    Raises
    ------
    OutputError
        As in `check_replaceable`.
    """
    out = Path(os.path.realpath(out))
    check_replaceable(out)
    out.parent.mkdir(parents=True, exist_ok=True)
    new = Path(tempfile.mkdtemp(prefix=f".{out.name}-new-", dir=out.parent))
    try:
        yield new
        (new / SUMS).write_text(sums(new), encoding="utf-8")
        mask = os.umask(0)
        os.umask(mask)
        new.chmod(0o777 & ~mask)
        check_replaceable(out)
        if out.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{out.name}-old-", dir=out.parent))
            out.rename(old)
            try:
                new.rename(out)
            except BaseException:
                old.rename(out)
                raise
            shutil.rmtree(old)
        else:
            new.rename(out)
    finally:
        shutil.rmtree(new, ignore_errors=True)
