"""What holds each part until its outline is cut, worked out again by cutting the wood step by step."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import unit
from nestyield.audit.sheet import CheckedBlank
from nestyield.audit.stages import axis_of
from nestyield.model import BedPosition, Setup
from nestyield.model.facts import CutOutline, CutThrough

#: A groove so thin may or may not part the wood: screws that hang on it may count either way, mm.
NEAR_MM = 0.05
_FAR_MM = 1e5


def check_held(bench: CheckedBlank) -> None:
    """Cut the blank in the order of its stages, and look which screws are in one piece with each part."""
    layout, work = bench.layout, bench.layout.work
    if work is None or layout.chosen is None or not 0 <= layout.chosen < len(layout.setups):
        return
    setup = layout.setups[layout.chosen]
    positions = {p.name: p for p in work.positions}
    steps = [
        (positions[stage.position], step)
        for stage in work.stages
        if stage.position in positions
        for step in stage.steps
        if isinstance(step, CutThrough | CutOutline)
    ]
    cut = [(p.name, s.placement - 1) for p, s in steps if isinstance(s, CutOutline)]
    told = {(c.position, c.placement): set(c.holds) for c in work.outlines}
    if [key for key in told if key in cut] != cut or not set(told) >= set(cut):
        bench.say("A530", "outlines are not cut in the order in which what holds them is told")
        return
    strict = loose = bench.wood
    for position, step in steps:
        laid = next((x for x in bench.laid if x.index == step.placement - 1), None)
        if laid is None:
            continue
        if isinstance(step, CutOutline):
            screws = {
                h.name: shapely.Point(h.x_mm, h.y_mm)
                for h in work.hold_downs
                if not h.sections or position.section in h.sections
            }
            surely = _with(strict, laid.outline, screws)
            maybe = _with(loose, laid.outline, screws)
            said = told[position.name, laid.index]
            for name in sorted(surely - said):
                bench.say("A530", f"{name} holds {laid.name} when its outline is cut, and is left out")
            for name in sorted(said - maybe):
                bench.say("A530", f"{name} does not hold {laid.name} when its outline is cut")
        here = window(bench, setup, position)
        for by, keep in ((NEAR_MM, True), (-NEAR_MM, False)):
            groove = _groove(bench, step, by)
            if keep:
                strict = strict.difference(groove.intersection(here))
            else:
                loose = loose.difference(groove.intersection(here))


def _groove(bench: CheckedBlank, step: CutThrough | CutOutline, more_mm: float) -> BaseGeometry:
    """Return what a step cuts right through; a core stays of an opening wider than two cutters."""
    wide = bench.sheet.plan.shop.settings.cutter_diameter_mm + more_mm
    laid = next(x for x in bench.laid if x.index == step.placement - 1)
    if isinstance(step, CutOutline):
        return laid.outline.buffer(wide, quad_segs=64).difference(laid.outline)
    shapes = [laid.zone(z.shape) for z in laid.part.zones if z.name in step.zones and z.shape is not None]
    return shapely.union_all([s.difference(s.buffer(-wide, quad_segs=64)) for s in shapes])


def _with(wood: BaseGeometry, body: BaseGeometry, screws: dict[str, shapely.Point]) -> set[str]:
    """Return the screws in one piece with a part."""
    mine = max(shapely.get_parts(wood), key=lambda piece: piece.intersection(body).area)
    return {name for name, at in screws.items() if mine.covers(at)}


def window(bench: CheckedBlank, setup: Setup, position: BedPosition) -> BaseGeometry:
    """Return where a position cuts, blank coordinates."""
    if not position.section:
        return shapely.box(-_FAR_MM, -_FAR_MM, _FAR_MM, _FAR_MM)
    here = setup.sections[position.section - 1]
    low, high = here.from_mm, here.to_mm
    corners = [(low, -_FAR_MM), (high, -_FAR_MM), (high, _FAR_MM), (low, _FAR_MM)]
    if axis_of(bench, setup) == "y":
        corners = [(y, x) for x, y in corners]
    z = np.array([complex(x, y) for x, y in corners]) - complex(position.x_mm, position.y_mm)
    z = z * unit(position.angle_deg).conjugate()
    z = -z.conjugate() if position.mirrored else z
    return shapely.Polygon([(v.real, v.imag) for v in z])
