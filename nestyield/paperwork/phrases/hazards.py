"""Phrases: what can hurt someone, and what lies in the cutter's path."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.model.facts import (
    BothFacesInSections,
    FewScrews,
    FlipOffPlace,
    HolesInLeftover,
    IndexHolesAlike,
    MixedFaces,
    NoBed,
    NoFlipPins,
    NoPlaceForFlipPins,
    PartsComeLoose,
    PinInOpening,
    PinsNotUnique,
    SectionsFlipBlocked,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, listed, plural


def _mark(name: str) -> str:
    """Return how drawings call a pin or screw: ``P1`` for ``pin 1``."""
    kind, _, number = name.rpartition(" ")
    return f"{kind[:1].upper()}{number}"


def _numbers(placements: tuple[int, ...]) -> str:
    """Return parts of a blank by their numbers on the drawing: ``parts 1 and 3``."""
    return f"{plural(len(placements), 'part')} {listed(str(k + 1) for k in placements)}"


def _mixed(fact: MixedFaces, words: Words) -> str:
    front, back = _numbers(fact.front_up), _numbers(fact.back_up)
    have = plural(len(fact.front_up), "has its", "have their")
    return (
        f"{front[:1].upper()}{front[1:]} {have} front up, {back} "
        f"{plural(len(fact.back_up), 'its', 'their')} back. Check on the drawing which face is cut first."
    )


def _holes(fact: HolesInLeftover, words: Words) -> str:
    go, hole = (plural(len(fact.names), *pair) for pair in (("goes", "go"), ("hole", "holes")))
    names = listed(_mark(n) for n in fact.names)
    return f"{names} {go} through leftover {fact.leftover}: write the {hole} on it."


_BED: Mapping[type, Phrase] = {
    MixedFaces: _mixed,
    FlipOffPlace: (
        "Flipped over, the blank does not fit bed {bed} at the same place. Move it before the other face "
        "is cut."
    ),
    NoFlipPins: (
        "Bed {bed} has no pins (pin_diameter in the shop file). Flip the blank against a fence and check "
        "its place."
    ),
    NoPlaceForFlipPins: (
        "The waste over the table has no room for two pins clear of the cutter. Use a wider blank, or flip "
        "it against a fence and check its place."
    ),
    PinsNotUnique: (
        "The {count} pins also take the blank turned end for end. Mark the end that goes to the bed's zero."
    ),
    IndexHolesAlike: (
        "The blank is cut in {sections} sections, and the index holes are alike. Mark the ends of the blank, "
        "and finish each section before the next."
    ),
    BothFacesInSections: (
        "Both faces are cut in sections. Flip the blank over about the line of holes after the last section."
    ),
    SectionsFlipBlocked: (
        "Flipped over about the line of holes, the blank runs into a keep-out, a closed end or the end of "
        "the travel of bed {bed}. Clear it or move the pins before the other face is cut."
    ),
    FewScrews: (
        "The waste over the table has room for {count} {count:plural screw} clear of the cutter. Hold the "
        "blank another way: vacuum, double-sided tape, or tabs left in the cut."
    ),
    PinInOpening: lambda fact, words: (
        f"{_mark(fact.pin)} is in an opening. Take the pin out before that opening is cut, and cut it last."
    ),
    HolesInLeftover: _holes,
    PartsComeLoose: (
        "A part is loose once its outline is cut through. Leave tabs or an onion skin, and free the part by "
        "hand when the spindle stands still."
    ),
    NoBed: "No bed takes this blank as it is. Do not run it on a bed that this plan does not name.",
}

PHRASES: Mapping[type, Phrase] = {**_BED}
