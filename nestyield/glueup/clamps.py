"""Clamps across the seams of a blank: how hard, how many, where, and where one would slip."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from nestyield.geometry.shape import to_shapely
from nestyield.glueup.boards import Board, Frame
from nestyield.model import Blank, Clamps, Seam, Settings
from nestyield.wood.joints import Clamping, clamping, softest
from nestyield.wood.own import species_of
from nestyield.wood.species import Density

#: A clamp slips off an edge that slopes more to the seam, degrees (common practice, no source).
SLOPE_DEG = 15.0
#: Width of a clamp's pad, millimeters.
PAD_MM = 20.0
#: Pads are held this far inside the ends of the blank, millimeters.
_INSIDE_MM = 0.1


def seam_clamping(blank: Blank, cut: Sequence[Board], seam: Seam, settings: Settings) -> Clamping:
    """Return what it takes to clamp the seams of a blank when that seam is the longest.

    Parameters
    ----------
    blank : Blank
    cut : sequence of Board
    seam : Seam
    settings : Settings
        What each clamp of the shop gives, how many there are, how close they stand; the maker's own woods.
    """
    rules = settings.glueup
    return clamping(
        math.dist(seam.line_mm[0], seam.line_mm[-1]),
        blank.thickness_mm,
        _softest(cut, settings),
        rules.clamp_force_n,
        least_spacing_mm=rules.clamp_spacing_mm,
        owned=rules.clamps,
    )


def _softest(cut: Sequence[Board], settings: Settings) -> Density:
    found = (species_of(board.piece.species, settings.own_woods) for board in cut)
    return softest([s for s in found if s is not None])


def clamps_of(blank: Blank, cut: Sequence[Board], settings: Settings) -> Clamps:
    """Return the clamps across all seams of a blank.

    Parameters
    ----------
    blank : Blank
    cut : sequence of Board
    settings : Settings
    """
    seam = max(blank.seams, key=lambda s: math.dist(s.line_mm[0], s.line_mm[-1]))
    needs = seam_clamping(blank, cut, seam, settings)
    frame = Frame.of(seam)
    begins = min(frame.where(p)[0] for p in (seam.line_mm[0], seam.line_mm[-1]))
    left = min(frame.where(p)[0] for p in blank.shape.outer.points_mm)
    at = tuple(round(begins + p - left, 4) for p in needs.positions_mm)
    return Clamps(
        seam=seam.name,
        pressure_psi=needs.pressure_psi,
        force_n=(round(needs.force_n[0], 1), round(needs.force_n[1], 1)),
        clamp_n=settings.glueup.clamp_force_n,
        needed=needs.needed,
        each_n=(round(needs.each_n[0], 1), round(needs.each_n[1], 1)),
        reached_psi=round(needs.reached_psi, 4),
        limit=needs.limit,
        at_mm=at,
        slips_mm=slips(blank, seam, at),
        first_mm=round(needs.positions_mm[0], 4),
        spacing_mm=round(needs.spacing_mm, 4),
        density=_softest(cut, settings),
        source="PVA practice",
    )


def slips(blank: Blank, seam: Seam, at_mm: Sequence[float]) -> tuple[float, ...]:
    """Return the places where a clamp across the seams finds no edge, or one that slopes too much.

    Parameters
    ----------
    blank : Blank
    seam : Seam
        The clamps press square to it.
    at_mm : sequence of float
        From the left datum edge of the blank.
    """
    frame = Frame.of(seam)
    left = min(frame.where(p)[0] for p in blank.shape.outer.points_mm)
    wood = shapely.transform(
        to_shapely(blank.shape), lambda points: np.array([frame.where((x, y)) for x, y in points])
    )
    u0, v0, u1, v1 = wood.bounds
    out = []
    for place in at_mm:
        ends = [
            min(max(left + place + way * PAD_MM / 2, u0 + _INSIDE_MM), u1 - _INSIDE_MM) for way in (-1, 1)
        ]
        if ends[1] - ends[0] < 1.0:
            ends[1] = ends[0] + 1.0
        edges = [wood.intersection(shapely.LineString([(u, v0 - 1.0), (u, v1 + 1.0)])).bounds for u in ends]
        (_, low_a, _, high_a), (_, low_b, _, high_b) = edges
        slopes = [(low_b - low_a) / (ends[1] - ends[0]), (high_b - high_a) / (ends[1] - ends[0])]
        if not all(abs(math.degrees(math.atan(s))) <= SLOPE_DEG for s in slopes):
            out.append(place)
    return tuple(out)
