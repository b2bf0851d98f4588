"""Reads TOML and remembers the line of each key, so that findings can name it.

``tomllib`` reads the values. No parser for Python keeps lines (tomlkit neither), so the patterns here look
for where a key is written, in text that is known to be valid.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

Path = tuple[str | int, ...]

_BARE = r"[A-Za-z0-9_-]+"
_KEY = rf"""(?:{_BARE}|"(?:[^"\\]|\\.)*"|'[^']*')"""
_DOTTED = rf"{_KEY}(?:\s*\.\s*{_KEY})*"
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]")
_ASSIGN = re.compile(rf"\s*({_DOTTED})\s*=")
_TOKEN = re.compile(r'"""|\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*|[\[\]{}]')


def parse_toml(text: str) -> tuple[dict[str, Any] | None, dict[Path, int], str]:
    """Parse TOML.

    Parameters
    ----------
    text : str

    Returns
    -------
    data : dict or None
        None when it is not valid TOML.
    lines : dict of path to int
        Line (from 1) of tables and keys at the start of a line, by path; a table of an array has its
        index in the path.
    problem : str
        Why it is not valid, with line and column; ``""`` when it is.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        end = f"at line {text.count(chr(10)) + 1}, the end of the file"
        return None, {}, str(error).replace("at end of document", end)
    except (ValueError, RecursionError) as error:
        return None, {}, f"a value that cannot be read ({str(error).split(';')[0] or type(error).__name__})"
    return data, line_numbers(text), ""


def line_numbers(text: str) -> dict[Path, int]:
    """Return the line of each table header and key of a valid TOML text.

    Parameters
    ----------
    text : str

    Returns
    -------
    dict of path to int
        The first line where the path is written, from 1.
    """
    lines: dict[Path, int] = {}
    section: Path = ()
    counts: dict[Path, int] = {}
    depth, quote = 0, ""
    for number, line in enumerate(text.split("\n"), start=1):
        if not quote and depth == 0:
            header = _HEADER.match(line)
            assign = _ASSIGN.match(line)
            if header:
                section = _resolve(_split(header[2]), counts, array=header[1] == "[[")
                lines.setdefault(section, number)
                continue
            if assign:
                path = section
                for key in _split(assign[1]):
                    path = (*path, key)
                    lines.setdefault(path, number)
                line = line[assign.end() :]
        depth, quote = _scan(line, depth, quote)
    return lines


def _resolve(keys: list[str], counts: dict[Path, int], array: bool) -> Path:
    """Put the index of the current table of each array into a header's path."""
    path: Path = ()
    for i, key in enumerate(keys):
        path = (*path, key)
        if array and i == len(keys) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _split(dotted: str) -> list[str]:
    keys = re.findall(_KEY, dotted)
    return [tomllib.loads(f"k = {k}")["k"] if k[0] in "\"'" else k for k in keys]


def _scan(line: str, depth: int, quote: str) -> tuple[int, str]:
    """Follow brackets and multi-line texts to the end of a line."""
    position = 0
    while position < len(line):
        if quote:
            end = line.find(quote, position)
            if end < 0:
                return depth, quote
            position, quote = end + 3, ""
            continue
        match = _TOKEN.search(line, position)
        if match is None:
            break
        token, position = match[0], match.end()
        if token in ('"""', "'''"):
            quote = token
        elif token in "[{":
            depth += 1
        elif token in "]}":
            depth -= 1
    return depth, quote
