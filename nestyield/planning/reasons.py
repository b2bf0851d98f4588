"""Why an order is not met: the closest piece first, then the whole rack by cause."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from nestyield.model import Part
from nestyield.model.facts import (
    BedsRefuse,
    Cause,
    ClosestRefusal,
    EmptyRack,
    FitsIfRelaxed,
    LeftForSet,
    NoAllowedBed,
    NoneReady,
    NoPieceOfSpecies,
    NotTried,
    OnHold,
    PiecesOnHold,
    PiecesSpent,
    RackCounts,
    Reason,
    Refusal,
    RowsRefused,
    SheetTooThick,
    Spent,
    StoppedBeforeTrying,
    Taken,
    TooHeavy,
    TooLight,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    Undecided,
    WeightUnknown,
    WrongShape,
    WrongSpecies,
)
from nestyield.model.micrometers import nearest_um

#: Causes in the order in which they are counted.
CAUSES: tuple[Cause, ...] = (
    "spent",
    "left for a set",
    "on no bed",
    "without a place",
    "too thin",
    "too thick",
    "of other species",
    "of other weight",
    "on hold",
    "taken",
    "not tried",
    "undecided",
)
#: Causes that are compared by how far a piece is from being usable.
_OF_SIZE: tuple[Cause, ...] = ("without a place", "too thin", "too thick")
# All other refusals are for want of a place.
_CAUSE_OF: dict[type[Refusal], Cause] = {
    Spent: "spent",
    LeftForSet: "left for a set",
    BedsRefuse: "on no bed",
    NoAllowedBed: "on no bed",
    TooThin: "too thin",
    TooThinWhenPlaned: "too thin",
    TooThick: "too thick",
    SheetTooThick: "too thick",
    WrongSpecies: "of other species",
    TooHeavy: "of other weight",
    TooLight: "of other weight",
    WeightUnknown: "of other weight",
    OnHold: "on hold",
    Taken: "taken",
    NotTried: "not tried",
    Undecided: "undecided",
}


def cause_of(refusal: Refusal) -> Cause:
    """Return the cause by which a refusal is counted."""
    return _CAUSE_OF.get(type(refusal), "without a place")


def reasons_for(
    part: Part, refusals: Sequence[Refusal], used: Collection[str] = (), *, stopped: bool = False
) -> tuple[Reason, ...]:
    """Return the reasons for what is missing of an order, most telling first.

    Parameters
    ----------
    part : Part
    refusals : sequence of Refusal
        One a piece, in the order of the rack; pieces on hold and taken ones too.
    used : collection of str
        Pieces of which the plan uses every copy: they come after others that are as certain to help.
    stopped : bool
        Whether the run was stopped early: then a piece that was not tried comes before what others lack.
    """
    if not refusals:
        return (EmptyRack(),)
    found = {cause: [r for r in refusals if cause_of(r) == cause] for cause in CAUSES}
    counts = tuple(RowsRefused(rows=len(of), cause=cause) for cause, of in found.items() if of)
    return (*_closest(part, found, used, stopped), RackCounts(rows=len(refusals), refused=counts))


def is_certain(refusal: Refusal) -> bool:
    """Tell whether a refusal has an amount that does help."""
    return isinstance(refusal, FitsIfRelaxed) or bool(getattr(refusal, "enough", False))


def closest_row(
    part: Part, refusals: Sequence[Refusal], used: Collection[str] = (), *, stopped: bool = False
) -> int | None:
    """Return the index of the refusal that is told as the closest, or None when none is."""
    for reason in reasons_for(part, refusals, used, stopped=stopped):
        if isinstance(reason, ClosestRefusal):
            return next(i for i, r in enumerate(refusals) if r is reason.refusal)
    return None


def _closest(
    part: Part, found: dict[Cause, list[Refusal]], used: Collection[str], stopped: bool
) -> list[Reason]:
    if found["left for a set"]:
        return []
    spent = tuple(r.piece for r in found["spent"])
    held = tuple(r.piece for r in found["on hold"] if isinstance(r, OnHold) and r.usable)
    reasons: list[Reason] = []
    if spent:
        reasons.append(PiecesSpent(pieces=spent))
    if held:
        reasons.append(PiecesOnHold(pieces=held))
    if found["undecided"]:
        reasons.append(_nearest(part, found["undecided"], used))
    if found["on no bed"]:
        reasons.append(_nearest(part, found["on no bed"], used))
    if found["not tried"] and stopped:
        return [*reasons, StoppedBeforeTrying()]
    if reasons:
        return reasons
    of_wood = [r for cause in _OF_SIZE for r in found[cause]]
    for refusals in (found["of other weight"], of_wood):
        if refusals:
            return [_nearest(part, refusals, used)]
    if found["not tried"]:
        return [StoppedBeforeTrying()]
    held_or_taken = found["on hold"] or found["taken"]
    return [NoneReady(species=part.species) if held_or_taken else NoPieceOfSpecies(species=part.species)]


def _nearest(part: Part, refusals: Sequence[Refusal], used: Collection[str]) -> ClosestRefusal:
    nearest = min(refusals, key=lambda r: _distance(r, r.piece in used))
    return ClosestRefusal(
        species=part.species,
        thickness_um=nearest_um(part.thickness_mm),
        refusal=nearest,
        used=nearest.piece in used,
    )


def _off_g(refusal: Refusal) -> int | None:
    """Return by how much a part would be too heavy or too light, grams; None for other refusals."""
    if isinstance(refusal, TooHeavy):
        return round(1000 * (refusal.weight_kg - refusal.most_kg))
    return round(1000 * (refusal.least_kg - refusal.weight_kg)) if isinstance(refusal, TooLight) else None


def _distance(refusal: Refusal, used: bool) -> tuple[int, bool, int]:
    """Return what refusals are compared by: those with an amount that helps first, the wrong shape next."""
    far_um = refusal.far_um
    if (off_g := _off_g(refusal)) is not None:
        return 1, used, off_g
    if far_um is not None and is_certain(refusal):
        return 0, used, far_um
    if isinstance(refusal, WrongShape):
        return 1, used, 0
    return (3, used, 0) if far_um is None else (2, used, far_um)
