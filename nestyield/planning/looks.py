"""Looks into pieces that refuse a part: first nearly, then, at the one that is told, closely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

from nestyield.model import Axis, Bed, Blank, Certificate, Part, Piece, Settings
from nestyield.model.facts import (
    BedsRefuse,
    FitsIfRelaxed,
    NoPlace,
    NoPlaceForBed,
    NoPlaceLeft,
    OnHold,
    Refusal,
    SheetTooThick,
    TooMuchFiller,
    TooNarrow,
    TooNarrowAnyWay,
    TooShort,
    TooShortAndNarrow,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    TravelShort,
)
from nestyield.model.micrometers import UM_PER_MM
from nestyield.placement.relaxation import CLOSE, CLOSE_MM
from nestyield.placement.relaxed import Asked
from nestyield.placement.single import place_part
from nestyield.placement.stock import blank_of, unsuitable
from nestyield.planning.candidates import sawn_first
from nestyield.planning.diagnose import look_into, too_small
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.workers import Job

#: Pieces that are long and wide enough for the part, yet refuse it, are looked into this often a want.
MOST_LOOKED_INTO = 4
#: Of the pieces that are too small so many are looked into.
MOST_NEAR = 3
#: Of the pieces whose thickness alone refuses the part so many are looked into.
MOST_OF_THICKNESS = 3
#: Relaxations for which it is looked whether a piece that no bed takes can be sawn first; it takes long.
MOST_ASKED_SAWN = 1
#: Refusals that a look may put numbers to.
_VAGUE = (NoPlace, TooMuchFiller, NoPlaceForBed, NoPlaceLeft, OnHold)
_SMALL = (TooShort, TooNarrow, TooShortAndNarrow, TooNarrowAnyWay)
_OF_THICKNESS = (TooThin, TooThinWhenPlaned, TooThick, SheetTooThick)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """What a closer look at one piece found.

    Parameters
    ----------
    refusal : Refusal
        With amounts that do help, and hardly less does not; as it was where no such amount was found.
    proof : Certificate or None
        That the piece does not hold the part.
    """

    refusal: Refusal
    proof: Certificate | None = None


def is_vague(refusal: Refusal) -> bool:
    """Tell whether a closer look may put a number to a refusal."""
    return isinstance(refusal, _VAGUE) and refusal.far_um is None


def worth_a_look(
    pieces: Sequence[Piece], refusals: Sequence[Refusal], part: Part, settings: Settings
) -> list[int]:
    """Return the rows to look into, in the order of the rack.

    The largest that no number refuses, the nearest of those that are too small, and the nearest of those that are
    large enough, but too thin or too thick.
    """
    vague = [i for i, r in enumerate(refusals) if is_vague(r)]
    vague.sort(key=lambda i: (-pieces[i].shape.area_mm2, i))
    small = [i for i, r in enumerate(refusals) if isinstance(r, _SMALL)]
    small.sort(key=lambda i: (refusals[i].far_um or 0, i))
    thick = [i for i, r in enumerate(refusals) if isinstance(r, _OF_THICKNESS)]
    thick.sort(key=lambda i: (refusals[i].far_um or 0, i))
    large = (i for i in thick if too_small(part, blank_of(pieces[i]), settings) is None)
    return sorted(vague[:MOST_LOOKED_INTO] + small[:MOST_NEAR] + list(islice(large, MOST_OF_THICKNESS)))


def look_at_row(job: Job, want: int, row: int, refusal: Refusal) -> Diagnosis:
    """Find nearly what would let a want onto a piece that has no place for it, beds aside, and whether thickness is all.

    Parameters
    ----------
    job : Job
    want, row : int
        Indices into the job's demands and the shop's pieces.
    refusal : Refusal
        What was found without a look.
    """
    if isinstance(refusal, _OF_THICKNESS):
        return look_closely(job, want, row, refusal)
    part, blank = job.shop.part(job.demands[want].part), blank_of(job.shop.pieces[row])
    found = look_into(part, blank, job.shop.settings, closely=False)
    if isinstance(refusal, _SMALL):
        return Diagnosis(refusal=found if isinstance(found, FitsIfRelaxed) else refusal)
    return Diagnosis(refusal=found, proof=place_part(part, blank, job.shop.settings).certificate)


def look_closely(job: Job, want: int, row: int, refusal: Refusal) -> Diagnosis:
    """Find what does let a want onto a piece of the rack that refuses it, beds and all, and hardly less does not.

    Parameters
    ----------
    job : Job
    want, row : int
        Indices into the job's demands and the shop's pieces.
    refusal : Refusal
        What was found without a close look.

    Returns
    -------
    Diagnosis
        The refusal as it was where nothing helps for certain.
    """
    shop = job.shop
    part, piece, settings = shop.part(job.demands[want].part), shop.pieces[row], shop.settings
    blank = blank_of(piece)

    asked_sawn: list[Asked] = []

    def against(asked: Asked) -> Refusal | None:
        own, on, rules = asked
        parts = tuple(own if p.name == own.name else p for p in shop.parts)
        changed = replace(piece, shape=on.shape, defects=on.defects, thickness_mm=on.thickness_mm)
        pieces = (*shop.pieces[:row], changed, *shop.pieces[row + 1 :])
        context = LayoutContext(
            shop=replace(shop, parts=parts, settings=rules, pieces=pieces), demands=job.demands, blank=on
        )
        bar = context.add((), want)[1]
        if not isinstance(bar, BedsRefuse) or len(asked_sawn) == MOST_ASKED_SAWN:
            return bar
        asked_sawn.append(asked)
        return None if sawn_first(context, row, [want], ()) else bar

    if isinstance(refusal, _OF_THICKNESS):
        other, rules = _right_thickness(piece, settings, refusal)
        fits = unsuitable(part, other, rules) is None and against((part, blank_of(other), rules)) is None
        return Diagnosis(refusal=replace(refusal, enough=fits))
    if isinstance(refusal, BedsRefuse):
        return Diagnosis(refusal=_travel(job, want, blank, refusal))
    if not isinstance(refusal, FitsIfRelaxed):
        return Diagnosis(refusal=refusal)
    found = look_into(part, blank, settings, against)
    small = too_small(part, blank, settings)
    known = small is None or isinstance(found, FitsIfRelaxed) or found.bed is not None
    return Diagnosis(refusal=found if known or small is None else small)


def _right_thickness(piece: Piece, settings: Settings, refusal: Refusal) -> tuple[Piece, Settings]:
    """Return a piece and settings with what is told of its thickness done: a setting raised, or planed less."""
    far_mm = (refusal.far_um or 0) / UM_PER_MM
    if isinstance(refusal, TooThinWhenPlaned):
        return piece.of_thickness(piece.thickness_mm + far_mm), settings
    if isinstance(refusal, TooThick):
        return piece, replace(settings, most_planed_away_mm=settings.most_planed_away_mm + far_mm)
    return piece, replace(settings, thickness_tolerance_mm=settings.thickness_tolerance_mm + far_mm)


def looked_into(job: Job, want: int, row: int, refusal: Refusal) -> Refusal:
    """Return the refusal of one row after a look and a close look."""
    if is_vague(refusal) or isinstance(refusal, _SMALL):
        refusal = look_at_row(job, want, row, refusal).refusal
    return look_closely(job, want, row, refusal).refusal


def _travel(job: Job, want: int, blank: Blank, refusal: BedsRefuse) -> BedsRefuse:
    """Return what a bed refuses with the least travel that would do, where travel along one axis is all it lacks."""
    if len(refusal.why) != 1 or not isinstance(refusal.why[0], TravelShort):
        return refusal
    short = refusal.why[0]

    def fits(more_um: int) -> bool:
        beds = tuple(
            _with_travel(b, short.axis, more_um) if b.name == refusal.bed else b for b in job.shop.beds
        )
        context = LayoutContext(shop=replace(job.shop, beds=beds), demands=job.demands, blank=blank)
        return context.add((), want)[0] is not None

    low, high = 0, short.short_um
    if not fits(high):
        return refusal
    while high - low > max(CLOSE * high, CLOSE_MM * UM_PER_MM):
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    exact = replace(short, needs_um=short.travel_um + high, short_um=high)
    return replace(refusal, why=(exact,), far_um=high, enough=True)


def _with_travel(bed: Bed, axis: Axis, more_um: int) -> Bed:
    """Return a bed with more travel along one axis, and a table that is longer by as much."""
    more = more_um / UM_PER_MM
    if axis == "x":
        low, high = bed.table_x_mm
        return replace(bed, travel_x_mm=bed.travel_x_mm + more, table_x_mm=(low, high + more))
    low, high = bed.table_y_mm
    return replace(bed, travel_y_mm=bed.travel_y_mm + more, table_y_mm=(low, high + more))
