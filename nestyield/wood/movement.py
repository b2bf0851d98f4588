"""How much wood swells and shrinks, and what that does at a seam.

Source: Wood Handbook FPL-GTR-190 (2010), equation 13-2: ``dD = D C (M_F - M_I)`` with ``C = C_T`` across
a flatsawn board and ``C_R`` across a quartersawn one, between 6 and 14 % moisture content (S).

Between flatsawn and quartersawn, and between along and across the grain, strain turns as a tensor does:
``C = C_T cos^2 r + C_R sin^2 r`` across the width when the growth rings stand at ``r`` to the wide face
(D: rotation of plane strain; the two ends of the range are the handbook's).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestyield.model.errors import ModelError
from nestyield.wood.species import Species

#: Change lengthwise a point of moisture content, as a fraction. Handbook: 0.1 to 0.2 % from green to
#: ovendry (S); the middle, spread over 30 points (D).
C_LENGTHWISE = 0.0015 / 30.0

#: Moisture content between which the coefficients hold, percent (S).
VALID_PCT = (6.0, 14.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamSide:
    """The wood on one side of a seam.

    Parameters
    ----------
    species : Species
    moisture_pct : float
        When it was glued and leveled.
    ring_deg : float
        Growth rings to the wide face: 0 flatsawn, 90 quartersawn.
    grain_deg : float
        Grain to the seam, any sign: 0 for a long-grain joint.
    """

    species: Species
    moisture_pct: float
    ring_deg: float = 0.0
    grain_deg: float = 0.0


def _pair(species: Species) -> tuple[float, float]:
    if species.c_radial is None or species.c_tangential is None:
        raise ModelError(f"expected a wood with coefficients of change, got {species.name!r}")
    return species.c_radial, species.c_tangential


def _mix(zero: float, ninety: float, angle_deg: float) -> float:
    s = math.sin(math.radians(angle_deg)) ** 2
    return zero * (1.0 - s) + ninety * s


def width_coefficient(species: Species, ring_deg: float = 0.0) -> float:
    """Return the change across the width a point of moisture, as a fraction.

    Examples
    --------
    >>> from nestyield.wood.species import find
    >>> width_coefficient(find("sugar maple")), width_coefficient(find("sugar maple"), 90)
    (0.00353, 0.00165)
    """
    radial, tangential = _pair(species)
    return _mix(tangential, radial, ring_deg)


def thickness_coefficient(species: Species, ring_deg: float = 0.0) -> float:
    """Return the change through the thickness a point of moisture, as a fraction."""
    radial, tangential = _pair(species)
    return _mix(radial, tangential, ring_deg)


def face_coefficient(species: Species, grain_deg: float, ring_deg: float = 0.0) -> float:
    """Return the change along a line on the face that lies at ``grain_deg`` to the grain."""
    return _mix(C_LENGTHWISE, width_coefficient(species, ring_deg), grain_deg)


def change_mm(size_mm: float, coefficient: float, from_pct: float, to_pct: float) -> float:
    """Return by how much a size grows (shrinks when negative), millimeters.

    Parameters
    ----------
    size_mm : float
        At the first moisture content.
    coefficient : float
        From one of the functions above.
    from_pct, to_pct : float
        Moisture content, percent; equation 13-2 holds from 6 to 14 %.

    Examples
    --------
    >>> round(change_mm(232, 0.00245, 8, 11), 1)
    1.7
    """
    return size_mm * coefficient * (to_pct - from_pct)


def width_change_mm(
    species: Species, width_mm: float, from_pct: float, to_pct: float, ring_deg: float = 0.0
) -> float:
    """Return by how much a board's width changes between two moisture contents, millimeters."""
    return change_mm(width_mm, width_coefficient(species, ring_deg), from_pct, to_pct)


def step_mm(thickness_mm: float, one: SeamSide, other: SeamSide, to_pct: float) -> float:
    """Return how far the first side stands above the second after both come to ``to_pct``.

    Both sides were leveled when glued, each at its own moisture content. Negative: below. The step is
    of both faces together; one face shows half of it when the blank may bend freely.

    Parameters
    ----------
    thickness_mm : float
        When leveled.
    one, other : SeamSide
    to_pct : float
        Moisture content that both come to.
    """
    first = change_mm(
        thickness_mm, thickness_coefficient(one.species, one.ring_deg), one.moisture_pct, to_pct
    )
    second = change_mm(
        thickness_mm, thickness_coefficient(other.species, other.ring_deg), other.moisture_pct, to_pct
    )
    return first - second


def worst_step_mm(
    thickness_mm: float, one: SeamSide, other: SeamSide, season_pct: tuple[float, float]
) -> float:
    """Return the largest step over the season, without sign, millimeters.

    The step is linear in the moisture that both come to, so the worst is at an end of the season.
    """
    return max(abs(step_mm(thickness_mm, one, other, m)) for m in season_pct)


def mismatch_mm(length_mm: float, one: SeamSide, other: SeamSide, to_pct: float) -> float:
    """Return by how much the two sides of a seam would differ in length if they were free.

    They are glued, so the wood has to bear it: nothing for two long-grain edges, the whole movement
    of a width where grain meets a neighbor's end or crosses it. Positive when the first is longer.

    Parameters
    ----------
    length_mm : float
        Of the seam.
    one, other : SeamSide
    to_pct : float
        Moisture content that both come to.
    """
    first = change_mm(
        length_mm, face_coefficient(one.species, one.grain_deg, one.ring_deg), one.moisture_pct, to_pct
    )
    second = change_mm(
        length_mm,
        face_coefficient(other.species, other.grain_deg, other.ring_deg),
        other.moisture_pct,
        to_pct,
    )
    return first - second


def worst_mismatch_mm(
    length_mm: float, one: SeamSide, other: SeamSide, season_pct: tuple[float, float]
) -> float:
    """Return the largest mismatch along a seam over the season, without sign, millimeters."""
    return max(abs(mismatch_mm(length_mm, one, other, m)) for m in season_pct)
