"""How near a piece came to serving a part that found no place on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.model import Blank, Certificate, Part, Piece, Settings
from nestyield.model.facts import (
    DefectFilled,
    FitsIfRelaxed,
    LongerPiece,
    NarrowerGap,
    NarrowerMargin,
    NoPlace,
    NoPlaceForBed,
    NoPlaceLeft,
    OnHold,
    Refusal,
    Relaxation,
    TooMuchFiller,
    WiderGrainTolerance,
    WiderPiece,
    WrongShape,
)
from nestyield.model.micrometers import nearest_um
from nestyield.placement.relaxation import relaxations
from nestyield.placement.single import place_part
from nestyield.planning.extents import SLACK_MM, shortfall

#: Pieces that are long and wide enough for the part, yet refuse it, are looked into this often a want.
MOST_LOOKED_INTO = 4
#: Relaxations named for one piece.
MOST_RELAXATIONS = 3
#: Refusals that a closer look may put numbers to.
_VAGUE = (NoPlace, TooMuchFiller, NoPlaceForBed, NoPlaceLeft, OnHold)
#: A piece that a single defect spoils counts as this near, millimetres.
DEFECT_MM = 0.5


def too_small(part: Part, blank: Blank, settings: Settings) -> Refusal | None:
    """Refuse a blank that is shorter or narrower than the part at any allowed turn; None when it is not."""
    short = shortfall(part, blank, settings)
    return None if short.worst_mm <= SLACK_MM else short.refusal(blank.name)


def look_into(part: Part, blank: Blank, settings: Settings) -> FitsIfRelaxed | WrongShape:
    """Find what would let a part into a blank that is long and wide enough for it: each thing alone.

    Parameters
    ----------
    part : Part
    blank : Blank
        On which the part found no place.
    settings : Settings
    """
    found = relaxations(part, blank, settings)
    if not found:
        return WrongShape(piece=blank.name, blocked_by="shape and defects" if blank.defects else "shape")
    named = sorted(found, key=lambda relaxation: ORDER.index(type(relaxation)))[:MOST_RELAXATIONS]
    return FitsIfRelaxed(
        piece=blank.name,
        relaxations=tuple(named),
        far_um=nearest_um(min(_missing(relaxation) for relaxation in found)),
    )


#: What is named first: what the maker can change without other wood.
ORDER: tuple[type[Relaxation], ...] = (
    DefectFilled,
    NarrowerMargin,
    WiderGrainTolerance,
    NarrowerGap,
    WiderPiece,
    LongerPiece,
)


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
    """What a closer look at one piece found.

    Parameters
    ----------
    refusal : FitsIfRelaxed or WrongShape
    proof : Certificate or None
        That the piece does not hold the part.
    """

    refusal: FitsIfRelaxed | WrongShape
    proof: Certificate | None = None


def is_vague(refusal: Refusal) -> bool:
    """Tell whether a closer look may put a number to a refusal."""
    return isinstance(refusal, _VAGUE) and refusal.far_um is None


def worth_a_look(pieces: Sequence[Piece], refusals: Sequence[Refusal]) -> list[int]:
    """Return the rows whose refusals no number explains yet, the largest few, in the order of the rack."""
    vague = [i for i, r in enumerate(refusals) if is_vague(r)]
    vague.sort(key=lambda i: (-pieces[i].shape.area_mm2, i))
    return sorted(vague[:MOST_LOOKED_INTO])


def diagnose(part: Part, blank: Blank, settings: Settings) -> Diagnosis:
    """Find what would let a part into a blank that refuses it, and prove that it does.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    """
    return Diagnosis(
        refusal=look_into(part, blank, settings), proof=place_part(part, blank, settings).certificate
    )
