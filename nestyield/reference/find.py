"""Looks a word up, whatever its case, brackets, quotes and unit; a slip is answered with the nearest word."""

from __future__ import annotations

import re
from functools import cache

from nestyield.intake.problems import nearest
from nestyield.model import NestyieldError
from nestyield.reference.entries import Meaning, entries

#: A letter with its number, as sheets name pins, holes, screws and tabs.
_NUMBERED = re.compile(r"^([a-z])\d{1,3}$")
_UNIT = re.compile(r"[_ (\[](mm|cm|m|in|ft)[)\]]?$")


class UnknownWordError(NestyieldError, KeyError):
    """No key, column, wood, role, kind of defect, layer or code has this name."""

    def __init__(self, word: str, near: str | None) -> None:
        hint = f"did you mean {near!r}?" if near else "`nestyield explain` lists what there is"
        self.message = f"nothing is called {word!r}; {hint}"
        super().__init__(self.message)

    def __str__(self) -> str:
        return self.message


def _fold(word: str) -> str:
    return re.sub(r"[\s_-]+", " ", word.strip("[]\"' ").casefold()).strip()


@cache
def _index() -> dict[str, tuple[Meaning, ...]]:
    found: dict[str, list[Meaning]] = {}
    for entry in entries():
        for word in dict.fromkeys(_fold(w) for w in (entry.word, *entry.also)):
            found.setdefault(word, []).append(entry)
    return {word: tuple(them) for word, them in found.items()}


def words() -> dict[str, list[str]]:
    """Return every word that can be explained, by kind, in the order of the tables."""
    out: dict[str, list[str]] = {}
    for entry in entries():
        there = out.setdefault(entry.kind, [])
        if entry.word not in there:
            there.append(entry.word)
    return out


def explain(word: str) -> tuple[Meaning, ...]:
    """Return all that is known under a word.

    Parameters
    ----------
    word : str
        As ``planing``, ``allowance.planing``, ``[glueup]``, ``width_mm``, ``hard maple``, ``R005``.

    Raises
    ------
    UnknownWordError
        With the word that is probably meant.
    """
    index = _index()
    folded = _fold(re.sub(r"^\[+([^\]]*)\]+\s*(?=\S)", r"\1.", word.strip()))
    first, _, rest = folded.partition(".")
    named = f"{first}.{rest.rpartition('.')[2]}" if "." in rest else first  # bed.bench.travel_x, bed.bench
    for candidate in (folded, _fold(_UNIT.sub("", word.strip().casefold())), named):
        if candidate in index:
            return index[candidate]
    numbered = _NUMBERED.match(folded)
    if numbered and (signs := tuple(m for m in index.get(numbered[1], ()) if m.kind == "sign")):
        return signs
    alike = index.get(folded.split(" ")[0], ())  # POCKET TOP 12 MM
    if layers := tuple(m for m in alike if m.kind == "layer"):
        return layers
    near = nearest(folded, index, 0.7)
    raise UnknownWordError(word, None if near is None else _written(near, index))


def _written(fold: str, index: dict[str, tuple[Meaning, ...]]) -> str:
    """Return a folded word as it is written."""
    entry = index[fold][0]
    return next((w for w in (entry.word, *entry.also) if _fold(w) == fold), fold)
