"""Defects against the wood that stays, layer by layer through the thickness.

The finished part is sliced at every depth where something begins or ends: pocket floors, the ends of
the defect. Within a slice the wood of the part is one flat region, and a defect does harm where it
meets that region under a verdict of ``refused``. Contours, whose depth changes from point to point,
are looked at point by point.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, thickness_of
from nestyield.audit.places import distance_apart
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, cut_through, polygon_union
from nestyield.model import Defect, Verdict, Zone

#: Depths closer than this are the same, millimeters.
DEPTH_TOL_MM = 1e-4
#: Most points at which a contour is looked at, and how far apart they are at least, millimeters.
CONTOUR_POINTS = 4000
CONTOUR_STEP_MM = 0.25
#: Filler may exceed its limit by this, millilitres.
FILL_TOL_ML = 0.01

#: Chords of a quarter of a circle: short of it by less than a hundredth of the tolerance at usual errors.
_ARCS = 64

Span = tuple[float, float]
_STRICT: dict[Verdict, int] = {"refused": 2, "filled": 1, "allowed": 0}


def check_defects(bench: CheckedBlank) -> None:
    """Check every placed part against every defect of the blank."""
    for laid in bench.laid:
        check_wood(bench, laid)


def check_wood(bench: CheckedBlank, laid: CheckedPlacement) -> None:
    """Check one placed part against every defect of the blank."""
    if not bench.layout.blank.defects:
        return
    unsure = bench.layout.blank.measured_mm
    reach = bench.sheet.plan.shop.settings.cutter_diameter_mm + unsure
    filler = 0.0
    for k in sorted(bench.flaws.query(laid.outline, predicate="dwithin", distance=reach).tolist()):
        defect, ground = bench.layout.blank.defects[k], bench.flaws.geometries[k]
        if defect.traits.metal:
            _metal(bench, laid, defect, ground)
        else:
            filler += filler_in(bench, laid, defect, as_it_may_be(bench, ground))
    limit = laid.part.fill_limit_ml
    if limit is not None and filler > limit + FILL_TOL_ML:
        bench.say("A303", f"{laid.name} needs {filler:.2f} ml of filler; at most {limit:g} ml is allowed")


def _metal(bench: CheckedBlank, laid: CheckedPlacement, defect: Defect, ground: BaseGeometry) -> None:
    least = bench.sheet.plan.shop.settings.cutter_diameter_mm + bench.layout.blank.measured_mm
    room = distance_apart(laid.outline, ground)
    if room < least - TOL_MM:
        bench.say(
            "A302",
            f"metal ({defect.name}) lies {room:.3f} mm from {laid.name}, where the cutter runs; "
            f"at least {least:g} mm must stay",
        )


def as_it_may_be(bench: CheckedBlank, ground: BaseGeometry) -> BaseGeometry:
    """Return the ground of a defect with all that its place may be off by the measuring of its piece."""
    by = bench.layout.blank.measured_mm
    return ground.buffer(by, quad_segs=_ARCS) if by else ground


def span_in_part(bench: CheckedBlank, laid: CheckedPlacement, defect: Defect) -> Span | None:
    """Return from where to where the defect reaches, measured from the part's front face, or None."""
    thick, part = bench.layout.blank.thickness_mm, laid.part.thickness_mm
    top, bottom = planed_off(bench, laid)
    if (
        defect.depth_mm is None
        or defect.face == "through"
        or (defect.depth_mm >= thick - DEPTH_TOL_MM and not defect.start_mm)
    ):
        low, high = 0.0, part
    elif defect.face == "top":
        low, high = max(0.0, defect.start_mm - top), min(part, defect.depth_mm - top)
    else:
        low, high = max(0.0, part - (defect.depth_mm - bottom)), part
        high = min(part, part - (defect.start_mm - bottom))
    if high - low <= DEPTH_TOL_MM:
        return None
    return (low, high) if laid.placement.front_up else (part - high, part - low)


def planed_off(bench: CheckedBlank, laid: CheckedPlacement) -> tuple[float, float]:
    """Return what is planed off the blank's top and bottom face: as the placement says, else in halves."""
    spare = max(0.0, bench.layout.blank.thickness_mm - laid.part.thickness_mm)
    top = laid.placement.top_off_mm
    return (spare / 2.0, spare / 2.0) if top is None else (top, spare - top)


def filler_in(bench: CheckedBlank, laid: CheckedPlacement, defect: Defect, ground: BaseGeometry) -> float:
    """Report harm by one defect; return the filler it needs, millilitres."""
    part = laid.part
    span = span_in_part(bench, laid, defect)
    here = laid.outline.intersection(ground)
    if span is None or here.is_empty:
        return 0.0
    zones = [(z, laid.zone(z.shape)) for z in part.zones if z.shape is not None]
    zones = [(z, g) for z, g in zones if g.intersects(here)]
    refused = _under(laid, defect.kind, "refused", zones, here)
    filled = _under(laid, defect.kind, "filled", zones, here)
    contours = [(z, g) for z, g in zones if z.does.slopes]
    filler, worst, at = 0.0, 0.0, span
    for low, high, gone in _layers(laid, span, zones):
        filler += filled.difference(gone).area * (high - low) / 1000.0
        clash = refused.difference(gone)
        if contours:
            clash = _less_contours(laid, clash, contours, (low, high))
        width = thickness_of(clash)
        if width > worst:
            worst, at = width, (low, high)
    if worst > TOL_MM:
        bench.say(
            "A301",
            f"{defect.kind} ({defect.name}) lies in wood of {laid.name} that stays, {worst:.3f} mm wide "
            f"between {at[0]:.2f} and {at[1]:.2f} mm below its front face",
        )
    return filler


def _layers(
    laid: CheckedPlacement, span: Span, zones: list[tuple[Zone, BaseGeometry]]
) -> Iterator[tuple[float, float, BaseGeometry]]:
    """Slice a span where zones end; yield each slice with what zones but contours take of it."""
    edges = {span[0], span[1]}
    for zone, _ in zones:
        edges.update(e for e in _floor(zone, laid.part.thickness_mm) if span[0] < e < span[1])
    for low, high in itertools.pairwise(sorted(edges)):
        if high - low > DEPTH_TOL_MM:
            taken = [g for z, g in zones if not z.does.slopes and _takes(z, laid, (low, high))]
            yield low, high, polygon_union(taken)


def layers_refused(bench: CheckedBlank, laid: CheckedPlacement, defect: Defect) -> BaseGeometry:
    """Return the wood of a part that must not hold a defect, wherever it lies; contours count as gone."""
    span = span_in_part(bench, laid, defect)
    if span is None:
        return shapely.Polygon()
    zones = [(z, laid.zone(z.shape)) for z in laid.part.zones if z.shape is not None]
    refused = _under(laid, defect.kind, "refused", zones, laid.outline)
    refused = refused.difference(polygon_union([g for z, g in zones if z.does.slopes]))
    return polygon_union([refused.difference(gone) for _, _, gone in _layers(laid, span, zones)])


def _under(
    laid: CheckedPlacement,
    kind: str,
    verdict: Verdict,
    zones: list[tuple[Zone, BaseGeometry]],
    here: BaseGeometry,
) -> BaseGeometry:
    """Return where in ``here`` a kind of defect meets a verdict; the strictest of named zones holds."""
    named = sorted(
        ((z.tolerates[kind], g) for z, g in zones if kind in z.tolerates), key=lambda v: -_STRICT[v[0]]
    )
    left, found = here, []
    for says, ground in named:
        if says == verdict:
            found.append(left.intersection(ground))
        left = left.difference(ground)
    if laid.part.tolerates.get(kind, "refused") == verdict:
        found.append(left)
    return polygon_union(found)


def _floor(zone: Zone, thickness: float) -> tuple[float, ...]:
    if zone.depth_mm is None or zone.face == "through":
        return ()
    return (zone.depth_mm if zone.face == "front" else thickness - zone.depth_mm,)


def _takes(zone: Zone, laid: CheckedPlacement, layer: Span) -> bool:
    """Whether a zone takes away the whole of a layer."""
    if cut_through(zone, laid.part):
        return True
    if zone.does.slopes or zone.depth_mm is None:
        return False
    if zone.face == "front":
        return layer[1] <= zone.depth_mm + DEPTH_TOL_MM
    return layer[0] >= laid.part.thickness_mm - zone.depth_mm - DEPTH_TOL_MM


def _less_contours(
    laid: CheckedPlacement, clash: BaseGeometry, contours: list[tuple[Zone, BaseGeometry]], layer: Span
) -> BaseGeometry:
    """Return what of a clash is left beside contours, and the points in them where wood stays.

    A contour takes nothing at its inner edge and its whole depth at the outline, evenly between.
    Harm inside a contour is shown as small squares about the points where it was seen.
    """
    outside = clash.difference(polygon_union([g for _, g in contours]))
    inside = clash.intersection(polygon_union([g for _, g in contours]))
    if inside.is_empty or thickness_of(inside) <= TOL_MM:
        return outside
    points = _sample(inside.buffer(-TOL_MM))
    if len(points) == 0:
        return outside
    low = np.full(len(points), layer[0])
    high = np.full(len(points), layer[1])
    spots = shapely.points(points)
    edge = laid.outline.boundary
    thick = laid.part.thickness_mm
    for zone, ground in contours:
        inner = ground.boundary.difference(edge.buffer(0.05))
        if inner.is_empty:
            inner = ground.boundary
        d_in, d_out = shapely.distance(spots, inner), shapely.distance(spots, edge)
        depth = thick if zone.depth_mm is None else min(zone.depth_mm, thick)
        taken = np.where(
            shapely.contains(ground, spots), depth * (d_in + TOL_MM) / (d_in + d_out + TOL_MM), 0.0
        )
        if zone.face == "front":
            low = np.maximum(low, taken)
        else:
            high = np.minimum(high, thick - taken)
    seen = spots[high - low > DEPTH_TOL_MM + 1e-3 * thick]
    if len(seen) == 0:
        return outside
    return polygon_union([outside, *shapely.buffer(seen, CONTOUR_STEP_MM / 2.0, cap_style="square")])


def _sample(ground: BaseGeometry) -> np.ndarray:
    """Points on a grid in a region and its corners, shape (n, 2)."""
    if ground.is_empty:
        return np.empty((0, 2))
    x0, y0, x1, y1 = ground.bounds
    step = max(CONTOUR_STEP_MM, ((x1 - x0) * (y1 - y0) / CONTOUR_POINTS) ** 0.5)
    xs, ys = np.meshgrid(np.arange(x0, x1 + step, step), np.arange(y0, y1 + step, step))
    grid = np.column_stack([xs.ravel(), ys.ravel()])
    inside = shapely.contains_xy(ground, grid[:, 0], grid[:, 1])
    return np.concatenate([grid[inside], shapely.get_coordinates(ground)])
