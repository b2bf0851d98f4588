"""How near a piece came to serving a part that found no place on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.model import Blank, Certificate, Part, Piece, Settings, Units
from nestyield.model.facts import (
    DefectFilled,
    LongerPiece,
    NarrowerGap,
    NarrowerMargin,
    Relaxation,
    WiderGrainTolerance,
    WiderPiece,
)
from nestyield.placement.relaxation import relaxations
from nestyield.placement.single import place_part
from nestyield.planning.extents import SLACK_MM, shortfall
from nestyield.planning.stock import Refusal
from nestyield.words import Words, fill

#: Pieces that are long and wide enough for the part, yet refuse it, are looked into this often a want.
MOST_LOOKED_INTO = 4
#: Reliefs told for one piece.
MOST_RELAXATIONS = 3
#: A piece that a single defect spoils counts as this near, millimetres.
DEFECT_MM = 0.5


def too_small(part: Part, blank: Blank, settings: Settings, units: Units = "mm") -> Refusal | None:
    """Refuse a blank that is shorter or narrower than the part at any allowed turn; None when it is not."""
    short = shortfall(part, blank, settings)
    if short.worst_mm <= SLACK_MM:
        return None
    return Refusal(piece=blank.name, cause="shape", text=short.text(units), short_mm=short.worst_mm)


def look_into(part: Part, blank: Blank, settings: Settings, units: Units = "mm") -> Refusal:
    """Tell what would let a part into a blank that is long and wide enough for it: each thing alone.

    Parameters
    ----------
    part : Part
    blank : Blank
        On which the part found no place.
    settings : Settings
    units : {"mm", "in"}
        Of the shop.
    """
    found = relaxations(part, blank, settings)
    if not found:
        text = "its shape and defects leave no room" if blank.defects else "its shape leaves no room"
        return Refusal(piece=blank.name, cause="shape", text=text, short_mm=1e6)
    named = sorted(found, key=lambda relaxation: ORDER.index(type(relaxation)))[:MOST_RELAXATIONS]
    return Refusal(
        piece=blank.name,
        cause="shape",
        text=f"it would go there with {', or '.join(_text(relaxation, units) for relaxation in named)}",
        short_mm=min(_missing(relaxation) for relaxation in found),
    )


#: What is told first: what the maker can change without other wood.
ORDER: tuple[type[Relaxation], ...] = (
    DefectFilled,
    NarrowerMargin,
    WiderGrainTolerance,
    NarrowerGap,
    WiderPiece,
    LongerPiece,
)
_TEXTS: dict[type[Relaxation], str] = {
    DefectFilled: "{kind} {defect} filled or allowed",
    NarrowerMargin: "a margin of {reachable_um:fine down} instead of {required_um:setting}",
    WiderGrainTolerance: "a grain tolerance of {needed_deg} instead of {allowed_deg}",
    NarrowerGap: "a gap of {reachable_um:fine down} between parts instead of {required_um:setting}",
    WiderPiece: "a piece {missing_um:up} wider (across the grain), leaving defects aside",
    LongerPiece: "a piece {missing_um:up} longer (along the grain), leaving defects aside",
}


def _text(relaxation: Relaxation, units: Units) -> str:
    return fill(_TEXTS[type(relaxation)], relaxation, Words(units))


def _missing(relaxation: Relaxation) -> float:
    """Return how far a relaxation is from what there is, as a distance to compare pieces by."""
    match relaxation:
        case DefectFilled():
            return DEFECT_MM
        case NarrowerMargin() | NarrowerGap():
            return (relaxation.required_um - relaxation.reachable_um) / 1000.0
        case WiderGrainTolerance():
            return 2.0 * (relaxation.needed_deg - relaxation.allowed_deg)
    return relaxation.missing_um / 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """What a closer look at one piece told.

    Parameters
    ----------
    refusal : Refusal
    proof : Certificate or None
        That the piece does not hold the part.
    """

    refusal: Refusal
    proof: Certificate | None = None


def worth_a_look(pieces: Sequence[Piece], refusals: Sequence[Refusal]) -> list[int]:
    """Return the rows whose refusals no number explains yet, the largest few, in the order of the rack."""
    vague = [
        i for i, r in enumerate(refusals) if r.cause in ("shape", "on hold") and r.short_mm == float("inf")
    ]
    vague.sort(key=lambda i: (-pieces[i].shape.area_mm2, i))
    return sorted(vague[:MOST_LOOKED_INTO])


def diagnose(part: Part, blank: Blank, settings: Settings, units: Units = "mm") -> Diagnosis:
    """Tell what would let a part into a blank that refuses it, and prove that it does.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    units : {"mm", "in"}
        Of the shop.
    """
    return Diagnosis(
        refusal=look_into(part, blank, settings, units), proof=place_part(part, blank, settings).certificate
    )
