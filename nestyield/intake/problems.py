"""Collects findings while files are read, so that all problems are told at once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from nestyield.model import Finding, Severity

#: Every code that intake gives out, with its rule in a few words.
CODES: dict[str, str] = {
    "S001": "the shop file can be read",
    "S002": "the shop file is valid TOML",
    "S003": "sections are known",
    "S004": "keys are known",
    "S005": "required keys are there",
    "S006": "values are of the right kind",
    "S007": "values are in range",
    "S008": "names that are used exist",
    "S009": "names are unique",
    "S010": "files lie inside the shop folder",
    "S011": "species are in the species table, or the maker's own",
    "S012": "sizes are plausible",
    "S013": "polygons are simple",
    "S014": "there is something to plan",
    "S015": "a class of value says what its stock is worth, once",
    "S016": "every class of value counts for something",
    "S017": "orders of a set go together",
    "S018": "what a part asks for can be made",
    "R001": "the rack table can be read",
    "R002": "required columns are there",
    "R003": "columns are spelt as known ones, or the maker's own",
    "R004": "rows have no more cells than the header",
    "R005": "cells hold what their column says",
    "R006": "piece names are unique",
    "R007": "a piece has a size or an outline",
    "R008": "outlines are valid",
    "R009": "seams are valid and inside the piece",
    "R010": "sizes are plausible",
    "R011": "species are in the species table, or the maker's own",
    "R012": "distances measured with a tape go together",
    "R014": "the database of the rack can be read",
    "R013": "edges and flaws of a row can be read",
    "R015": "metal that a note speaks of is entered as a defect",
    "R016": "all stock has a price, or none",
    "R017": "grain runs along the longer side, or the row says otherwise",
    "R018": "a bow that a note speaks of is taken off the thickness",
    "F001": "the defect table can be read",
    "F002": "required columns are there",
    "F003": "columns are spelt as known ones, or the maker's own",
    "F004": "rows have no more cells than the header",
    "F005": "cells hold what their column says",
    "F006": "defects belong to a piece of the rack",
    "F007": "defects have a place and a size",
    "F008": "outlines are valid",
    "F009": "defects lie inside their piece",
    "D001": "the drawing can be read",
    "D002": "the drawing is undamaged",
    "D003": "the drawing's unit is known",
    "D004": "the drawing and the shop file agree on the unit",
    "D005": "layers of the shop file are in the drawing",
    "D006": "layers of the drawing are named in the shop file",
    "D007": "outlines are closed",
    "D008": "outlines do not cross themselves or each other",
    "D009": "nothing is drawn twice",
    "D010": "outlines do not lie inside each other where that has no meaning",
    "D011": "no more than two ends meet in a point",
    "D012": "outlines are not slivers",
    "D013": "entities have a length",
    "D014": "ends meet",
    "D015": "entities lie in the drawing's plane",
    "D016": "entities lie at height zero",
    "D017": "entities are lines and curves",
    "D018": "blocks are complete",
    "D019": "a part has exactly one outline",
    "D020": "zones lie inside the outline",
    "D021": "layers with a role are visible",
    "D022": "splines carry their control points",
    "D023": "sizes are plausible",
    "D024": "the drawing is not too large",
    "D025": "entities are complete",
    "D026": "pockets from both faces leave wood between them",
}


#: What makers write -> the names of keys, columns and units that are meant, the likeliest first.
MEANT: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("wood", "material", "timber", "lumber"), ("species",)),
    **dict.fromkeys(("file", "dxf", "cad"), ("drawing",)),
    **dict.fromkeys(("size", "dia", "bit"), ("diameter",)),
    **dict.fromkeys(("thick", "t", "height", "depth"), ("thickness",)),
    **dict.fromkeys(("l", "long", "len"), ("length",)),
    **dict.fromkeys(("w", "wide", "b", "breadth"), ("width",)),
    **dict.fromkeys(("mahagoni", "mahogony"), ("mahogany",)),
    **dict.fromkeys(
        ("qty", "quantity", "how many", "how_many", "pcs", "number", "amount", "copies", "pieces"), ("count",)
    ),
    **dict.fromkeys(("notes", "comment", "comments", "remark", "remarks"), ("note",)),
    **dict.fromkeys(("location", "place", "bin", "where"), ("shelf",)),
    **dict.fromkeys(("id", "no", "no.", "name", "label", "board", "item"), ("piece",)),
    **dict.fromkeys(("price", "cost", "worth"), ("value",)),
    **dict.fromkeys(("mc", "humidity"), ("moisture",)),
    **dict.fromkeys(("state",), ("status",)),
    **dict.fromkeys(("deadline", "date"), ("due",)),
    **dict.fromkeys(("shape", "polygon", "corners"), ("outline",)),
    **dict.fromkeys(("type", "defect"), ("kind",)),
    **dict.fromkeys(("inches", "inch", '"'), ("in",)),
    **dict.fromkeys(("millimeters", "millimetres", "millimeter", "millimetre", "metric"), ("mm",)),
    "x": ("travel_x",),
    "y": ("travel_y",),
    "z": ("travel_z",),
}


#: A password in the address of a database, which no message repeats.
_PASSWORD = re.compile(r"(://[^\s/:@]*:)(?!\$\{)[^\s@]*@")


@dataclass(slots=True)
class Problems:
    """A growing list of findings about the files of one shop.

    Parameters
    ----------
    findings : list of Finding
        In the order in which they were found.
    """

    findings: list[Finding] = field(default_factory=list)
    _seen: set[Finding] = field(default_factory=set)

    def add(self, severity: Severity, code: str, message: str, file: str = "", where: str = "") -> Finding:
        """Add a finding, and return it; the same one is kept once."""
        if code not in CODES:
            raise KeyError(f"unknown finding code {code}")
        message = _PASSWORD.sub(r"\1***@", " ".join(message.split()))
        finding = Finding(code=code, severity=severity, message=message, file=file, where=where)
        if finding not in self._seen:
            self._seen.add(finding)
            self.findings.append(finding)
        return finding

    def error(self, code: str, message: str, file: str = "", where: str = "") -> None:
        """Add an error: the run stops."""
        self.add("error", code, message, file, where)

    def warning(self, code: str, message: str, file: str = "", where: str = "") -> Finding:
        """Add a warning, and return it: the run goes on, a person should look."""
        return self.add("warning", code, message, file, where)

    def to_error(self, warning: Finding, message: str) -> None:
        """Make an error of a warning: what follows from it stops the run, and is not told by itself.

        Parameters
        ----------
        warning : Finding
            One of ``findings``, or another that was told in its place.
        message : str
            Of the error.
        """
        error = replace(warning, severity="error", message=message)
        if warning in self.findings:
            self.findings[self.findings.index(warning)] = error
            self._seen.add(error)
        elif not any(
            f.severity == "error" and (f.file, f.where) == (error.file, error.where) for f in self.findings
        ):
            self.error(error.code, message, error.file, error.where)

    def in_place_of(self, several: list[Finding], message: str) -> Finding:
        """Tell some findings of one cause as one, in the place of the first; return it.

        Parameters
        ----------
        several : list of Finding
            Of ``findings``, in order; one that is an error makes it an error.
        message : str
        """
        severity: Severity = "error" if any(f.severity == "error" for f in several) else "warning"
        one = replace(several[0], severity=severity, message=message)
        self.findings[self.findings.index(several[0])] = one
        self.findings = [f for f in self.findings if f not in several]
        return one

    def note(self, code: str, message: str, file: str = "", where: str = "") -> None:
        """Add a note."""
        self.add("note", code, message, file, where)

    def told(self, file: str, where: str) -> bool:
        """Tell whether a place already has an error or warning."""
        return any(f.severity != "note" and (f.file, f.where) == (file, where) for f in self.findings)

    def drop_doubts_of_size(self) -> None:
        """Take back warnings about odd sizes: where the unit is not known they say nothing."""
        doubts = ("S012", "R010", "D023")
        self.findings = [f for f in self.findings if f.severity != "warning" or f.code not in doubts]

    def harden(self, file: str, where: str) -> None:
        """Make the warnings about a place errors: what is read on depends on it."""
        for k, f in enumerate(self.findings):
            if f.severity == "warning" and (f.file, f.where) == (file, where):
                self.findings[k] = replace(f, severity="error")

    @property
    def errors(self) -> int:
        """How many errors there are so far."""
        return sum(f.severity == "error" for f in self.findings)


def nearest(name: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """Return the known name that is meant by ``name`` or spelt most like it, or None.

    Parameters
    ----------
    name : str
    known : iterable of str
    cutoff : float
        Least likeness, 0 to 1.
    """
    by_fold: dict[str, str] = {}
    for k in known:
        by_fold.setdefault(k.casefold(), k)
    for other in MEANT.get(name.casefold(), ()):
        if other in by_fold:
            return by_fold[other]
    for fold, k in by_fold.items():
        if name in MEANT.get(fold, ()):
            return k
    hits = difflib.get_close_matches(name.casefold()[:200], sorted(by_fold), n=1, cutoff=cutoff)
    return by_fold[hits[0]] if hits else None


def slips_between(one: str, other: str) -> int:
    """Return how many slips of the pen turn one word into another: a letter left out, added or exchanged, or
    two neighbors that change places (optimal string alignment distance).

    Parameters
    ----------
    one, other : str
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, start=1):
        new = [i]
        for j, b in enumerate(other, start=1):
            cost = min(row[j] + 1, new[j - 1] + 1, row[j - 1] + (a != b))
            if before and j > 1 and a == other[j - 2] and one[i - 2] == b:
                cost = min(cost, before[j - 2] + 1)
            new.append(cost)
        before, row = row, new
    return row[-1]


def did_you_mean(name: str, known: Iterable[str], what: str = "") -> str:
    """Return ``did you mean X?``, or the list of known names when none is near.

    Parameters
    ----------
    name : str
    known : iterable of str
    what : str
        Plural word for the known names, as ``beds``.
    """
    names = list(dict.fromkeys(known))
    near = nearest(name, names)
    if near is not None:
        return f"did you mean {near!r}?"
    if not names:
        return f"there are no {what}" if what else "none is known"
    shown = ", ".join(names[:24]) + (" ..." if len(names) > 24 else "")
    return f"known {what + ' ' if what else ''}are {shown}"


def shown(value: object, limit: int = 60) -> str:
    """Return a value as it may stand in a message: quoted if text, one line, not too long."""
    if isinstance(value, dict):
        return "a table"
    text = repr(value) if isinstance(value, str) else str(value)
    text = "".join(ch if ch.isprintable() else "?" for ch in text)
    return text if len(text) <= limit else text[: limit - 3] + "..."
