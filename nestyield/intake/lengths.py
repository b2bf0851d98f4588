"""Lengths as a workshop writes them: millimetres, inches, fractions, feet.

One inch is exactly 25.4 mm (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import datetime
import math
import re
import unicodedata
from fractions import Fraction
from functools import lru_cache

from nestyield.model import NestyieldError

#: Exact size of each unit in millimetres.
UNIT_MM: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "ft": Fraction(3048, 10),
}

#: No length of a workshop is longer, or so short and not 0, millimeters.
LONGEST_MM = 1e9
SHORTEST_MM = 1e-6

#: A longer text is not a length.
LONGEST_TEXT = 60

#: Names of units as makers write them.
UNIT_NAMES = {
    "mm": "mm",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "cm": "cm",
    "centimetre": "cm",
    "centimetres": "cm",
    "centimeter": "cm",
    "centimeters": "cm",
    "m": "m",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "in": "in",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "''": "in",
    "ft": "ft",
    "ft.": "ft",
    "foot": "ft",
    "feet": "ft",
    "'": "ft",
}

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
#: Numbers under which spreadsheets keep the days of 2015 to 2049; as lengths 42 to 55 m, if mm.
_SERIALS = (42005, 54789)
_AS_TEXT = "format the column as text and write the size again"
_PRIMES = str.maketrans(
    {"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "⁄": "/", "−": "-", "–": "-"}
)
_NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:e[+-]?[0-9]{1,3})?"
_ONE = re.compile(
    rf"""\s*(?:(?P<whole>[0-9]+)\s*(?:-\s*|\s+))?(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)\s*(?P<funit>[a-z]+\.?|''|"|')?
    | \s*(?P<number>{_NUMBER})\s*(?P<unit>[a-z]+\.?|''|"|')?""",
    re.VERBOSE | re.IGNORECASE,
)


class LengthError(NestyieldError, ValueError):
    """A text is not a length; the message states the rule, then the text."""


class DecimalCommaError(LengthError):
    """A number has a comma."""


def parse_length(value: str | int | float, default_unit: str) -> float:
    """Read a length.

    Parameters
    ----------
    value : str, int or float
        A bare number counts in ``default_unit``. A text may carry its unit and a fraction:
        ``44.5 mm``, ``1 3/4 in``, ``1-3/4"``, ``7/8``, ``1¾ in``, ``8 ft 6 in``, ``8' 6 1/2"``.
    default_unit : {"mm", "cm", "m", "in", "ft"}
        What a number without unit means.

    Returns
    -------
    float
        Millimetres; the nearest float to the exact value.

    Raises
    ------
    LengthError
        When it is not a finite length, or beyond ``SHORTEST_MM`` to ``LONGEST_MM``.
    """
    return _of_text(value, default_unit) if isinstance(value, str) else _checked(value, default_unit)


@lru_cache(maxsize=4096)
def _of_text(text: str, default_unit: str) -> float:
    """Return a length that is written: a rack says the same few again and again."""
    return _checked(text, default_unit)


def _checked(value: str | int | float, default_unit: str) -> float:
    exact = _exact(value, default_unit)
    try:
        result = float(exact)
    except OverflowError:
        result = math.inf
    if not math.isfinite(result):
        raise LengthError(f"expected a finite length, got {_shorten(str(value))!r}")
    if abs(result) > LONGEST_MM:
        raise LengthError(f"expected a length below {LONGEST_MM:.0f} mm, got {_shorten(str(value))!r}")
    if 0.0 < abs(result) < SHORTEST_MM:
        raise LengthError(f"expected 0 or at least {SHORTEST_MM:f} mm, got {_shorten(str(value))!r}")
    return result


def _exact(value: str | int | float, default_unit: str) -> Fraction:
    if isinstance(value, bool):
        raise LengthError(f"expected a length, got {str(value).lower()}")
    if isinstance(value, (int, float)):
        if isinstance(value, float) and not math.isfinite(value):
            raise LengthError(f"expected a finite length, got {value}")
        return Fraction(str(value)) * UNIT_MM[default_unit]
    text = _plain(value)
    if not text:
        raise LengthError("expected a length, got an empty text")
    damage = spreadsheet_damage(value)
    if damage:
        raise LengthError(damage)
    if len(text) > LONGEST_TEXT:
        raise LengthError(f"expected at most {LONGEST_TEXT} characters in a length, got {_shorten(text)!r}")
    if re.search(r"\d\s*,\s*\d", text):
        raise DecimalCommaError(without_comma(text))
    if re.search(r"\d\s*[x×*]\s*\d", text):
        raise LengthError(f"expected one length, got several: {_shorten(value)!r}; give each its own cell")
    sign = 1
    if text[0] in "+-":
        sign = -1 if text[0] == "-" else 1
        text = text[1:].lstrip()
    return sign * _terms(text, value, default_unit)


def without_comma(text: str) -> str:
    """Return what is wrong with a number that has a comma, and how to write it.

    Parameters
    ----------
    text : str
        As ``44,5``; in ``1,234`` the comma may part thousands.
    """
    bare = re.sub(r"\s*,\s*", ",", " ".join(text.split()))
    if "." in bare or bare.count(",") > 1:
        whole, mark, rest = bare.rpartition("," if bare.rfind(",") > bare.rfind(".") else ".")
        single = bare.count(mark) == 1
        plain = re.sub("[.,]", "", whole) + ("." if single else "") + rest
        return f"numbers take a decimal point and no mark between thousands; write {_shorten(plain)}"
    point = bare.replace(",", ".")
    either = f"{point} or {bare.replace(',', '')}" if re.search(r"\d,\d{3}(?!\d)", bare) else point
    return f"numbers take a decimal point, not a comma; write {_shorten(either)}"


def spreadsheet_damage(cell: str) -> str:
    """Return what a spreadsheet did to a cell and what to do about it; ``""`` when it looks untouched.

    Parameters
    ----------
    cell : str
        As ``3-Aug`` or ``8/3/2026``, which once was ``3/8``; or ``#REF!``.
    """
    text = cell.strip()
    if re.fullmatch(r"#(REF|VALUE|NAME|N/A|NUM|DIV/0|NULL|SPILL|CALC)[!?]?", text, re.IGNORECASE):
        return f"the spreadsheet wrote an error, {text}, for this cell; write the value itself"
    if re.fullmatch(r"#+", text):
        return "the spreadsheet wrote ### because the column was narrow; write the value itself"
    serial = re.fullmatch(r"(\d{5})(?:\.0+)?", text)
    if serial and _SERIALS[0] <= int(serial[1]) <= _SERIALS[1]:
        date = datetime.date(1899, 12, 30) + datetime.timedelta(days=int(serial[1]))
        once = _once(date.day, date.month)
        return f"{text} is a spreadsheet's number for the date {date}, perhaps {once} once; {_AS_TEXT}"
    month = "|".join(_MONTHS)
    named = re.fullmatch(rf"(\d{{1,2}})[-. /]\s?({month})[a-z]*\.?(?:[-. /]\d{{2,4}})?", text, re.IGNORECASE)
    other = re.fullmatch(rf"({month})[a-z]*\.?[-. /](\d{{1,2}})(?:[-. /]\d{{2,4}})?", text, re.IGNORECASE)
    whole = re.fullmatch(r"(\d{1,2})[-./](\d{1,2})[-./](\d{4}|\d{2})", text)
    iso = re.fullmatch(r"\d{4}[-./](\d{1,2})[-./](\d{1,2})(?:[ T]00:00(?::00)?)?", text)
    if named:
        day, month_ = int(named[1]), _MONTHS.index(named[2][:3].lower()) + 1
    elif other:
        day, month_ = int(other[2]), _MONTHS.index(other[1][:3].lower()) + 1
    elif iso:
        day, month_ = int(iso[2]), int(iso[1])
    elif whole:  # day and month may stand either way
        return f"the spreadsheet turned a size into the date {text!r}; {_AS_TEXT}"
    else:
        return ""
    return f"the spreadsheet turned a size, perhaps {_once(day, month_)}, into the date {text!r}; {_AS_TEXT}"


def _once(day: int, month: int) -> str:
    """Return what a cell may have been before it became a date: a fraction, or day.month as in Europe."""
    top, bottom = min(day, month), max(day, month)
    fraction = f"{top}/{bottom} or " if bottom in (2, 4, 8, 16) and top < bottom else ""
    return f"{fraction}{day}.{month}"


def _plain(text: str) -> str:
    """Write vulgar fractions (½) as a space and n/d, primes and dashes in ASCII, lower case."""
    out = []
    for ch in text.translate(_PRIMES):
        if unicodedata.category(ch) == "No" and "⁄" in unicodedata.normalize("NFKC", ch):
            out.append(" " + unicodedata.normalize("NFKC", ch).replace("⁄", "/"))
        else:
            out.append(" " if ch.isspace() else ch)
    return "".join(out).strip().lower()


def _terms(text: str, original: str, default_unit: str) -> Fraction:
    """Add up the terms of a text: one length, or feet followed by inches."""
    total, position, units = Fraction(0), 0, []
    while position < len(text):
        match = _ONE.match(text, position)
        if match is None or match.end() == position:
            such = "1.75, '1 3/4' or" if default_unit == "in" else "44.5, '44.5 mm' or"
            raise LengthError(f"expected a length such as {such} '1 3/4 in', got {_shorten(original)!r}")
        position = match.end()
        amount, unit = _term(match, original)
        if unit is not None and unit not in UNIT_NAMES:
            raise LengthError(
                f"expected a unit of mm, cm, m, in or ft, got {unit!r} in {_shorten(original)!r}"
            )
        name = default_unit if unit is None else UNIT_NAMES[unit]
        units.append(None if unit is None else name)
        total += amount * UNIT_MM[name]
        while position < len(text) and text[position] in " -" and units == ["ft"]:
            position += 1
        if not text[position:].strip():
            break
    if len(units) > 1 and units != ["ft", "in"]:
        raise LengthError(f"expected one length (or feet and inches), got {_shorten(original)!r}")
    return total


def _term(match: re.Match[str], original: str) -> tuple[Fraction, str | None]:
    if match["number"] is not None:
        return Fraction(match["number"]), match["unit"]
    bottom = int(match["bottom"])
    if bottom == 0:
        raise LengthError(f"{_shorten(original)!r} is no fraction; write it again, such as 1 3/8")
    return int(match["whole"] or 0) + Fraction(int(match["top"]), bottom), match["funit"]


def _shorten(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."
