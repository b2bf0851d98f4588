"""The record of a laminated blank: what is sawn, planed, pressed and minded."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from nestyield.geometry.boolean import difference
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import UM_PER_MM
from nestyield.geometry.offset import grow
from nestyield.glueup.record import planed_after
from nestyield.model import (
    Blank,
    FaceJoint,
    Laminate,
    LaminateLayer,
    Layout,
    Leftover,
    Member,
    Movement,
    Piece,
    Press,
    Settings,
    Shop,
)
from nestyield.model.arcs import box_of
from nestyield.model.facts import (
    BlankRefused,
    GlueFaces,
    GuardsInPlace,
    LabelLayers,
    LaminateCaution,
    LaminateStep,
    LayersPull,
    LeaveInClamps,
    Machine,
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
from nestyield.model.pose import Pose
from nestyield.placement.leftovers import kept_shapes, largest_along, letters
from nestyield.wood.blank import grain_in_blank
from nestyield.wood.joints import MPA_PER_PSI, PRESSURE_PSI, force_n, softest
from nestyield.wood.machining import machining_rules
from nestyield.wood.moisture import season_of
from nestyield.wood.movement import width_change_mm
from nestyield.wood.own import species_of

#: Less is not planed off, millimeters.
_LEAST_MM = 0.05


def rests_of(blank: Blank, member: Member, piece: Piece, settings: Settings) -> tuple[Leftover, ...]:
    """Return what goes back on the rack of a piece that is sawn to the outline of a laminated blank, piece coordinates.

    Parameters
    ----------
    blank : Blank
    member : Member
    piece : Piece
        Of the member.
    settings : Settings
    """
    error = settings.chord_error_mm
    used = Pose.of(member).inverse().shape(blank.shape)
    kerf = round(settings.machines.saw_kerf_mm * UM_PER_MM)
    gone = grow(flatten_shape(used, error, "outside"), kerf)
    wood = difference(flatten_shape(piece.shape, error, "inside"), gone)
    return tuple(
        Leftover(
            name=f"{member.label}-{letters(k)}",
            shape=shape,
            rectangle_mm=largest_along(shape, piece.grain_deg, settings),
            area_mm2=shape.area_mm2,
            usable=True,
        )
        for k, shape in enumerate(kept_shapes(wood, piece.grain_deg, settings))
    )


def laminate(layout: Layout, shop: Shop) -> Laminate | None:
    """Return how a layout's blank is laminated; None for a blank that is not.

    Parameters
    ----------
    layout : Layout
    shop : Shop
    """
    blank, settings = layout.blank, shop.settings
    if not blank.stack:
        return None
    pieces = [shop.piece(m.piece) for m in blank.members]
    top, bottom = planed_after(blank, [(shop.part(p.part), p) for p in layout.placements])
    layers = tuple(_layer(blank, k, piece, settings) for k, piece in enumerate(pieces))
    faces = _faces(blank, layers, pieces, settings, top)
    press = press_on(blank.shape.area_mm2, pieces, settings)
    return Laminate(
        layers=layers,
        faces=faces,
        press=press,
        humidity_pct=(settings.wood.humidity_low, settings.wood.humidity_high),
        moisture_pct=season_of(settings.wood),
        temperature_c=settings.wood.temperature,
        movement=tuple(_moves(blank, one.letter, piece, settings) for one, piece in zip(layers, pieces)),
        thickness_mm=blank.thickness_mm,
        top_off_mm=top,
        bottom_off_mm=bottom,
        steps=_steps(layers, press, blank.thickness_mm - top - bottom, top + bottom),
        cautions=_cautions(blank, layers, faces, pieces, press, settings, top + bottom),
    )


def _layer(blank: Blank, k: int, piece: Piece, settings: Settings) -> LaminateLayer:
    layer = blank.stack[k]
    off = piece.thickness_mm - layer.thickness_mm
    box = box_of(blank.shape.outer)
    long, wide = max(box.width, box.height), min(box.width, box.height)
    machines: tuple[Machine, ...] = ("planer", "saw")
    return LaminateLayer(
        letter=letters(k).upper(),
        rough_mm=piece.thickness_mm,
        planed_mm=layer.thickness_mm,
        top_off_mm=round(layer.off_top_mm, 4),
        bottom_off_mm=round(off - layer.off_top_mm, 4),
        rests=rests_of(blank, blank.members[k], piece, settings),
        machine_rules=machining_rules(long, wide, layer.thickness_mm, settings.machines, machines),
    )


def across_mm(blank: Blank) -> float:
    """Return the width of a blank across its grain, millimeters."""
    turned = Pose(angle_deg=-(blank.grain_deg or 0.0)).shape(blank.shape)
    return box_of(turned.outer).height


def _faces(
    blank: Blank,
    layers: Sequence[LaminateLayer],
    pieces: Sequence[Piece],
    settings: Settings,
    top_off_mm: float,
) -> tuple[FaceJoint, ...]:
    out = []
    grains = [grain_in_blank(p, m) for p, m in zip(pieces, blank.members)]
    for k, (one, other) in enumerate(itertools.pairwise(layers)):
        moist = (pieces[k].moisture_pct, pieces[k + 1].moisture_pct)
        apart = None if moist[0] is None or moist[1] is None else round(abs(moist[0] - moist[1]), 4)
        out.append(
            FaceJoint(
                name=f"face {k + 1}",
                upper=one.letter,
                lower=other.letter,
                below_front_mm=round(blank.stack[k].bottom_mm - top_off_mm, 4),
                crossing_deg=round(abs((grains[k] - grains[k + 1] + 90.0) % 180.0 - 90.0), 4),
                moisture_points=apart,
                mismatch_mm=_mismatch(blank, pieces[k], pieces[k + 1], settings),
            )
        )
    return tuple(out)


def _mismatch(blank: Blank, one: Piece, other: Piece, settings: Settings) -> float | None:
    """Return by how much two layers would differ in width over the season, each flat- or quartersawn, at the most.

    Of one species nothing is told: how its rings lie is not known of either.
    """
    kinds = [species_of(p.species, settings.own_woods) for p in (one, other)]
    if any(k is None or k.c_radial is None for k in kinds):
        return None
    if one.species == other.species:
        return 0.0
    width, season = across_mm(blank), season_of(settings.wood)
    changes = [
        [width_change_mm(k, width, *season, ring) for ring in (0.0, 90.0)] for k in kinds if k is not None
    ]
    return round(max(abs(a - b) for a in changes[0] for b in changes[1]), 4)


def _moves(blank: Blank, letter: str, piece: Piece, settings: Settings) -> Movement:
    width, season = across_mm(blank), season_of(settings.wood)
    wood = species_of(piece.species, settings.own_woods)
    known = wood is not None and wood.c_radial is not None
    quarter, flat = (
        round(width_change_mm(wood, width, *season, ring), 4) if wood is not None and known else None
        for ring in (90.0, 0.0)
    )
    return Movement(
        what=letter,
        species=piece.species,
        width_mm=round(width, 4),
        quartersawn_mm=quarter,
        flatsawn_mm=flat,
        marks=(wood.coefficient_mark,) if wood is not None and known else (),
    )


def press_on(area_mm2: float, pieces: Sequence[Piece], settings: Settings) -> Press:
    """Return what presses faces of an area that are glued to each other.

    Parameters
    ----------
    area_mm2 : float
        Of each glue line.
    pieces : sequence of Piece
        What is glued; the softest wood decides.
    settings : Settings
    """
    rules = settings.glueup
    kinds = (species_of(p.species, settings.own_woods) for p in pieces)
    density = softest([k for k in kinds if k is not None])
    pressure, area = PRESSURE_PSI[density], area_mm2
    force = (force_n(area, pressure[0]), force_n(area, pressure[1]))
    needed = max(1, int(np.ceil(force[0] / rules.clamp_force_n - 1e-9)))
    count = needed if rules.clamps is None else min(needed, rules.clamps)
    reached = min(pressure[1], rules.clamp_force_n * count / force_n(area, 1.0))
    return Press(
        area_mm2=round(area, 1),
        pressure_psi=pressure,
        force_n=(round(force[0], 1), round(force[1], 1)),
        clamp_n=rules.clamp_force_n,
        needed=needed,
        count=count,
        reached_psi=round(reached, 4),
        density=density,
        source="PVA practice",
    )


def _steps(
    layers: Sequence[LaminateLayer], press: Press, finished_mm: float, planed_mm: float
) -> tuple[LaminateStep, ...]:
    planed = tuple(
        PlanedLayer(
            layer=one.letter,
            top_um=round(1000 * one.top_off_mm),
            bottom_um=round(1000 * one.bottom_off_mm),
            to_um=round(1000 * one.planed_mm),
        )
        for one in layers
    )
    last: list[LaminateStep] = [PlaneBlank(to_um=round(1000 * finished_mm))] if planed_mm > _LEAST_MM else []
    return (
        LabelLayers(),
        SawLayers(kept=sum(len(one.rests) for one in layers)),
        PlaneLayers(layers=planed),
        StackDry(),
        GlueFaces(faces=len(layers) - 1, clamps=press.count),
        LeaveInClamps(),
        ScrapeGlue(),
        *last,
    )


def _cautions(
    blank: Blank,
    layers: Sequence[LaminateLayer],
    faces: Sequence[FaceJoint],
    pieces: Sequence[Piece],
    press: Press,
    settings: Settings,
    planed_mm: float,
) -> tuple[LaminateCaution, ...]:
    out: list[LaminateCaution] = []
    if press.count < press.needed:
        out.append(
            PressShort(
                needed=press.needed,
                count=press.count,
                clamp_n=press.clamp_n,
                reached_mpa=round(press.reached_psi * MPA_PER_PSI, 6),
                least_mpa=round(press.pressure_psi[0] * MPA_PER_PSI, 6),
            )
        )
    unlike = [(f, k) for k, f in enumerate(faces) if pieces[k].species != pieces[k + 1].species]
    if unlike:
        worst, k = max(unlike, key=lambda pair: (pair[0].mismatch_mm or float("inf"), -pair[1]))
        first, last = layers[0], layers[-1]
        thick = [first.planed_mm, last.planed_mm]
        alike = pieces[0].species == pieces[-1].species and abs(thick[0] - thick[1]) < _LEAST_MM
        out.append(
            LayersPull(
                face=worst.name,
                species=(pieces[k].species, pieces[k + 1].species),
                mismatch_um=None if worst.mismatch_mm is None else round(1000 * worst.mismatch_mm),
                balanced=alike,
            )
        )
    known = [p.moisture_pct for p in pieces if p.moisture_pct is not None]
    if len(known) > 1 and max(known) > min(known):
        limit = settings.glueup.moisture_difference
        apart = round(max(known) - min(known), 4)
        out.append(MoistureDiffers(difference_points=apart, limit_points=limit))
    if unknown := tuple(o.letter for o, p in zip(layers, pieces) if p.moisture_pct is None):
        out.append(MoistureUnknown(boards=unknown))
    if planed_mm > _LEAST_MM:
        box = box_of(blank.shape.outer)
        long, wide = max(box.width, box.height), min(box.width, box.height)
        rules = machining_rules(long, wide, blank.thickness_mm, settings.machines, ("planer",))
        out += [BlankRefused(rule=rule) for rule in rules if rule.refused]
    return (*out, PressEvenly(), SearchForMetal(), GuardsInPlace(), ManualsFirst())
