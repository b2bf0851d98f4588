"""What the wood of a blank will do: movement over the year, and at each seam joint, step and mismatch.

Codes: ``G701`` movement, ``G702`` wood without figures, ``G703`` unlike moisture, ``G704`` step, ``G705``
grain that crosses, ``G706`` a joint that is no long-grain joint, ``G707`` moisture off the season.

How the growth rings stand is not known to the rack, so movement and steps are given as a range from
quartersawn to flatsawn.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nestyield.model import Blank, Member, Piece, Settings
from nestyield.model.facts import (
    CrossedJoint,
    EndGrainJoint,
    JointNote,
    LongGrainJoint,
    MoistureApart,
    MoistureOffSeason,
    MovementUnknown,
    SeasonalStep,
    SidesPull,
    WeakJoint,
    WidthMoves,
    WoodFact,
)
from nestyield.wood.joints import acute_deg, joint
from nestyield.wood.moisture import season_of
from nestyield.wood.movement import SeamSide, width_change_mm, worst_mismatch_mm, worst_step_mm
from nestyield.wood.own import own_wood, species_of
from nestyield.wood.species import Species

#: Moisture of a piece against that of its place of use: points (P).
MOISTURE_POINTS = 2.0
#: A step smaller than this is neither seen nor felt, millimeters (P).
LEAST_STEP_MM = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamWood:
    """The wood at one seam of a blank.

    Parameters
    ----------
    seam : str
    joint : JointNote
    crossing_deg : float
        Between the grain of the two sides.
    step_mm : (float, float)
        Largest step over the season with growth rings alike, and with flatsawn beside quartersawn. Zero
        where a species has no figures.
    step_flatsawn_mm, step_quartersawn_mm : float
        With both sides flatsawn, and with both quartersawn; the larger is the first of ``step_mm``.
    mismatch_mm : float
        By how much the sides would differ in length over the season if they were free.
    moisture_points : float or None
        Between the two pieces; None when one is not known.
    """

    seam: str
    joint: JointNote
    crossing_deg: float
    step_mm: tuple[float, float]
    mismatch_mm: float
    moisture_points: float | None
    step_flatsawn_mm: float = 0.0
    step_quartersawn_mm: float = 0.0


def grain_in_blank(piece: Piece, member: Member) -> float:
    """Return the direction of a member's grain in the blank, degrees, 0 to 180."""
    grain = piece.grain_deg or 0.0
    return ((180.0 - grain if member.mirrored else grain) + member.angle_deg) % 180.0


def seam_woods(blank: Blank, pieces: Mapping[str, Piece], settings: Settings) -> tuple[SeamWood, ...]:
    """Return the wood at each seam of a glue-up; seam ``k`` joins members ``k`` and ``k + 1``.

    Parameters
    ----------
    blank : Blank
        Without one seam fewer than members it is a piece that came glued: nothing is known then.
    pieces : mapping of str to Piece
    settings : Settings
    """
    if len(blank.seams) != len(blank.members) - 1:
        return ()
    season = season_of(settings.wood)
    crossed = settings.glueup.crossed_grain_deg
    found = []
    for seam, one, other in zip(blank.seams, blank.members, blank.members[1:], strict=False):
        sides = (one, pieces[one.piece]), (other, pieces[other.piece])
        (x0, y0), (x1, y1) = seam.line_mm[0], seam.line_mm[-1]
        direction = math.degrees(math.atan2(y1 - y0, x1 - x0))
        grains = [grain_in_blank(piece, member) for member, piece in sides]
        moist = [piece.moisture_pct for _, piece in sides]
        apart = None if moist[0] is None or moist[1] is None else abs(moist[0] - moist[1])
        steps, alike, mismatch = (0.0, 0.0), (0.0, 0.0), 0.0
        kinds = [_with_figures(piece, settings) for _, piece in sides]
        if kinds[0] and kinds[1]:
            a, b = (
                [
                    SeamSide(
                        species=kind,
                        moisture_pct=sum(season) / 2 if m is None else m,
                        ring_deg=ring,
                        grain_deg=acute_deg(grain, direction),
                    )
                    for ring in (0.0, 90.0)
                ]
                for kind, m, grain in zip(kinds, moist, grains, strict=True)
                if kind
            )
            worst = [[worst_step_mm(blank.thickness_mm, p, q, season) for q in b] for p in a]
            alike = (worst[0][0], worst[1][1])
            steps = (max(alike), max(worst[0][1], worst[1][0]))
            mismatch = worst_mismatch_mm(math.hypot(x1 - x0, y1 - y0), a[0], b[0], season)
        found.append(
            SeamWood(
                seam=seam.name,
                joint=joint(grains[0], grains[1], direction, crossed),
                crossing_deg=acute_deg(*grains),
                step_mm=steps,
                mismatch_mm=mismatch,
                moisture_points=apart,
                step_flatsawn_mm=alike[0],
                step_quartersawn_mm=alike[1],
            )
        )
    return tuple(found)


def movement_mm(blank: Blank, pieces: Mapping[str, Piece], settings: Settings) -> tuple[float, float] | None:
    """Return by how much the blank's width across the grain changes over the season, millimeters.

    Returns
    -------
    (float, float) or None
        Quartersawn and flatsawn; None for sheets, and where a species has no figures. For a glue-up of
        several species the one that moves most stands for all.
    """
    if blank.grain_deg is None:
        return None
    kinds = [_with_figures(pieces[m.piece], settings) for m in blank.members]
    known = [k for k in kinds if k]
    if not known or len(known) < len(kinds):
        return None
    across = math.radians(blank.grain_deg + 90.0)
    reach = [x * math.cos(across) + y * math.sin(across) for x, y in blank.shape.outer.points_mm]
    width, season = max(reach) - min(reach), season_of(settings.wood)
    return (
        max(width_change_mm(k, width, *season, 90.0) for k in known),
        max(width_change_mm(k, width, *season, 0.0) for k in known),
    )


def _with_figures(piece: Piece, settings: Settings) -> Species | None:
    found = species_of(piece.species, settings.own_woods)
    return found if found and found.c_radial is not None else None


def _own(used: Sequence[Piece], settings: Settings) -> tuple[str, ...]:
    """Return the species of the pieces whose figures are the maker's own."""
    names = {piece.species for piece in used}
    return tuple(sorted(n for n in names if own_wood(n, settings.own_woods) is not None))


def wood_facts(blank: Blank, pieces: Mapping[str, Piece], settings: Settings) -> tuple[WoodFact, ...]:
    """Return what a maker should know about the wood of a blank before gluing and cutting it.

    Parameters
    ----------
    blank : Blank
    pieces : mapping of str to Piece
        By name, all members of the blank.
    settings : Settings
        ``wood`` for the season, ``glueup`` for the limits.
    """
    if blank.grain_deg is None:
        return ()
    found: list[WoodFact] = []
    driest, dampest = (round(m, 4) for m in season_of(settings.wood))
    used = [pieces[m.piece] for m in blank.members]
    if moves := movement_mm(blank, pieces, settings):
        found.append(
            WidthMoves(
                quartersawn_um=_um(moves[0]),
                flatsawn_um=_um(moves[1]),
                driest_pct=driest,
                dampest_pct=dampest,
                own=_own(used, settings),
            )
        )
    else:
        strange = {piece.species for piece in used if not _with_figures(piece, settings)}
        found.append(MovementUnknown(species=tuple(sorted(strange))))
    low, high = driest - MOISTURE_POINTS, dampest + MOISTURE_POINTS
    for name in dict.fromkeys(m.piece for m in blank.members):
        moisture = pieces[name].moisture_pct
        if moisture is not None and not low <= moisture <= high:
            found.append(
                MoistureOffSeason(
                    piece=name, moisture_pct=moisture, low_pct=round(low, 4), high_pct=round(high, 4)
                )
            )
    limit = settings.glueup.moisture_difference
    for seam in seam_woods(blank, pieces, settings):
        if seam.moisture_points is not None and seam.moisture_points > limit:
            found.append(
                MoistureApart(
                    seam=seam.seam, difference_points=round(seam.moisture_points, 4), limit_points=limit
                )
            )
        if max(seam.step_mm) >= LEAST_STEP_MM:
            found.append(
                SeasonalStep(
                    seam=seam.seam,
                    alike_um=_um(seam.step_mm[0]),
                    unlike_um=_um(seam.step_mm[1]),
                    driest_pct=driest,
                    dampest_pct=dampest,
                )
            )
        if isinstance(seam.joint, CrossedJoint):
            found.append(
                SidesPull(
                    seam=seam.seam,
                    crossing_deg=round(seam.crossing_deg, 4),
                    mismatch_um=_um(seam.mismatch_mm),
                )
            )
        if not isinstance(seam.joint, LongGrainJoint):
            severe = isinstance(seam.joint, EndGrainJoint)
            found.append(
                WeakJoint(seam=seam.seam, joint=seam.joint, severity="warning" if severe else "note")
            )
    return tuple(found)


def _um(length_mm: float) -> int:
    return round(length_mm * 1000.0)
