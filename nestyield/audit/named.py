"""Small facts of a blank that follow from larger ones: the leftover that a pin stands in, sizes of pins."""

from __future__ import annotations

import math

import numpy as np
import shapely

from nestyield.audit.curves import region
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import HoldDown, Pin
from nestyield.model.facts import (
    CutThrough,
    DetailRejected,
    FitPins,
    FreeParts,
    LabelLeftovers,
    NarrowPoint,
    PlaneEvenly,
    PlaneFaces,
    PlaneTo,
    RisingGrain,
)

#: What stands so near to the edge of a leftover may count as in it or not, millimeters.
NEAR_MM = 0.05
#: Rising grain runs off the outline by 15 to 75 degrees (practice); an edge's angle is told to this.
RISING_DEG = (15.0, 75.0)
ANGLE_TOL_DEG = 1.0
_PLANING = (PlaneEvenly, PlaneFaces, PlaneTo)


def check_named(bench: CheckedBlank) -> None:
    """Check leftovers that pins and screws name, work, setups without a place, angles of edges.

    Parameters
    ----------
    bench : CheckedBlank
    """
    _holes(bench)
    _work(bench)
    for setup in bench.layout.setups:
        if not setup.fits and setup.clearance_mm != 0.0:
            where = f"bed {setup.bed} along {setup.along.upper()}"
            bench.say("A506", f"does not fit, and yet may stand {setup.clearance_mm:g} mm off", where)
    _angles(bench)
    _whole_piece(bench)


def _whole_piece(bench: CheckedBlank) -> None:
    """A blank that is a whole piece is called by it and has its flaws, no deeper and no shallower."""
    blank = bench.layout.blank
    if len(blank.members) != 1 or blank.members[0].cut is not None:
        return
    member = blank.members[0]
    piece = bench.sheet.pieces.get(member.piece)
    if piece is None:
        return
    name = piece.name if member.copy == 1 else f"{piece.name}/{member.copy}"
    if blank.name != name:
        bench.say("A104", f"is copy {member.copy} of {piece.name}, which is called {name}")
    told = sorted((d.name, d.kind, d.face, d.depth_mm or 0.0) for d in blank.defects)
    if told != sorted((d.name, d.kind, d.face, d.depth_mm or 0.0) for d in piece.defects):
        bench.say("A111", f"its flaws are not those of {piece.name}")


def _holes(bench: CheckedBlank) -> None:
    work = bench.layout.work
    if work is None:
        return
    kept = [(x.name, region(x.shape)) for x in bench.layout.leftovers if x.usable]
    held: list[Pin | HoldDown] = [*work.pins, *work.hold_downs]
    for one in held:
        spot, radius = shapely.Point(one.x_mm, one.y_mm), one.diameter_mm / 2.0
        for other in held[: held.index(one)]:
            room = spot.distance(shapely.Point(other.x_mm, other.y_mm)) - radius - other.diameter_mm / 2.0
            if room < -NEAR_MM:
                bench.say("A510", f"{one.name} stands in {other.name}")
        maybe = {name for name, ground in kept if ground.distance(spot) < radius + NEAR_MM}
        sure = {name for name, ground in kept if ground.distance(spot) < radius - NEAR_MM}
        if (one.leftover and one.leftover not in maybe) or (sure and not one.leftover):
            told = one.leftover or "no leftover"
            bench.say("A518", f"{one.name} leaves a hole in {told} by the plan, it is in {sorted(maybe)}")


def _work(bench: CheckedBlank) -> None:
    """Pins are those of the bed, drilled as told; what is cut through has no face; the work has its end."""
    work = bench.layout.work
    if work is None:
        return
    kept = any(x.usable for x in bench.layout.leftovers)
    chosen = bench.layout.chosen
    setups = bench.layout.setups
    named = setups[chosen].bed if chosen is not None and 0 <= chosen < len(setups) else ""
    bed_pin = bench.sheet.beds[named].pin_diameter_mm if named in bench.sheet.beds else 0.0
    holes = {p.name: p for p in work.pins if p.use == "flip"}
    for pin in work.table_pins:
        if any(holes[name].by_hand != pin.by_hand for name in pin.holes if name in holes):
            bench.say("A521", f"pin {pin.name} of the table and its hole are not drilled the same way")
    for stage in work.stages:
        for step in stage.steps:
            if isinstance(step, CutThrough) and step.face != "through":
                bench.say("A524", f"{step.zone} of {step.part} is cut through, and told from one face")
            elif isinstance(step, FitPins) and round(bed_pin * 1000) != step.diameter_um:
                bench.say(
                    "A527", f"pins of {step.diameter_um / 1000:g} mm are fitted, the bed's are {bed_pin:g}"
                )
    told = bench.layout.inspection
    planing = () if told is None or told.planing is None else (told.planing,)
    if tuple(x for s in work.stages for x in s.steps if isinstance(x, _PLANING)) != planing:
        bench.say("A523", "its work does not plane what its inspection asks for, once")
    after = [step for stage in work.stages if stage.place == "after the bed" for step in stage.steps]
    if bench.laid and not (after and isinstance(after[-1], LabelLeftovers if kept else FreeParts)):
        bench.say("A529", "its work does not end with what becomes of parts and leftovers")


def check_rooms_told(sheet: CheckedSheet) -> None:
    """Check that each blank tells how far its parts may be shifted, or that the plan's own check left it out.

    Parameters
    ----------
    sheet : CheckedSheet
    """
    left_out = {n.blank for n in sheet.plan.notices if isinstance(n, DetailRejected) and n.detail == "play"}
    for layout in sheet.plan.layouts:
        name = layout.blank.name
        if layout.placements and not layout.rooms and name not in left_out | sheet.kept:
            what = "it is not told how far its parts may be shifted, nor why not"
            sheet.say("A408", f"blank {name}", what)


def _angles(bench: CheckedBlank) -> None:
    """The steepest place of a stretch where the grain rises is as steep as told, within the rule's range."""
    grain = bench.layout.blank.grain_deg
    narrow = bench.sheet.plan.shop.settings.prefer.narrow_point_mm
    for k, watch in enumerate(bench.layout.watch, start=1):
        if isinstance(watch.rule, NarrowPoint):
            if abs(watch.rule.width_um / 1000.0 - narrow) > 0.001:
                bench.say("A409", f"edge to watch {k}: points under {narrow:g} mm are narrow for the shop")
            continue
        if not isinstance(watch.rule, RisingGrain):
            continue
        if (watch.rule.from_deg, watch.rule.to_deg) != RISING_DEG:
            bench.say("A409", f"edge to watch {k}: the grain rises from 15 to 75 degrees, not as told")
        if grain is None or len(watch.line_mm) < 2:
            continue
        steps = np.diff(np.asarray(watch.line_mm), axis=0)
        steps = steps[np.hypot(*steps.T) > 0.01]
        off = np.abs((np.degrees(np.arctan2(steps[:, 1], steps[:, 0])) - grain + 90.0) % 180.0 - 90.0)
        steepest = float(np.max(off, initial=0.0))
        if not math.isclose(steepest, watch.angle_deg, abs_tol=ANGLE_TOL_DEG):
            bench.say(
                "A409", f"edge to watch {k} is {steepest:.1f} degrees off the grain, not {watch.angle_deg:g}"
            )
