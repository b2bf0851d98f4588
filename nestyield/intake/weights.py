"""Weights as makers write them: kilograms, grams, pounds, ounces; of a piece, and of a part to be made."""

from __future__ import annotations

import re

from nestyield.model import ModelError, NestyieldError, WeightWish
from nestyield.model.units import Units

#: Kilograms in each unit; pound and ounce are exact.
UNIT_KG = {"kg": 1.0, "g": 0.001, "lb": 0.45359237, "oz": 0.45359237 / 16}
_NUMBER = r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
_ONE = re.compile(rf"{_NUMBER}\s*(kg|g|lbs?|oz)?\.?", re.IGNORECASE)
_POUNDS = re.compile(rf"([0-9]+)\s*lbs?\.?[\s,]+{_NUMBER}\s*oz\.?", re.IGNORECASE)
_RANGE = re.compile(r"(?:from\s+)?(.+?)\s*(?:\bto\b|–|(?<=[0-9a-z])\s*-)\s*(.+)", re.IGNORECASE)
_END = re.compile(r"(at most|at least|up to)\s+(.+)", re.IGNORECASE)


class WeightError(NestyieldError, ValueError):
    """A text is not a weight; the message states the rule, then the text."""


def parse_weight(value: str | int | float, units: Units, unit: str = "") -> tuple[float, float]:
    """Read a weight, kg, and how far off it may be as it is written: half of its last digit.

    Parameters
    ----------
    value : str, int or float
        A bare number counts in kg, in an inch shop in lb; a text may carry its unit: kg, g, lb, oz.
    units : {"mm", "in"}
        Of the shop.
    unit : str
        Of a bare number, where it is known.

    Raises
    ------
    WeightError
        When it is no weight above 0.

    Examples
    --------
    >>> parse_weight("3.2 kg", "in"), parse_weight("850 g", "mm")
    ((3.2, 0.05), (0.85, 0.0005))
    >>> [round(v, 4) for v in parse_weight("7 lb 4 oz", "mm")]
    [3.2885, 0.0142]
    """
    text = str(value).strip()
    pounds = _POUNDS.fullmatch(text)
    one = _ONE.fullmatch(text)
    if isinstance(value, bool) or (pounds is None and one is None):
        usual = "'7 lb 4 oz' or '3.2 kg'" if units == "in" else "'3.2 kg' or '850 g'"
        raise WeightError(f"expected a weight such as {usual}, got {text[:40]!r}")
    if pounds is not None:
        kg = float(pounds[1]) * UNIT_KG["lb"] + float(pounds[2]) * UNIT_KG["oz"]
        off = _half(pounds[2]) * UNIT_KG["oz"]
    else:
        assert one is not None
        named = (one[2] or unit or ("lb" if units == "in" else "kg")).lower().removesuffix("s")
        kg, off = float(one[1]) * UNIT_KG[named], _half(one[1]) * UNIT_KG[named]
    if not kg > 0:
        raise WeightError(f"expected a weight > 0, got {text[:40]!r}")
    return round(kg, 9), round(off, 9)


def parse_wish(value: str | int | float, units: Units) -> WeightWish:
    """Read what a part is to weigh: ``lightest``, a range, ``at most`` or ``at least`` a weight.

    Parameters
    ----------
    value : str, int or float
    units : {"mm", "in"}
        Of the shop.

    Raises
    ------
    WeightError
        When it is none of these.

    Examples
    --------
    >>> parse_wish("lightest", "mm").lightest, parse_wish("1.2 to 1.6 kg", "mm").most_kg
    (True, 1.6)
    >>> parse_wish("1.2 to 1.6 kg", "in").least_kg, parse_wish("at most 850 g", "mm").least_kg is None
    (1.2, True)
    """
    text = " ".join(str(value).split())
    if text.casefold() == "lightest":
        return WeightWish(lightest=True)
    try:
        if end := _END.fullmatch(text):
            kg = parse_weight(end[2], units)[0]
            return WeightWish(least_kg=kg) if end[1].casefold() == "at least" else WeightWish(most_kg=kg)
        if both := _RANGE.fullmatch(text):
            most = _ONE.fullmatch(both[2])
            unit = (most[2] or "").lower() if most else ""
            return WeightWish(
                least_kg=parse_weight(both[1], units, unit)[0], most_kg=parse_weight(both[2], units)[0]
            )
    except (WeightError, ModelError) as error:
        raise WeightError(f"{error}; write it as {_usual(units)}") from error
    raise WeightError(f"expected {_usual(units)}, got {text[:40]!r}")


def _usual(units: Units) -> str:
    if units == "in":
        return "'lightest', '3 to 3.5 lb' or 'at most 3 lb'"
    return "'lightest', '1.2 to 1.6 kg' or 'at most 1.6 kg'"


def _half(digits: str) -> float:
    """Return half of the last digit of a number as it is written."""
    return float(0.5 * 10.0 ** -len(digits.partition(".")[2]))
