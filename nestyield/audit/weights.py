"""Weights worked out again: the part sliced through its thickness, densities looked up anew."""

from __future__ import annotations

import itertools
import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import split

from nestyield.audit.curves import points_of, polygon, region
from nestyield.audit.depth import planed_off
from nestyield.audit.laminates import spans_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, CheckedSheet, cut_through, polygon_union
from nestyield.model import Layout, Part, PartWeight, Piece, Placement, Seam, Settings, Zone
from nestyield.model.arcs import box_of
from nestyield.wood.density import (
    HEAVIEST_KG_M3,
    LEAST_OFF_MM,
    SHEET_KG_M3,
    SPECIFIC_GRAVITY,
    WITHIN_BOARD_PCT,
    WITHIN_SPECIES_PCT,
)
from nestyield.wood.own import own_wood
from nestyield.wood.species import find

#: Volumes are compared to this share, in contours to that one: their depth is taken at points.
_SHARE, _SLOPED_SHARE = 2e-4, 1e-2
#: And to chords of curves that lie so far off all around a part, which counts in small ones, millimeters.
_CHORD_MM = 0.004
#: Points at which the depth of contours is taken.
_POINTS = 6000
#: Seams are taken as so long when a part is divided by them, millimeters.
_FAR_MM = 1e5


def check_weights(bench: CheckedBlank) -> None:
    """Check what each part weighs, by how much it may be off, and that it is in the range asked for."""
    _ranges(bench)
    told = bench.layout.weights
    if not told:
        if any(layout.weights for layout in bench.sheet.plan.layouts):  # earlier versions told none at all
            bench.say("A411", "weights of its parts are missing")
        return
    if len(told) != len(bench.layout.placements):
        bench.say("A411", f"{len(told)} weights are told for {len(bench.layout.placements)} parts")
        return
    for laid in bench.laid:
        _told(bench, laid, told[laid.index])


def _ranges(bench: CheckedBlank) -> None:
    settings = bench.sheet.plan.shop.settings
    for laid in bench.laid:
        if laid.part.weight is None or laid.part.weight.lightest:
            continue
        if bench.layout.blank.stack:
            _range_of_layers(bench, laid)
            continue
        for name in dict.fromkeys(m.piece for m in bench.layout.blank.members):
            piece = bench.sheet.pieces.get(name)
            if piece is not None and out_of_range(laid.part, piece, settings, 2 * _SHARE):
                kg = weight_kg(laid.part, piece, settings)
                bench.say("A136", f"{laid.name} of {name} weighs {'?' if kg is None else f'{kg:.3f}'} kg")


def _range_of_layers(bench: CheckedBlank, laid: CheckedPlacement) -> None:
    """Check that the layers of a part together weigh within its range."""
    wish, kg = laid.part.weight, 0.0
    for name, volume in _by_layer(bench, laid).items():
        piece = bench.sheet.pieces.get(name)
        found = None if piece is None else density(piece, bench.sheet.plan.shop.settings)
        if found is None:
            bench.say("A136", f"{laid.name} has a layer of {name}, whose density is not known")
            return
        kg += found[0] * volume / 1e9
    low, high = (None, None) if wish is None else (wish.least_kg, wish.most_kg)
    if (high is not None and kg > high * (1 + 2 * _SHARE)) or (
        low is not None and kg < low * (1 - 2 * _SHARE)
    ):
        bench.say("A136", f"{laid.name} weighs {kg:.3f} kg in layers")


def _told(bench: CheckedBlank, laid: CheckedPlacement, told: PartWeight) -> None:
    settings = bench.sheet.plan.shop.settings
    whole, sloped = volumes(laid.part, laid.outline, laid.placement)
    slack = _SHARE * whole + _SLOPED_SHARE * sloped
    slack += _CHORD_MM * laid.outline.length * laid.part.thickness_mm
    if abs(whole - told.volume_mm3) > slack:
        bench.say("A411", f"{laid.name} has {whole:.0f} mm3 of wood, the plan says {told.volume_mm3:.0f}")
        return
    found = _by_piece(bench, laid)
    if {w.piece for w in told.woods} != {name for name, v in found.items() if v > slack} and len(found) > 1:
        bench.say("A411", f"{laid.name} has wood of {', '.join(sorted(found))}")
        return
    kg, var = 0.0, 0.0
    for wood in told.woods:
        piece = bench.sheet.pieces.get(wood.piece)
        if piece is None:
            return  # told by check_stock
        if abs(wood.volume_mm3 - found.get(wood.piece, 0.0)) > slack + 0.01:
            bench.say(
                "A411",
                f"{laid.name} has {found.get(wood.piece, 0.0):.0f} mm3 of {wood.piece}, "
                f"the plan says {wood.volume_mm3:.0f}",
            )
        right = density(piece, settings)
        if right is None or wood.density_kg_m3 is None:
            if (right is None) != (wood.density_kg_m3 is None) or told.kg is not None:
                bench.say("A411", f"the density of {wood.piece} is not told as it is")
            return
        if not _near(wood.density_kg_m3, right[0]) or not _near(wood.off_pct, right[1]):
            bench.say(
                "A411",
                f"{wood.piece} has {right[0]:.1f} kg/m3, {right[1]:.1f} % off; the plan says "
                f"{wood.density_kg_m3:.1f} and {wood.off_pct:.1f}",
            )
            return
        here = wood.volume_mm3 * right[0] / 1e9
        kg, var = kg + here, var + (here * right[1] / 100) ** 2
    if told.kg is None or not _near(told.kg, kg) or not _near(told.off_kg, math.sqrt(var)):
        bench.say(
            "A411",
            f"{laid.name} weighs {kg:.4f} kg, {math.sqrt(var):.4f} off; the plan says {told.kg} and "
            f"{told.off_kg:.4f}",
        )


def _near(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-9)


def volumes(part: Part, outline: BaseGeometry, at: Placement | None = None) -> tuple[float, float]:
    """Return the wood of a finished part, and how much of it stands where contours slope, mm3."""
    cuts = [(z, region(z.shape, at)) for z in part.zones if z.shape is not None and z.does.cuts]
    slopes = polygon_union([ground for zone, ground in cuts if zone.does.slopes]).intersection(outline)
    flat = outline.difference(slopes)
    edges = {0.0, part.thickness_mm}
    for zone, _ in cuts:
        if zone.depth_mm is not None and zone.depth_mm < part.thickness_mm and not zone.does.slopes:
            edges.add(zone.depth_mm if zone.face == "front" else part.thickness_mm - zone.depth_mm)
    whole = 0.0
    for low, high in itertools.pairwise(sorted(edges)):
        middle = (low + high) / 2
        gone = [ground for zone, ground in cuts if _is_cut(zone, part, middle)]
        whole += flat.difference(polygon_union(gone)).area * (high - low)
    sloped = 0.0 if slopes.is_empty else _sloped(part, outline, slopes, cuts)
    return whole + sloped, sloped


def _is_cut(zone: Zone, part: Part, depth_mm: float) -> bool:
    """Tell whether a zone with a flat floor takes the wood at a depth below the front face."""
    if cut_through(zone, part):
        return True
    if zone.does.slopes or zone.depth_mm is None:
        return False
    return depth_mm < zone.depth_mm if zone.face == "front" else depth_mm > part.thickness_mm - zone.depth_mm


def _sloped(
    part: Part,
    outline: BaseGeometry,
    slopes: BaseGeometry,
    cuts: list[tuple[Zone, BaseGeometry]],
    span: tuple[float, float] | None = None,
) -> float:
    """Return the wood that stays where contours slope, of a span of depths, by its height at many points."""
    x0, y0, x1, y1 = slopes.bounds
    step = max(1e-3, math.sqrt(slopes.area / _POINTS))
    xs, ys = np.meshgrid(np.arange(x0 + 0.37 * step, x1, step), np.arange(y0 + 0.61 * step, y1, step))
    spots = shapely.points(xs.ravel(), ys.ravel())
    spots = spots[shapely.contains(slopes, spots)]
    if not len(spots):
        return 0.0
    thick, edge = part.thickness_mm, outline.boundary
    front, back = np.zeros(len(spots)), np.zeros(len(spots))
    for zone, ground in cuts:
        inside = shapely.contains(ground, spots)
        deep = np.full(len(spots), thick if zone.depth_mm is None else min(zone.depth_mm, thick))
        if zone.does.slopes:
            inner = ground.boundary.difference(edge.buffer(0.05))
            to_inner = shapely.distance(spots, ground.boundary if inner.is_empty else inner)
            deep = deep * to_inner / np.maximum(to_inner + shapely.distance(spots, edge), 1e-9)
        if cut_through(zone, part) or zone.face == "front":
            front = np.maximum(front, np.where(inside, deep, 0.0))
        else:
            back = np.maximum(back, np.where(inside, deep, 0.0))
    low, high = span or (0.0, thick)
    height = np.maximum(0.0, np.minimum(high, thick - back) - np.maximum(low, front)).mean()
    return float(height * slopes.area)


def _by_piece(bench: CheckedBlank, laid: CheckedPlacement) -> dict[str, float]:
    """Return the wood of each row of the rack in a part, mm3: the part is split along the seams."""
    blank = bench.layout.blank
    names = [m.piece for m in blank.members]
    if blank.stack:
        return _by_layer(bench, laid)
    if len(set(names)) == 1:
        return {names[0]: volumes(laid.part, laid.outline, laid.placement)[0]}
    out = dict.fromkeys(names, 0.0)
    for k, name in enumerate(names):
        ground = laid.outline
        for j, seam in enumerate(blank.seams):
            ground = _beside(ground, seam, left=j < k)
        if not ground.is_empty:
            out[name] += _within(laid, ground)
    return out


def _by_layer(bench: CheckedBlank, laid: CheckedPlacement) -> dict[str, float]:
    """Return the wood of each row of the rack in a part that is made of layers, mm3."""
    out: dict[str, float] = {}
    spans = spans_of(bench.layout.blank, planed_off(bench, laid)[0], laid.part)
    for member, (low, high) in zip(bench.layout.blank.members, spans):
        out[member.piece] = out.get(member.piece, 0.0) + _between(laid, low, high)
    return out


def _between(laid: CheckedPlacement, top_mm: float, bottom_mm: float) -> float:
    """Return the wood of a part between two depths below its front face."""
    cuts = [(z, laid.zone(z.shape)) for z in laid.part.zones if z.shape is not None and z.does.cuts]
    slopes = polygon_union([g for z, g in cuts if z.does.slopes]).intersection(laid.outline)
    flat, total = laid.outline.difference(slopes), 0.0
    edges = {top_mm, bottom_mm}
    for zone, _ in cuts:
        if zone.depth_mm is not None and not zone.does.slopes:
            edges.add(zone.depth_mm if zone.face == "front" else laid.part.thickness_mm - zone.depth_mm)
    inner = [e for e in sorted(edges) if top_mm <= e <= bottom_mm]
    for low, high in itertools.pairwise(inner):
        gone = [g for z, g in cuts if _is_cut(z, laid.part, (low + high) / 2)]
        total += flat.difference(polygon_union(gone)).area * (high - low)
    if slopes.is_empty:
        return total
    return total + _sloped(laid.part, laid.outline, slopes, cuts, (top_mm, bottom_mm))


def _within(laid: CheckedPlacement, ground: BaseGeometry) -> float:
    """Return the wood of a part inside some ground: of the whole, less that of the rest cut out."""
    cuts = [(z, laid.zone(z.shape)) for z in laid.part.zones if z.shape is not None and z.does.cuts]
    thick, total = laid.part.thickness_mm, 0.0
    slopes = polygon_union([g for z, g in cuts if z.does.slopes]).intersection(ground)
    edges = {0.0, thick}
    for zone, _ in cuts:
        if zone.depth_mm is not None and not zone.does.slopes:
            edges.add(min(thick, zone.depth_mm) if zone.face == "front" else max(0.0, thick - zone.depth_mm))
    for low, high in itertools.pairwise(sorted(edges)):
        gone = [g for z, g in cuts if _is_cut(z, laid.part, (low + high) / 2)]
        total += ground.difference(slopes).difference(polygon_union(gone)).area * (high - low)
    return total + (0.0 if slopes.is_empty else _sloped(laid.part, laid.outline, slopes, cuts))


def _beside(ground: BaseGeometry, seam: Seam, *, left: bool) -> BaseGeometry:
    """Return what of some ground lies on one side of a seam."""
    (ax, ay), (bx, by) = seam.line_mm[0], seam.line_mm[-1]
    far = _FAR_MM / math.hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) * far, (by - ay) * far
    line = shapely.LineString([(ax - ux, ay - uy), (ax + ux, ay + uy)])
    kept = []
    for some in shapely.get_parts(ground):
        for piece in shapely.get_parts(split(some, line)):
            at = piece.representative_point()
            if ((bx - ax) * (at.y - ay) - (by - ay) * (at.x - ax) > 0) == left:
                kept.append(piece)
    return polygon_union(kept)


def density(piece: Piece, settings: Settings) -> tuple[float, float] | None:
    """Return kg/m3 of a piece and its standard deviation in percent, or None where nothing says it."""
    if piece.weight_kg is not None:
        box, off = box_of(piece.shape.outer), max(LEAST_OFF_MM, piece.measured_mm)
        parts = (
            off / box.width,
            off / box.height,
            off / piece.thickness_mm,
            piece.weight_off_kg / piece.weight_kg,
            WITHIN_BOARD_PCT / 100,
        )
        kg_mm3 = piece.weight_kg / piece.shape.area_mm2 / piece.thickness_mm
        return 1e9 * kg_mm3, 100 * math.sqrt(sum(p * p for p in parts))
    mine = own_wood(piece.species, settings.own_woods)
    if mine is not None and mine.density_kg_m3 is not None:
        return mine.density_kg_m3, WITHIN_SPECIES_PCT
    wood = find(piece.species)
    if wood is None:
        return None
    gravity = SPECIFIC_GRAVITY.get(wood.name)
    kg_m3 = SHEET_KG_M3.get(wood.name) if gravity is None else 1120.0 * gravity
    return None if kg_m3 is None else (kg_m3, WITHIN_SPECIES_PCT)


def weight_kg(part: Part, piece: Piece, settings: Settings) -> float | None:
    """Return what a part weighs that is cut from one piece."""
    found = density(piece, settings)
    if found is None:
        return None
    return found[0] * volumes(part, polygon(points_of(part.outline)))[0] / 1e9


def out_of_range(part: Part, piece: Piece, settings: Settings, near: float) -> bool:
    """Tell whether a piece gives a part no weight within its range; ``near`` widens it by that share."""
    wish = part.weight
    if wish is None or wish.lightest:
        return False
    kg = weight_kg(part, piece, settings)
    if kg is None:
        return True
    too_heavy = wish.most_kg is not None and kg > wish.most_kg * (1 + near)
    return too_heavy or (wish.least_kg is not None and kg < wish.least_kg * (1 - near))


def light_kg(sheet: CheckedSheet, layout: Layout) -> float:
    """Return what parts of a blank weigh that are to be as light as can be, by the weights told."""
    asked = {p.name for p in sheet.plan.shop.parts if p.weight is not None and p.weight.lightest}
    return sum(
        wood.volume_mm3 * (HEAVIEST_KG_M3 if wood.density_kg_m3 is None else wood.density_kg_m3) / 1e9
        for at, told in zip(layout.placements, layout.weights)
        if at.part in asked
        for wood in told.woods
    )
