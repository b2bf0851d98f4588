"""What the wood of a blank with seams will do, worked out again: joints, moisture, movement, rules broken.

Coefficients of change come from the table of species, the moisture of air from the handbook's equation; all
else is derived here.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestyield.audit.curves import points_of
from nestyield.audit.facts import SAME, compare
from nestyield.audit.reinforcements import line_of
from nestyield.audit.seam_rules import check_own_seams
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.model import GlueUp, Member, Piece, Seam
from nestyield.model.facts import (
    AlongScrews,
    CrossedJoint,
    EndGrainJoint,
    GrainOffPart,
    InNoSeamZone,
    JointNote,
    LongGrainJoint,
    MoistureApart,
    MoistureOffSeason,
    MovementUnknown,
    NearHole,
    NearOutline,
    SeamRuleBroken,
    SeasonalStep,
    SidesPull,
    SlantedJoint,
    UnlikeSpecies,
    WeakJoint,
    WidthMoves,
    WoodFact,
)
from nestyield.model.facts.sources import Mark
from nestyield.wood.moisture import moisture_in_air
from nestyield.wood.species import find, key_of

#: Change along the grain a point of moisture: 0.15 % over 30 points (handbook).
LENGTHWISE = 0.0015 / 30
#: Strength in per cent by the run of a slanted seam (handbook figures, from memory), and steeper than these.
QUOTED = ((12, 90.0), (10, 85.0), (8, 80.0), (5, 65.0))
END_GRAIN_PCT = 25.0
CROSSED_PCT = 100.0 / 3.0
#: Clamping pressure by density class, pounds-force a square inch (practice); softer woods first.
PRESSURE_PSI = {"soft": (100.0, 150.0), "medium": (150.0, 200.0), "dense": (200.0, 300.0)}
#: A moisture off the season by more is reported, points; and a step from this on, millimeters.
SETTLED_POINTS = 2.0
LEAST_STEP_MM = 0.1
#: Steps and widths are right to this, millimeters; angles that near to a limit may count either way.
SAME_MM = 0.01
_ANGLE_DEG = 1e-3
#: A rule that is broken is broken by so much, give or take this, millimeters.
_INSIDE_MM = 0.15


def angle_between(one: float, other: float) -> float:
    """Return the angle between two directions, 0 to 90 degrees."""
    return abs(math.remainder(one - other, 180.0))


def grain_of(piece: Piece, member: Member) -> float:
    """Return the direction of a member's grain in the blank, degrees."""
    own = piece.grain_deg or 0.0
    return (180.0 - own if member.mirrored else own) + member.angle_deg


def joints(one: float, other: float, along: float, crossed: float) -> tuple[JointNote, list[JointNote]]:
    """Return the joint of two grains at a seam, and those that it may be if an angle is a hair off.

    Parameters
    ----------
    one, other, along : float
        Directions of both grains and of the seam, degrees.
    crossed : float
        The grain crosses when it differs by more.
    """
    steep = max(angle_between(one, along), angle_between(other, along))
    cross = angle_between(one, other)
    found = [
        _joint(steep + e, cross + f, crossed)
        for e in (0.0, -_ANGLE_DEG, _ANGLE_DEG)
        for f in (0.0, -_ANGLE_DEG, _ANGLE_DEG)
    ]
    return found[0], found[1:]


def _joint(steep: float, cross: float, crossed: float) -> JointNote:
    if steep >= 60.0:
        return EndGrainJoint(strength_pct=END_GRAIN_PCT, source="GTR-190 joints")
    slope = math.tan(math.radians(max(steep, 0.0)))
    if cross > crossed:
        return CrossedJoint(
            crossing_deg=cross, strength_pct=min(CROSSED_PCT, _slanted(steep)), source="FPL 1522"
        )
    if slope > 1 / 25:
        return SlantedJoint(run=round(1 / slope), strength_pct=_slanted(steep), source="GTR-190 scarf")
    return LongGrainJoint(strength_pct=100.0, source="GTR-190 joints")


def _slanted(steep: float) -> float:
    """Return strength at an angle, straight between the quoted slopes; steeper than all that of end grain."""
    before, full = 0.0, 100.0
    for run, value in QUOTED:
        here = math.degrees(math.atan(1 / run))
        if steep <= here + 1e-9:
            return full + (value - full) * (steep - before) / (here - before)
        before, full = here, value
    return END_GRAIN_PCT


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A board beside a seam: moisture, and change a point of moisture through the thickness and on the face.

    Parameters
    ----------
    moisture_pct : float
    radial, tangential : float
    across : float
        Share of the change across the grain that shows along the seam.
    """

    moisture_pct: float
    radial: float
    tangential: float
    across: float


@dataclass(frozen=True, slots=True)
class Figures:
    """Change of size of a wood a point of moisture content, and how far that can be trusted."""

    radial: float
    tangential: float
    mark: Mark


def figures_of(bench: CheckedBlank, name: str) -> Figures | None:
    """Return the figures of a wood: by the shrinkage of the shop file, else those of the species table."""
    for own in bench.sheet.plan.shop.settings.own_woods:
        if key_of(own.name) == key_of(name):
            if own.radial_pct is None or own.tangential_pct is None:
                return None
            radial, tangential = (s / (3000 - 20 * s) for s in (own.radial_pct, own.tangential_pct))
            return Figures(round(radial, 5), round(tangential, 5), "O")
    found = find(name)
    if found is None or found.c_radial is None or found.c_tangential is None:
        return None
    return Figures(found.c_radial, found.c_tangential, found.coefficient_mark)


def density_of(bench: CheckedBlank, name: str) -> str | None:
    """Return the class of a wood for clamps; None where nothing is known of it."""
    for own in bench.sheet.plan.shop.settings.own_woods:
        if key_of(own.name) == key_of(name):
            density = own.density_kg_m3
            if density is None or 500 <= density <= 650:
                return "medium"
            return "soft" if density < 500 else "dense"
    found = find(name)
    return None if found is None else found.density


def season_of(bench: CheckedBlank) -> tuple[float, float]:
    """Return the moisture that wood comes to in the driest and the dampest air of the shop's year."""
    wood = bench.sheet.plan.shop.settings.wood
    dry, damp = wood.humidity_low, wood.humidity_high
    return moisture_in_air(dry, wood.temperature), moisture_in_air(damp, wood.temperature)


def _sides(bench: CheckedBlank, k: int, pieces: Sequence[Piece], season: tuple[float, float]) -> list[Side]:
    """Return both sides of seam k; an empty list where a species has no figures."""
    blank = bench.layout.blank
    out = []
    for i in (k, k + 1):
        figures = figures_of(bench, pieces[i].species)
        if figures is None:
            return []
        _, along = line_of(blank.seams[k])
        angle = math.degrees(math.atan2(along.imag, along.real))
        moisture = pieces[i].moisture_pct
        out.append(
            Side(
                moisture_pct=sum(season) / 2 if moisture is None else moisture,
                radial=figures.radial,
                tangential=figures.tangential,
                across=math.sin(math.radians(grain_of(pieces[i], blank.members[i]) - angle)) ** 2,
            )
        )
    return out


def steps_of(sides: list[Side], thickness: float, season: tuple[float, float]) -> tuple[float, float, float]:
    """Return the largest step with both sides flatsawn, both quartersawn, and one of each, millimeters.

    Flatsawn wood moves through its thickness as it does along its rays, quartersawn wood as along its rings.
    """
    a, b = sides

    def step(one: float, other: float) -> float:
        return max(
            abs(thickness * (one * (m - a.moisture_pct) - other * (m - b.moisture_pct))) for m in season
        )

    return (
        step(a.radial, b.radial),
        step(a.tangential, b.tangential),
        max(step(a.radial, b.tangential), step(a.tangential, b.radial)),
    )


def mismatch_of(sides: list[Side], length: float, season: tuple[float, float]) -> float:
    """Return by how much flatsawn sides would differ in length over the season, millimeters."""

    def grows(side: Side, moisture: float) -> float:
        share = LENGTHWISE + (side.tangential - LENGTHWISE) * side.across
        return length * share * (moisture - side.moisture_pct)

    return max(abs(grows(sides[0], m) - grows(sides[1], m)) for m in season)


def check_wood(bench: CheckedBlank) -> None:
    """Check the facts of the wood of one blank, and the rules that it is said to break."""
    blank = bench.layout.blank
    pieces = [p for m in blank.members if (p := bench.sheet.pieces.get(m.piece)) is not None]
    if not blank.seams:
        compare(bench, "A126", bench.layout.wood, ())
        return
    if len(pieces) < len(blank.members):
        return
    surely: list[WoodFact] = []
    maybe: list[WoodFact] = []
    _grain_off(bench, pieces, surely, maybe)
    kinds = tuple(dict.fromkeys(p.species for p in pieces))
    if len(kinds) > 1:
        surely.append(UnlikeSpecies(species=kinds))
    if blank.grain_deg is not None:
        season = season_of(bench)
        _movement(bench, pieces, season, surely)
        _moisture(bench, pieces, season, surely, maybe)
        if len(blank.seams) == len(blank.members) - 1:
            for k, seam in enumerate(blank.seams):
                _seam(bench, k, seam, pieces, season, surely, maybe)
    if len(blank.members) == 1:
        check_own_seams(bench)
    broken = [f for f in bench.layout.wood if isinstance(f, SeamRuleBroken)]
    compare(bench, "A126", [f for f in bench.layout.wood if f not in broken], surely, maybe)
    for fact in broken:
        _broken(bench, fact)


def _movement(
    bench: CheckedBlank, pieces: Sequence[Piece], season: tuple[float, float], surely: list[WoodFact]
) -> None:
    blank = bench.layout.blank
    known = {p.species: figures_of(bench, p.species) for p in pieces}
    strange = sorted(n for n, s in known.items() if s is None)
    if strange:
        surely.append(MovementUnknown(species=tuple(strange)))
        return
    a = math.radians((blank.grain_deg or 0.0) + 90.0)
    width = float(np.ptp(points_of(blank.shape.outer) @ np.array([math.cos(a), math.sin(a)])))
    most = [max(getattr(s, c) for s in known.values()) for c in ("radial", "tangential")]
    points = season[1] - season[0]
    surely.append(
        WidthMoves(
            quartersawn_um=round(1000 * width * most[0] * points),
            flatsawn_um=round(1000 * width * most[1] * points),
            driest_pct=season[0],
            dampest_pct=season[1],
            own=tuple(sorted(n for n, s in known.items() if s is not None and s.mark == "O")),
        )
    )


def _moisture(
    bench: CheckedBlank,
    pieces: Sequence[Piece],
    season: tuple[float, float],
    surely: list[WoodFact],
    maybe: list[WoodFact],
) -> None:
    low, high = season[0] - SETTLED_POINTS, season[1] + SETTLED_POINTS
    for piece in pieces:
        moisture = piece.moisture_pct
        if moisture is None or low + SAME < moisture < high - SAME:
            continue
        fact = MoistureOffSeason(piece=piece.name, moisture_pct=moisture, low_pct=low, high_pct=high)
        (surely if not low - SAME <= moisture <= high + SAME else maybe).append(fact)


def _seam(
    bench: CheckedBlank,
    k: int,
    seam: Seam,
    pieces: Sequence[Piece],
    season: tuple[float, float],
    surely: list[WoodFact],
    maybe: list[WoodFact],
) -> None:
    blank, settings = bench.layout.blank, bench.sheet.plan.shop.settings.glueup
    one, other = pieces[k].moisture_pct, pieces[k + 1].moisture_pct
    if one is not None and other is not None:
        apart, limit = abs(one - other), settings.moisture_difference
        if apart > limit - SAME:
            fact = MoistureApart(seam=seam.name, difference_points=apart, limit_points=limit)
            (surely if apart > limit + 1e-6 else maybe).append(fact)
    sides = _sides(bench, k, pieces, season)
    mismatch = 0.0
    if sides:
        flat, quarter, unlike = steps_of(sides, blank.thickness_mm, season)
        mismatch = mismatch_of(sides, math.dist(seam.line_mm[0], seam.line_mm[-1]), season)
        most = max(flat, quarter, unlike)
        if most > LEAST_STEP_MM - SAME_MM:
            step = SeasonalStep(
                seam=seam.name,
                alike_um=round(1000 * max(flat, quarter)),
                unlike_um=round(1000 * unlike),
                driest_pct=season[0],
                dampest_pct=season[1],
            )
            (surely if most > LEAST_STEP_MM + SAME_MM else maybe).append(step)
    true, near = seam_joint(bench, k, pieces)
    certain = all(type(n) is type(true) for n in near)
    for each in (true, *near):
        found = surely if certain and each is true else maybe
        if isinstance(each, CrossedJoint):
            pull = SidesPull(
                seam=seam.name, crossing_deg=each.crossing_deg, mismatch_um=round(1000 * mismatch)
            )
            found.append(pull)
        if not isinstance(each, LongGrainJoint):
            severe = isinstance(each, EndGrainJoint)
            found.append(WeakJoint(seam=seam.name, joint=each, severity="warning" if severe else "note"))


def seam_joint(bench: CheckedBlank, k: int, pieces: Sequence[Piece]) -> tuple[JointNote, list[JointNote]]:
    """Return the joint of seam k, and those that it may be if an angle is a hair off."""
    blank = bench.layout.blank
    (x0, y0), (x1, y1) = blank.seams[k].line_mm[0], blank.seams[k].line_mm[-1]
    grains = [grain_of(pieces[i], blank.members[i]) for i in (k, k + 1)]
    crossed = bench.sheet.plan.shop.settings.glueup.crossed_grain_deg
    return joints(grains[0], grains[1], math.degrees(math.atan2(y1 - y0, x1 - x0)), crossed)


def _grain_off(
    bench: CheckedBlank, pieces: Sequence[Piece], surely: list[WoodFact], maybe: list[WoodFact]
) -> None:
    members = bench.layout.blank.members
    for laid in bench.laid if len(members) > 1 else ():
        if laid.part.grain_deg is None:
            continue
        drawn = laid.part.grain_deg
        lies = (-drawn if laid.placement.mirrored else drawn) + laid.placement.angle_deg
        for piece, member in zip(pieces, members):
            off = angle_between(grain_of(piece, member), lies)
            most = laid.part.grain_tolerance_deg
            if off <= most:
                continue
            fact = GrainOffPart(part=laid.part.name, piece=piece.name, off_deg=off, tolerance_deg=most)
            (surely if off > most + 2 * _ANGLE_DEG else maybe).append(fact)


def _broken(bench: CheckedBlank, fact: SeamRuleBroken) -> None:
    """Check that a seam breaks a rule as it is said to, under the placement that is named."""
    seam = next((s for s in bench.layout.blank.seams if s.name == fact.seam), None)
    under = [laid for laid in bench.laid if laid.index == fact.placement and laid.part.name == fact.part]
    if seam is None or not under:
        bench.say("A126", f"{fact.seam} or {fact.part} is not there", fact.seam)
        return
    depths = [d for laid in under for d in _inside(bench, fact, seam, laid)]
    told = fact.inside_um / 1000
    if isinstance(fact.rule, NearOutline):
        # chords of the search lie a little beside the true outline: only that it is broken is certain
        least = bench.sheet.plan.shop.settings.glueup.sliver_mm
        if abs(fact.rule.least_um / 1000 - least) > SAME_MM or not told > 0:
            bench.say("A126", f"a sliver of {fact.rule.least_um / 1000:g} mm is not the shop's", fact.seam)
    elif not any(abs(d - told) <= _INSIDE_MM for d in depths):
        bench.say("A126", f"is said to break a rule by {told:.3f} mm, measured {depths}", fact.seam)


def _inside(bench: CheckedBlank, fact: SeamRuleBroken, seam: Seam, laid: CheckedPlacement) -> list[float]:
    """Return how far a seam lies inside the range that a zone bars under a part."""
    rule = fact.rule
    if isinstance(rule, NearOutline):
        return []
    effects = {InNoSeamZone: "barred", NearHole: "clear", AlongScrews: "crosswise"}
    wide = 0.0
    if isinstance(rule, NearHole):
        wide = bench.sheet.plan.shop.settings.glueup.hole_clearance_mm
        if abs(rule.clearance_um / 1000 - wide) > SAME_MM:
            return []
    out = []
    for zone in laid.part.zones:
        if zone.shape is None or zone.name != rule.zone or zone.does.seam != effects[type(rule)]:
            continue
        ring = shapely.get_coordinates(laid.zone(zone.shape))
        for (x0, y0), (x1, y1) in itertools.pairwise(seam.line_mm):
            if (x0, y0) == (x1, y1):
                continue
            along = complex(x1 - x0, y1 - y0) / math.hypot(x1 - x0, y1 - y0)
            z = (np.array([complex(x, y) for x, y in ring]) - complex(x0, y0)) * along.conjugate()
            out.append(min(float(z.imag.max()), -float(z.imag.min())) + wide)
    return out


def check_told_wood(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> None:
    """Check joint, moisture, steps, mismatch and movement as the glue-up tells them."""
    blank = bench.layout.blank
    season = season_of(bench)
    _pressure(bench, told, pieces)
    for mine, true in zip(told.moisture_pct, season):
        if abs(mine - true) > SAME:
            bench.say("A121", f"moisture of the season is told as {mine:g} %, worked out {true:g} %")
    for k, (seam, drawn) in enumerate(zip(told.seams, blank.seams)):
        true_joint, near = seam_joint(bench, k, pieces)
        compare(bench, "A121", [seam.joint], (), [true_joint, *near], seam.seam)
        one, other = pieces[k].moisture_pct, pieces[k + 1].moisture_pct
        apart = None if one is None or other is None else abs(one - other)
        if (apart is None) != (seam.moisture_points is None) or (
            apart is not None and abs(apart - (seam.moisture_points or 0.0)) > SAME
        ):
            bench.say(
                "A121", f"boards are {seam.moisture_points} points apart, worked out {apart}", seam.seam
            )
        sides = _sides(bench, k, pieces, season)
        length = math.dist(drawn.line_mm[0], drawn.line_mm[-1])
        figures = (0.0,) * 4
        if sides:
            figures = (*steps_of(sides, blank.thickness_mm, season), mismatch_of(sides, length, season))
        shown = (seam.step_flatsawn_mm, seam.step_quartersawn_mm, seam.step_unlike_mm, seam.mismatch_mm)
        for what, step, true_mm in zip(("flatsawn", "quartersawn", "unlike", "mismatch"), shown, figures):
            if abs(step - true_mm) > SAME_MM:
                bench.say("A121", f"{what}: told as {step:.3f} mm, worked out {true_mm:.3f} mm", seam.seam)
    for row, piece in zip(told.movement, pieces):
        known = figures_of(bench, piece.species)
        if row.marks != (() if known is None else (known.mark,)):
            bench.say("A121", f"figures of {row.what} are marked {row.marks}, worked out {known}")
        for moves, rate in (
            (row.quartersawn_mm, known.radial if known else None),
            (row.flatsawn_mm, known.tangential if known else None),
        ):
            right = None if rate is None else row.width_mm * rate * (season[1] - season[0])
            if (right is None) != (moves is None) or abs((moves or 0.0) - (right or 0.0)) > SAME_MM:
                bench.say("A121", f"movement of {row.what} is told as {moves}, worked out {right}")


def _pressure(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> None:
    """Check that the softest wood sets the pressure of the clamps."""
    known = {d for p in pieces if (d := density_of(bench, p.species)) is not None}
    softest = next((d for d in PRESSURE_PSI if d in known), "medium")
    if told.clamps.density != softest or told.clamps.pressure_psi != PRESSURE_PSI[softest]:
        bench.say(
            "A121", f"clamps press {told.clamps.pressure_psi} psi, for {softest} wood {PRESSURE_PSI[softest]}"
        )
