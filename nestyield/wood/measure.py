"""Board measure in exact fractions: inches, feet, surface measure, cutting units, board feet.

Source: NHLA Rules for the Measurement and Inspection of Hardwood and Cypress, summary charts.
"""

from __future__ import annotations

from fractions import Fraction

#: Cubic millimeters in a board foot of 144 cubic inches, exact.
MM3_PER_BOARD_FOOT = Fraction(254, 10) ** 3 * 144

_UM_PER_IN = 25400


def inches(mm: float) -> Fraction:
    """Return a length in inches as an exact fraction.

    Sizes within 1 micrometer of a whole 1/128 in are that fraction, so that 163.5125 mm is 6 7/16 in;
    others are whole micrometers.

    Examples
    --------
    >>> inches(163.5125)
    Fraction(103, 16)
    """
    nearest = Fraction(round(mm / 25.4 * 128), 128)
    if abs(float(nearest) * 25.4 - mm) <= 0.001:
        return nearest
    return Fraction(round(mm * 1000), _UM_PER_IN)


def fraction(mm: float) -> str:
    """Return a length in inches to the nearest 1/64, as makers write it.

    Examples
    --------
    >>> fraction(304.8), fraction(44.45), fraction(6.35)
    ('12', '1 3/4', '1/4')
    """
    value = Fraction(round(mm / 25.4 * 64), 64)
    whole, rest = divmod(value, 1)
    if rest == 0:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def board_feet(volume_mm3: float) -> float:
    """Return the board feet in a volume.

    Examples
    --------
    >>> round(board_feet(31.75 * 152.4 * 1828.8), 6)
    3.75
    """
    return volume_mm3 / float(MM3_PER_BOARD_FOOT)


def surface_measure(length_in: Fraction, width_in: Fraction) -> int:
    """Return the surface measure of a board, whole square feet.

    Width in inches with its fractions times the whole feet of length, over 12, to the nearest whole.
    The summary says nothing of a half; here it is rounded up (P: the rules raise and drop in turn).

    Examples
    --------
    >>> surface_measure(Fraction(129), Fraction(103, 16))
    5
    """
    feet = length_in // 12
    return int((width_in * feet / 12 + Fraction(1, 2)) // 1)
