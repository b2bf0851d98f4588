"""Phrases: why a bed does not take a blank, and what the search for sections came to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from nestyield.model import Setup
from nestyield.model.facts import (
    AnyKeepOutInTheWay,
    BedPassedOver,
    BedRefusal,
    BlankTooLong,
    BothAxesShort,
    ClosedEndOverhang,
    DepthShort,
    IndexPinsOffTable,
    KeepOutInTheWay,
    KeepOutsTogether,
    LeastBlankTooLong,
    LongerThanTwoSections,
    NoHoleLine,
    NoIndexPins,
    NoOpenEnd,
    NothingToSection,
    NoTurningHoles,
    SectionClosedEnd,
    SectionDepthShort,
    SectionKeepOuts,
    SectionOutcome,
    SectionsByMoving,
    SectionsByTurning,
    SectionTooShort,
    TableShort,
    TravelShort,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill, listed


def _any_keep_out(fact: AnyKeepOutInTheWay, words: Words) -> str:
    names = listed((f"'{n}'" for n in fact.names), "or")
    return f"Keep-outs leave no clear place; without any one of {names} there is one."


def _keep_outs(fact: KeepOutsTogether, words: Words) -> str:
    names = listed(f"'{n}'" for n in fact.names)
    if len(fact.names) == 1:
        return f"Keep-out {names} leaves no clear place."
    return f"Keep-outs {names} together leave no clear place."


def _passed_over(fact: BedPassedOver, words: Words) -> str:
    if not fact.why:
        return f"Not on bed {fact.bed}, which comes first: its setup failed the plan's own check."
    says = bed_says(fact.why, fact.in_sections, words)
    return f"Not on bed {fact.bed}, which comes first. Along {fact.along.upper()}: {says}"


#: How every refusal of sections begins.
_NOT = "It cannot be cut in sections: "

PHRASES: Mapping[type, Phrase] = {
    TravelShort: (
        "The cut needs {needs_um:fine up} of travel along {axis:cap}; the bed has {travel_um:fine down}, "
        "which is {short_um:fine up} short."
    ),
    TableShort: (
        "The blank is {blank_um:fine up} along {axis:cap}; the table has {table_um:fine down} and no open "
        "end there. The blank is {over_um:fine up} too long."
    ),
    ClosedEndOverhang: (
        "To reach all of the cut along {axis:cap}, the blank would hang {over_um:fine up} over the table's "
        "closed end {end:cap}."
    ),
    DepthShort: (
        "The cut is {needs_um:fine up} deep; the Z travel is {travel_um:fine down}, "
        "which is {short_um:fine up} short."
    ),
    KeepOutInTheWay: "Keep-out '{name}' leaves no clear place.",
    AnyKeepOutInTheWay: _any_keep_out,
    KeepOutsTogether: _keep_outs,
    SectionsByMoving: (
        "It can be cut in {count} sections along {axis:cap}; move the blank by {step_um:fine} each time."
    ),
    SectionsByTurning: (
        "It can be cut in {count} sections along {axis:cap}; turn the blank end for end on the same two pins."
    ),
    NothingToSection: "It needs no sections.",
    BothAxesShort: f"{_NOT}the travel is short along both axes.",
    SectionDepthShort: (
        f"{_NOT}the cut is {{needs_um:fine up}} deep and the Z travel is {{travel_um:fine down}}."
    ),
    NoOpenEnd: f"{_NOT}the table has no open end along {{axis:cap}}.",
    NoIndexPins: f"{_NOT}the bed has no index pins (pin_diameter in the shop file).",
    SectionTooShort: f"{_NOT}a section of {{section_um:fine down}} is too short to overlap the next.",
    SectionClosedEnd: f"{_NOT}the blank would hang over a closed end of the table.",
    NoHoleLine: f"{_NOT}the waste has no room for a line of {{count}} index holes {{step_um:fine}} apart.",
    IndexPinsOffTable: f"{_NOT}the index pins would be off the table or in a keep-out.",
    SectionKeepOuts: f"{_NOT}keep-outs leave no place for every section.",
    LongerThanTwoSections: f"{_NOT}the cut is longer than two sections of {{section_um:fine down}}.",
    NoTurningHoles: (
        f"{_NOT}no two index holes in the waste let the blank be turned end for end on the table."
    ),
    BedPassedOver: _passed_over,
    LeastBlankTooLong: (
        "Along {along:cap}: with a margin of {margin_um:fine} on all sides the blank is {length_um:fine up} "
        "along the bed's {axis:cap}. "
        "That is {over_um:fine up} longer than the table, and no end there is open."
    ),
    BlankTooLong: (
        "Along {along:cap}: blank {blank} is {length_um:fine up} along the bed's {axis:cap}. "
        "That is {over_um:fine up} longer than the table, and no end there is open."
    ),
}


def bed_says(refusals: Iterable[BedRefusal], in_sections: SectionOutcome | None, words: Words) -> str:
    """Return why a bed does not take a blank in one go, and whether it does in sections.

    Parameters
    ----------
    refusals : iterable of BedRefusal
    in_sections : SectionOutcome or None
    words : Words
    """
    facts = [*refusals, *([] if in_sections is None else [in_sections])]
    told = [(PHRASES[type(fact)], fact) for fact in facts]
    return " ".join(fill(p, fact, words) if isinstance(p, str) else p(fact, words) for p, fact in told)


def setup_says(setup: Setup, words: Words) -> str:
    """Return what is to spare, or why the blank does not fit, in full sentences."""
    if not setup.fits:
        return bed_says(setup.refusals, setup.in_sections, words) or "The blank does not fit."
    spare = {"x_mm": setup.spare_x_mm, "y_mm": setup.spare_y_mm}
    return fill("{x_mm:down} to spare along X, {y_mm:down} along Y.", spare, words)
