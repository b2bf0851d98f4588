"""By how much a blank can be off, added up from how it is made and moved."""

from __future__ import annotations

from dataclasses import replace

import shapely

from nestyield.bed.sweep import circumscribed, shape_polygon
from nestyield.model import Blank, Layout, OffBy, OffSource, OffTerm, Shop
from nestyield.model.facts import Flip, FlipOnPins, MoveOn, TurnEndForEnd
from nestyield.model.micrometers import down_um, nearest_um
from nestyield.model.pose import Pose

#: Chords of outlines lie no farther off, millimeters.
_ERROR_MM = 0.01


def with_off(layout: Layout, shop: Shop) -> Layout:
    """Return a layout that tells by how much its blank can be off.

    Parameters
    ----------
    layout : Layout
        With the stages of its work.
    shop : Shop
    """
    terms = _wood(layout.blank, shop)
    turns, moves = _moved(layout)
    each = shop.settings.holding.flip_tolerance_mm
    later: list[tuple[OffSource, int, float]] = [("turned over", turns, each), ("moved on", moves, each)]
    off = OffBy(
        wood=_terms(terms),
        positions=_terms(later),
        edge_um=_edge_um(layout, shop),
    )
    return replace(layout, off=off)


def _terms(found: list[tuple[OffSource, int, float]]) -> tuple[OffTerm, ...]:
    return tuple(
        OffTerm(source=source, count=count, each_um=nearest_um(each))
        for source, count, each in found
        if count and nearest_um(each)
    )


def _wood(blank: Blank, shop: Shop) -> list[tuple[OffSource, int, float]]:
    """Return what adds up in the wood: the worst measured piece, the line it is sawn to, seams, layers."""
    rows = {m.piece for m in blank.members}
    pieces = [p for p in shop.pieces if p.name in rows]
    glued = len(blank.members) > 1 and not blank.stack
    # a leaf is as long and wide as its board; a whole piece has the edges that were measured
    sawn = bool(blank.stack) or any(m.cut is not None and m.layer is None for m in blank.members)
    seam = shop.settings.glueup.seam_tolerance_mm
    return [
        ("measured", 1, max((p.measured_mm for p in pieces), default=0.0)),
        ("saw cut", int(sawn), shop.settings.machines.saw_tolerance_mm),
        ("seam", len(blank.seams) if glued else 0, seam),
        ("layer", max(0, len(blank.stack) - 1), seam),
    ]


def _moved(layout: Layout) -> tuple[int, int]:
    """Return how often the work turns a blank over, and moves it on or turns it end for end."""
    steps = [s for stage in (layout.work.stages if layout.work else ()) for s in stage.steps]
    turns = sum(isinstance(s, Flip | FlipOnPins) for s in steps)
    return turns, sum(isinstance(s, MoveOn | TurnEndForEnd) for s in steps)


def _edge_um(layout: Layout, shop: Shop) -> int | None:
    """Return how near a part comes to an edge of its blank, rounded down."""
    edges = shape_polygon(layout.blank.shape).boundary
    rings = [
        circumscribed(Pose.of(p).outline(shop.part(p.part).outline), _ERROR_MM) for p in layout.placements
    ]
    return min((down_um(float(shapely.LinearRing(r).distance(edges))) for r in rings), default=None)
