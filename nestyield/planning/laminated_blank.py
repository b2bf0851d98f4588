"""The blank of some layers: pieces laid above each other so that the part lies in each where it was placed."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestyield.geometry.boolean import intersection
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import Region
from nestyield.geometry.shape import region_to_shape
from nestyield.model import (
    Blank,
    Defect,
    Member,
    Outline,
    Part,
    Piece,
    Placement,
    Settings,
    Shape,
    StackLayer,
)
from nestyield.model.arcs import box_of
from nestyield.model.micrometers import nearest_um
from nestyield.model.pose import Pose
from nestyield.placement.stock import SAME_MM, leaf_of

#: Wood around a part in each layer beyond the margin: room for pins and screws (common practice, no source), mm.
ROOM_MM = 25.0
#: A glue line crosses grain by no more than the shop allows, within this, degrees.
_SAME_DEG = 1e-6
#: What is left of a defect at the edge of a blank and is smaller is not told, square millimeters.
_LEAST_MM2 = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerCut:
    """A layer to be made of a row: depths in the finished part, and where it begins in the piece.

    Parameters
    ----------
    row : int
    low, high : float
        Below the front of the part, millimeters.
    first : float
        Below the top face of the piece, millimeters.
    """

    row: int
    low: float
    high: float
    first: float


def laminated_blank(
    pieces: Sequence[Piece], layers: Sequence[tuple[LayerCut, Placement]], part: Part, settings: Settings
) -> tuple[Blank, Placement] | None:
    """Return the blank of pieces laid so that the part lies in each where it was placed, its grain along X.

    Parameters
    ----------
    pieces : sequence of Piece
        From the top down.
    layers : sequence of (LayerCut, Placement)
        How each is cut, and where the part lies on it.
    part : Part
    settings : Settings

    Returns
    -------
    (Blank, Placement) or None
        None where they share no wood, or their grain crosses by more than the shop allows.
    """
    mirrored = layers[0][1].mirrored
    grain = part.grain_deg or 0.0
    angle = (grain if mirrored else -grain) % 360.0
    copies: Counter[str] = Counter()
    members: list[Member] = []
    for piece, (_, at) in zip(pieces, layers, strict=True):
        copies[piece.name] += 1
        turned = Pose(angle_deg=(angle - at.angle_deg) % 360.0)
        x, y = turned.point((at.x_um / 1000.0, at.y_um / 1000.0))
        members.append(
            Member(
                piece=piece.name,
                copy=copies[piece.name],
                angle_deg=turned.angle_deg,
                x_um=nearest_um(-x),
                y_um=nearest_um(-y),
            )
        )
    placement = Placement(
        part=part.name, order="", copy=1, angle_deg=angle, mirrored=mirrored, x_um=0, y_um=0, front_up=True
    )
    box = box_of(part.outline, Pose.of(placement))
    around = settings.blank_margin_mm + ROOM_MM
    room = Outline.rectangle(box.x0 - around, box.y0 - around, box.x1 + around, box.y1 + around)
    wood: Region = flatten_shape(Shape(outer=room), settings.chord_error_mm, "inside")
    for piece, member in zip(pieces, members, strict=True):
        here = Pose.of(member).shape(piece.shape)
        wood = intersection(wood, flatten_shape(here, settings.chord_error_mm, "inside"))
    shapes = region_to_shape(wood)
    if not shapes:
        return None
    stack = _stack(layers, settings.planing_mm)
    grains = [(p.grain_deg or 0.0) + m.angle_deg for p, m in zip(pieces, members, strict=True)]
    crossed = (abs((a - b + 90.0) % 180.0 - 90.0) for a, b in itertools.pairwise(grains))
    if any(c > settings.glueup.crossed_grain_deg + _SAME_DEG for c in crossed):
        return None
    shape = max(shapes, key=lambda s: s.area_mm2)
    blank = Blank(
        name="laminated",
        members=tuple(members),
        species=" + ".join(dict.fromkeys(p.species for p in pieces)),
        thickness_mm=stack[-1].bottom_mm,
        shape=shape,
        grain_deg=0.0,
        stack=stack,
    )
    return replace(blank, defects=_defects(blank, pieces, settings)), placement


def _stack(layers: Sequence[tuple[LayerCut, Placement]], planing: float) -> tuple[StackLayer, ...]:
    """Return the layers as they are glued: the two outer faces are planed afterwards."""
    out = []
    for k, (cut, _) in enumerate(layers):
        top = cut.low + (planing if k else 0.0)
        bottom = cut.high + planing * (2 if k == len(layers) - 1 else 1)
        first = cut.first - (0.0 if k else planing)
        out.append(
            StackLayer(top_mm=round(top, 6), bottom_mm=round(bottom, 6), off_top_mm=round(max(0.0, first), 6))
        )
    return tuple(out)


def _defects(blank: Blank, pieces: Sequence[Piece], settings: Settings) -> tuple[Defect, ...]:
    """Return what of the defects of each piece is in its layer, at its depth in the blank."""
    wood = flatten_shape(blank.shape, settings.chord_error_mm, "outside")
    out: list[Defect] = []
    for piece, member, layer in zip(pieces, blank.members, blank.stack, strict=True):
        leaf = leaf_of(piece, layer.of_piece)
        for defect in leaf.defects:
            low, high = defect.span_mm(leaf.thickness_mm)
            told = at_depth(defect, layer.top_mm + low, layer.top_mm + high, blank.thickness_mm)
            lies = Pose.of(member).shape(defect.shape)
            whole = flatten_shape(lies, settings.chord_error_mm, "outside")
            inside = [s for s in region_to_shape(intersection(whole, wood)) if s.area_mm2 > _LEAST_MM2]
            if inside and sum(s.area_mm2 for s in inside) >= lies.area_mm2 * (1 - 1e-9):
                inside = [lies]
            out += [replace(told, shape=shape) for shape in inside]
    return tuple(out)


def at_depth(defect: Defect, low_mm: float, high_mm: float, whole_mm: float) -> Defect:
    """Return a defect that reaches from one depth below the top face to another one.

    Parameters
    ----------
    defect : Defect
    low_mm, high_mm : float
    whole_mm : float
        Thickness of the blank.
    """
    low, high, whole = round(low_mm, 6), round(high_mm, 6), round(whole_mm, 6)
    if low <= SAME_MM and high >= whole - SAME_MM:
        return replace(defect, face="through", depth_mm=None, start_mm=0.0)
    if high >= whole - SAME_MM:
        return replace(defect, face="bottom", depth_mm=round(whole - low, 6), start_mm=0.0)
    return replace(defect, face="top", depth_mm=high, start_mm=max(0.0, low))
