"""Keys of the shop file with other values, for the question "what if": ``KEY=VALUE``, read as the file is."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable
from typing import Any

from nestyield.intake.problems import Problems, did_you_mean, shown
from nestyield.intake.toml import Path

#: Line of a key that a change has set.
CHANGED = 0
#: Sections whose tables are there or not: a change makes no new bed and no new part.
_NAMED = ("bed", "part")
_CHANGE = re.compile(r"""\s*((?:"[^"]*"|'[^']*'|[^"'=])+)=(.*)""")


def apply_changes(
    data: dict[str, Any], lines: dict[Path, int], changes: Iterable[str], problems: Problems
) -> None:
    """Set keys of a parsed shop file.

    Parameters
    ----------
    data : dict
        As parsed; changed in place.
    lines : dict of path to int
        Line numbers; a changed key gets `CHANGED`.
    changes : iterable of str
        ``cutter.diameter = 1/4 in``: the key with its section, dots between; the value as the shop file
        writes it, where quotes may be left out. Tables of an array go by name or number, as in
        ``order.spring.count = 3``.
    problems : Problems
        Takes an error for each that cannot be read.
    """
    for change in changes:
        path, value = _parsed(change)
        if not path:
            message = f"expected KEY=VALUE such as cutter.diameter=6, got {shown(change)}"
            problems.error("S002", message, "", "what if")
            continue
        problem = _set(data, path, value, lines)
        if problem:
            problems.error("S008", problem, "", f"what if {shown(change)}")


def _parsed(change: str) -> tuple[list[str], Any]:
    found = None if "\n" in change else _CHANGE.fullmatch(change)
    if found is None:
        return [], None
    key, value = found[1].strip(), found[2].strip()
    quoted = ".".join(json.dumps(word.strip().strip("\"'")) for word in key.split("."))
    for as_key in (key, quoted):
        for as_value in (value, json.dumps(value)):
            try:
                table: Any = tomllib.loads(f"{as_key} = {as_value}")
            except (ValueError, RecursionError):
                continue
            path = []
            for _ in range(1 + len(_dots(as_key))):
                (word,) = table
                path.append(word)
                table = table[word]
            return path, table
    return [], None


def _dots(key: str) -> list[str]:
    """Return the dots of a key that are not inside quotes."""
    return re.findall(r"\.", re.sub(r""""(?:[^"\\]|\\.)*"|'[^']*'""", "", key))


def _set(data: dict[str, Any], path: list[str], value: Any, lines: dict[Path, int]) -> str:
    """Set one key; return what is wrong, ``""`` when it is set."""
    at: Any = data
    trail: Path = ()
    for k, word in enumerate(path[:-1]):
        if isinstance(at, list):
            names = [t.get("name") if isinstance(t, dict) else None for t in at]
            index = names.index(word) if word in names else int(word) - 1 if word.isdecimal() else -1
            if not 0 <= index < len(at):
                known = [n for n in names if isinstance(n, str)]
                return f"there is no {'.'.join(path[:k])} {word!r}; {did_you_mean(word, known, 'names')}"
            at, trail = at[index], (*trail, index)
            continue
        if not isinstance(at, dict):
            return f"{'.'.join(path[:k])} is {shown(at)}, not a table"
        if k == 1 and path[0] in _NAMED and word not in at:
            return f"the shop file has no {path[0]} {word!r}; {did_you_mean(word, at, f'{path[0]}s')}"
        at, trail = at.setdefault(word, {}), (*trail, word)
    if not isinstance(at, dict):
        return f"{'.'.join(path[:-1])} is not a table"
    at[path[-1]] = value
    lines[(*trail, path[-1])] = CHANGED
    return ""
