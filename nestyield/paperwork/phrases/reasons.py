"""Phrases: why an order is not met in full."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from nestyield.model.facts import (
    BedsRefuse,
    Cause,
    ClosestRefusal,
    EmptyRack,
    NoAllowedBed,
    NoBedForPart,
    NoneReady,
    NoPieceOfSpecies,
    NotLaminated,
    NotOnEdge,
    OrderOnHold,
    PiecesOnHold,
    PiecesSpent,
    RackCounts,
    SetNotWhole,
    SheetTooThick,
    StoppedBeforeTrying,
    TooHeavy,
    TooLight,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    Undecided,
    WeightUnknown,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.paperwork.phrases.refusals import PHRASES as REFUSALS
from nestyield.words import Words, fill, listed, plural

#: Names shown of a list of pieces.
MOST_NAMED = 4
_CAUSES: Mapping[Cause, str] = MappingProxyType(
    {
        "spent": "spent on other orders or copies",
        "left for a set": "usable, and left since the set is not whole",
        "on no bed": "that no allowed bed takes",
        "without a place": "without a place for the part",
        "too thin": "too thin",
        "too thick": "too thick",
        "of other species": "of other species",
        "of other weight": "of other weight",
        "on hold": "on hold",
        "taken": "taken",
        "not tried": "not tried before the run was stopped",
        "undecided": "undecided",
    }
)


def _named(pieces: tuple[str, ...]) -> str:
    more = len(pieces) - MOST_NAMED
    return listed([*pieces[:MOST_NAMED], f"{more} more"] if more > 0 else pieces)


def _spent(reason: PiecesSpent, words: Words) -> str:
    return f"other orders or copies use every piece that is usable by itself: {_named(reason.pieces)}"


_ALIKE: Mapping[tuple[str, bool], str] = MappingProxyType(
    {
        ("row", False): ", all of one row",
        ("board", False): ", all of one board",
        ("row", True): "; each can be made from some row, but not all from one row (match)",
        ("board", True): "; each can be made from some row, but not all from one board (match): "
        "one piece is one board, and so are rows whose parent is the same",
    }
)


def _not_whole(reason: SetNotWhole, words: Words) -> str:
    lacking = listed(
        f"{n.copies} {n.part}" + (f" of {listed(n.species, 'or')}" if n.species else "")
        for n in reason.lacking
    )
    alike = _ALIKE[reason.match, reason.singly] if reason.match in ("row", "board") else ""
    if reason.made:
        made = f"only {reason.made} of {reason.wanted} of set {reason.set} can be made whole"
    else:
        made = f"set {reason.set} cannot be made whole"
    return f"{made}; missing: {lacking}{alike}"


def _held(reason: PiecesOnHold, words: Words) -> str:
    return f"{_named(reason.pieces)} {plural(len(reason.pieces), 'is', 'are')} usable, but on hold"


def _wood(species: tuple[str, ...]) -> str:
    return f"piece of {' or '.join(species)}" if species else "piece"


def _closest(reason: ClosestRefusal, words: Words) -> str:
    refusal, at = reason.refusal, reason.refusal.piece
    text = REFUSALS[type(refusal)]
    why = fill(text, refusal, words) if isinstance(text, str) else text(refusal, words)
    if reason.used:
        why += "; other orders or copies use it"
    if isinstance(refusal, (BedsRefuse, NoAllowedBed, Undecided)):
        return f"{refusal.piece} {why}"
    if isinstance(refusal, NotLaminated):
        return f"it is made of a cap and a core, never of one piece; {at} {why}"
    if isinstance(refusal, NotOnEdge):
        return f"it is made of strips on edge alone; {at} {why}"
    wood, thick = _wood(reason.species), words.length(reason.thickness_um / 1000.0)
    if isinstance(refusal, (TooThin, TooThinWhenPlaned, TooThick, SheetTooThick)):
        return f"no {wood} that is large enough has a thickness for {thick}; closest is {at}, which {why}"
    if isinstance(refusal, (TooHeavy, TooLight, WeightUnknown)):
        return f"no {wood} gives the part its weight; closest is {at}, which {why}"
    return f"no {wood} with a thickness for {thick} is large enough; closest is {at}: {why}"


def _counts(reason: RackCounts, words: Words) -> str:
    rows = f"{reason.rows} {plural(reason.rows, 'row')}"
    text = f"the rack has {rows}: {', '.join(f'{r.rows} {_CAUSES[r.cause]}' for r in reason.refused)}"
    if any(r.cause == "without a place" for r in reason.refused):
        text += "; nestyield fit with --piece shows how near one of those is"
    return text


PHRASES: Mapping[type, Phrase] = MappingProxyType(
    {
        OrderOnHold: "the order is on hold",
        EmptyRack: "the rack is empty",
        NoBedForPart: "no bed that the order allows takes the part, even on the smallest board; "
        "nestyield fit shows the figures",
        PiecesSpent: _spent,
        SetNotWhole: _not_whole,
        PiecesOnHold: _held,
        ClosestRefusal: _closest,
        StoppedBeforeTrying: "the run was stopped before every piece that may be usable was tried",
        NoPieceOfSpecies: lambda r, words: (
            f"the rack has no {_wood(r.species)}"
            if r.species
            else "the rack has sheets only, and a part with a grain is cut of one only where species names it"
        ),
        NoneReady: lambda r, words: (
            f"the rack has no {_wood(r.species)} that is ready: all are taken or on hold"
        ),
        RackCounts: _counts,
    }
)
