"""Lengths as the bed's answers say them."""

from __future__ import annotations

import math
from fractions import Fraction

from nestyield.model import Units


def format_length(length_mm: float, units: Units = "mm", *, up: bool | None = None) -> str:
    """Write a length for people.

    Parameters
    ----------
    length_mm : float
    units : {"mm", "in"}
        Millimetres to a hundredth (to a thousandth below a tenth), or inches and fractions to 1/64.
    up : bool or None
        Round up (what is needed, what is missing), down (what there is), or to nearest.

    Examples
    --------
    >>> format_length(628.35, "mm"), format_length(628.42, "in"), format_length(0.004, "mm")
    ('628.35 mm', '24 47/64 in', '0.004 mm')
    """
    if units == "in":
        return _inches(length_mm / 25.4, up)
    places = 2 if abs(length_mm) >= 0.1 else 3
    count = length_mm * 10**places
    whole = round(count) if up is None else (math.ceil(count - 1e-3) if up else math.floor(count + 1e-3))
    text = f"{whole / 10**places:.{places}f}".rstrip("0").rstrip(".")
    return f"{text} mm"


def _inches(inches: float, up: bool | None) -> str:
    count = abs(inches) * 64
    if up is None:
        whole = round(count)
    elif up == (inches >= 0):
        whole = math.ceil(count - 1e-6)
    else:
        whole = math.floor(count + 1e-6)
    sign = "-" if inches < 0 and whole else ""
    if whole == 0 and count > 1e-6:
        return f"{inches:.4f} in"
    value = Fraction(whole, 64)
    full, rest = divmod(value.numerator, value.denominator)
    if rest == 0:
        return f"{sign}{full} in"
    return f"{sign}{full} {rest}/{value.denominator} in" if full else f"{sign}{rest}/{value.denominator} in"
