"""Closed outlines of a layer: chained, then checked for crossing, doubling and nesting."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.validation import explain_validity

from nestyield.geometry.chain import Chain, Chains, Strand, chain
from nestyield.intake.drawing import Drawing, Layer
from nestyield.intake.problems import Problems
from nestyield.model import Outline, Point

#: Distance between arcs and chords in the checks of this module.
CHECK_CHORD_MM = 0.002
#: Closed gaps wider than this are told.
TELL_GAP_MM = 0.01
#: An outline with less than this between its sides on average is a sliver.
SLIVER_MM = 0.02
#: Outlines nearer than this all along are one drawn twice.
SAME_MM = 0.01
#: Problems of one kind on one layer that are listed one by one.
MOST_LISTED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """A closed outline of a drawing.

    Parameters
    ----------
    outline : Outline
        Millimetres.
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
    _tell_doubled(drawing, layer, chains, problems)
    if problems.errors == before:  # else what is missing would be told as open
        _tell_open(drawing, layer, chains, tolerance_mm, problems)
    found: list[tuple[int, Closed]] = []
    for c in chains.closed:
        _tell_gaps(drawing, layer, c, problems)
        found += _check(drawing, layer, c.outline(), _names(layer, c.sources), c.sources[0], problems)
    for number, item in enumerate(layer.items):
        if item.curve.closed:
            outline = Outline(points_mm=item.curve.points_mm, bulges=item.curve.bulges)
            found += _check(drawing, layer, outline, item.label, number, problems)
    closed = [c for _, c in sorted(found, key=lambda f: f[0])]
    closed = _without_copies(drawing, layer, closed, problems)
    _tell_crossing(drawing, layer, closed, problems)
    return closed if problems.errors == before else None


def open_lines(
    drawing: Drawing, layer: Layer, tolerance_mm: float, problems: Problems
) -> list[tuple[tuple[Point, ...], str]] | None:
    """Chain the curves of a layer into open lines, for centre lines.

    Parameters
    ----------
    drawing : Drawing
    layer : Layer
    tolerance_mm : float
    problems : Problems

    Returns
    -------
    list of (points in millimetres, label) or None
        Arcs as chords within ``CHECK_CHORD_MM``. None when there was an error.
    """
    before = problems.errors
    tell_remarks(drawing, layer, problems)
    chains = _chains(layer, tolerance_mm)
    _tell_doubled(drawing, layer, chains, problems)
    for branch in chains.branches:
        problems.error(
            "D011",
            f"{len(branch.sources)} lines meet {drawing.place(*branch.at_mm)}; a centre line has no branches",
            drawing.file,
            _where(layer, branch.sources),
        )
    for c in chains.closed:
        problems.error(
            "D010",
            f"a centre line is an open line, this one is closed, {drawing.place(*c.points_mm[0])}",
            drawing.file,
            _where(layer, c.sources),
        )
    for item in layer.items:
        if item.curve.closed:
            problems.error(
                "D010",
                "a centre line is an open line, this one is closed, "
                f"{drawing.place(*item.curve.points_mm[0])}",
                drawing.file,
                f"layer {layer.name}, {item.label}",
            )
    if problems.errors != before:
        return None
    return [
        (tuple(_sample(c.points_mm, c.bulges, closed=False)), _names(layer, c.sources)) for c in chains.open
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


def tell_remarks(drawing: Drawing, layer: Layer, problems: Problems) -> None:
    """Turn the remarks of a layer that is used into findings; many alike become one."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for r in layer.remarks:
        groups.setdefault((r.severity, r.code, r.message), []).append(r.where)
    for (severity, code, message), places in groups.items():
        where = places[0] + (f" and {len(places) - 1} more" if len(places) > 1 else "")
        problems.add(severity, code, message, drawing.file, where)  # type: ignore[arg-type]


def sampled(outline: Outline) -> shapely.Polygon:
    """Return an outline as a polygon with chords within ``CHECK_CHORD_MM``; for checks only."""
    points = (*outline.points_mm, outline.points_mm[0])
    return shapely.Polygon(_sample(points, outline.bulges, closed=True))


def _chains(layer: Layer, tolerance_mm: float) -> Chains:
    strands = [
        Strand(points_mm=item.curve.points_mm, bulges=item.curve.bulges, source=number)
        for number, item in enumerate(layer.items)
        if not item.curve.closed
    ]
    return chain(strands, tolerance_mm)


def _sample(points: Sequence[Point], bulges: Sequence[float], closed: bool) -> list[Point]:
    out: list[Point] = []
    for (x0, y0), (x1, y1), b in zip(points, points[1:], bulges):
        out.append((x0, y0))
        chord = math.hypot(x1 - x0, y1 - y0)
        if b == 0.0 or abs(b) * chord / 2 < CHECK_CHORD_MM:
            continue
        half = 2.0 * math.atan(b)
        radius = chord * (1.0 + b * b) / (4.0 * abs(b))
        pieces = math.ceil(abs(half) / math.acos(max(0.0, 1.0 - CHECK_CHORD_MM / radius)))
        k = (1.0 - b * b) / (4.0 * b)
        cx, cy = 0.5 * (x0 + x1) - k * (y1 - y0), 0.5 * (y0 + y1) + k * (x1 - x0)
        t = 2.0 * half * np.arange(1, pieces) / pieces
        dx, dy = x0 - cx, y0 - cy
        xs, ys = cx + dx * np.cos(t) - dy * np.sin(t), cy + dx * np.sin(t) + dy * np.cos(t)
        out += zip(xs.tolist(), ys.tolist())
    if not closed:
        out.append(points[-1])
    return out


def _names(layer: Layer, sources: Sequence[int]) -> str:
    labels = [layer.items[s].label for s in sources]
    return ", ".join(labels[:3]) + (f" and {len(labels) - 3} more" if len(labels) > 3 else "")


def _where(layer: Layer, sources: Sequence[int]) -> str:
    return f"layer {layer.name}, {_names(layer, sources)}"


def _check(
    drawing: Drawing, layer: Layer, outline: Outline, label: str, order: int, problems: Problems
) -> list[tuple[int, Closed]]:
    """Check one outline by itself."""
    where = f"layer {layer.name}, {label}"
    ring = _sample((*outline.points_mm, outline.points_mm[0]), outline.bulges, closed=True)
    length = sum(math.dist(p, q) for p, q in zip(ring, ring[1:] + ring[:1]))
    polygon = shapely.Polygon(ring) if len(ring) >= 3 else shapely.Polygon()
    if polygon.is_valid and 2.0 * polygon.area < SLIVER_MM * length:
        problems.warning(
            "D012",
            f"the outline is a sliver of {abs(outline.signed_area_mm2):.3g} mm2, "
            f"{drawing.place(*outline.points_mm[0])}; it was left out. Remove it from the drawing",
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
    return [(order, Closed(outline=outline, label=label, polygon=polygon))]


def _tell_doubled(drawing: Drawing, layer: Layer, chains: Chains, problems: Problems) -> None:
    for number, (left_out, kept) in enumerate(chains.doubled):
        if number == MOST_LISTED:
            problems.warning(
                "D009",
                f"{len(chains.doubled) - MOST_LISTED} more entities are drawn twice and were used once",
                drawing.file,
                f"layer {layer.name}",
            )
            break
        item = layer.items[left_out]
        problems.warning(
            "D009",
            f"drawn twice: it runs over {layer.items[kept].label}, "
            f"{drawing.place(*item.curve.points_mm[0])}; used "
            "once. Remove one of them",
            drawing.file,
            f"layer {layer.name}, {item.label}",
        )


def _tell_open(
    drawing: Drawing, layer: Layer, chains: Chains, tolerance_mm: float, problems: Problems
) -> None:
    for branch in chains.branches[:MOST_LISTED]:
        problems.error(
            "D011",
            f"{len(branch.sources)} lines meet {drawing.place(*branch.at_mm)}; an outline goes on one way "
            "only: "
            "remove the extra line or put it on another layer",
            drawing.file,
            _where(layer, branch.sources),
        )
    at_branch = [b.at_mm for b in chains.branches]
    open_ = [c for c in chains.open if not _ends_at(c, at_branch)]
    ends = [p for c in chains.open for p in (c.points_mm[0], c.points_mm[-1])]
    for c in open_[:MOST_LISTED]:
        a, b = c.points_mm[0], c.points_mm[-1]
        gap = _gap_from(ends, a, b)
        problems.error(
            "D007",
            f"the outline is open: ends {drawing.place(*a)} and {drawing.place(*b)}; the nearest end is "
            f"{gap / drawing.unit_mm:.4g} {drawing.unit} off, gaps up to chaining = {tolerance_mm:g} mm "
            "are closed. "
            "Close it in the drawing",
            drawing.file,
            _where(layer, c.sources),
        )
    more = max(0, len(open_) - MOST_LISTED) + max(0, len(chains.branches) - MOST_LISTED)
    if more:
        problems.error(
            "D007",
            f"{more} more places where outlines are open or branch",
            drawing.file,
            f"layer {layer.name}",
        )


def _ends_at(c: Chain, places: list[Point]) -> bool:
    return any(
        math.dist(end, p) < 10 * CHECK_CHORD_MM for end in (c.points_mm[0], c.points_mm[-1]) for p in places
    )


def _gap_from(ends: list[Point], a: Point, b: Point) -> float:
    """Distance from the end ``b`` (or ``a``) to the nearest other loose end."""
    others = list(ends)
    others.remove(b)
    return min(math.dist(b, p) for p in others)


def _tell_gaps(drawing: Drawing, layer: Layer, c: Chain, problems: Problems) -> None:
    wide = [g for g in c.gaps if g.width_mm > TELL_GAP_MM]
    if wide:
        widest = max(wide, key=lambda g: g.width_mm)
        problems.note(
            "D014",
            f"{len(wide)} gap{'s' if len(wide) > 1 else ''} of the outline closed, the widest "
            f"{widest.width_mm:.3g} mm {drawing.place(*widest.at_mm)}",
            drawing.file,
            _where(layer, widest.sources),
        )


def _without_copies(drawing: Drawing, layer: Layer, closed: list[Closed], problems: Problems) -> list[Closed]:
    """Leave out outlines that lie exactly over an earlier one."""
    if len(closed) < 2:
        return closed
    tree = shapely.STRtree([c.polygon for c in closed])
    kept: list[Closed] = []
    gone: set[int] = set()
    for i, c in enumerate(closed):
        for j in sorted(int(k) for k in tree.query(c.polygon, predicate="intersects")):
            if j < i and j not in gone and _same(closed[j].polygon, c.polygon):
                gone.add(i)
                problems.warning(
                    "D009",
                    f"drawn twice: the outline lies over {closed[j].label}, "
                    f"{drawing.place(*c.outline.points_mm[0])}; used once. Remove one of them",
                    drawing.file,
                    f"layer {layer.name}, {c.label}",
                )
                break
        if i not in gone:
            kept.append(c)
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
