"""Moisture that wood comes to in air of given humidity and temperature.

Source: Hailwood-Horrobin equation with the constants of Simpson, FPL-RN-0268 (1998); the same equation
is 4-5 of the Wood Handbook FPL-GTR-190 (2010), whose table 4-2 it reproduces.
"""

from __future__ import annotations

from nestyield.model.errors import ModelError
from nestyield.model.settings import Season

#: Humidity above which the equation has no table to stand on, percent.
HIGHEST_HUMIDITY_PCT = 98.0


def moisture_in_air(humidity_pct: float, temperature_c: float = 21.0) -> float:
    """Return the equilibrium moisture content of wood in that air, percent of ovendry weight.

    Parameters
    ----------
    humidity_pct : float
        Relative humidity, 0 to 98 %.
    temperature_c : float
        Degrees Celsius, -1 to 60: the workshop end of table 4-2.

    Raises
    ------
    ModelError
        Outside those ranges.

    Examples
    --------
    >>> round(moisture_in_air(50, 21.1), 1)
    9.2
    """
    if not 0 <= humidity_pct <= HIGHEST_HUMIDITY_PCT:
        raise ModelError(f"expected 0 <= humidity <= {HIGHEST_HUMIDITY_PCT:g} %, got {humidity_pct:g}")
    if not -1.5 <= temperature_c <= 60:
        raise ModelError(f"expected a temperature from -1 to 60 degrees C, got {temperature_c:g}")
    h, t = humidity_pct / 100.0, temperature_c
    w = 349.0 + 1.29 * t + 0.0135 * t * t
    k = 0.805 + 0.000736 * t - 0.00000273 * t * t
    k1 = 6.27 - 0.00938 * t - 0.000303 * t * t
    k2 = 1.91 + 0.0407 * t - 0.000293 * t * t
    kh = k * h
    first = k1 * kh
    second = k1 * k2 * kh * kh
    return 1800.0 / w * (kh / (1.0 - kh) + (first + 2.0 * second) / (1.0 + first + second))


def season_range(driest_pct: float, dampest_pct: float, temperature_c: float = 21.0) -> tuple[float, float]:
    """Return the least and most moisture content over a year of that humidity, percent.

    Parameters
    ----------
    driest_pct, dampest_pct : float
        Relative humidity of the driest and dampest long spell. Wood of a body's thickness needs
        weeks to follow, so a spell is a month, not a day (P).
    temperature_c : float

    Examples
    --------
    >>> low, high = season_range(30, 60)
    >>> round(low, 1), round(high, 1)
    (6.2, 11.0)
    """
    if driest_pct > dampest_pct:
        raise ModelError(f"expected driest <= dampest humidity, got {driest_pct:g} and {dampest_pct:g} %")
    return moisture_in_air(driest_pct, temperature_c), moisture_in_air(dampest_pct, temperature_c)


def season_of(season: Season) -> tuple[float, float]:
    """Return the least and most moisture content over a season, percent."""
    return season_range(season.humidity_low, season.humidity_high, season.temperature)
