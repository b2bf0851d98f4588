"""How near a piece came to serving a part that found no place on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.model import Blank, Certificate, Part, Piece, Settings, Units
from nestyield.placement.relaxation import Relaxation, relaxations
from nestyield.placement.single import place_part
from nestyield.planning.extents import SLACK_MM, shortfall
from nestyield.planning.stock import Refusal

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


def look_into(part: Part, blank: Blank, settings: Settings) -> Refusal:
    """Tell what would let a part into a blank that is long and wide enough for it: each thing alone.

    Parameters
    ----------
    part : Part
    blank : Blank
        On which the part found no place.
    settings : Settings
    """
    found = relaxations(part, blank, settings)
    if not found:
        text = "its shape and defects leave no room" if blank.defects else "its shape leaves no room"
        return Refusal(piece=blank.name, cause="shape", text=text, short_mm=1e6)
    named = sorted(found, key=lambda relaxation: ORDER.index(relaxation.kind))[:MOST_RELAXATIONS]
    return Refusal(
        piece=blank.name,
        cause="shape",
        text=f"it would go there with {', or '.join(relief.text for relief in named)}",
        short_mm=min(_missing(relaxation, part, settings) for relaxation in found),
    )


#: What is told first: what the maker can change without other wood.
ORDER = ("fill defect", "margin", "grain tolerance", "gap", "wider", "longer")


def _missing(relaxation: Relaxation, part: Part, settings: Settings) -> float:
    """Return how far a relief is from what there is, as a distance to compare pieces by."""
    if relaxation.kind == "fill defect":
        return DEFECT_MM
    if relaxation.kind == "margin":
        return settings.blank_margin_mm - relaxation.amount
    if relaxation.kind == "gap":
        return settings.gap_mm - relaxation.amount
    if relaxation.kind == "grain tolerance":
        return 2.0 * (relaxation.amount - part.grain_tolerance_deg)
    return relaxation.amount


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


def diagnose(part: Part, blank: Blank, settings: Settings) -> Diagnosis:
    """Tell what would let a part into a blank that refuses it, and prove that it does.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    """
    return Diagnosis(
        refusal=look_into(part, blank, settings), proof=place_part(part, blank, settings).certificate
    )
