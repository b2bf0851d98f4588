"""What a sheet says of the wood's defects: on the datum edges, under the cutter, in leftovers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.model import Defect, Layout, Leftover, Plan, Units
from nestyield.paperwork import hatch, marks, measure
from nestyield.paperwork.curves import bounds, move_of, outlines_of
from nestyield.paperwork.words import clean, listed

#: Defects that take wood off an edge, so that nothing is measured from there.
MISSING = ("wane", "bark", "rot", "split", "loose knot", "dent", "mortise")
#: Knots, which may come loose at a cutter.
KNOTS = ("knot", "loose knot")
#: Longest table of defects.
MOST_ROWS = 16
#: What lies so near to an edge lies on it; what is shorter along it does not count, mm.
_ON_MM = 0.5
_SHORT_MM = 5.0
#: A share of an edge that is worth a caution.
_MUCH = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edge:
    """One edge of the box around a blank: its name, its opposite, and what can be measured there."""

    name: str
    opposite: str
    sound_mm: float
    wanting: tuple[tuple[str, float, float], ...]  # what, from where to where along it


def _region(defect: Defect) -> BaseGeometry:
    return hatch.region(outlines_of(defect.shape))


def _edge(layout: Layout, side: str) -> _Edge:
    """Look at one edge of the blank's box: ``lower``, ``upper``, ``left`` or ``right``."""
    blank = layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    band = {
        "lower": shapely.box(x0, y0 - 1.0, x1, y0 + _ON_MM),
        "upper": shapely.box(x0, y1 - _ON_MM, x1, y1 + 1.0),
        "left": shapely.box(x0 - 1.0, y0, x0 + _ON_MM, y1),
        "right": shapely.box(x1 - _ON_MM, y0, x1 + 1.0, y1),
    }[side]
    along = 0 if side in ("lower", "upper") else 1
    wood = hatch.region(outlines_of(blank.shape)).intersection(band)
    wanting: list[tuple[str, float, float]] = []
    for defect in blank.defects:
        if defect.kind in MISSING:
            hit = _region(defect).intersection(band)
            if not hit.is_empty and hit.bounds[along + 2] - hit.bounds[along] > _SHORT_MM:
                wanting.append((defect.kind, hit.bounds[along], hit.bounds[along + 2]))
                wood = wood.difference(_region(defect).buffer(_ON_MM))
    sound = sum(
        part.bounds[along + 2] - part.bounds[along]
        for part in shapely.get_parts(wood)
        if not part.is_empty and part.bounds[along + 2] - part.bounds[along] > _SHORT_MM
    )
    other = {"lower": "upper", "upper": "lower", "left": "right", "right": "left"}[side]
    return _Edge(name=side, opposite=other, sound_mm=sound, wanting=tuple(wanting))


def sound(layout: Layout, side: str) -> bool:
    """Tell whether one measures from an edge: ``lower``, ``upper``, ``left`` or ``right``."""
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    whole = (x1 - x0) if side in ("lower", "upper") else (y1 - y0)
    edge = _edge(layout, side)
    gone = sum(b - a for _, a, b in edge.wanting)
    return gone < _MUCH * whole and edge.sound_mm > min(_MUCH * whole, 100.0)


def datum_edges(layout: Layout, units: Units) -> list[str]:
    """Return what to mind where the edges that lengths are counted from are not sound, and what to do."""
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    out = []
    for side, start, size in (("lower", x0, y1 - y0), ("left", y0, x1 - x0)):
        if sound(layout, side):
            continue
        edge = _edge(layout, side)
        where = listed(
            dict.fromkeys(
                f"{kind} from {measure.plain(a - start, units)} to {measure.length(b - start, units)}"
                for kind, a, b in edge.wanting
            )
        )
        text = f"The {side} datum edge has {where}" if where else f"Little wood touches the {side} datum edge"
        if sound(layout, edge.opposite):
            text += (
                f": do not measure from there. Measure from the {edge.opposite} edge, "
                f"{measure.length(size, units)} less the figure, or strike the datum edge from that edge "
                "as a line on the face."
            )
        else:
            text += (
                ": do not measure from there. Strike the datum edge as a straight line on the sound face, "
                "as it was drawn for the rack, and measure from the line."
            )
        out.append(text)
    corner = shapely.Point(x0, y0)
    if hatch.region(outlines_of(layout.blank.shape)).distance(corner) > 1.0:
        out.append(
            "There is no wood at the datum corner: it is where the two datum edges meet when a straightedge "
            "is laid along each."
        )
    return out


def under_the_cutter(plan: Plan, layout: Layout) -> list[str]:
    """Return a caution for knots where something is routed or drilled, or an outline runs."""
    radius = plan.shop.settings.cutter_diameter_mm
    knots = [(d, _region(d)) for d in layout.blank.defects if d.kind in KNOTS]
    where: list[str] = []
    for placement in layout.placements if knots else ():
        part, move = plan.shop.part(placement.part), move_of(placement)
        grounds = [
            (clean(zone.name.split("#")[0]), hatch.region([move.outline(o) for o in outlines_of(zone.shape)]))
            for zone in part.zones
            if zone.shape is not None and zone.role in ("pocket", "contour", "hole", "cutout")
        ]
        body = hatch.region([move.outline(part.outline)])
        grounds.append(("the outline", body.buffer(radius).difference(body)))
        for name, ground in grounds:
            if any(ground.intersects(knot) for _, knot in knots):
                where.append(name)
    if not where:
        return []
    return [
        f"A knot lies in the way of the cutter ({listed(dict.fromkeys(where))}): test whether it is fast, "
        "take a loose one out first, and go through it with light passes; what comes loose flies."
    ]


def inside(layout: Layout, leftover: Leftover) -> str:
    """Return which defects a leftover still holds: ``3 screw hole, wane``; ``none``."""
    ground = hatch.region(outlines_of(leftover.shape))
    kinds = [d.kind for d in layout.blank.defects if ground.intersection(_region(d)).area > 0.0]
    many = {k: kinds.count(k) for k in sorted(kinds)}
    return ", ".join(k if n == 1 else f"{n} × {k}" for k, n in many.items()) or "none"


def rows(plan: Plan, layout: Layout, skip: Sequence[str] = ()) -> list[list[str]]:
    """Return one row a defect: sign, kind, face, depth, left, bottom, size; those named in ``skip`` left out.

    Left and bottom run from the datum edges to the nearest edges of the defect.
    """
    u = plan.shop.units
    dx, dy, _, _ = bounds([layout.blank.shape.outer])
    out = []
    for defect in layout.blank.defects:
        if defect.name in skip:
            continue
        x0, y0, x1, y1 = bounds(outlines_of(defect.shape))
        out.append(
            [
                marks.letters(defect.kind),
                clean(defect.kind),
                {"through": "both"}.get(defect.face, defect.face),
                "–" if defect.depth_mm is None else measure.number(defect.depth_mm, u),
                measure.number(x0 - dx, u),
                measure.number(y0 - dy, u),
                f"{measure.plain(x1 - x0, u)} × {measure.plain(y1 - y0, u)}",
            ]
        )
    return out
