"""Cautions of blanks and of the whole plan, worked out again from the checked inspection and the settings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import chain, combinations

import numpy as np
import shapely

from nestyield.audit.curves import points_of, region
from nestyield.audit.facts import compare, same
from nestyield.audit.frame import check_frame
from nestyield.audit.machines import STICK_UM, shortest_planed
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import DEFECTS, DefectUnderCutter, EdgeCheck, Inspection, Outline
from nestyield.model.axis import BlankEdge
from nestyield.model.facts import (
    Caution,
    CrosscutSafely,
    CutPlace,
    DryRun,
    FibersRise,
    FrameCutOpen,
    GeneralCaution,
    GuardsOn,
    HoleNearCut,
    KnotUnderCutter,
    LittleWoodFromLine,
    LittleWoodFromOpposite,
    LooseInWood,
    LooseKnots,
    MdfDust,
    MeasuredWood,
    MeasureFromLine,
    MeasureFromOpposite,
    MetalInWood,
    MetalUnderCutter,
    NoBed,
    NoWoodAtCorner,
    OperatorDecides,
    PartsComeLoose,
    PointsBreak,
    PushBlocks,
    PushStick,
    ReclaimedMetal,
    ResawSafely,
    ShortStock,
    SmallParts,
    WoodDust,
)

#: Sizes nearer than this to a limit may count either way, mm.
NEAR_MM = 0.05
#: Wood or a defect this near is at the datum corner, mm.
NEAR_CORNER_MM = 1.0
#: Directions in which a part is measured for how narrow it is, degrees apart.
_TURN_DEG = 0.1


def check_cautions(bench: CheckedBlank) -> None:
    """Check that a blank has the cautions that apply to its wood and parts, and no others."""
    told = bench.layout.inspection
    if told is None:
        return
    sure: list[Caution] = []
    maybe: list[Caution] = []
    checks = {check.edge: check for check in told.edges}
    for edge, opposite in (("lower", "upper"), ("left", "right")):
        if edge in checks and opposite in checks and not checks[edge].sound:
            sure.append(_not_sound(bench, checks[edge], checks[opposite]))
    if not told.corner:
        sure.append(NoWoodAtCorner(kind=_corner_kind(bench)))
    _measured(bench, sure)
    _tearing(bench, sure)
    _met(bench, told, sure)
    kinds = {d.kind for d in bench.layout.blank.defects}
    if loose := sorted(k for k in kinds if DEFECTS[k].loose):
        sure.append(LooseInWood(kinds=tuple(loose)))
    _small(bench, sure, maybe)
    check_frame(bench, sure, maybe)
    if bench.layout.chosen is None:
        sure.append(NoBed())
    said = [_sorted(c) for c in bench.layout.cautions]
    compare(bench, "A519", said, [_sorted(c) for c in sure], [_sorted(c) for c in maybe])


def _corner_kind(bench: CheckedBlank) -> str:
    """Return what kind of defect the wood at the datum corner is; empty where wood begins farther away."""
    x0, y0, _, _ = bench.wood.bounds
    around = shapely.Point(x0, y0).buffer(NEAR_CORNER_MM, quad_segs=64)
    if not bench.wood.intersects(around):
        return ""
    whole = bench.layout.blank.thickness_mm
    here = (
        d.kind
        for d in bench.layout.blank.defects
        if DEFECTS[d.kind].wood_missing
        and (d.depth_mm is None or d.depth_mm >= whole)
        and region(d.shape).intersects(around)
    )
    return next(here, "")


def _measured(bench: CheckedBlank, sure: list[Caution]) -> None:
    """Add how far off the pieces may be, and what of that the parts bear, measured again."""
    names = dict.fromkeys(m.piece for m in bench.layout.blank.members)
    known = [bench.sheet.pieces[name] for name in names if name in bench.sheet.pieces]
    unsure = [piece for piece in known if piece.measured_mm > 0]
    if not unsure:
        return
    room = None
    if len(bench.layout.blank.members) == 1 and bench.laid:
        near = min(float(laid.outline.boundary.distance(bench.wood.boundary)) for laid in bench.laid)
        room = round(1000 * (near - bench.sheet.plan.shop.settings.blank_margin_mm))
    sure.append(
        MeasuredWood(
            pieces=tuple(piece.name for piece in unsure),
            measured_um=round(1000 * max(piece.measured_mm for piece in unsure)),
            room_um=room,
        )
    )


def _sorted(fact: Caution) -> Caution:
    """Return a caution with its places in an order of their own: they are compared as a set."""
    if isinstance(fact, KnotUnderCutter):
        return KnotUnderCutter(knots=fact.knots, places=_in_order(fact.places))
    if isinstance(fact, FrameCutOpen):
        return replace(fact, ends=())  # `check_frame` looks at them
    if isinstance(fact, HoleNearCut):
        return replace(fact, places=_in_order(fact.places))
    if isinstance(fact, MetalUnderCutter):
        return MetalUnderCutter(kinds=fact.kinds, defects=fact.defects, places=_in_order(fact.places))
    return fact


def _in_order(places: Sequence[CutPlace]) -> tuple[CutPlace, ...]:
    return tuple(sorted(places, key=repr))


def _not_sound(bench: CheckedBlank, check: EdgeCheck, other: EdgeCheck) -> Caution:
    x0, y0, x1, y1 = bench.wood.bounds
    edge: BlankEdge = check.edge
    size = round(1000 * (y1 - y0 if edge == "lower" else x1 - x0))
    if other.sound and check.gaps:
        return MeasureFromOpposite(edge=edge, opposite=other.edge, size_um=size, gaps=check.gaps)
    if other.sound:
        return LittleWoodFromOpposite(edge=edge, opposite=other.edge, size_um=size)
    return MeasureFromLine(edge=edge, gaps=check.gaps) if check.gaps else LittleWoodFromLine(edge=edge)


def _tearing(bench: CheckedBlank, sure: list[Caution]) -> None:
    runs = [w.length_mm for w in bench.layout.watch if w.rule.code == "rising grain"]
    if runs:
        total = round(1000 * sum(runs))
        sure.append(FibersRise(feed=bench.sheet.plan.shop.settings.prefer.feed, total_um=total))
    points = sum(w.rule.code == "narrow point" for w in bench.layout.watch)
    if points:
        sure.append(PointsBreak(count=points))


def _met(bench: CheckedBlank, told: Inspection, sure: list[Caution]) -> None:
    """Metal is told once: in the cutter's path or clear of it. Knots only in its path."""
    metal = [one for one in told.under_cutter if DEFECTS[one.kind].may_hold_metal]
    knots = [one for one in told.under_cutter if not DEFECTS[one.kind].may_hold_metal]
    if metal:
        kinds = tuple(sorted({one.kind for one in metal}))
        names = tuple(one.defect for one in metal)
        sure.append(MetalUnderCutter(kinds=kinds, defects=names, places=_all(metal)))
    if knots:
        sure.append(KnotUnderCutter(knots=tuple(one.defect for one in knots), places=_all(knots)))
    if near := told.near_cutter:
        sure.append(
            HoleNearCut(
                kinds=tuple(sorted({one.kind for one in near})),
                defects=tuple(one.defect for one in near),
                places=_all(near),
                within_um=round(1000 * bench.sheet.plan.shop.settings.prefer.hole_clearance_mm),
            )
        )
    met = {one.defect for one in metal}
    clear = {d.kind for d in bench.layout.blank.defects if d.traits.may_hold_metal and d.name not in met}
    if clear:
        sure.append(MetalInWood(kinds=tuple(sorted(clear))))


def _all(met: Sequence[DefectUnderCutter]) -> tuple[CutPlace, ...]:
    return tuple({place for one in met for place in one.places})


def _small(bench: CheckedBlank, sure: list[Caution], maybe: list[Caution]) -> None:
    machines = bench.sheet.plan.shop.settings.machines
    least = max(machines.jointer_shortest_mm, shortest_planed(machines))
    longest = float(np.ptp(points_of(bench.layout.blank.shape.outer), axis=0).max())
    if bench.layout.blank.grain_deg is not None and longest < least + NEAR_MM:
        short = ShortStock(length_um=round(1000 * longest), least_um=round(1000 * least))
        (sure if longest < least - NEAR_MM else maybe).append(short)
    under = machines.push_block_width_mm
    widths = {laid.index: _narrowest(laid.part.outline) for laid in bench.laid}
    near = sorted({w for w in widths.values() if abs(w - under) <= NEAR_MM})
    # a width at the limit may count or not; alike parts do alike; of many, the narrowest first
    many = len(near) > _MOST_NEAR
    sets = (near[:n] for n in range(len(near) + 1)) if many else None
    for some in sets or chain.from_iterable(combinations(near, n) for n in range(len(near) + 1)):
        small = tuple(k for k, w in widths.items() if w < under - NEAR_MM or w in some)
        if small:
            (maybe if near else sure).append(SmallParts(placements=small, under_um=round(1000 * under)))


#: Of so many widths at a limit every set is looked at.
_MOST_NEAR = 8


@lru_cache(maxsize=256)
def _narrowest(outline: Outline) -> float:
    """Return the least extent of an outline over directions all round, mm: never less than the true one."""
    ways = np.radians(np.arange(0.0, 180.0, _TURN_DEG))
    corners = points_of(outline)
    return float(np.ptp(corners @ np.stack([np.cos(ways), np.sin(ways)]), axis=0).min())


def check_general(sheet: CheckedSheet) -> None:
    """Check the cautions of the plan as a whole against ``[machines]`` and the species of its blanks."""
    machines = sheet.plan.shop.settings.machines
    due: list[GeneralCaution] = [
        OperatorDecides(),
        ReclaimedMetal(),
        LooseKnots(),
        GuardsOn(),
        DryRun(),
        PartsComeLoose(),
        PushStick(stick_um=STICK_UM, last_um=round(1000 * machines.saw_push_stick_mm)),
        PushBlocks(
            length_um=round(1000 * machines.push_block_length_mm),
            width_um=round(1000 * machines.push_block_width_mm),
            thickness_um=round(1000 * machines.push_block_thickness_mm),
            shortest_um=round(1000 * machines.jointer_shortest_mm),
        ),
        WoodDust(),
    ]
    if any(s.resaw is None for s in sheet.plan.sawings):
        due.append(CrosscutSafely())
    leaves = [m for layout in sheet.plan.layouts for m in layout.blank.members if m.layer is not None]
    if leaves and machines.resaw_height_mm is not None:
        highest, shortest = machines.resaw_height_mm, machines.resaw_shortest_mm
        due.append(ResawSafely(highest_um=round(1000 * highest), shortest_um=round(1000 * shortest)))
    if any("mdf" in layout.blank.species.casefold() for layout in sheet.plan.layouts):
        due.append(MdfDust())
    told = sheet.plan.cautions
    for fact in due:
        if not any(same(fact, t) for t in told):
            sheet.say("A519", "", f"the plan leaves out the caution {fact}")
    for t in told:
        if not any(same(fact, t) for fact in due):
            sheet.say("A519", "", f"the plan has the caution {t}, which is not so")
