"""Densities of wood as makers write them: kilograms a cubic meter, pounds a cubic foot."""

from __future__ import annotations

import math
import re

from nestyield.model import NestyieldError
from nestyield.model.units import Units

#: Kilograms a cubic meter in a pound a cubic foot, exact pound and foot.
KG_M3_PER_LB_FT3 = 0.45359237 / 0.3048**3
_UNIT = {"kg/m3": 1.0, "g/cm3": 1000.0, "lb/ft3": KG_M3_PER_LB_FT3}
_DENSITY = re.compile(r"\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*([a-z]+/[a-z]+[3³])?\s*", re.IGNORECASE)


class DensityError(NestyieldError, ValueError):
    """A text is not a density; the message states the rule, then the text."""


def parse_density(value: str | int | float, units: Units) -> float:
    """Read a density, kg/m3.

    Parameters
    ----------
    value : str, int or float
        A bare number counts in kg/m3, in an inch shop in lb/ft3; a text may carry its unit.
    units : {"mm", "in"}
        Of the shop.

    Raises
    ------
    DensityError
        When it is no finite density.

    Examples
    --------
    >>> parse_density("0.56 g/cm3", "in"), round(parse_density(35, "in")), parse_density("560 kg/m³", "mm")
    (560.0, 561, 560.0)
    """
    found = None if isinstance(value, bool) else _DENSITY.fullmatch(str(value))
    unit = (found[2] or ("lb/ft3" if units == "in" else "kg/m3")).lower().replace("³", "3") if found else ""
    usual = "'35 lb/ft3'" if units == "in" else "'560 kg/m3'"
    if found is None or unit not in _UNIT:
        raise DensityError(f"expected a density such as {usual}, got {str(value)[:40]!r}")
    density = float(found[1]) * _UNIT[unit]
    if not math.isfinite(density):
        raise DensityError(f"expected a finite density, got {str(value)[:40]!r}")
    return density
