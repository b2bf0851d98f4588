"""Leaves of resawn pieces: what of the thickness, and which flaws, each has; and how the resaw makes them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from nestyield.audit.curves import points_of, region
from nestyield.model import Defect, Layer, MachineLimits, Member, Part, Piece, Sawing, Settings

#: Depths closer than this are the same, millimeters.
SAME_MM = 1e-3
#: A cut keeps so far from metal, within a trifle (common practice, no source), millimeters.
CLEAR_MM = 3.0 - 1e-6
#: An edge to stand on: most off the grain, straight within this, and for this share of the length.
OFF_GRAIN_DEG, STRAIGHT_MM, SHARE = 10.0, 0.15, 0.5
#: Places along an edge at which it is looked at.
LOOKS = 2000
#: Lengths along an edge may be off by this, millimeters, and by one look.
NEAR_MM = 0.5


def leaf(piece: Piece, layer: Layer | None) -> Piece:
    """Return what a leaf of a piece is; the piece itself for no layer.

    Parameters
    ----------
    piece : Piece
    layer : Layer or None
    """
    if layer is None:
        return piece
    low, high = layer.top_mm, layer.bottom_mm
    flaws: list[Defect] = []
    for flaw in piece.defects:
        start, end = _span(flaw, piece.thickness_mm)
        if end <= low + 1e-6 or start >= high - 1e-6:
            continue
        if start <= low + 1e-6 and end >= high - 1e-6:
            flaws.append(replace(flaw, face="through", depth_mm=None))
        elif start <= low + 1e-6:
            flaws.append(replace(flaw, face="top", depth_mm=end - low))
        else:
            flaws.append(replace(flaw, face="bottom", depth_mm=high - start))
    share = (high - low) / piece.thickness_mm
    return replace(
        piece,
        thickness_mm=round(high - low, 6),
        defects=tuple(flaws),
        value=None if piece.value is None else piece.value * share,
    )


def _span(flaw: Defect, thick: float) -> tuple[float, float]:
    """Return from where to where below the top face a flaw reaches."""
    if flaw.depth_mm is None or flaw.face == "through":
        return (0.0, thick)
    return (0.0, flaw.depth_mm) if flaw.face == "top" else (thick - flaw.depth_mm, thick)


def may_give_a_leaf(part: Part, piece: Piece, settings: Settings) -> bool:
    """Tell whether a piece is thick enough to be resawn for a part, in a shop that resaws."""
    machines = settings.machines
    if machines.resaw_height_mm is None or piece.grain_deg is None or piece.seams or part.cap:
        return False
    wanted = max(part.thickness_mm + 2 * settings.planing_mm, machines.resaw_thinnest_mm)
    lost = machines.resaw_kerf_mm + 2 * machines.resaw_planing_mm
    return piece.thickness_mm >= wanted + lost + machines.resaw_thinnest_mm - SAME_MM


def resaw_wrong(sawing: Sawing, piece: Piece, members: list[Member], limits: MachineLimits) -> Iterator[str]:
    """Yield what is wrong with how a piece is sawn into leaves.

    Parameters
    ----------
    sawing : Sawing
        With its ``resaw``.
    piece : Piece
    members : list of Member
        Of its blanks, in their order.
    limits : MachineLimits
    """
    resaw = sawing.resaw
    assert resaw is not None
    if limits.resaw_height_mm is None:
        yield "is resawn; the shop tells no height of a resaw"
        return
    if piece.grain_deg is None or piece.seams:
        yield "is resawn, and is a sheet or glued up"
    if sawing.cuts:
        yield "is resawn and sawn in other ways at once"
    if sawing.kerf_mm != limits.resaw_kerf_mm or resaw.planing_mm != limits.resaw_planing_mm:
        yield (
            f"loses {sawing.kerf_mm:g} mm to each cut and {resaw.planing_mm:g} mm from each face; the shop "
            f"says {limits.resaw_kerf_mm:g} and {limits.resaw_planing_mm:g} mm"
        )
    yield from _edge_wrong(piece, resaw.edge_mm, resaw.height_mm, limits)
    blanks = [m.layer for m in members if m.layer is not None]
    if len(blanks) < len(members) or len(resaw.rests) != len(sawing.rests):
        yield "has blanks or rests without their place in its thickness"
        return
    if [b.top_mm for b in blanks] != sorted(b.top_mm for b in blanks):
        yield "its leaves do not follow each other from the top face on"
    layers = sorted([*blanks, *resaw.rests], key=lambda b: b.top_mm)
    gap = sawing.kerf_mm + 2 * resaw.planing_mm
    ends = [-gap, *(b.bottom_mm for b in layers)]
    for before, one in zip(ends, layers):
        if abs(one.top_mm - before - gap) > SAME_MM:
            yield f"a leaf begins {one.top_mm:g} mm deep; what is above it ends at {before + gap:g} mm"
        if one.bottom_mm - one.top_mm < limits.resaw_thinnest_mm - SAME_MM:
            thick = one.bottom_mm - one.top_mm
            yield f"a leaf is {thick:g} mm thick; {limits.resaw_thinnest_mm:g} mm is the least"
    if abs(ends[-1] - piece.thickness_mm) > SAME_MM:
        yield f"its leaves end {ends[-1]:g} mm deep; it is {piece.thickness_mm:g} mm thick"
    if len(resaw.cuts) != len(layers) - 1:
        yield f"gives {len(layers)} leaves by {len(resaw.cuts)} cuts"
        return
    for number, (cut, above) in enumerate(zip(resaw.cuts, layers), start=1):
        at = above.bottom_mm + resaw.planing_mm
        if abs(cut.at_mm - at) > SAME_MM or abs(cut.fence_mm - (at - above.top_mm)) > SAME_MM:
            yield f"cut {number} belongs {at:g} mm deep, {at - above.top_mm:g} mm from the fence"
        met = {}
        for flaw in piece.defects:
            start, end = _span(flaw, piece.thickness_mm)
            met[flaw.name] = max(start - at - sawing.kerf_mm, at - end)  # clear of the blade by so much
            if flaw.traits.may_hold_metal and met[flaw.name] < CLEAR_MM:
                yield f"cut {number} comes too near to what may hold metal ({flaw.name})"
        loose = [f.name for f in piece.defects if f.traits.loose and met[f.name] < 0]
        if list(cut.defects) != loose:
            yield f"cut {number} meets what is loose in {loose}; the plan says {list(cut.defects)}"


def _edge_wrong(
    piece: Piece,
    edge: tuple[tuple[float, float], tuple[float, float]],
    height: float,
    limits: MachineLimits,
) -> Iterator[str]:
    """Yield what is wrong with the edge on which a piece stands, and with its height on it."""
    a, b = complex(*edge[0]), complex(*edge[1])
    long = abs(b - a)
    if long <= 0.0 or limits.resaw_height_mm is None:
        yield "stands on no edge"
        return
    way = (b - a) / long
    z = points_of(piece.shape.outer) @ np.array([1.0, 1j])
    turned = (z - a) * way.conjugate()
    low, high = float(turned.imag.min()), float(turned.imag.max())
    if min(abs(low), abs(high)) > STRAIGHT_MM:
        yield "has wood on both sides of the edge on which it stands"
    if abs(high - low - height) > STRAIGHT_MM:
        yield f"stands {high - low:.2f} mm high; the plan says {height:.2f} mm"
    if not limits.resaw_narrowest_mm - STRAIGHT_MM <= high - low <= limits.resaw_height_mm + STRAIGHT_MM:
        yield (
            f"stands {high - low:.2f} mm high; the resaw takes {limits.resaw_narrowest_mm:g} to "
            f"{limits.resaw_height_mm:g} mm"
        )
    off = math.degrees(math.atan2(way.imag, way.real)) - (piece.grain_deg or 0.0)
    if abs((off + 90.0) % 180.0 - 90.0) > OFF_GRAIN_DEG + 1e-6:
        yield "is not resawn along its grain"
    along = a + np.linspace(0, 1, LOOKS) * (b - a)
    spots = shapely.points(along.real, along.imag)
    wood = region(piece.shape)
    sound = shapely.dwithin(wood, spots, STRAIGHT_MM)
    for flaw in piece.defects:
        if flaw.traits.wood_missing:
            sound &= ~shapely.dwithin(region(flaw.shape), spots, 0.05)
    held = float(sound.mean()) * long
    least = max(limits.resaw_shortest_mm, SHARE * float(np.ptp(turned.real)))
    if held < least - NEAR_MM - 2 * long / LOOKS:
        yield f"stands on {held:.1f} mm of sound edge; {least:.1f} mm is the least"
