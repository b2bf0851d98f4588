"""Lengths, areas and shares as a maker reads them: millimetres, or inches with fractions to 1/64."""

from __future__ import annotations

import math
from fractions import Fraction

from nestyield.model import Units

MM_PER_INCH = 25.4


def number(length_mm: float, units: Units) -> str:
    """Return a length without its unit: ``44.5`` or ``1 3/4``.

    Parameters
    ----------
    length_mm : float
        Millimetres.
    units : {"mm", "in"}
        Millimetres come to one decimal, a half upwards whatever the last micrometres say; inches to the
        nearest 1/64, reduced.
    """
    if units == "mm":
        tenths = math.floor(abs(length_mm) * 10.0 + 0.5 + 0.02)
        return f"{'-' if length_mm < 0 and tenths else ''}{tenths // 10}.{tenths % 10}"
    sixty_fourths = round(length_mm / MM_PER_INCH * 64)
    sign = "-" if sixty_fourths < 0 else ""
    whole, rest = divmod(abs(sixty_fourths), 64)
    if rest == 0:
        return f"{sign}{whole}"
    fraction = Fraction(rest, 64)
    return f"{sign}{f'{whole} ' if whole else ''}{fraction.numerator}/{fraction.denominator}"


def plain(length_mm: float, units: Units) -> str:
    """Return a length without its unit as drawings give it, with no nought after the point: ``600``."""
    return number(length_mm, units).removesuffix(".0") if units == "mm" else number(length_mm, units)


def word(units: Units) -> str:
    """Return the unit's full name, for headings."""
    return {"mm": "millimetres", "in": "inches"}[units]


def setting(length_mm: float, units: Units) -> str:
    """Return a length that someone has set, with its unit and as many decimals as were given."""
    if units == "in":
        return length(length_mm, units)
    return f"{decimal(length_mm, units)} mm"


def fine(length_mm: float, units: Units) -> str:
    """Return a small length with its unit, to a hundredth: ``2.25 mm``; inches as ever."""
    if units == "in":
        return length(length_mm, units)
    hundredths = f"{math.floor(abs(length_mm) * 100.0 + 0.5 + 1e-3) / 100.0:.2f}".rstrip("0").rstrip(".")
    return f"{'-' if length_mm < 0 and hundredths != '0' else ''}{hundredths} mm"


def length(length_mm: float, units: Units) -> str:
    """Return a length with its unit: ``44.5 mm``, ``600 mm`` or ``1 3/4 in``."""
    return f"{plain(length_mm, units)} {units}"


def size(length_mm: float, width_mm: float, units: Units) -> str:
    """Return ``508 × 177.8 mm``."""
    return f"{plain(length_mm, units)} × {plain(width_mm, units)} {units}"


def cell(length_mm: float, units: Units) -> str:
    """Return a length for a table cell, without its unit.

    A bare ``3/4`` is read as a date by spreadsheets, so the whole inches are always written: ``0 3/4``.
    """
    text = number(length_mm, units)
    if "/" in text and " " not in text:
        return f"-0 {text[1:]}" if text.startswith("-") else f"0 {text}"
    return text


def decimal(length_mm: float, units: Units) -> str:
    """Return a length as a plain decimal number, for names that may hold no slash: ``19`` or ``0.75``."""
    value = length_mm if units == "mm" else length_mm / MM_PER_INCH
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def area(area_mm2: float, units: Units) -> str:
    """Return an area: ``1234 cm²`` or ``191 sq in``."""
    if units == "mm":
        return f"{area_mm2 / 100.0:.0f} cm²"
    return f"{area_mm2 / MM_PER_INCH**2:.0f} sq in"


def area_cell(area_mm2: float, units: Units) -> str:
    """Return an area as a bare number: square centimetres or square inches, one decimal."""
    return f"{area_mm2 / 100.0:.1f}" if units == "mm" else f"{area_mm2 / MM_PER_INCH**2:.1f}"


def area_unit(units: Units) -> str:
    """Return the unit of ``area_cell`` as it stands in a column's name."""
    return "cm2" if units == "mm" else "sq_in"


def percent(part: float, whole: float) -> str:
    """Return ``61.4 %``, or a dash when the whole is nothing."""
    return f"{100.0 * part / whole:.1f} %" if whole > 0 else "–"


def angle(angle_deg: float) -> str:
    """Return an angle in (-180, 180], to a tenth where it is not whole."""
    turned = (angle_deg + 180.0) % 360.0 - 180.0
    text = f"{180.0 if turned == -180.0 else turned:.1f}".removesuffix(".0")
    return f"{'0' if text == '-0' else text}°"
