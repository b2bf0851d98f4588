"""What is cut where, worked out again: faces, sections, depths, and the steps around them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

import numpy as np

from nestyield.audit.beds import extent
from nestyield.audit.curves import TOL_MM, moved, points_of, region, unit
from nestyield.audit.positions import UM_MM, Move, check_positions, check_square, check_table
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, cut_through
from nestyield.audit.taken import sawn_off
from nestyield.model import BedPosition, Setup, Stage, TablePin, WorkPlan, Zone
from nestyield.model.facts import (
    CutBetween,
    CutNothing,
    CutOutline,
    CutThrough,
    CutZone,
    DrillTable,
    DrillTableByHand,
    DrillThrough,
    DrillThroughByHand,
    FillDefect,
    FitPins,
    Flip,
    FlipOnPins,
    FreeParts,
    Hold,
    HoleOnPin,
    LabelLeftovers,
    LayBlank,
    LayBlankOver,
    LayOnPins,
    MoveOn,
    ResawFirst,
    SawLeftover,
    SawOff,
    SearchMetal,
    TurnEndForEnd,
    WorkStep,
)

_Cut = CutZone | CutThrough | CutOutline


def check_stages(bench: CheckedBlank) -> None:
    """Check the positions of the chosen setup, what is cut in each, and the steps around that."""
    layout = bench.layout
    work = layout.work
    if work is None or layout.chosen is None or not 0 <= layout.chosen < len(layout.setups):
        return
    setup = layout.setups[layout.chosen]
    moves = check_positions(bench, work, setup)
    if moves is None:
        return
    check_table(bench, work, moves)
    check_square(bench, work, moves)
    staged = _ordered(bench, work)
    if staged is None:
        return
    for k, stage in enumerate(staged):
        _cuts(bench, work, setup, k, stage, moves[k])
        _coming(bench, work, k, stage)
    _through(bench, work, staged)
    _pins_in_steps(bench, work, staged)
    _around(bench, work)


def _ordered(bench: CheckedBlank, work: WorkPlan) -> list[Stage] | None:
    """Return the stages on the bed, one a position, or None when the order is not that of the work."""
    stages = work.stages
    places = ["before the bed", *("on the bed" for _ in work.positions), "after the bed"]
    names = ["", *(p.name for p in work.positions), ""]
    if [s.place for s in stages] != places or [s.position for s in stages] != names:
        bench.say("A523", "the stages are not: before the bed, each position in order, after the bed")
        return None
    for stage in (stages[0], stages[-1]):
        if any(isinstance(s, _Cut | CutBetween | CutNothing) for s in stage.steps):
            bench.say("A523", f"something is cut {stage.place}")
    return list(stages[1:-1])


def _zones(laid: CheckedPlacement) -> Iterator[Zone]:
    return (z for z in laid.part.zones if z.shape is not None and z.does.cuts)


def _overlap(bench: CheckedBlank, setup: Setup, section: int, move: Move, points: np.ndarray) -> float:
    """Return how far the box of points reaches into a section, mm; negative for how far it stays out."""
    if section == 0:
        return math.inf
    here = setup.sections[section - 1]
    turn, shift, mirrored = move
    z = points[:, 0] + 1j * points[:, 1]
    z = turn * (-z.conjugate() if mirrored else z) + shift
    values = z.real if axis_of(bench, setup) == "x" else z.imag
    return float(min(values.max(), here.to_mm) - max(values.min(), here.from_mm))


def axis_of(bench: CheckedBlank, setup: Setup) -> str:
    """Return the axis of the bed along which the travel is too short."""
    bed = bench.sheet.beds.get(setup.bed)
    if bed is None:
        return setup.along
    low, high = extent(bench, setup.turned_deg)
    over = high - low - np.array([bed.travel_x_mm, bed.travel_y_mm])
    return "xy"[int(np.argmax(over))]


def _cuts(bench: CheckedBlank, work: WorkPlan, setup: Setup, k: int, stage: Stage, move: Move) -> None:
    """Check what is cut in one position: which zones and outlines, from which face, how deep."""
    position = work.positions[k]
    where = f"position {position.name}"
    told = _told(bench, position, stage, where)
    last = position.up == work.positions[-1].up
    for laid in bench.laid:
        number = laid.index + 1
        wanted: list[tuple[str, str, np.ndarray]] = []
        for zone in _zones(laid):
            assert zone.shape is not None
            points = moved(points_of(zone.shape.outer), laid.placement)
            if cut_through(zone, laid.part):
                kind = "through" if last else ""
            elif zone.depth_mm is None or zone.face == "through":
                kind = ""
            else:
                front_is_up = laid.placement.front_up == (position.up == "top")
                kind = "zone" if (zone.face == "front") == front_is_up else ""
            wanted.append((kind, zone.name, points))
        outline = moved(points_of(laid.part.outline), laid.placement)
        wanted.append(("outline" if last else "", "", outline))
        for kind, name, points in wanted:
            found = [key for key in ("zone", "through", "outline") if (key, number, name) in told]
            count = sum(told.pop((key, number, name)) for key in found)
            into = _overlap(bench, setup, position.section, move, points)
            what = f"{name} of {laid.name}" if name else f"the outline of {laid.name}"
            if kind and into > TOL_MM and found != [kind]:
                bench.say("A524", f"{what} is not cut as it must be", where)
            elif found and (not kind or into < -TOL_MM or found != [kind]):
                bench.say("A524", f"{what} is cut from the wrong face or in a section it is not in", where)
            elif count > 1:
                bench.say("A524", f"{what} is cut {count} times", where)
    for _, number, name in told:
        bench.say("A524", f"part {number} has no {name or 'outline'} to cut", where)
    nothing = any(isinstance(s, CutNothing) for s in stage.steps)
    if nothing and len(stage.steps) > 1:
        bench.say("A523", "is left out, and has steps", where)
    if not nothing and not any(isinstance(s, _Cut) for s in stage.steps):
        bench.say("A523", "cuts nothing, and is not left out", where)


def _told(
    bench: CheckedBlank, position: BedPosition, stage: Stage, where: str
) -> Counter[tuple[str, int, str]]:
    """Return what the plan says is cut in a position; check depths, faces, counts and names of each step."""
    told: Counter[tuple[str, int, str]] = Counter()
    by_number = {laid.index + 1: laid for laid in bench.laid}
    for step in stage.steps:
        if not isinstance(step, _Cut):
            continue
        laid = by_number.get(step.placement)
        if laid is None or step.part != laid.part.name or step.section != position.section:
            bench.say("A524", f"has no part {step.placement} or section {step.section}", where)
            continue
        if isinstance(step, CutOutline):
            told["outline", step.placement, ""] += 1
            continue
        zones = {z.name: z for z in _zones(laid)}
        if step.count != len(step.zones) or any(
            name not in zones or zones[name].role != step.role or name.split("#")[0] != step.zone
            for name in step.zones
        ):
            bench.say("A524", f"{step.zone} of {laid.name}: names, roles or count are wrong", where)
        for name in step.zones:
            if isinstance(step, CutThrough):
                told["through", step.placement, name] += 1
                continue
            told["zone", step.placement, name] += 1
            depth = zones[name].depth_mm if name in zones else None
            if depth is None or abs(step.depth_um / 1000.0 - depth) > UM_MM:
                bench.say("A525", f"{name} of {laid.name} is cut {step.depth_um / 1000.0:g} mm deep", where)
        if isinstance(step, CutZone) and step.face != position.up:
            bench.say("A524", f"{step.zone} of {laid.name} is cut from the face below", where)
    return told


def _through(bench: CheckedBlank, work: WorkPlan, staged: list[Stage]) -> None:
    """Check that depth comes before what goes through, outlines come last, and sections have their limits."""
    ranks = {CutZone: 0, CutThrough: 1, CutOutline: 2}
    setup = bench.layout.setups[bench.layout.chosen or 0]
    for position, stage in zip(work.positions, staged, strict=True):
        where = f"position {position.name}"
        order = [ranks.get(type(s), -1) for s in stage.steps]
        cut = [r for r in order if r >= 0]
        first = order.index(cut[0]) if cut else len(order)
        if cut != sorted(cut) or -1 in order[first:]:
            bench.say("A526", "cuts right through, or an outline, before the rest is done", where)
        limits = [s for s in stage.steps if isinstance(s, CutBetween)]
        if bool(limits) != bool(position.section and cut) or len(limits) > 1:
            bench.say("A526", "limits of a section are missing or too many", where)
        elif limits:
            here = setup.sections[position.section - 1]
            off = max(abs(limits[0].from_um / 1e3 - here.from_mm), abs(limits[0].to_um / 1e3 - here.to_mm))
            if off > UM_MM or limits[0].axis != axis_of(bench, setup):
                bench.say("A526", f"limits of section {position.section} are {off:.3f} mm off", where)


def _coming(bench: CheckedBlank, work: WorkPlan, k: int, stage: Stage) -> None:
    """Check how the blank comes into a position: from which one, which face up, which hole on which pin."""
    position = work.positions[k]
    where = f"position {position.name}"
    steps = [s for s in stage.steps if isinstance(s, _LAYING)]
    if any(isinstance(s, CutNothing) for s in stage.steps):
        return
    earlier = [
        p
        for p, s in zip(work.positions[:k], work.stages[1:], strict=False)
        if not any(isinstance(x, CutNothing) for x in s.steps)
    ]
    if len(steps) != 1:
        bench.say("A527", f"says {len(steps)} times how the blank is laid", where)
        return
    (step,) = steps
    if step.setup != position.name or (
        not isinstance(step, MoveOn | TurnEndForEnd) and step.up != position.up
    ):
        bench.say("A527", "lays the blank another way than its position", where)
    on = {(p.holes[k], p.name) for p in work.table_pins if k < len(p.holes)}
    pinned = isinstance(step, LayOnPins | FlipOnPins | MoveOn | TurnEndForEnd)
    if pinned and {(h.hole, h.pin) for h in _on(step)} != on:
        bench.say("A527", "puts other holes on the pins than those that come to lie there", where)
    expected = _expected(position, earlier[-1] if earlier else None)
    if not isinstance(step, expected):
        bench.say("A527", f"says {step.code!r} for how the blank comes there", where)
    elif isinstance(step, MoveOn):
        before = earlier[-1]
        by = (position.x_mm - before.x_mm, position.y_mm - before.y_mm)["xy".index(step.axis)]
        if abs(step.step_um / 1e3 - by) > UM_MM:
            bench.say("A527", f"moves the blank by {step.step_um / 1e3:g} mm instead of {by:g}", where)
    holds = {name for s in stage.steps if isinstance(s, Hold) for name in s.holds}
    if holds != {h.name for h in work.hold_downs if not h.sections or position.section in h.sections}:
        bench.say("A527", "does not hold the blank at the places of the plan", where)


_LAYING = LayBlank | LayBlankOver | LayOnPins | Flip | FlipOnPins | MoveOn | TurnEndForEnd


def _on(step: WorkStep) -> tuple[HoleOnPin, ...]:
    return step.on if isinstance(step, LayOnPins | FlipOnPins | MoveOn | TurnEndForEnd) else ()


def _expected(position: BedPosition, before: BedPosition | None) -> tuple[type, ...]:
    """Return the kinds of step that bring the blank from one position to another."""
    if before is None:
        return (LayOnPins, LayBlankOver if position.up == "bottom" else LayBlank)
    if before.up != position.up:
        return (Flip, FlipOnPins)
    turned = abs(unit(position.angle_deg) - unit(before.angle_deg)) > 1e-3
    return (TurnEndForEnd,) if turned else (MoveOn,)


def _pins_in_steps(bench: CheckedBlank, work: WorkPlan, staged: list[Stage]) -> None:
    """Check that each pin of the table is drilled once, deep enough, and is shorter than the wood over it."""
    table = {p.name: p for p in work.table_pins}
    drilled: Counter[str] = Counter()
    fitted: Counter[str] = Counter()
    blank = bench.layout.blank
    wood = blank.thickness_mm
    if blank.grain_deg is not None:
        wood = min(wood, max((laid.part.thickness_mm for laid in bench.laid), default=wood))
    for step in (s for stage in staged for s in stage.steps):
        if isinstance(step, DrillTable | DrillTableByHand | DrillThrough | DrillThroughByHand):
            by_hand = isinstance(step, DrillTableByHand | DrillThroughByHand)
            names = step.holes if isinstance(step, DrillThrough | DrillThroughByHand) else step.pins
            drilled.update(names)
            for pin in (table[name] for name in names if name in table):
                if pin.by_hand != by_hand or not _as_told(pin, step.diameter_um, step.depth_um):
                    bench.say("A528", f"the hole for {pin.name} is not drilled as the table of pins says")
        elif isinstance(step, FitPins):
            fitted.update(step.pins)
            for pin in (table[name] for name in step.pins if name in table):
                over = step.longest_um / 1e3 - pin.depth_mm - wood
                if over > -UM_MM:
                    bench.say("A528", f"{pin.name} may stand {over:.3f} mm above the face that is up")
    if len(work.positions) > 1 and any(c != 1 for name in table for c in (drilled[name], fitted[name])):
        bench.say("A528", "a pin of the table is not drilled and fitted just once")
    if not (drilled.keys() | fitted.keys()) <= table.keys():
        bench.say("A528", "a pin is drilled or fitted that is not in the table of pins")


def _as_told(pin: TablePin, diameter_um: int, depth_um: int) -> bool:
    off = max(abs(diameter_um / 1e3 - pin.diameter_mm), abs(depth_um / 1e3 - pin.depth_mm))
    return off <= UM_MM


def _around(bench: CheckedBlank, work: WorkPlan) -> None:
    """Check what is done before and after the bed: sawing off the piece, fillings, leftovers to keep."""
    layout = bench.layout
    told = [s for s in work.stages[0].steps if isinstance(s, SawOff | ResawFirst)]
    first = work.stages[0].steps
    metal = [d for d in layout.blank.defects if d.traits.may_hold_metal]
    search = [s for s in first if isinstance(s, SearchMetal)]
    named = [({d.kind for d in metal}, {d.name for d in metal})] if metal else []
    if [(set(s.kinds), set(s.defects)) for s in search] != named or (search and first[0] != search[0]):
        bench.say("A529", "the search for metal is not the first step, or not of what may hold metal")
    if told != _sawn_off(bench) or (told and first[len(search)] != told[0]):
        bench.say("A529", "how the blank is sawn off its piece is not so, or not before all other work")
    last = work.stages[-1].steps
    filled = {(s.placement, s.defect, s.filler_ml) for s in last if isinstance(s, FillDefect)}
    if filled != {(f.placement + 1, f.defect, f.volume_ml) for f in layout.fills}:
        bench.say("A529", "the defects filled are not those of the plan")
    kept = [x.name for x in layout.leftovers if x.usable]
    sawn = [s.leftover for s in last if isinstance(s, SawLeftover)]
    labeled = [name for s in last if isinstance(s, LabelLeftovers) for name in s.leftovers]
    straight = bench.sheet.plan.shop.settings.leftover_cut == "saw"
    if any(s.straight != straight for s in last if isinstance(s, SawLeftover)):
        bench.say("A529", "leftovers are not cut off as the shop says")
    freed = [s for s in last if isinstance(s, FreeParts)]
    if len(freed) > 1 or any(s.last == bool(kept) for s in freed):
        bench.say("A529", "how the parts are freed does not suit the leftovers")
    if sawn != kept or labeled != kept:
        bench.say("A529", "the leftovers sawn off and labeled are not those to keep")


def _sawn_off(bench: CheckedBlank) -> list[SawOff | ResawFirst]:
    sawn = sawn_off(bench.layout.blank)
    piece = None if sawn is None else bench.sheet.pieces.get(sawn[0].piece)
    if sawn is None or piece is None:
        return []
    if (layer := sawn[0].layer) is not None:
        low, high = round(layer.top_mm / UM_MM), round(layer.bottom_mm / UM_MM)
        whole = round(piece.thickness_mm / UM_MM)
        return [
            ResawFirst(
                piece=sawn[0].label, from_um=low, to_um=high, top_sawn=low > 0, bottom_sawn=high < whole
            )
        ]
    x0, y0, x1, y1 = region(sawn[1]).bounds
    left, low, _, _ = region(piece.shape).bounds
    sides = (x0 - left, x1 - left, y0 - low, y1 - low)
    names = ("from_x_um", "to_x_um", "from_y_um", "to_y_um")
    return [SawOff(piece=sawn[0].label, **{n: round(v / UM_MM) for n, v in zip(names, sides)})]
