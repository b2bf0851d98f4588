"""Phrases: why one piece is not usable for one part. Each follows the name of the piece."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from nestyield.model.facts import (
    BedsRefuse,
    BetterMeasured,
    DefectFilled,
    FitsIfRelaxed,
    LeftForSet,
    LongerPiece,
    NarrowerGap,
    NarrowerMargin,
    NoAllowedBed,
    NoPlace,
    NoPlaceForBed,
    NoPlaceLeft,
    NotBookMatched,
    NotLaminated,
    NotOnEdge,
    NotTried,
    OnHold,
    SheetTooThick,
    Spent,
    Taken,
    TooHeavy,
    TooLight,
    TooMuchFiller,
    TooNarrow,
    TooNarrowAnyWay,
    TooShort,
    TooShortAndNarrow,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    Undecided,
    WeightUnknown,
    WiderGrainTolerance,
    WiderPiece,
    WrongShape,
    WrongSpecies,
)
from nestyield.paperwork.phrases.beds import bed_says
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill

_RELAXATIONS: Mapping[type, str] = MappingProxyType(
    {
        BetterMeasured: "when it is measured to within {needed_um:fine down} ({measured_um:setting} now)",
        DefectFilled: "if the {kind} in {defect} may be filled",
        NarrowerMargin: "with a margin of {reachable_um:fine down} ({required_um:setting} required)",
        NarrowerGap: "with a gap of {reachable_um:fine down} between parts ({required_um:setting} required)",
        WiderGrainTolerance: "with a grain tolerance of {needed_deg} ({allowed_deg} allowed)",
        WiderPiece: "if it were clear and {missing_um:up} wider across the grain",
        LongerPiece: "if it were clear and {missing_um:up} longer along the grain",
    }
)


def _wrong_species(refusal: WrongSpecies, words: Words) -> str:
    text = fill("is {species}", refusal, words)
    if not refusal.sheet:
        return text
    return f"{text}, a sheet, and the part has a grain; name {refusal.species} under its species if it may be"


def _relaxed(refusal: FitsIfRelaxed, words: Words) -> str:
    ways = (fill(_RELAXATIONS[type(way)], way, words) for way in refusal.relaxations)
    return f"would take the part {', or '.join(ways)}"


def _no_place(refusal: NoPlace, words: Words) -> str:
    text = (
        "has no place for the part, which is {length_um} × {width_um}; the piece is "
        "{piece_length_um:down} × {piece_width_um:down}, the margin {margin_um:setting}"
    )
    unsure = " and its measures up to {measured_um:setting} off" if refusal.measured_um else ""
    return fill(text + unsure, refusal, words)


def _wrong_shape(refusal: WrongShape, words: Words) -> str:
    if refusal.bed is not None:
        return f"has no place for the part, and {_no_bed(refusal.bed, words)}"
    leave = "shape leaves" if refusal.blocked_by == "shape" else "shape and defects leave"
    return f"is large enough, but its {leave} no place for the part"


def _beds_refuse(refusal: BedsRefuse, words: Words) -> str:
    text = f"is large enough, but {_no_bed(refusal, words)}"
    hint = "; saw it smaller and enter it so in the rack table, then plan again"
    return text + hint if refusal.sawn_first else text


def _no_bed(refusal: BedsRefuse, words: Words) -> str:
    """Return that no bed takes a piece, and what the closest one has against it."""
    why = bed_says(refusal.why, refusal.in_sections, words)
    along = refusal.along.upper()
    return f"no bed that the order allows takes it; closest is bed {refusal.bed}, along {along}: {why}"


def _on_hold(refusal: OnHold, words: Words) -> str:
    return "is usable, but on hold" if refusal.usable else "is on hold"


def _undecided(refusal: Undecided, words: Words) -> str:
    of = "layout" if refusal.because == "layout" else "proof that it has no place for the part"
    return f"is undecided: the plan's own check rejected its {of}"


def _or_more(template: str, remedy: str) -> Phrase:
    """Return a phrase about thickness: what is wrong, whether that may not be all, what to change."""

    def says(refusal: TooThin | TooThinWhenPlaned | TooThick | SheetTooThick, words: Words) -> str:
        text = fill(template, refusal, words)
        more = "" if refusal.enough else ", and may have no place for the part besides"
        return f"{text}{more}; {fill(remedy, refusal, words)}"

    return says


PHRASES: Mapping[type, Phrase] = MappingProxyType(
    {
        WrongSpecies: _wrong_species,
        TooThin: _or_more(
            "is {thickness_um} thick, {far_um:up} too thin",
            "give the part that thickness, or raise [allowance] thickness_tolerance",
        ),
        TooThinWhenPlaned: _or_more(
            "is {thickness_um} thick ({planed_um} after planing), {far_um:up} too thin",
            "plane less ([allowance] planing), or make the part thinner",
        ),
        TooThick: _or_more(
            "is {thickness_um} thick, {far_um:fine up} more than may be planed off",
            "raise [allowance] most_planed_away",
        ),
        SheetTooThick: _or_more(
            "is {thickness_um} thick, {far_um:fine up} more than the part and "
            "[allowance] thickness_tolerance",
            "sheets are not planed: give the part that thickness, or raise the tolerance",
        ),
        TooHeavy: "would make it {weight_kg}, more than {most_kg} (weight)",
        TooLight: "would make it {weight_kg}, less than {least_kg} (weight)",
        WeightUnknown: "has no weight in the rack table, and no density of {species} is known",
        TooShort: "is at least {far_um:down} too short along the grain",
        TooNarrow: "is at least {far_um:down} too narrow across the grain",
        TooShortAndNarrow: "is at least {along_um:down} too short along the grain and {across_um:down} "
        "too narrow across it",
        TooNarrowAnyWay: "is at least {far_um:down} too narrow",
        NoPlace: _no_place,
        FitsIfRelaxed: _relaxed,
        WrongShape: _wrong_shape,
        TooMuchFiller: "needs more filler than {limit_ml:down} at every place tried",
        NoPlaceForBed: "has no place that the bed takes",
        NoPlaceLeft: "has no place left beside the other parts",
        NotBookMatched: "gives no two neighboring leaves that hold it, opened like a book about its middle",
        NotLaminated: "is one layer of it at the most",
        NotOnEdge: "gives no strips with which a blank is wide enough and holds it",
        BedsRefuse: _beds_refuse,
        NoAllowedBed: "may be cut on no bed that all its orders allow",
        OnHold: _on_hold,
        Taken: "is taken",
        Spent: "is spent on other orders or copies",
        LeftForSet: "is usable, and left since its set is not whole",
        NotTried: "was not tried before the run was stopped",
        Undecided: _undecided,
    }
)
