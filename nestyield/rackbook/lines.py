"""Lines of a text file: what changed between two versions, and putting it back."""

from __future__ import annotations

import difflib
import io
import re
from collections.abc import Sequence

Changes = tuple[tuple[str | None, str | None], ...]


def split(text: str) -> list[str]:
    """Split at CR LF, LF or CR only, keeping them."""
    return io.StringIO(text, newline="").readlines()


def changed(old: Sequence[str], new: Sequence[str]) -> Changes:
    """Return records that differ, as (before, after); None stands for one that was added or taken away."""
    return tuple((before, after) for _, before, after in _changes(old, new))


def changed_at(old: Sequence[str], new: Sequence[str]) -> tuple[int, ...]:
    """Return for each change of `changed` before which record of the old ones it stands, from 0."""
    return tuple(at for at, _, _ in _changes(old, new))


def replayed(old: Sequence[str], lines: Changes, at: Sequence[int]) -> list[str]:
    """Return the new records, from the old ones, what changed and where."""
    out: list[str] = []
    done = 0
    for (before, after), start in zip(lines, at, strict=True):
        out += old[done:start]
        out += [] if after is None else [after]
        done = start if before is None else start + 1
    return [*out, *old[done:]]


def _changes(old: Sequence[str], new: Sequence[str]) -> list[tuple[int, str | None, str | None]]:
    found: list[tuple[int, str | None, str | None]] = []
    for tag, i0, i1, j0, j1 in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        for k in range(max(i1 - i0, j1 - j0)):
            before = old[i0 + k] if i0 + k < i1 else None
            after = new[j0 + k] if j0 + k < j1 else None
            found.append((min(i0 + k, i1), before, after))
    return found


def places(text: str, record: str) -> list[tuple[int, int]]:
    """Return where a record stands in a text as whole lines, its line end included.

    Parameters
    ----------
    text : str
    record : str
        One line, or several when a quoted cell holds line ends; its own last line end does not count.

    Returns
    -------
    list of (int, int)
        Start and end offsets.
    """
    body = record.rstrip("\r\n")
    start = r"(?:(?<=[\r\n\ufeff])|\A)"
    return [m.span() for m in re.finditer(rf"{start}{re.escape(body)}(?:\r\n|\n|\r|\Z)", text)]
