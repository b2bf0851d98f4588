"""The edges of the box around a blank: how much sound wood reaches each, and what is missing there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.bed.sweep import shape_polygon
from nestyield.model import Blank, EdgeCheck
from nestyield.model.axis import BlankEdge
from nestyield.model.facts import EdgeGap
from nestyield.model.micrometers import nearest_um

#: Wood so near to an edge of the box reaches it; stretches along it that are no longer do not count, mm.
ON_MM = 0.5
SHORT_MM = 5.0
#: An edge is sound when less than this share of it is missing, and more than this share or so much is wood.
MUCH = 0.2
ENOUGH_MM = 100.0
#: Wood so near to the datum corner reaches it, mm.
CORNER_MM = 1.0

EDGES: tuple[BlankEdge, ...] = ("lower", "left", "upper", "right")

Span = tuple[float, float]


def edge_checks(blank: Blank) -> tuple[EdgeCheck, ...]:
    """Return what is at each edge of a blank: lower, left, upper, right."""
    return tuple(edge_check(blank, edge) for edge in EDGES)


def edge_check(blank: Blank, edge: BlankEdge) -> EdgeCheck:
    """Return how much sound wood reaches one edge of the box around a blank, and what is missing there.

    Parameters
    ----------
    blank : Blank
    edge : {"lower", "upper", "left", "right"}
    """
    wood = shape_polygon(blank.shape)
    x0, y0, x1, y1 = wood.bounds
    band = {
        "lower": shapely.box(x0, y0 - 1.0, x1, y0 + ON_MM),
        "upper": shapely.box(x0, y1 - ON_MM, x1, y1 + 1.0),
        "left": shapely.box(x0 - 1.0, y0, x0 + ON_MM, y1),
        "right": shapely.box(x1 - ON_MM, y0, x1 + 1.0, y1),
    }[edge]
    along = 0 if edge in ("lower", "upper") else 1
    start, whole = (x0, x1 - x0) if along == 0 else (y0, y1 - y0)
    gaps: list[EdgeGap] = []
    gone: list[Span] = []
    for defect in blank.defects:
        if not defect.traits.wood_missing:
            continue
        for low, high in _long(_spans(shape_polygon(defect.shape).intersection(band), along)):
            gone.append((low, high))
            gaps.append(
                EdgeGap(kind=defect.kind, from_um=nearest_um(low - start), to_um=nearest_um(high - start))
            )
    missing = _joined(gone)
    kept = _length(_long(_without(_spans(wood.intersection(band), along), missing)))
    return EdgeCheck(
        edge=edge,
        sound=_length(missing) < MUCH * whole and kept > min(MUCH * whole, ENOUGH_MM),
        wood_um=nearest_um(kept),
        gaps=tuple(gaps),
    )


def wood_at_corner(blank: Blank) -> bool:
    """Tell whether there is wood at the lower left corner of the box around a blank."""
    wood = shape_polygon(blank.shape)
    x0, y0, _, _ = wood.bounds
    for defect in blank.defects:
        through = defect.depth_mm is None or defect.depth_mm >= blank.thickness_mm
        if defect.traits.wood_missing and through:
            wood = wood.difference(shape_polygon(defect.shape))
    return bool(wood.distance(shapely.Point(x0, y0)) <= CORNER_MM)


def flaw_at_corner(blank: Blank) -> str:
    """Return the kind of the first defect that takes the wood at the datum corner; empty where no wood reaches it."""
    wood = shape_polygon(blank.shape)
    corner = shapely.Point(*wood.bounds[:2])
    if wood.distance(corner) > CORNER_MM:
        return ""
    for defect in blank.defects:
        through = defect.depth_mm is None or defect.depth_mm >= blank.thickness_mm
        if (
            defect.traits.wood_missing
            and through
            and shape_polygon(defect.shape).distance(corner) <= CORNER_MM
        ):
            return defect.kind
    return ""


def _spans(ground: BaseGeometry, along: int) -> list[Span]:
    """Return from where to where along an axis there is any of a region, joined, in rising order."""
    parts = [p.bounds for p in shapely.get_parts(ground) if not p.is_empty]
    return _joined((b[along], b[along + 2]) for b in parts)


def _joined(spans: Iterable[Span]) -> list[Span]:
    out: list[Span] = []
    for low, high in sorted(spans):
        if out and low <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], high))
        else:
            out.append((low, high))
    return out


def _without(spans: Sequence[Span], gone: Sequence[Span]) -> list[Span]:
    """Return spans less others, both in rising order."""
    out = list(spans)
    for low, high in gone:
        out = [(a, b) for s, e in out for a, b in ((s, min(e, low)), (max(s, high), e)) if b > a]
    return out


def _long(spans: Iterable[Span]) -> list[Span]:
    return [(low, high) for low, high in spans if high - low > SHORT_MM]


def _length(spans: Iterable[Span]) -> float:
    return sum(high - low for low, high in spans)
