"""How strong a glued joint is for how the grain meets it, and what it takes to clamp it.

Sources beside the figures. The strength of a joint is relative to that of the wood itself and is a
guide for choosing between glue-ups, never a promise: glue, fit and clamping decide as much.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from nestyield.model.errors import ModelError
from nestyield.model.facts import CrossedJoint, EndGrainJoint, JointNote, LongGrainJoint, SlantedJoint
from nestyield.wood.species import Density, Species

#: What keeps clamps below the number that is needed: those that the shop has, or room along the seam.
ClampLimit = Literal["none", "owned", "room"]

#: 1 lbf in newtons and 1 in in millimeters, exact by definition.
N_PER_LBF = 4.4482216152605
MM_PER_IN = 25.4
MPA_PER_PSI = N_PER_LBF / MM_PER_IN**2

#: Relative strength of a slanted joint by run of its slope 1:n (M), and of end grain (S, GTR-190 ch. 10).
SLANTED = {12: 0.90, 10: 0.85, 8: 0.80, 5: 0.65}
END_GRAIN = 0.25
#: Glued shear with the grain crossed at 90 degrees, relative to parallel (S, FPL Report 1522, 1945).
CROSSED = 1.0 / 3.0

#: Grain that meets the seam flatter than 1:25 counts as long grain, steeper than 60 degrees as end grain (P).
LONG_GRAIN_DEG = math.degrees(math.atan(1 / 25))
END_GRAIN_DEG = 60.0

#: Clamping pressure for PVA glue by density class, psi, least and most (P).
PRESSURE_PSI: dict[Density, tuple[float, float]] = {
    "soft": (100.0, 150.0),
    "medium": (150.0, 200.0),
    "dense": (200.0, 300.0),
}
#: First clamp from the end of the seam: 1 1/2 to 2 in, the middle of it (P).
CLAMP_FROM_END_MM = 1.75 * MM_PER_IN
#: Farthest apart by density class; the practice is every 8 to 12 in, closer where the wood needs more (P).
CLAMP_SPACING_MM: dict[Density, float] = {
    "soft": 12 * MM_PER_IN,
    "medium": 10 * MM_PER_IN,
    "dense": 8 * MM_PER_IN,
}


def acute_deg(first_deg: float, second_deg: float) -> float:
    """Return the angle between two directions without sense, 0 to 90 degrees."""
    turned = (first_deg - second_deg) % 180.0
    return min(turned, 180.0 - turned)


def slanted_strength(angle_deg: float) -> float:
    """Return the relative strength of a joint that the grain meets at that angle.

    Straight lines in the angle between the quoted slopes, 1 at 0 degrees; steeper than 1:5 nothing is
    quoted, so the figure of end grain is given, which is on the safe side (D from M figures).
    """
    known = sorted((math.degrees(math.atan(1 / run)), value) for run, value in SLANTED.items())
    if angle_deg > known[-1][0] + 1e-9:
        return END_GRAIN
    return float(np.interp(angle_deg, [0.0, *(a for a, _ in known)], [1.0, *(v for _, v in known)]))


def joint(
    one_grain_deg: float, other_grain_deg: float, seam_deg: float, crossed_grain_deg: float = 10.0
) -> JointNote:
    """Return the kind of joint along a straight seam, with its strength.

    Parameters
    ----------
    one_grain_deg, other_grain_deg, seam_deg : float
        Directions on the face, all from the same axis.
    crossed_grain_deg : float
        The shop's setting: the grain of the two sides crosses when it differs by more.

    Examples
    --------
    >>> joint(0, 0, 0).code, joint(0, 0, 90).code, joint(0, 0, 6).code, joint(0, 90, 0).code
    ('long grain joint', 'end grain joint', 'slanted joint', 'end grain joint')
    """
    steepest = max(acute_deg(one_grain_deg, seam_deg), acute_deg(other_grain_deg, seam_deg))
    if steepest >= END_GRAIN_DEG:
        return EndGrainJoint(strength_pct=_pct(END_GRAIN), source="GTR-190 joints")
    crossing = acute_deg(one_grain_deg, other_grain_deg)
    if crossing > crossed_grain_deg:
        return CrossedJoint(
            crossing_deg=round(crossing, 4),
            strength_pct=_pct(min(CROSSED, slanted_strength(steepest))),
            source="FPL 1522",
        )
    if steepest > LONG_GRAIN_DEG:
        return SlantedJoint(
            run=round(1.0 / math.tan(math.radians(steepest))),
            strength_pct=_pct(slanted_strength(steepest)),
            source="GTR-190 scarf",
        )
    return LongGrainJoint(strength_pct=100.0, source="GTR-190 joints")


def _pct(share: float) -> float:
    return round(100.0 * share, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamping:
    """What it takes to clamp a seam (P: common practice, PVA glue).

    Parameters
    ----------
    pressure_psi : (float, float)
        Least and most.
    force_n : (float, float)
        Of all clamps together, newtons.
    positions_mm : tuple of float
        Clamps along the seam, from one end.
    spacing_mm : float
        Between neighbors; 0 for a single clamp.
    needed : int
        Clamps that the least pressure and the widest spacing ask for.
    each_n : (float, float)
        Of each clamp, least and most, newtons; no more than it gives.
    reached_psi : float
        Pressure when each clamp gives all it can, at most the highest that is asked for.
    limit : {"none", "owned", "room"}
        What keeps ``positions_mm`` below ``needed``: clamps of the shop, or room along the seam.
    """

    pressure_psi: tuple[float, float]
    force_n: tuple[float, float]
    positions_mm: tuple[float, ...]
    spacing_mm: float
    needed: int
    each_n: tuple[float, float]
    reached_psi: float
    limit: ClampLimit

    @property
    def count(self) -> int:
        """How many clamps."""
        return len(self.positions_mm)


def force_n(area_mm2: float, pressure_psi: float) -> float:
    """Return the force that gives that pressure on that area, newtons.

    Examples
    --------
    >>> round(force_n(1.75 * 19 * 25.4**2, 150) / N_PER_LBF, 1)
    4987.5
    """
    return area_mm2 * pressure_psi * MPA_PER_PSI


def softest(species: Sequence[Species]) -> Density:
    """Return the softest class among the woods at a seam: the one that pressure would crush first."""
    return min((s.density for s in species), key=("soft", "medium", "dense").index, default="medium")


def clamping(
    length_mm: float,
    thickness_mm: float,
    density: Density,
    clamp_n: float,
    *,
    least_spacing_mm: float,
    owned: int | None = None,
) -> Clamping:
    """Return force, count and positions of clamps for a straight seam.

    Parameters
    ----------
    length_mm, thickness_mm : float
        Of the glue line.
    density : {"soft", "medium", "dense"}
        Of the softest wood at the seam, see :func:`softest`.
    clamp_n : float
        What each clamp gives, newtons: as many are set as the least pressure needs.
    least_spacing_mm : float
        Clamps cannot stand closer than this.
    owned : int or None
        Clamps that the shop has; None: enough.

    Raises
    ------
    ModelError
        When a size is not above 0.
    """
    if not (length_mm > 0 and thickness_mm > 0):
        raise ModelError(f"expected a seam length and thickness > 0, got {length_mm:g} x {thickness_mm:g}")
    pressure = PRESSURE_PSI[density]
    force = (
        force_n(length_mm * thickness_mm, pressure[0]),
        force_n(length_mm * thickness_mm, pressure[1]),
    )
    between = length_mm - 2 * CLAMP_FROM_END_MM
    needed = 1 if between <= 0 else 1 + max(1, math.ceil(between / CLAMP_SPACING_MM[density] - 1e-9))
    needed = max(needed, math.ceil(force[0] / clamp_n - 1e-9))
    places = 1 + between / least_spacing_mm if between > 0 else length_mm / least_spacing_mm
    room = max(1, math.floor(places + 1e-9))
    have = needed if owned is None else owned
    count = min(needed, room, have)
    limit: ClampLimit = "none" if count == needed else "owned" if have <= room else "room"
    first = CLAMP_FROM_END_MM if between > 0 and count > 1 else length_mm / (2 * count)
    spacing = (length_mm - 2 * first) / (count - 1) if count > 1 else 0.0
    positions = tuple(first + i * spacing for i in range(count))
    return Clamping(
        pressure_psi=pressure,
        force_n=force,
        positions_mm=positions,
        spacing_mm=spacing,
        needed=needed,
        each_n=(min(clamp_n, force[0] / count), min(clamp_n, force[1] / count)),
        reached_psi=min(pressure[1], clamp_n * count / force_n(length_mm * thickness_mm, 1.0)),
        limit=limit,
    )
