"""Repair: the least straight cut that takes a damaged place off a part, and the wood for the patch.

The cut runs straight through the whole thickness and takes off the piece of the part on one side of it that holds
the damage; the patch is glued to the cut and brought to the outline, with any contour on it. Of all cuts that spare
every pocket, hole and opening, the one is taken that takes the least wood, among those that run along the grain
or up to 1:8 off it, where a glued joint is nearly as strong as the wood. Only where none of these spares them one up
to 1:5 off is taken, and only where there is none either any other, with how weak its joint is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.geometry.shape import to_shapely
from nestyield.model import Outline, Part, Shape, Shop
from nestyield.model.patch import PatchCut
from nestyield.planning.questions import Makers, pieces_for
from nestyield.wood.joints import acute_deg, joint

#: Slopes of a cut off the grain, degrees; cuts within the first come before all others: 1:8 (strength 80 %),
#: 1:5 (65 %), any (25 % at the least; M, see ``wood.joints``).
OFF_GRAIN_DEG = (math.degrees(math.atan(1 / 8)), math.degrees(math.atan(1 / 5)), 90.0)
#: Wood that stays between the cut and what is spared, millimeters (P: as much as between a seam and a hole).
SPARED_MM = 3.0
#: Wood that comes off beyond the damage, millimeters (P: so that its last fibers go, too).
BEYOND_MM = 1.0
#: Steps in which angles are tried, degrees: all of them, then around the best.
_STEPS_DEG = (0.5, 0.05, 0.005)
#: Angles that are looked at closer.
_CLOSER = 6
_FAR_MM = 1e5


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """How a damaged place of a part is patched.

    Parameters
    ----------
    part : str
    damage : Shape
        Drawing coordinates.
    cut : PatchCut or None
        None where no straight cut spares what is cut into the part.
    in_the_way : tuple of str
        Zones that the least cut along the grain would run into; where there is a cut, those that made it larger.
    patch : Part or None
        What is to be made: what comes off, as a part of the same thickness, wood and grain.
    wood : Makers or None
        Pieces of the rack that would make it, the cheapest first.
    """

    part: str
    damage: Shape
    cut: PatchCut | None
    in_the_way: tuple[str, ...]
    patch: Part | None
    wood: Makers | None


def meets(part: Part, damage: Shape) -> bool:
    """Tell whether a damaged place meets a part."""
    return bool(to_shapely(Shape(outer=part.outline)).intersects(to_shapely(damage)))


def patched(shop: Shop, part: Part, damage: Shape) -> Patch:
    """Tell how a damaged place of a part is cut away, and what of the rack gives the patch.

    Parameters
    ----------
    shop : Shop
    part : Part
    damage : Shape
        Drawing coordinates, front face up; it meets the part.
    """
    outline = to_shapely(Shape(outer=part.outline))
    place = to_shapely(damage).intersection(outline)
    zones = [
        (z.name, to_shapely(z.shape))
        for z in part.zones
        if z.shape is not None and z.does.cuts and not z.does.slopes
    ]
    spared = shapely.union_all([g.buffer(SPARED_MM) for _, g in zones]) if zones else shapely.Polygon()
    free = _least(part, outline, place, shapely.Polygon(), OFF_GRAIN_DEG[0])
    found = next((c for off in OFF_GRAIN_DEG if (c := _least(part, outline, place, spared, off))), None)
    blocking: tuple[str, ...] = ()
    if free is not None:
        taken = to_shapely(free.removed).buffer(SPARED_MM - 1e-6)
        blocking = tuple(name for name, ground in zones if ground.intersects(taken))
    if found is None:
        return Patch(part=part.name, damage=damage, cut=None, in_the_way=blocking, patch=None, wood=None)
    patch = _as_part(part, found)
    bare = replace(shop, beds=(), parts=(patch,), orders=())
    return Patch(
        part=part.name,
        damage=damage,
        cut=found,
        in_the_way=blocking,
        patch=patch,
        wood=pieces_for(bare, patch, ()),
    )


def _as_part(part: Part, cut: PatchCut) -> Part:
    """Return what comes off as a part to be made."""
    return replace(
        part,
        name=f"{part.name} patch",
        outline=cut.removed.outer,
        zones=(),
        glue=False,
        each=None,
        weight=None,
    )


def _least(
    part: Part, outline: BaseGeometry, damage: BaseGeometry, spared: BaseGeometry, off_deg: float
) -> PatchCut | None:
    """Return the cut that takes the least wood and spares what is to be spared, or None when there is none."""
    best: dict[float, float] = {}
    angles: Iterable[float] = np.arange(0.0, 360.0, _STEPS_DEG[0])
    for k, step in enumerate(_STEPS_DEG):
        for angle in angles:
            turn = round(float(angle) % 360.0, 6)
            if turn in best or not _along(part, turn, off_deg):
                continue
            taken = _taken(outline, damage, turn)
            if taken is not None and not taken.intersects(spared):
                best[turn] = taken.area
        if k + 1 < len(_STEPS_DEG):
            near = sorted(best, key=lambda a: (best[a], a))[:_CLOSER]
            finer = _STEPS_DEG[k + 1]
            angles = [
                a + finer * n for a in near for n in range(-round(step / finer), round(step / finer) + 1)
            ]
    if not best:
        return None
    turn = min(best, key=lambda a: (round(best[a], 3), a))
    return _cut(part, outline, damage, turn)


def _along(part: Part, turn: float, off_deg: float) -> bool:
    """Tell whether a cut in a direction runs along the grain, or little off it."""
    return part.grain_deg is None or acute_deg(turn, part.grain_deg) <= off_deg + 1e-9


def _half(damage: BaseGeometry, turn: float) -> tuple[tuple[float, float], tuple[float, float], float]:
    """Return direction of a cut, its normal to the left, and how far along that it lies beside the damage."""
    a = math.radians(turn)
    along, left = (math.cos(a), math.sin(a)), (-math.sin(a), math.cos(a))
    points = shapely.get_coordinates(damage)
    return along, left, float((points @ np.array(left)).min()) - BEYOND_MM


def _taken(outline: BaseGeometry, damage: BaseGeometry, turn: float) -> BaseGeometry | None:
    """Return what a cut in a direction takes off on its left, that of it which holds the damage; None for several."""
    (ux, uy), (nx, ny), at = _half(damage, turn)
    x, y = at * nx, at * ny
    f = _FAR_MM
    plane = shapely.Polygon(
        [
            (x - f * ux, y - f * uy),
            (x + f * ux, y + f * uy),
            (x + f * (ux + nx), y + f * (uy + ny)),
            (x + f * (nx - ux), y + f * (ny - uy)),
        ]
    )
    pieces = [p for p in shapely.get_parts(outline.intersection(plane)) if p.geom_type == "Polygon"]
    hit = [p for p in pieces if p.intersects(damage)]
    rest = outline.area - sum(p.area for p in hit)
    return hit[0] if len(hit) == 1 and rest > 0.5 * outline.area else None


def _cut(part: Part, outline: BaseGeometry, damage: BaseGeometry, turn: float) -> PatchCut:
    taken = _taken(outline, damage, turn)
    assert taken is not None
    along, left, at = _half(damage, turn)
    points = shapely.get_coordinates(taken)
    on = points[np.abs(points @ np.array(left) - at) < 1e-3] @ np.array(along)
    ends = [
        (float(s * along[0] + at * left[0]), float(s * along[1] + at * left[1])) for s in (on.min(), on.max())
    ]
    grain = part.grain_deg
    return PatchCut(
        line_mm=(ends[0], ends[1]),
        off_grain_deg=None if grain is None else round(acute_deg(turn, grain), 3),
        joint=None if grain is None else joint(grain, grain, turn),
        removed=_shape(taken),
        area_mm2=float(taken.area),
    )


def _shape(ground: BaseGeometry) -> Shape:
    def ring(points: Sequence[Sequence[float]]) -> Outline:
        return Outline.polygon([(float(x), float(y)) for x, y in points[:-1]])

    return Shape(
        outer=ring(list(ground.exterior.coords)), holes=tuple(ring(list(r.coords)) for r in ground.interiors)
    )
