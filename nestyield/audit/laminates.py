"""Laminated blanks: layers of the right wood, one above the other, each planed out of its piece."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, region, thickness_of
from nestyield.audit.depth import planed_off
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, polygon_union
from nestyield.audit.wood_facts import grain_of
from nestyield.model import Blank, Defect, Member, Part, Piece, Settings, StackLayer

#: Depths and thicknesses closer than this are the same, millimeters.
SAME_MM = 1e-3
#: Angles closer than this are the same: places are rounded to a micrometer, degrees.
SAME_DEG = 0.01
#: Less of a flaw at the very edge need not be told, as elsewhere, millimeters.
_EDGE_MM = TOL_MM / 4


def check_laminated(bench: CheckedBlank) -> None:
    """Check that parts with a cap, and only parts that may be, are laminated, and how layers make a blank.

    Parameters
    ----------
    bench : CheckedBlank
    """
    blank = bench.layout.blank
    for laid in bench.laid:
        for what in _asked_wrong(bench, laid):
            bench.say("A131", what, laid.name)
    if not blank.stack:
        return
    if len(blank.stack) != len(blank.members) or len(blank.stack) < 2 or blank.seams or blank.measured_mm:
        bench.say("A132", f"has {len(blank.stack)} layers of {len(blank.members)} pieces, or seams")
        return
    pieces = [bench.sheet.pieces.get(m.piece) for m in blank.members]
    known = [p for p in pieces if p is not None]
    if len(known) < len(pieces):
        return  # told by check_stock
    settings = bench.sheet.plan.shop.settings
    for what in _stacked_wrong(blank, known, settings):
        bench.say("A132", what)
    for member, piece in zip(blank.members, known):
        bare = thickness_of(bench.wood.difference(region(piece.shape, member)))
        if bare > TOL_MM:
            bench.say("A109", f"has a place {bare:.3f} mm wide that piece {piece.name} does not cover")
    for what in _neighbors_wrong(bench, known):
        bench.say("A133", what)
    for member, layer, piece in zip(blank.members, blank.stack, known):
        _flaws(bench, member, layer, piece)


def _asked_wrong(bench: CheckedBlank, laid: CheckedPlacement) -> Iterator[str]:
    """Yield what is wrong with how a part is made: of layers or not, of which wood, its cap how thick."""
    part, blank = laid.part, bench.layout.blank
    if not blank.stack:
        if part.cap:
            yield "has a cap, and is not made of layers"
        return
    most = bench.sheet.plan.shop.settings.glueup.most_layers
    most = max(2, most) if part.cap else most
    if len(blank.stack) > most or not part.glue or part.book_match:
        yield f"is made of {len(blank.stack)} layers; {most} are allowed, glue = {part.glue}"
    if not laid.placement.front_up:
        yield "lies back up in a laminated blank"
    for k, member in enumerate(blank.members):
        piece = bench.sheet.pieces.get(member.piece)
        woods = part.cap if part.cap and k == 0 else part.species
        if piece is not None and woods and piece.species not in woods:
            yield f"layer {k + 1} is {piece.species}; it may be {', '.join(woods)}"
    if part.cap:
        thick = blank.stack[0].bottom_mm - planed_off(bench, laid)[0]
        if abs(thick - part.cap_mm) > SAME_MM:
            yield f"its cap comes to {thick:g} mm; {part.cap_mm:g} mm are asked for"


def _stacked_wrong(blank: Blank, pieces: Sequence[Piece], settings: Settings) -> Iterator[str]:
    """Yield what is wrong with layers: without a gap from face to face, each planed out of its piece."""
    ends = [0.0, *(layer.bottom_mm for layer in blank.stack)]
    for end, layer in zip(ends, blank.stack):
        if abs(layer.top_mm - end) > SAME_MM:
            yield f"a layer begins {layer.top_mm:g} mm deep; what is above it ends at {end:g} mm"
    if abs(ends[-1] - blank.thickness_mm) > SAME_MM:
        yield f"its layers are {ends[-1]:g} mm together, it is {blank.thickness_mm:g} mm"
    last = len(pieces) - 1
    for k, (layer, piece) in enumerate(zip(blank.stack, pieces)):
        thick = layer.bottom_mm - layer.top_mm
        below = piece.thickness_mm - layer.off_top_mm - thick
        least = (0.0 if k == 0 else settings.planing_mm, 0.0 if k == last else settings.planing_mm)
        if layer.off_top_mm < least[0] - SAME_MM or below < least[1] - SAME_MM:
            yield (
                f"{layer.off_top_mm:g} and {below:g} mm come off the faces of {piece.name} before gluing; "
                f"at least {least[0]:g} and {least[1]:g} mm must"
            )
        finished = thick - settings.planing_mm * ((k == 0) + (k == last))
        if piece.thickness_mm - finished > settings.most_planed_away_mm + SAME_MM:
            yield f"{piece.thickness_mm - finished:g} mm of {piece.name} are planed away"
        if thick < settings.machines.planer_thinnest_mm - SAME_MM and k not in (0, last):
            yield f"layer {k + 1} is {thick:g} mm thick, which the planer does not take"
        if piece.grain_deg is None or piece.seams or piece.measured_mm:
            yield f"{piece.name} is a sheet, glued up, or measured with an error"


def _neighbors_wrong(bench: CheckedBlank, pieces: Sequence[Piece]) -> Iterator[str]:
    """Yield what is wrong between neighbors: moisture, grain, species, board; and with grain under parts."""
    blank, rules = bench.layout.blank, bench.sheet.plan.shop.settings.glueup
    grains = [grain_of(p, m) for p, m in zip(pieces, blank.members)]
    for k, (one, other) in enumerate(itertools.pairwise(pieces)):
        if one.moisture_pct is not None and other.moisture_pct is not None:
            apart = abs(one.moisture_pct - other.moisture_pct)
            if apart > rules.moisture_difference + 1e-6:
                yield f"{one.name} and {other.name} are {apart:g} points of moisture apart"
        crossed = _between(grains[k], grains[k + 1])
        if crossed > rules.crossed_grain_deg + SAME_DEG:
            yield f"the grain of {one.name} and {other.name} crosses by {crossed:.3f} degrees"
    for laid in bench.laid:
        yield from _grain_wrong(laid, pieces, grains)
        core = pieces[1:] if laid.part.cap else pieces
        if len({p.species for p in core}) > 1 and not rules.mixed_species:
            yield f"unlike woods in {laid.name}: {', '.join(sorted({p.species for p in core}))}"
        if rules.one_board and not laid.part.cap and len({p.board for p in pieces}) > 1:
            yield f"{laid.name} is of several boards"


def _grain_wrong(laid: CheckedPlacement, pieces: Sequence[Piece], grains: Sequence[float]) -> Iterator[str]:
    drawn = laid.part.grain_deg
    if drawn is None:
        yield f"{laid.name} has no grain, and is laminated"
        return
    lies = (180.0 - drawn if laid.placement.mirrored else drawn) + laid.placement.angle_deg
    for piece, grain in zip(pieces, grains):
        off = _between(grain, lies)
        if off > laid.part.grain_tolerance_deg + SAME_DEG:
            yield f"{piece.name} lies {off:.3f} degrees off the grain of {laid.name}"


def _between(one: float, other: float) -> float:
    return abs((one - other + 90.0) % 180.0 - 90.0)


def _span(flaw: Defect, thick: float) -> tuple[float, float]:
    """Return from where to where below the top face a flaw reaches."""
    if flaw.depth_mm is None or flaw.face == "through":
        return (0.0, thick)
    low, high = flaw.start_mm, min(flaw.depth_mm, thick)
    return (low, high) if flaw.face == "top" else (thick - high, thick - low)


def _flaws(bench: CheckedBlank, member: Member, layer: StackLayer, piece: Piece) -> None:
    """Every flaw of a piece that reaches its layer is in the blank, as wide and at its depth."""
    blank = bench.layout.blank
    mine = [(d, region(d.shape), _span(d, blank.thickness_mm)) for d in blank.defects]
    thick = layer.bottom_mm - layer.top_mm
    for flaw in piece.defects:
        low, high = _span(flaw, piece.thickness_mm)
        low, high = max(low - layer.off_top_mm, 0.0), min(high - layer.off_top_mm, thick)
        if high - low <= SAME_MM:
            continue
        depth = (layer.top_mm + low, layer.top_mm + high)
        ground = region(flaw.shape, member).intersection(bench.wood)
        told: list[BaseGeometry] = [
            where
            for d, where, (a, b) in mine
            if d.kind == flaw.kind and a <= depth[0] + SAME_MM and b >= depth[1] - SAME_MM
        ]
        missing = thickness_of(ground.difference(polygon_union(told).buffer(_EDGE_MM)))
        if missing > TOL_MM:
            bench.say(
                "A111",
                f"{flaw.kind} of piece {piece.name} ({flaw.name}) is missing, or smaller, {depth[0]:g} to "
                f"{depth[1]:g} mm deep",
            )


def spans_of(blank: Blank, top_off_mm: float, part: Part) -> list[tuple[float, float]]:
    """Return which depths of a finished part, front up, each layer of a blank is.

    Parameters
    ----------
    blank : Blank
    top_off_mm : float
    part : Part
    """
    return [
        (max(0.0, x.top_mm - top_off_mm), min(part.thickness_mm, x.bottom_mm - top_off_mm))
        for x in blank.stack
    ]


def across_mm(blank: Blank) -> float:
    """Return the width of a blank across its grain, millimeters."""
    turn = math.radians((blank.grain_deg or 0.0) + 90.0)
    reach = [x * math.cos(turn) + y * math.sin(turn) for x, y in blank.shape.outer.points_mm]
    return max(reach) - min(reach)
