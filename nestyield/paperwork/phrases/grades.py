"""Phrases: what a board misses for a better grade."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.model.facts import BoardTooSmall, KnotTooLarge, NoCuttingAllowed, TooFewUnits, UnitsShort
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, listed, plural

#: What stands under every table of grades.
NOT_MODELED = (
    "By the NHLA summary charts; the poorer face decides. Not modeled: FAS one face and Selects, limits of "
    "wane, pith, splits and warp, sound backs, rules of a species. A guide, not an inspector's tally."
)


def _short(fact: UnitsShort, words: Words) -> str:
    count = "any number of" if fact.cuttings is None else fact.cuttings
    cuttings = plural(2 if fact.cuttings is None else fact.cuttings, "cutting")
    return f"{fact.needed} clear units in {count} {cuttings} (has {fact.found:.1f})"


def _too_few(fact: TooFewUnits, words: Words) -> str:
    return f"{fact.grade} needs {listed((_short(w, words) for w in fact.ways), 'or')}."


PHRASES: Mapping[type, Phrase] = {
    BoardTooSmall: "{grade} needs a board of at least {width_in} in × {length_ft} ft.",
    KnotTooLarge: (
        "{grade} allows a knot of up to {most_um:down}, a third of surface measure {surface_measure} in "
        "inches; "
        "{knot} is {size_um:up}."
    ),
    NoCuttingAllowed: "{grade} allows no cutting at surface measure {surface_measure}.",
    UnitsShort: _short,
    TooFewUnits: _too_few,
}
