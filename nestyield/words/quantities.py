"""Lengths, areas, angles, volumes, forces, densities and money in the units of a shop.

A millimeter shop reads decimals of a millimeter. An inch shop reads fractions to 1/64 on rule and saw, and
decimals of an inch for coordinates of a machine; it never reads a millimeter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from nestyield.model.units import Units

MM_PER_INCH = 25.4

#: ``up`` for what is needed or missing, ``down`` for what there is, ``wood`` for wood that goes on the rack.
Rounding = Literal["nearest", "up", "down", "wood"]
#: So much under an even figure counts as that figure in a size of wood: what chords of a drawing take off.
HAIR_MM = 0.03
#: ``rule``: read off a rule, 0.1 mm or 1/64 in. ``fine``: 0.01 mm or 1/64 in, and 0.001 in below 1/64 in.
#: ``machine``: typed into a control, 0.01 mm or 0.001 in. ``setting``: what someone has set, as it was given.
#: ``coarse``: judged by eye, 1 mm or 1/2 in.
Style = Literal["rule", "fine", "machine", "setting", "coarse"]

_NEWTON_PER_POUND = 4.4482216152605  # exact: the international pound times standard gravity
_KG_PER_LB = 0.45359237  # exact
_KG_M3_PER_LB_FT3 = 0.45359237 / 0.3048**3  # exact pound and foot
_ML_PER_CUBIC_INCH = 16.387064  # exact
# What float arithmetic leaves of a whole step; far below a micrometer for every step here.
_SLACK = 1e-6
# A length a few micrometers short of half a tenth was set as that half: 6.3485 reads as 6.35 does.
_HALF = 0.02


def _steps(value: float, step: float, rounding: Rounding, half: float = _SLACK) -> int:
    """Return the whole number of steps nearest to a value, at least or at most it.

    Halves go away from 0, and so does what is short of a half by ``half`` of a step.
    """
    count = value / step
    if rounding == "up":
        return math.ceil(count - _SLACK)
    if rounding == "down":
        return math.floor(count + _SLACK)
    return int(math.copysign(math.floor(abs(count) + 0.5 + half), count))


def wood_mm(length_mm: float, units: Units) -> float:
    """Return the length of a piece of wood as a rule shows it, rounded down: tenths of a mm or 64ths.

    Papers and the rows that ``take`` writes use it alike: no piece is longer in one than in the other.
    """
    step = MM_PER_INCH / 64 if units == "in" else 0.1
    return math.floor((length_mm + HAIR_MM) / step + _SLACK) * step


def _decimal(steps: int, places: int) -> str:
    """Return steps of 10**-places as a decimal number with no noughts at its end."""
    sign, steps = ("-" if steps < 0 else ""), abs(steps)
    whole, rest = divmod(steps, 10**places)
    tail = f"{rest:0{places}d}".rstrip("0") if places else ""
    return f"{sign}{whole}.{tail}" if tail else f"{sign if whole else ''}{whole}"


@dataclass(frozen=True, slots=True)
class Words:
    """Writes quantities for one shop.

    Parameters
    ----------
    units : {"mm", "in"}
    space : str
        Stands inside a number and before its unit: a no-break space on paper.
    currency : str
        Of the maker's money: a sign stands before the amount, a name after it; ``""`` for none.

    Examples
    --------
    >>> Words("mm").length(628.35), Words("in").length(628.42), Words("in").length(628.42, style="machine")
    ('628.4 mm', '24 47/64 in', '24.741 in')
    >>> Words("mm").length(2.244, style="fine", rounding="down"), Words("mm").area(51_400)
    ('2.24 mm', '514 cm²')
    """

    units: Units
    space: str = " "
    currency: str = ""

    def number(self, length_mm: float, *, style: Style = "rule", rounding: Rounding = "nearest") -> str:
        """Return a length without its unit: ``44.5``, ``1 3/4``, ``24.741``.

        Parameters
        ----------
        length_mm : float
            Millimeters.
        style : {"rule", "fine", "machine", "setting", "coarse"}
        rounding : {"nearest", "up", "down", "wood"}
        """
        if rounding == "wood":
            return self.number(wood_mm(length_mm, self.units), style=style)
        if style == "setting" or not math.isfinite(length_mm * 1000.0):
            return self._given(length_mm)
        if self.units == "mm":
            places = {"rule": 1, "fine": 2, "machine": 2, "coarse": 0}[style]
            return _decimal(
                _steps(length_mm, 10.0**-places, rounding, _HALF if places == 1 else _SLACK), places
            )
        inches = length_mm / MM_PER_INCH
        if style == "machine":
            return _decimal(_steps(inches, 1e-3, rounding), 3)
        if style == "fine" and abs(inches) < 1 / 64 - 1e-9:
            return _decimal(_steps(inches, 1e-3, rounding), 3)
        if style == "coarse":
            return self._fraction(32 * _steps(inches, 1 / 2, rounding))
        return self._fraction(_steps(inches, 1 / 64, rounding))

    def run(self, start_mm: float, length_mm: float) -> str:
        """Return from where to where a piece of wood runs: ``10 3/8 to 13 47/64``.

        The figures differ by the length as ``number`` with ``rounding="wood"`` shows it: they agree.

        Examples
        --------
        >>> Words("in").run(25.4 * 10.37, 25.4 * 3.37), Words("in").number(25.4 * 3.37, rounding="wood")
        ('10 3/8 to 13 47/64', '3 23/64')
        """
        step = MM_PER_INCH / 64 if self.units == "in" else 0.1
        first = start_mm / step
        slack = _SLACK if self.units == "in" else _HALF
        begin = _steps(first, 1.0, "nearest", slack) * step
        return f"{self.number(start_mm)} to {self.number(begin + wood_mm(length_mm, self.units))}"

    def column(self, length_mm: float, *, rounding: Rounding = "nearest") -> str:
        """Return a length without its unit for a column of figures: in millimeters with one decimal."""
        text = self.number(length_mm, rounding=rounding)
        return text if self.units == "in" or "." in text else f"{text}.0"

    def depth(self, depth_mm: float) -> str:
        """Return a depth or a thickness without its unit, as a control and a caliper read it."""
        return self.number(depth_mm, style="fine")

    def thickness(self, thickness_mm: float) -> str:
        """Return a thickness with its unit, rounded as ``depth`` rounds it."""
        return self.length(thickness_mm, style="fine")

    def _given(self, length_mm: float) -> str:
        """Return a length as someone gave it: a whole fraction of an inch, else six figures."""
        value = length_mm if self.units == "mm" else length_mm / MM_PER_INCH
        # a length in whole micrometers is up to half a micrometer off the 64th that someone set
        parts = value * 64
        if self.units == "mm" or not math.isfinite(parts):
            return f"{value:.6g}"
        near = abs(value - round(parts) / 64) * MM_PER_INCH < 0.6e-3
        if near and round(parts) != 0:
            return self._fraction(round(parts))
        return f"{value:.6g}" if abs(value) < 1e-3 else f"{value:.4f}".rstrip("0").rstrip(".")

    def _fraction(self, sixty_fourths: int) -> str:
        sign = "-" if sixty_fourths < 0 else ""
        whole, rest = divmod(abs(sixty_fourths), 64)
        if rest == 0:
            return f"{sign}{whole}"
        part = Fraction(rest, 64)
        return f"{sign}{f'{whole}{self.space}' if whole else ''}{part.numerator}/{part.denominator}"

    def length(self, length_mm: float, *, style: Style = "rule", rounding: Rounding = "nearest") -> str:
        """Return a length with its unit: ``44.5 mm``, ``1 3/4 in``. Parameters as of ``number``."""
        return f"{self.number(length_mm, style=style, rounding=rounding)}{self.space}{self.units}"

    def size(self, *lengths_mm: float, style: Style = "rule", rounding: Rounding = "nearest") -> str:
        """Return lengths that belong together, with one unit: ``508 × 177.8 mm``."""
        numbers = [self.number(v, style=style, rounding=rounding) for v in lengths_mm]
        return f"{f'{self.space}×{self.space}'.join(numbers)}{self.space}{self.units}"

    def point(self, x_mm: float, y_mm: float, *, style: Style = "machine") -> str:
        """Return a place with one unit: ``X 120.5, Y 40 mm``."""
        x, y = self.number(x_mm, style=style), self.number(y_mm, style=style)
        return f"X{self.space}{x}, Y{self.space}{y}{self.space}{self.units}"

    def cell(self, length_mm: float, *, style: Style = "rule", rounding: Rounding = "nearest") -> str:
        """Return a length for a table cell, without its unit.

        Spreadsheets read a bare ``3/4`` as a date, so whole inches are always written: ``0 3/4``.
        """
        text = Words(self.units).number(length_mm, style=style, rounding=rounding)
        if "/" in text and " " not in text:
            return f"-0 {text[1:]}" if text.startswith("-") else f"0 {text}"
        return text

    def decimal(self, length_mm: float) -> str:
        """Return a length as a plain decimal number, to a thousandth: ``19`` or ``0.75``."""
        value = length_mm if self.units == "mm" else length_mm / MM_PER_INCH
        return _decimal(_steps(value, 1e-3, "nearest"), 3)

    def area(self, area_mm2: float) -> str:
        """Return an area: ``1234 cm²`` or ``191 sq in``."""
        if self.units == "mm":
            return f"{_steps(area_mm2, 100.0, 'nearest')}{self.space}cm²"
        return f"{_steps(area_mm2, MM_PER_INCH**2, 'nearest')}{self.space}sq{self.space}in"

    def area_cell(self, area_mm2: float) -> str:
        """Return an area as a bare number, rounded as ``area`` rounds it."""
        return Words(self.units).area(area_mm2).split()[0]

    def area_unit(self) -> str:
        """Return the unit of ``area_cell`` as it stands in the name of a column."""
        return "cm2" if self.units == "mm" else "sq_in"

    def volume(self, volume_ml: float, *, rounding: Rounding = "nearest") -> str:
        """Return a volume: ``12.5 ml`` or ``0.76 cu in``."""
        if self.units == "mm":
            return f"{_decimal(_steps(volume_ml, 0.1, rounding), 1)}{self.space}ml"
        inches = _decimal(_steps(volume_ml / _ML_PER_CUBIC_INCH, 0.01, rounding), 2)
        return f"{inches}{self.space}cu{self.space}in"

    def volume_cell(self, volume_ml: float, *, rounding: Rounding = "nearest") -> str:
        """Return a volume as a bare number, rounded as ``volume`` rounds it."""
        return Words(self.units).volume(volume_ml, rounding=rounding).split()[0]

    def volume_unit(self) -> str:
        """Return the unit of ``volume_cell`` as it stands in the name of a column."""
        return "ml" if self.units == "mm" else "cu_in"

    def force(self, force_n: float) -> str:
        """Return a force: ``4.5 kN``, ``320 N`` or ``1010 lbf``; three figures are more than clamps need."""
        if self.units == "in":
            return f"{_steps(force_n / _NEWTON_PER_POUND, 10.0, 'nearest') * 10}{self.space}lbf"
        if force_n < 1000:
            return f"{_steps(force_n, 10.0, 'nearest') * 10}{self.space}N"
        return f"{_decimal(_steps(force_n, 100.0, 'nearest'), 1)}{self.space}kN"

    def weight(self, kg: float) -> str:
        """Return a weight with three figures: ``1.42 kg``, ``380 g``, ``3.13 lb``, ``6.12 oz``."""
        value, unit = self._weight_in(kg)
        places = max(0, 2 - math.floor(math.log10(value))) if value > 0 else 0
        return f"{_decimal(_steps(value, 10.0**-places, 'nearest'), places)}{self.space}{unit}"

    def weight_range(self, kg: float, off_kg: float) -> str:
        """Return a weight and how far off it may be, to the digits that this leaves: ``1.42 ± 0.14 kg``."""
        value, unit = self._weight_in(kg)
        off = off_kg * value / kg if kg else 0.0
        places = max(0, 1 - math.floor(math.log10(off))) if off > 0 else 2
        shown = (f"{_steps(v, 10.0**-places, 'nearest') * 10.0**-places:.{places}f}" for v in (value, off))
        return f"{f'{self.space}±{self.space}'.join(shown)}{self.space}{unit}"

    def weight_cell(self, kg: float) -> str:
        """Return a weight without its unit, kg or lb, for a table."""
        return f"{kg if self.units == 'mm' else kg / _KG_PER_LB:.3f}"

    def weight_unit(self) -> str:
        """Return the unit of weights in tables: ``kg`` or ``lb``."""
        return "kg" if self.units == "mm" else "lb"

    def _weight_in(self, kg: float) -> tuple[float, str]:
        if self.units == "mm":
            return (kg, "kg") if kg >= 1.0 else (1000.0 * kg, "g")
        pounds = kg / _KG_PER_LB
        return (pounds, "lb") if pounds >= 1.0 else (16.0 * pounds, "oz")

    def density(self, density_kg_m3: float) -> str:
        """Return a density: ``560 kg/m³`` or ``35 lb/ft³``, with three figures."""
        if self.units == "mm":
            return f"{density_kg_m3:.3g}{self.space}kg/m³"
        return f"{density_kg_m3 / _KG_M3_PER_LB_FT3:.3g}{self.space}lb/ft³"

    def pressure(self, pressure_mpa: float) -> str:
        """Return a pressure: ``1.2 MPa`` or ``175 psi``."""
        if self.units == "mm":
            return f"{_decimal(_steps(pressure_mpa, 0.1, 'nearest'), 1)}{self.space}MPa"
        return f"{_steps(pressure_mpa * 1e6 / 6894.757293168, 5.0, 'nearest') * 5}{self.space}psi"

    def angle(self, angle_deg: float) -> str:
        """Return an angle in (-180, 180], to a tenth where it is not whole: ``-7.5°``."""
        tenths = _steps(math.remainder(angle_deg, 360.0), 0.1, "nearest")
        return f"{_decimal(1800 if tenths == -1800 else tenths, 1)}°"

    def percent(self, share: float) -> str:
        """Return a share in percent as it is given, to a tenth: ``61.4 %``."""
        return f"{_decimal(_steps(share, 0.1, 'nearest'), 1)}{self.space}%"

    def share(self, part: float, whole: float) -> str:
        """Return a part as a share of a whole, ``61.4 %``; a dash when the whole is nothing."""
        return self.percent(100.0 * part / whole) if whole > 0 else "–"

    def money(self, amount: float) -> str:
        """Return an amount of money, to a hundredth where it is not whole: ``120``, ``7.50 EUR``."""
        text = f"{amount:.2f}".removesuffix(".00")
        if not self.currency:
            return text
        if any(c.isalpha() for c in self.currency):
            return f"{text}{self.space}{self.currency}"
        return f"-{self.currency}{text[1:]}" if text.startswith("-") else f"{self.currency}{text}"

    def unit(self) -> str:
        """Return the unit's full name, for headings."""
        return {"mm": "millimeters", "in": "inches"}[self.units]
