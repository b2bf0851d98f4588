"""Closed outlines of a layer: chained, then checked for crossing, doubling and nesting."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.validation import explain_validity

from nestyield.geometry.chain import Chains, Strand, chain
from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.outline_findings import (
    MOST_LISTED,
    names_of,
    tell_doubled,
    tell_gaps,
    tell_open,
    tell_remarks,
    where_of,
)
from nestyield.intake.problems import Problems
from nestyield.intake.sampling import CHECK_CHORD_MM, sample
from nestyield.model import Outline, Point

#: An outline with less than this between its sides on average is a sliver.
SLIVER_MM = 0.02
#: More outlines on a layer are no part: they are refused.
MOST_OUTLINES = 3000
#: Outlines nearer than this all along are one drawn twice.
SAME_MM = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """A closed outline of a drawing.

    Parameters
    ----------
    outline : Outline
        Millimeters.
    label : str
        Entities that it is made of.
    polygon : shapely Polygon
        Flattened to ``CHECK_CHORD_MM``, for checks only.
    """

    outline: Outline
    label: str
    polygon: shapely.Polygon


def closed_outlines(
    drawing: Drawing, layer: Layer, tolerance_mm: float, problems: Problems
) -> list[Closed] | None:
    """Chain the curves of a layer into closed outlines.

    Parameters
    ----------
    drawing : Drawing
    layer : Layer
    tolerance_mm : float
        Widest gap that is closed.
    problems : Problems

    Returns
    -------
    list of Closed or None
        In drawing order; outlines may nest but do not cross. None when there was an error.
    """
    before = problems.errors
    tell_remarks(drawing, layer, problems)
    chains = _chains(layer, tolerance_mm)
    tell_doubled(drawing, layer, chains, problems)
    if problems.errors == before:  # else what is missing would be told as open
        tell_open(drawing, layer, chains, tolerance_mm, problems)
    found: list[tuple[int, Closed]] = []
    for c in chains.closed:
        tell_gaps(drawing, layer, c, problems)
        name = names_of(layer, c.sources)
        found += _check(drawing, layer, c.points_mm[:-1], c.bulges, name, c.sources[0], problems)
    for number, item in enumerate(layer.items):
        if item.curve.closed:
            curve = item.curve
            found += _check(drawing, layer, curve.points_mm, curve.bulges, item.label, number, problems)
    closed = [c for _, c in sorted(found, key=lambda f: f[0])]
    closed = _without_copies(drawing, layer, closed, problems)
    if len(closed) > MOST_OUTLINES:
        problems.error(
            "D024",
            f"expected at most {MOST_OUTLINES} outlines on a layer, got {len(closed)}; keep the part",
            drawing.file,
            f"layer {layer.name}",
        )
        return None
    _tell_crossing(drawing, layer, closed, problems)
    return closed if problems.errors == before else None


def open_lines(
    drawing: Drawing, layer: Layer, tolerance_mm: float, problems: Problems
) -> list[tuple[tuple[Point, ...], str]] | None:
    """Chain the curves of a layer into open lines, for center lines.

    Parameters
    ----------
    drawing : Drawing
    layer : Layer
    tolerance_mm : float
    problems : Problems

    Returns
    -------
    list of (points in millimeters, label) or None
        Arcs as chords within ``CHECK_CHORD_MM``. None when there was an error.
    """
    before = problems.errors
    tell_remarks(drawing, layer, problems)
    chains = _chains(layer, tolerance_mm)
    tell_doubled(drawing, layer, chains, problems)
    for branch in chains.branches:
        problems.error(
            "D011",
            f"{len(branch.sources)} lines meet {drawing.place(*branch.at_mm)}; a center line has no branches",
            drawing.file,
            where_of(layer, branch.sources),
        )
    for c in chains.closed:
        problems.error(
            "D010",
            f"a center line is an open line, this one is closed, {drawing.place(*c.points_mm[0])}",
            drawing.file,
            where_of(layer, c.sources),
        )
    for item in layer.items:
        if item.curve.closed:
            problems.error(
                "D010",
                "a center line is an open line, this one is closed, "
                f"{drawing.place(*item.curve.points_mm[0])}",
                drawing.file,
                f"layer {layer.name}, {item.label}",
            )
    if problems.errors != before:
        return None
    return [
        (tuple(sample(c.points_mm, c.bulges, closed=False)), names_of(layer, c.sources)) for c in chains.open
    ]


def nesting(closed: Sequence[Closed]) -> list[int | None]:
    """Return for each outline the index of the smallest one around it, or None.

    Parameters
    ----------
    closed : sequence of Closed
        Outlines that do not cross.
    """
    polygons = [c.polygon for c in closed]
    tree = shapely.STRtree(polygons)
    parents: list[int | None] = []
    for i, polygon in enumerate(polygons):
        inner = polygon.representative_point()
        around = [
            int(j)
            for j in tree.query(inner, predicate="within")
            if int(j) != i and polygons[int(j)].area > polygon.area
        ]
        parents.append(min(around, key=lambda j: polygons[j].area) if around else None)
    return parents


def _chains(layer: Layer, tolerance_mm: float) -> Chains:
    strands = [
        Strand(points_mm=item.curve.points_mm, bulges=item.curve.bulges, source=number)
        for number, item in enumerate(layer.items)
        if not item.curve.closed
    ]
    return chain(strands, tolerance_mm)


def _check(
    drawing: Drawing,
    layer: Layer,
    points_mm: tuple[Point, ...],
    bulges: tuple[float, ...],
    label: str,
    order: int,
    problems: Problems,
) -> list[tuple[int, Closed]]:
    """Check one closed curve by itself."""
    where = f"layer {layer.name}, {label}"
    ring = sample((*points_mm, points_mm[0]), bulges, closed=True)
    length = sum(math.dist(p, q) for p, q in zip(ring, ring[1:] + ring[:1]))
    polygon = shapely.Polygon(ring) if len(ring) >= 3 else shapely.Polygon()
    if polygon.is_valid and 2.0 * polygon.area < SLIVER_MM * length:
        problems.warning(
            "D012",
            f"the outline is a sliver {drawing.length(2.0 * polygon.area / length)} wide, "
            f"{drawing.place(*points_mm[0])}; it was left out. Remove it from the drawing",
            drawing.file,
            where,
        )
        return []
    if not polygon.is_valid:
        at = re.search(r"\[(\S+) (\S+)\]", explain_validity(polygon))
        place = drawing.place(float(at[1]), float(at[2])) if at else ""
        problems.error(
            "D008", f"the outline crosses or touches itself {place}; trim it there", drawing.file, where
        )
        return []
    outline = Outline(points_mm=points_mm, bulges=bulges)
    return [(order, Closed(outline=outline, label=label, polygon=polygon))]


def _without_copies(drawing: Drawing, layer: Layer, closed: list[Closed], problems: Problems) -> list[Closed]:
    """Leave out outlines that lie exactly over an earlier one."""
    if len(closed) < 2:
        return closed
    kept: list[Closed] = []
    # outlines that are the same have their boxes' corners in the same or in neighboring cells
    there: dict[tuple[int, int], list[Closed]] = {}
    for c in closed:
        x, y = (math.floor(v / SAME_MM) for v in c.polygon.bounds[:2])
        near = [d for i in (-1, 0, 1) for j in (-1, 0, 1) for d in there.get((x + i, y + j), ())]
        copy = next((d for d in near if _same(d.polygon, c.polygon)), None)
        if copy is None:
            kept.append(c)
            there.setdefault((x, y), []).append(c)
            continue
        problems.warning(
            "D009",
            f"drawn twice: the outline lies over {copy.label}, "
            f"{drawing.place(*c.outline.points_mm[0])}; used once. Remove one of them",
            drawing.file,
            f"layer {layer.name}, {c.label}",
        )
    return kept


def _same(a: shapely.Polygon, b: shapely.Polygon) -> bool:
    if any(abs(p - q) > SAME_MM for p, q in zip(a.bounds, b.bounds)):
        return False
    return bool(a.boundary.hausdorff_distance(b.boundary) <= SAME_MM)


def _tell_crossing(drawing: Drawing, layer: Layer, closed: list[Closed], problems: Problems) -> None:
    tree = shapely.STRtree([c.polygon for c in closed])
    told = 0
    for i, c in enumerate(closed):
        for j in sorted(int(k) for k in tree.query(c.polygon, predicate="intersects")):
            if j <= i or not _cross(c.polygon, closed[j].polygon):
                continue
            told += 1
            if told > MOST_LISTED:
                return
            point = c.polygon.boundary.intersection(closed[j].polygon.boundary).representative_point()
            problems.error(
                "D008",
                f"the outline crosses {closed[j].label} {drawing.place(point.x, point.y)}; join them to "
                "one outline "
                "or put them on two layers",
                drawing.file,
                f"layer {layer.name}, {c.label}",
            )


def _cross(a: shapely.Polygon, b: shapely.Polygon) -> bool:
    small, large = sorted((a, b), key=lambda p: p.area)
    slack = 2.5 * CHECK_CHORD_MM * small.length
    if large.contains_properly(small):
        return False
    common = small.intersection(large).area
    return bool(common > slack and small.area - common > slack)
