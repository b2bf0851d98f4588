"""Takes values out of the parsed shop file, telling every problem with key and line."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from nestyield.intake import remedies
from nestyield.intake.changes import CHANGED
from nestyield.intake.dates import date_in_words
from nestyield.intake.densities import DensityError, parse_density
from nestyield.intake.forces import ForceError, parse_force
from nestyield.intake.keys import REQUIRED, Key, keys_of
from nestyield.intake.lengths import LengthError, parse_length
from nestyield.intake.problems import Problems, did_you_mean, nearest, shown
from nestyield.model.units import Units
from nestyield.words import Words

_WRONG = object()


def _american(word: str) -> str:
    """Return a word of the shop file as its keys spell it: ``center_line`` for ``centre_line``."""
    return word.replace("centre_", "center_")


@dataclass(slots=True, kw_only=True)
class Values:
    """One table of the shop file.

    Parameters
    ----------
    data : dict
        As parsed.
    path : tuple
        Where it stands in the file.
    lines : dict of path to int
        Line numbers of the file.
    file : str
    units : {"mm", "in"}
        What a bare length means.
    problems : Problems
    """

    data: dict[str, Any]
    path: tuple[str | int, ...]
    lines: dict[tuple[str | int, ...], int]
    file: str
    units: Units
    problems: Problems

    @property
    def words(self) -> Words:
        """Write quantities in the units of the shop."""
        return Words(self.units)

    def line(self, key: str | None = None) -> int | None:
        """Return the line of a key, or of the nearest table around it that has one."""
        path = self.path if key is None else (*self.path, key)
        for cut in range(len(path), 0, -1):
            line = self.lines.get(path[:cut], self.lines.get((*path[:cut], 0)))
            if line is not None:
                return line
        return None

    def where(self, key: str | None = None) -> str:
        """Return key and line for a finding, as ``part.mandolin.thickness, line 41``."""
        path = self.path if key is None else (*self.path, key)
        line = self.line(key)
        if line == CHANGED:
            return f"{dotted(path)}, as asked"
        return dotted(path) + (f", line {line}" if line else "")

    def error(self, code: str, message: str, key: str | None = None) -> None:
        """Add an error about a key."""
        self.problems.error(code, message, self.file, self.where(key))

    def warning(self, code: str, message: str, key: str | None = None) -> None:
        """Add a warning about a key."""
        self.problems.warning(code, message, self.file, self.where(key))

    def note(self, code: str, message: str, key: str | None = None) -> None:
        """Add a note about a key."""
        self.problems.note(code, message, self.file, self.where(key))

    def table(self, key: str) -> Values | None:
        """Return a table inside this one; None (with an error when it is something else) if absent."""
        value = self.data.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.error("S006", f"expected a table for {key}, got {shown(value)}", key)
            return None
        return self.inner(value, key)

    def inner(self, data: dict[str, Any], *path: str | int) -> Values:
        """Return a reader for a table that lies at ``path`` inside this one."""
        return Values(
            data=data,
            path=(*self.path, *path),
            lines=self.lines,
            file=self.file,
            units=self.units,
            problems=self.problems,
        )

    def tables(self, key: str) -> list[Values]:
        """Return the tables of an array of tables."""
        value = self.data.get(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            hint = f"[[{dotted((*self.path, key))}]]"
            self.error("S006", f"expected tables written {hint}, got {shown(value)}", key)
            return []
        return [self.inner(v, key, i) for i, v in enumerate(value)]

    def read(self, section: str) -> dict[str, Any]:
        """Read all keys of a section of the key table.

        Parameters
        ----------
        section : str

        Returns
        -------
        dict of str to object
            Every key of the section: its value, lengths in mm; the default (None if required) when it is
            absent or wrong. Keys of kind ``special`` are returned as parsed.
        """
        known = keys_of(section)
        self.refuse_unknown([k.name for k in known])
        return {k.name: self._get(k) for k in known}

    def refuse_unknown(self, known: Iterable[str]) -> None:
        """Add an error for each key that is not known."""
        names = list(known)
        code, what = ("S004", "key") if self.path else ("S003", "section")
        for key in list(self.data):
            if key not in names and _american(key) in names and _american(key) not in self.data:
                self._read_as_meant(key, names)
            elif self.path[:1] == ("part",) and len(self.path) == 2 and key in ("length", "width", "size"):
                self.error(code, f"a part has no {key}: its drawing has its size, a rectangle's too", key)
            elif key not in names:
                self.error(code, f"unknown {what} {shown(key)}; {did_you_mean(key, names, what + 's')}", key)
                self._read_as_meant(key, names)

    def _read_as_meant(self, key: str, names: list[str]) -> None:
        """Read a misspelt key as the one that is meant, so that only the slip itself is told."""
        near = nearest(key, names)
        if near is not None and near not in self.data:
            for path, line in list(self.lines.items()):
                if path[: len(self.path) + 1] == (*self.path, key):
                    self.lines.setdefault((*self.path, near, *path[len(self.path) + 1 :]), line)
            self.data[near] = self.data[key]

    def refuse_without_name(self, section: str) -> bool:
        """Add one error when keys of a named table stand under its section: ``[bed]`` for ``[bed.bench]``.

        Returns
        -------
        bool
            Whether that is so.
        """
        known = {k.name for k in keys_of(f"{section}.*")}
        bare = [k for k, v in self.data.items() if not isinstance(v, dict) and nearest(k, known, 0.8)]
        if bare:
            self.error("S006", f"a {section} has a name: write [{section}.NAME] in place of [{section}]")
        return bool(bare)

    def refuse_alike(self) -> None:
        """Add an error for each key that differs from an earlier one by case only."""
        first: dict[str, str] = {}
        for key in self.data:
            alike = first.setdefault(key.casefold(), key)
            if alike != key:
                self.error(
                    "S009",
                    f"names {shown(alike)} and {shown(key)} differ only in capitals; rename one",
                    key,
                )

    def _get(self, key: Key) -> Any:
        fallback = None if key.default is REQUIRED else key.default
        if key.name not in self.data:
            if key.default is REQUIRED:
                self.error("S005", remedies.missing(key, self.units, self.path))
            return fallback
        raw = self.data[key.name]
        if key.kind == "special":
            return raw
        value = getattr(self, f"_{key.kind}")(key, raw)
        return fallback if value is _WRONG or not self._in_range(key, raw, value) else value

    def length(self, value: Any, key: str) -> float | None:
        """Read one length in mm; None with an error when it is none."""
        if isinstance(value, bool) or not isinstance(value, (int, float, str)):
            self.error("S006", f"expected a length for {key}, got {shown(value)}", key)
            return None
        try:
            read = parse_length(value, self.units)
        except LengthError as error:
            self.error("S006", remedies.length(value, key, self.units) or str(error), key)
            return None
        if self.units == "mm" and remedies.is_bare_fraction(value):
            size, text = self.words.length(read, style="setting"), str(value).strip()
            message = (
                f'{key} is {size}: a bare fraction is of mm here. If inches are meant, write "{text} in"'
            )
            self.warning("S012", message, key)
        return read

    def number(self, value: Any, key: str) -> float | None:
        """Read one finite number; None with an error when it is none."""
        good = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not good or abs(value) > 1e300 or not math.isfinite(value):
            self.error("S006", remedies.number(key, value), key)
            return None
        return float(value)

    def _length(self, key: Key, raw: Any) -> Any:
        value = self.length(raw, key.name)
        return _WRONG if value is None else value

    def _force(self, key: Key, raw: Any) -> Any:
        if not isinstance(raw, bool) and isinstance(raw, (int, float, str)):
            try:
                return parse_force(raw, "lbf" if self.units == "in" else "n")
            except ForceError as error:
                self.error("S006", str(error), key.name)
                return _WRONG
        self.error("S006", f"expected a force for {key.name}, got {shown(raw)}", key.name)
        return _WRONG

    def _density(self, key: Key, raw: Any) -> Any:
        if not isinstance(raw, bool) and isinstance(raw, (int, float, str)):
            try:
                return parse_density(raw, self.units)
            except DensityError as error:
                self.error("S006", str(error), key.name)
                return _WRONG
        self.error("S006", f"expected a density for {key.name}, got {shown(raw)}", key.name)
        return _WRONG

    def _number(self, key: Key, raw: Any) -> Any:
        value = self.number(raw, key.name)
        return _WRONG if value is None else value

    def _angle(self, key: Key, raw: Any) -> Any:
        value = self.number(raw, key.name)
        return _WRONG if value is None else value

    def _integer(self, key: Key, raw: Any) -> Any:
        whole = isinstance(raw, float) and raw.is_integer() and abs(raw) < 2**53
        if isinstance(raw, bool) or not (isinstance(raw, int) or whole):
            self.error("S006", remedies.whole_number(key, raw), key.name)
            return _WRONG
        return int(raw)

    def _text(self, key: Key, raw: Any) -> Any:
        if not isinstance(raw, str) or (not raw.strip() and key.default is REQUIRED):
            message = f"expected a text for {key.name}, got {shown(raw)}"
            if (key.section, key.name) == ("order", "part") and isinstance(raw, list) and raw:
                others = " and for ".join(shown(name) for name in raw[1:])
                message = f"an order has one part; write a second [[order]] for {others}"
            self.error("S006", message, key.name)
            return _WRONG
        return raw.strip()

    def _flag(self, key: Key, raw: Any) -> Any:
        if not isinstance(raw, bool):
            meant = {"true": "true", "yes": "true", "false": "false", "no": "false"}.get(str(raw).casefold())
            hint = f"; write {key.name} = {meant} without quotes" if meant else ""
            self.error("S006", f"expected true or false for {key.name}, got {shown(raw)}{hint}", key.name)
            return _WRONG
        return raw

    def _choice(self, key: Key, raw: Any) -> Any:
        if isinstance(raw, str) and _american(raw.strip().casefold()) in key.choices:
            return _american(raw.strip().casefold())
        self.error("S006", remedies.choice(key.name, raw, key.choices), key.name)
        return _WRONG

    def _choices(self, key: Key, raw: Any) -> Any:
        items = [raw] if isinstance(raw, str) else raw
        if not isinstance(items, list):
            self.error("S006", f"expected a list for {key.name}, got {shown(raw)}", key.name)
            return _WRONG
        wrong = [v for v in items if not (isinstance(v, str) and v.strip().casefold() in key.choices)]
        for v in wrong:
            self.error("S006", remedies.choice(key.name, v, key.choices, many=True), key.name)
        return _WRONG if wrong else tuple(dict.fromkeys(v.strip().casefold() for v in items))

    def _names(self, key: Key, raw: Any) -> Any:
        items = [raw] if isinstance(raw, str) else raw
        if not isinstance(items, list) or not all(isinstance(v, str) and v.strip() for v in items):
            self.error(
                "S006", f"expected a text or a list of texts for {key.name}, got {shown(raw)}", key.name
            )
            return _WRONG
        return tuple(dict.fromkeys(v.strip() for v in items))

    def _date(self, key: Key, raw: Any) -> Any:
        if isinstance(raw, datetime.datetime):
            raw = raw.date()
        if isinstance(raw, str):
            try:
                raw = datetime.date.fromisoformat(raw.strip())
            except ValueError:
                meant = date_in_words(raw)
                such = f"; write {key.name} = {meant}" if meant else f", such as 2026-12-12; got {shown(raw)}"
                self.error("S006", f"dates are year-month-day{such}", key.name)
                return _WRONG
        if not isinstance(raw, datetime.date):
            self.error(
                "S006", f"expected a date such as 2026-12-12 for {key.name}, got {shown(raw)}", key.name
            )
            return _WRONG
        return raw.isoformat()

    def _in_range(self, key: Key, raw: Any, value: Any) -> bool:
        if value is None or isinstance(value, (str, tuple, bool)):
            return True
        wrong = remedies.out_of_range(key, raw, value, lambda v: self._shown(key, v), self.units)
        if wrong:
            self.error("S007", wrong, key.name)
        return not wrong

    def _shown(self, key: Key, value: float) -> str:
        """Return a value of a key with its unit."""
        if key.kind == "length":
            return self.words.length(value, style="setting")
        if key.kind == "force":
            return self.words.force(value)
        if key.kind == "density":
            return self.words.density(value)
        return f"{value:g} degrees" if key.kind == "angle" else f"{value:g}"


def dotted(path: tuple[str | int, ...]) -> str:
    """Return a path as ``bed.bench.keep_out[2]``: tables of an array count from 1."""
    out = ""
    for key in path:
        if isinstance(key, int):
            out += f"[{key + 1}]"
        else:
            plain = key.replace("_", "").replace("-", "").isalnum()
            out += ("." if out else "") + (key if plain else shown(key))
    return out
