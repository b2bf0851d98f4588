"""Cautions: of one blank's wood and the parts on it, and for any work that a plan asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely

from nestyield.bed.sweep import circumscribed, shape_polygon
from nestyield.model import DEFECTS, EdgeCheck, Inspection, Layout, MachineLimits, Outline, Shop
from nestyield.model.arcs import bounds
from nestyield.model.axis import BlankEdge
from nestyield.model.facts import (
    Caution,
    CrosscutFirst,
    CrosscutSafely,
    DryRun,
    FibersRise,
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
from nestyield.model.facts.hazards import CutPlace
from nestyield.model.micrometers import down_um, nearest_um
from nestyield.model.pose import Pose
from nestyield.planning.work.edges import flaw_at_corner
from nestyield.planning.work.frame import frame_cautions
from nestyield.wood.machining import PUSH_STICK_UM

#: Chords of outlines measured for how narrow a part is, mm.
_ERROR_MM = 0.01

_OPPOSITE: dict[BlankEdge, BlankEdge] = {"lower": "upper", "left": "right"}


def cautions_of(layout: Layout, inspection: Inspection, shop: Shop) -> tuple[Caution, ...]:
    """Return the cautions of one blank, those of its setup on the bed left out.

    Parameters
    ----------
    layout : Layout
        With its edges to watch, and with a bed chosen where one takes it.
    inspection : Inspection
        Of its wood.
    shop : Shop
        Limits are those of its ``[machines]``.
    """
    limits = shop.settings.machines
    return (
        *_datum(layout, inspection),
        *_measured(layout, shop),
        *_tearing(layout, shop),
        *_under_cutter(layout, inspection, shop),
        *_sizes(layout, shop, limits),
        *frame_cautions(layout, shop),
        *(() if layout.chosen is not None else (NoBed(),)),
    )


def general_cautions(shop: Shop, layouts: Sequence[Layout]) -> tuple[GeneralCaution, ...]:
    """Return the cautions for any work that a plan asks for.

    Parameters
    ----------
    shop : Shop
    layouts : sequence of Layout
        What the plan takes from the rack.
    """
    limits = shop.settings.machines
    usual: tuple[GeneralCaution, ...] = (
        OperatorDecides(),
        ReclaimedMetal(),
        LooseKnots(),
        GuardsOn(),
        DryRun(),
        PartsComeLoose(),
        PushStick(stick_um=PUSH_STICK_UM, last_um=nearest_um(limits.saw_push_stick_mm)),
        PushBlocks(
            length_um=nearest_um(limits.push_block_length_mm),
            width_um=nearest_um(limits.push_block_width_mm),
            thickness_um=nearest_um(limits.push_block_thickness_mm),
            shortest_um=nearest_um(limits.jointer_shortest_mm),
        ),
        WoodDust(),
    )
    sawn = [x.blank.members[0] for x in layouts if len(x.blank.members) == 1]
    glued = [step for x in layouts if x.glueup is not None for step in x.glueup.steps]
    if (
        any(m.cut is not None and m.layer is None for m in sawn)
        or any(isinstance(step, CrosscutFirst) for step in glued)
        or any(x.blank.on_edge for x in layouts)
    ):
        usual = (*usual, CrosscutSafely())
    if limits.resaw_height_mm is not None and any(
        m.layer is not None for x in layouts for m in x.blank.members
    ):
        usual = (
            *usual,
            ResawSafely(
                highest_um=nearest_um(limits.resaw_height_mm),
                shortest_um=nearest_um(limits.resaw_shortest_mm),
            ),
        )
    mdf = any("mdf" in layout.blank.species.casefold() for layout in layouts)
    return (*usual, MdfDust()) if mdf else usual


def _datum(layout: Layout, inspection: Inspection) -> Iterator[Caution]:
    """Yield what to do where the edges that lengths are counted from are not sound."""
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    size = {"lower": nearest_um(y1 - y0), "left": nearest_um(x1 - x0)}
    checks: dict[BlankEdge, EdgeCheck] = {check.edge: check for check in inspection.edges}
    for edge, other in _OPPOSITE.items():
        check = checks[edge]
        if check.sound:
            continue
        if checks[other].sound:
            yield (
                MeasureFromOpposite(edge=edge, opposite=other, size_um=size[edge], gaps=check.gaps)
                if check.gaps
                else LittleWoodFromOpposite(edge=edge, opposite=other, size_um=size[edge])
            )
        else:
            yield (
                MeasureFromLine(edge=edge, gaps=check.gaps) if check.gaps else LittleWoodFromLine(edge=edge)
            )
    if not inspection.corner:
        yield NoWoodAtCorner(kind=flaw_at_corner(layout.blank))


def _measured(layout: Layout, shop: Shop) -> Iterator[Caution]:
    """Yield how far off the wood may be, and how much of that the margins bear."""
    used = {m.piece for m in layout.blank.members}
    errors = {p.name: p.measured_mm for p in shop.pieces if p.name in used}
    names = tuple(dict.fromkeys(m.piece for m in layout.blank.members if errors.get(m.piece, 0.0) > 0))
    if not names:
        return
    most = nearest_um(max(errors.values()))
    if not layout.blank.measured_mm:
        yield MeasuredWood(pieces=names, measured_um=most)
        return
    edges = shape_polygon(layout.blank.shape).boundary
    rings = (
        circumscribed(Pose.of(p).outline(shop.part(p.part).outline), _ERROR_MM) for p in layout.placements
    )
    near = min(float(shapely.LinearRing(ring).distance(edges)) for ring in rings)
    room = down_um(near - shop.settings.blank_margin_mm)
    yield MeasuredWood(pieces=names, measured_um=most, room_um=room)


def _tearing(layout: Layout, shop: Shop) -> Iterator[Caution]:
    rising = [w.length_mm for w in layout.watch if w.kind == "rising grain"]
    if rising:
        yield FibersRise(feed=shop.settings.prefer.feed, total_um=nearest_um(sum(rising)))
    if points := len(layout.watch) - len(rising):
        yield PointsBreak(count=points)


def _under_cutter(layout: Layout, inspection: Inspection, shop: Shop) -> Iterator[Caution]:
    """Yield metal and knots, in the cutter's path or not, and what is loose."""
    defects = layout.blank.defects
    met = inspection.under_cutter
    metal = [m for m in met if DEFECTS[m.kind].may_hold_metal]
    if metal:
        yield MetalUnderCutter(
            kinds=tuple(sorted({m.kind for m in metal})),
            defects=tuple(m.defect for m in metal),
            places=_places([m.places for m in metal]),
        )
    if near := inspection.near_cutter:
        yield HoleNearCut(
            kinds=tuple(sorted({m.kind for m in near})),
            defects=tuple(m.defect for m in near),
            places=_places([m.places for m in near]),
            within_um=nearest_um(shop.settings.prefer.hole_clearance_mm),
        )
    named = {m.defect for m in metal}
    clear = tuple(sorted({d.kind for d in defects if d.traits.may_hold_metal and d.name not in named}))
    if clear:
        yield MetalInWood(kinds=clear)
    knots = [m for m in met if not DEFECTS[m.kind].may_hold_metal]
    if knots:
        yield KnotUnderCutter(knots=tuple(m.defect for m in knots), places=_places([m.places for m in knots]))
    loose = tuple(sorted({d.kind for d in defects if d.traits.loose}))
    if loose:
        yield LooseInWood(kinds=loose)


def _places(found: Sequence[Sequence[CutPlace]]) -> tuple[CutPlace, ...]:
    """Return places once each, by placement, zones before the outline."""
    rank: Callable[[CutPlace], tuple[int, bool]] = lambda p: (p.placement, p.code == "at outline")  # noqa: E731
    return tuple(sorted(dict.fromkeys(place for places in found for place in places), key=rank))


def _sizes(layout: Layout, shop: Shop, limits: MachineLimits) -> Iterator[Caution]:
    """Yield what is too small: the blank for jointer or planer, unless it is a sheet, and parts for hands."""
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    longest = max(x1 - x0, y1 - y0)
    least = max(limits.jointer_shortest_mm, limits.planer_least_length_mm)
    if layout.blank.grain_deg is not None and longest < least:
        yield ShortStock(length_um=down_um(longest), least_um=nearest_um(least))
    under = limits.push_block_width_mm
    small = tuple(
        k for k, p in enumerate(layout.placements) if narrowest_mm(shop.part(p.part).outline) < under
    )
    if small:
        yield SmallParts(placements=small, under_um=nearest_um(under))


def narrowest_mm(outline: Outline) -> float:
    """Return the least distance of two parallel lines with an outline between them, millimeters.

    The least lies square to an edge of the convex hull.
    """
    hull = np.array(shapely.MultiPoint(circumscribed(outline, _ERROR_MM)).convex_hull.exterior.coords)
    sides = np.diff(hull, axis=0)
    normals = np.column_stack([-sides[:, 1], sides[:, 0]]) / np.hypot(*sides.T)[:, None]
    return float(np.ptp(hull[:-1] @ normals.T, axis=0).min())
