"""Phrases: what to mind about a plan as a whole."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from nestyield.model.facts import BlanksKept, OrderShort, StoppedEarly
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words

_ENDED = MappingProxyType({"seconds": "the time limit in seconds ended it", "interrupt": "Ctrl-C ended it"})


def _stopped(caution: StoppedEarly, words: Words) -> str:
    return (
        f"the run stopped early: {_ENDED[caution.by]}. "
        "This is the best plan found so far; run it again for the rest"
    )


PHRASES: Mapping[type, Phrase] = MappingProxyType(
    {
        StoppedEarly: _stopped,
        OrderShort: "{missing} of {count} {part} not placed",
        BlanksKept: "kept as accepted: {blanks}",
    }
)
