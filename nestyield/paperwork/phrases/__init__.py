"""One phrase a fact: what the program says to people.

Each module of this folder has a ``PHRASES``: fact type to template (see ``nestyield.words.template``), or
to a function of fact and words where a template is not enough.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from nestyield.paperwork.phrases import (
    beds,
    cautions,
    glue,
    grades,
    hazards,
    laminate,
    on_edge,
    reasons,
    refusals,
    search,
    wood,
    work,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill

_MODULES: tuple[Mapping[type, Phrase], ...] = (
    refusals.PHRASES,
    reasons.PHRASES,
    beds.PHRASES,
    search.PHRASES,
    cautions.PHRASES,
    work.PHRASES,
    hazards.PHRASES,
    glue.PHRASES,
    laminate.PHRASES,
    on_edge.PHRASES,
    wood.PHRASES,
    grades.PHRASES,
)


def _merged() -> Mapping[type, Phrase]:
    merged: dict[type, Phrase] = {}
    for phrases in _MODULES:
        if both := merged.keys() & phrases.keys():
            raise RuntimeError(f"two phrases for {sorted(t.__name__ for t in both)}")
        merged.update(phrases)
    return MappingProxyType(merged)


PHRASES = _merged()


def phrase(fact: Any, words: Words) -> str:
    """Return what a fact says, as one line.

    Parameters
    ----------
    fact : a fact of ``nestyield.model.facts``
    words : Words

    Raises
    ------
    KeyError
        A fact with no phrase.
    """
    template = PHRASES[type(fact)]
    return fill(template, fact, words) if isinstance(template, str) else template(fact, words)
