"""What a plan tells of a laminated blank: planing, glue lines, clamps, movement, steps, cautions, rests."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from nestyield.audit.curves import TOL_MM, region, thickness_of
from nestyield.audit.depth import planed_off
from nestyield.audit.laminates import across_mm
from nestyield.audit.machines import rules_of
from nestyield.audit.sheet import CheckedBlank
from nestyield.audit.wood_facts import density_of, figures_of, grain_of, season_of
from nestyield.audit.worth import left_worth
from nestyield.model import Laminate, LaminateLayer, Member, Piece, Press
from nestyield.model.facts import (
    BlankRefused,
    GlueFaces,
    GuardsInPlace,
    LabelLayers,
    LaminateCaution,
    LayersPull,
    LeaveInClamps,
    ManualsFirst,
    MoistureDiffers,
    MoistureUnknown,
    PlaneBlank,
    PlanedLayer,
    PlaneLayers,
    PressEvenly,
    PressShort,
    SawLayers,
    ScrapeGlue,
    SearchForMetal,
    StackDry,
)

#: Told lengths are right to this, millimeters; forces to this share.
SAME_MM, SHARE = 2e-3, 1e-4
#: Pressure by the softest wood, pounds-force a square inch (common practice, PVA glue; trade facts,
#: section 2).
PRESSURE_PSI = {"soft": (100.0, 150.0), "medium": (150.0, 200.0), "dense": (200.0, 300.0)}
#: Newtons a square millimeter of one pound-force (4.4482216152605 N) a square inch.
PSI = 4.4482216152605 / 25.4**2
#: Less is not planed off, millimeters.
LEAST_MM = 0.05


def check_laminate_told(bench: CheckedBlank) -> None:
    """Check what is told of how a blank is laminated.

    Parameters
    ----------
    bench : CheckedBlank
    """
    blank, told = bench.layout.blank, bench.layout.laminate
    if (told is None) == bool(blank.stack):
        bench.say("A134", "is laminated and does not tell how, or tells it and is not")
    pieces = [p for m in blank.members if (p := bench.sheet.pieces.get(m.piece)) is not None]
    if told is None or not blank.stack or len(pieces) < len(blank.members):
        return
    if len(told.layers) != len(blank.stack) or len(told.faces) != len(blank.stack) - 1:
        bench.say("A134", f"tells of {len(told.layers)} layers and {len(told.faces)} glue lines")
        return
    for check in (_layers, _faces, _press, _moves, _steps, _cautions):
        for what in check(bench, told, pieces):
            bench.say("A134", what)
    for layer, member, piece in zip(told.layers, blank.members, pieces):
        for what in _rests(bench, layer, member, piece):
            bench.say("A134", what)


def _near(told: float, true: float, tol: float = SAME_MM) -> bool:
    return abs(told - true) <= tol


def _top_off(bench: CheckedBlank) -> tuple[float, float]:
    if not bench.laid:
        return (0.0, 0.0)
    return planed_off(bench, max(bench.laid, key=lambda laid: laid.part.thickness_mm))


def _layers(bench: CheckedBlank, told: Laminate, pieces: Sequence[Piece]) -> Iterator[str]:
    blank, limits = bench.layout.blank, bench.sheet.plan.shop.settings.machines
    x, y = zip(*blank.shape.outer.points_mm)
    size = sorted((max(x) - min(x), max(y) - min(y)))
    for k, (one, layer, piece) in enumerate(zip(told.layers, blank.stack, pieces)):
        thick = layer.bottom_mm - layer.top_mm
        figures = (
            (one.rough_mm, piece.thickness_mm),
            (one.planed_mm, thick),
            (one.top_off_mm, layer.off_top_mm),
            (one.bottom_off_mm, piece.thickness_mm - thick - layer.off_top_mm),
        )
        if one.letter != "ABC"[k] or not all(_near(a, b) for a, b in figures):
            yield f"layer {one.letter} is told with other figures than it has: {figures}"
        if tuple(one.machine_rules) != rules_of(limits, (size[1], size[0], thick), ("planer", "saw")):
            yield f"layer {one.letter} has other rules at planer and saw than the shop's machines"
    top, bottom = _top_off(bench)
    if not (_near(told.thickness_mm, blank.thickness_mm) and _near(told.top_off_mm, top)):
        yield f"is told as {told.thickness_mm:g} mm thick, {told.top_off_mm:g} mm off its top"
    if not _near(told.bottom_off_mm, bottom):
        yield f"{told.bottom_off_mm:g} mm are told to come off its bottom, {bottom:g} mm do"


def _mismatch(bench: CheckedBlank, one: Piece, other: Piece) -> float | None:
    """Return by how much two layers would differ in width over the season at the most; None: not known."""
    a, b = (figures_of(bench, p.species) for p in (one, other))
    if a is None or b is None:
        return None
    if one.species == other.species:
        return 0.0
    low, high = season_of(bench)
    rates = itertools.product((a.radial, a.tangential), (b.radial, b.tangential))
    return across_mm(bench.layout.blank) * (high - low) * max(abs(p - q) for p, q in rates)


def _faces(bench: CheckedBlank, told: Laminate, pieces: Sequence[Piece]) -> Iterator[str]:
    blank, top = bench.layout.blank, _top_off(bench)[0]
    grains = [grain_of(p, m) for p, m in zip(pieces, blank.members)]
    for k, face in enumerate(told.faces):
        one, other = pieces[k], pieces[k + 1]
        if (face.name, face.upper, face.lower) != (f"face {k + 1}", "ABC"[k], "ABC"[k + 1]):
            yield f"{face.name} joins {face.upper} and {face.lower}"
        if not _near(face.below_front_mm, blank.stack[k].bottom_mm - top):
            yield f"{face.name} is told {face.below_front_mm:g} mm deep"
        crossed = abs((grains[k] - grains[k + 1] + 90.0) % 180.0 - 90.0)
        if not _near(face.crossing_deg, crossed, 0.01):
            yield f"grain at {face.name} is told to cross by {face.crossing_deg:g}, it does by {crossed:.3f}"
        moist = (one.moisture_pct, other.moisture_pct)
        apart = None if moist[0] is None or moist[1] is None else abs(moist[0] - moist[1])
        for told_value, true, what in (
            (face.moisture_points, apart, "points of moisture"),
            (face.mismatch_mm, _mismatch(bench, one, other), "mm of movement"),
        ):
            if (told_value is None) != (true is None) or not _near(told_value or 0.0, true or 0.0):
                yield f"{face.name} is told with {told_value} {what}, worked out {true}"


def _press(bench: CheckedBlank, told: Laminate, pieces: Sequence[Piece]) -> Iterator[str]:
    return press_wrong(bench, told.press, pieces, bench.wood.area)


def press_wrong(bench: CheckedBlank, press: Press, pieces: Sequence[Piece], area: float) -> Iterator[str]:
    """Yield what is wrong with how glue lines of an area, mm2, are pressed, by the softest wood."""
    rules = bench.sheet.plan.shop.settings.glueup
    classes = [d for p in pieces if (d := density_of(bench, p.species)) is not None]
    softest = min(classes, key=("soft", "medium", "dense").index, default="medium")
    if press.density != softest or press.pressure_psi != PRESSURE_PSI[softest]:
        yield f"is pressed as {press.density} wood; its softest is {softest}"
        return
    if not math.isclose(press.area_mm2, area, rel_tol=SHARE):
        yield f"the face is told as {press.area_mm2:.0f} mm2, it is {area:.0f}"
    for mine, psi in zip(press.force_n, press.pressure_psi):
        if not math.isclose(mine, psi * PSI * area, rel_tol=SHARE):
            yield f"a force of {mine:.0f} N is told, it takes {psi * PSI * area:.0f}"
    needs = press.pressure_psi[0] * PSI * area / rules.clamp_force_n
    if press.clamp_n != rules.clamp_force_n or not needs - SHARE <= press.needed <= max(
        1.0, needs + 1 + SHARE
    ):
        yield f"{press.needed} clamps of {press.clamp_n:g} N are told, it takes {needs:.2f}"
    have = press.needed if rules.clamps is None else min(press.needed, rules.clamps)
    reached = min(press.pressure_psi[1], have * rules.clamp_force_n / (PSI * area))
    if press.count != have or not math.isclose(press.reached_psi, reached, rel_tol=1e-3):
        yield f"{press.count} clamps give {press.reached_psi:g} psi, worked out {have} and {reached:.3f}"


def _moves(bench: CheckedBlank, told: Laminate, pieces: Sequence[Piece]) -> Iterator[str]:
    low, high = season_of(bench)
    if not all(_near(a, b, 0.02) for a, b in zip(told.moisture_pct, (low, high))):
        yield f"moisture of the season is told as {told.moisture_pct}"
    wide = across_mm(bench.layout.blank)
    if len(told.movement) != len(pieces):
        yield f"movement of {len(told.movement)} layers is told"
    for row, piece, layer in zip(told.movement, pieces, told.layers):
        known = figures_of(bench, piece.species)
        right = (None, None) if known is None else (known.radial, known.tangential)
        if (row.what, row.species) != (layer.letter, piece.species) or not _near(row.width_mm, wide):
            yield f"movement of {row.what} is told for {row.species}, {row.width_mm:g} mm wide"
        if row.marks != (() if known is None else (known.mark,)):
            yield f"figures of {row.what} are marked {row.marks}"
        for moves, rate in zip((row.quartersawn_mm, row.flatsawn_mm), right):
            true = None if rate is None else wide * rate * (high - low)
            if (moves is None) != (true is None) or not _near(moves or 0.0, true or 0.0, 0.01):
                yield f"{row.what} is told to move {moves} mm, worked out {true}"


def _steps(bench: CheckedBlank, told: Laminate, pieces: Sequence[Piece]) -> Iterator[str]:
    um = [
        PlanedLayer(
            layer=x.letter,
            top_um=round(1000 * x.top_off_mm),
            bottom_um=round(1000 * x.bottom_off_mm),
            to_um=round(1000 * x.planed_mm),
        )
        for x in told.layers
    ]
    right: list[object] = [
        LabelLayers(),
        SawLayers(kept=sum(len(x.rests) for x in told.layers)),
        PlaneLayers(layers=tuple(um)),
        StackDry(),
        GlueFaces(faces=len(pieces) - 1, clamps=told.press.count),
        LeaveInClamps(),
        ScrapeGlue(),
    ]
    off = told.top_off_mm + told.bottom_off_mm
    if off > LEAST_MM:
        right.append(PlaneBlank(to_um=round(1000 * (told.thickness_mm - off))))
    if list(told.steps) != right:
        yield "its order of work is another one than its layers ask for"


def _cautions(bench: CheckedBlank, told: Laminate, pieces: Sequence[Piece]) -> Iterator[str]:
    right: list[LaminateCaution] = []
    blank, settings, press = bench.layout.blank, bench.sheet.plan.shop.settings, told.press
    if press.count < press.needed:
        right.append(
            PressShort(
                needed=press.needed,
                count=press.count,
                clamp_n=press.clamp_n,
                reached_mpa=round(press.reached_psi * PSI, 6),
                least_mpa=round(press.pressure_psi[0] * PSI, 6),
            )
        )
    unlike = [f for k, f in enumerate(told.faces) if pieces[k].species != pieces[k + 1].species]
    if unlike:
        worst = max(unlike, key=lambda f: math.inf if f.mismatch_mm is None else f.mismatch_mm)
        k = told.faces.index(worst)
        even = abs(told.layers[0].planed_mm - told.layers[-1].planed_mm) < LEAST_MM
        right.append(
            LayersPull(
                face=worst.name,
                species=(pieces[k].species, pieces[k + 1].species),
                mismatch_um=None if worst.mismatch_mm is None else round(1000 * worst.mismatch_mm),
                balanced=pieces[0].species == pieces[-1].species and even,
            )
        )
    known = [p.moisture_pct for p in pieces if p.moisture_pct is not None]
    if len(known) > 1 and max(known) > min(known):
        limit = settings.glueup.moisture_difference
        apart = round(max(known) - min(known), 4)
        right.append(MoistureDiffers(difference_points=apart, limit_points=limit))
    if unknown := tuple(x.letter for x, p in zip(told.layers, pieces) if p.moisture_pct is None):
        right.append(MoistureUnknown(boards=unknown))
    if told.top_off_mm + told.bottom_off_mm > LEAST_MM:
        x, y = zip(*blank.shape.outer.points_mm)
        size = sorted((max(x) - min(x), max(y) - min(y)))
        rules = rules_of(settings.machines, (size[1], size[0], blank.thickness_mm), ("planer",))
        right += [BlankRefused(rule=rule) for rule in rules if rule.refused]
    right += [PressEvenly(), SearchForMetal(), GuardsInPlace(), ManualsFirst()]
    if list(told.cautions) != right:
        yield f"its cautions are {[c.code for c in told.cautions]}, right are {[c.code for c in right]}"


def _rests(bench: CheckedBlank, layer: LaminateLayer, member: Member, piece: Piece) -> Iterator[str]:
    """Yield what is wrong with what goes back of a piece: in it, clear of the saw, apart, large enough."""
    settings = bench.sheet.plan.shop.settings
    kerf = settings.machines.saw_kerf_mm
    whole, used = region(piece.shape, member), bench.wood
    grounds = [region(r.shape, member) for r in layer.rests]
    for rest, ground in zip(layer.rests, grounds):
        if not rest.usable or not math.isclose(rest.area_mm2, rest.shape.area_mm2, rel_tol=1e-6):
            yield f"rest {rest.name} is no leftover, or of another area"
        if thickness_of(ground.difference(whole)) > TOL_MM:
            yield f"rest {rest.name} reaches past {piece.name}"
        if ground.distance(used) < kerf - 2 * TOL_MM:
            yield f"rest {rest.name} is {ground.distance(used):.3f} mm off the blank; the saw takes {kerf:g}"
        *_, length, width = rest.rectangle_mm
        if length < settings.leftover_shortest_mm - 0.05 or width < settings.leftover_narrowest_mm - 0.05:
            yield f"rest {rest.name} is {length:g} x {width:g} mm, too small to keep"
        if length * width > rest.area_mm2 * (1 + 1e-6) + 0.1:
            yield f"rest {rest.name} has a rectangle larger than itself"
        low, high = left_worth(piece, rest.shape, settings)
        if not low - 1e-4 * (1 + high) <= rest.value <= high + 1e-4 * (1 + high):
            yield f"rest {rest.name} is worth {low:.4f} to {high:.4f}, the plan says {rest.value:.4f}"
    for (a, one), (b, other) in itertools.combinations(zip(layer.rests, grounds), 2):
        if thickness_of(one.intersection(other)) > TOL_MM:
            yield f"rests {a.name} and {b.name} overlap"
