"""How near a piece came to serving a part that found no place on it."""

from __future__ import annotations

from collections.abc import Callable

from nestyield.model import Blank, Part, Settings
from nestyield.model.facts import (
    BedsRefuse,
    BetterMeasured,
    Blocked,
    DefectFilled,
    FitsIfRelaxed,
    LongerPiece,
    NarrowerGap,
    NarrowerMargin,
    Refusal,
    Relaxation,
    WiderGrainTolerance,
    WiderPiece,
    WrongShape,
)
from nestyield.model.micrometers import nearest_um
from nestyield.placement.relaxation import relaxations
from nestyield.placement.relaxed import Asked, relaxed
from nestyield.planning.extents import SLACK_MM, shortfall

#: Relaxations named for one piece.
MOST_RELAXATIONS = 3
#: A piece that a single defect spoils counts as this near, millimeters.
DEFECT_MM = 0.5


def too_small(part: Part, blank: Blank, settings: Settings) -> Refusal | None:
    """Refuse a blank that is shorter or narrower than the part at any allowed turn; None when it is not."""
    short = shortfall(part, blank, settings)
    return None if short.worst_mm <= SLACK_MM else short.refusal(blank.name)


#: Tells what speaks against a question as changed, beds and all; None when nothing does.
Against = Callable[[Asked], Refusal | None]


def look_into(
    part: Part, blank: Blank, settings: Settings, against: Against | None = None, closely: bool = True
) -> FitsIfRelaxed | WrongShape:
    """Find what would let a part into a blank that has no place for it: each thing alone.

    Parameters
    ----------
    part : Part
    blank : Blank
        On which the part found no place.
    settings : Settings
    against : callable, optional
        Tells of a part, a blank and settings, one of them relaxed, why the part is not placed there or no bed
        takes it; such a relaxation is of no help.
    closely : bool
        See `relaxations`.
    """
    asked = part, blank, settings
    every = relaxations(*asked, closely=closely)
    bars = [None if against is None else against(relaxed(asked, way)) for way in every]
    found = [way for way, bar in zip(every, bars) if bar is None]
    if not found:
        shape: Blocked = "shape and defects" if blank.defects else "shape"
        bed = next((bar for bar in bars if isinstance(bar, BedsRefuse)), None)
        return WrongShape(piece=blank.name, blocked_by="shape and beds" if bed else shape, bed=bed)
    named = sorted(found, key=lambda relaxation: ORDER.index(type(relaxation)))[:MOST_RELAXATIONS]
    return FitsIfRelaxed(
        piece=blank.name,
        relaxations=tuple(named),
        far_um=nearest_um(min(_missing(relaxation) for relaxation in found)),
    )


#: What is named first: what the maker can change without other wood.
ORDER: tuple[type[Relaxation], ...] = (
    BetterMeasured,
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
        case BetterMeasured():
            return (relaxation.measured_um - relaxation.needed_um) / 1000.0
        case DefectFilled():
            return DEFECT_MM
        case NarrowerMargin() | NarrowerGap():
            return (relaxation.required_um - relaxation.reachable_um) / 1000.0
        case WiderGrainTolerance():
            return 2.0 * (relaxation.needed_deg - relaxation.allowed_deg)
    return relaxation.missing_um / 1000.0
