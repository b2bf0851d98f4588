"""Length units of drawings: ``$INSUNITS`` of the DXF header, and the shop file's own names.

Codes 0 to 24 as listed under the header variable INSUNITS in the open DXF reference (the codes 1, 2,
4, 5, 6 were read; the others are from memory and checked against the unit table of ezdxf).
Sizes: inch 25.4 mm exactly; US survey foot 1200/3937 m; astronomical unit IAU 2012 resolution B2;
parsec 648000/pi au; light year 9460730472580800 m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from nestyield.intake.problems import Problems, shown

_INCH = Fraction(254, 10)
_METER = Fraction(1000)
_SURVEY_FOOT = Fraction(1200, 3937) * 1000
_AU = 149_597_870_700 * _METER

#: Code of $INSUNITS -> (name, size in millimeters).
INSUNITS: dict[int, tuple[str, Fraction]] = {
    1: ("inches", _INCH),
    2: ("feet", 12 * _INCH),
    3: ("miles", 63360 * _INCH),
    4: ("millimeters", Fraction(1)),
    5: ("centimeters", Fraction(10)),
    6: ("meters", _METER),
    7: ("kilometers", 1000 * _METER),
    8: ("microinches", _INCH / 1_000_000),
    9: ("mils", _INCH / 1000),
    10: ("yards", 36 * _INCH),
    11: ("angstroms", Fraction(1, 10_000_000)),
    12: ("nanometers", Fraction(1, 1_000_000)),
    13: ("micrometers", Fraction(1, 1000)),
    14: ("decimeters", Fraction(100)),
    15: ("decameters", 10 * _METER),
    16: ("hectometers", 100 * _METER),
    17: ("gigameters", 1_000_000_000 * _METER),
    18: ("astronomical units", _AU),
    19: ("light years", 9_460_730_472_580_800 * _METER),
    20: ("parsecs", Fraction(648_000 / math.pi) * _AU),
    21: ("US survey feet", _SURVEY_FOOT),
    22: ("US survey inches", _SURVEY_FOOT / 12),
    23: ("US survey yards", 3 * _SURVEY_FOOT),
    24: ("US survey miles", 5280 * _SURVEY_FOOT),
}

#: Units that the shop file may name for a drawing -> code of $INSUNITS.
DRAWING_UNITS: dict[str, int] = {"mm": 4, "cm": 5, "m": 6, "in": 1, "ft": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRule:
    """What the shop file says about the unit of a drawing.

    Parameters
    ----------
    stated : str or None
        ``drawing_units`` of the part or row: mm, cm, m, in or ft. It may not contradict the drawing.
    fallback : str or None
        ``drawing_units`` of the shop, for drawings that do not say.
    overrule : bool
        ``stated`` counts even where the drawing says something else.
    place : (str, str)
        File and place where ``stated`` stands, for messages.
    """

    stated: str | None = None
    fallback: str | None = None
    overrule: bool = False
    place: tuple[str, str] = ("", "")


def unit_of_drawing(
    code: int | None, rule: UnitRule, problems: Problems, file: str, key: str
) -> tuple[str, float] | None:
    """Decide the unit of a drawing.

    Parameters
    ----------
    code : int or None
        ``$INSUNITS``; None or 0 when the drawing does not say.
    rule : UnitRule
    problems : Problems
        Takes an error when the unit is unknown or contradictory.
    file : str
        Name of the drawing.
    key : str
        Where ``drawing_units`` would stand, for the message.

    Returns
    -------
    (str, float) or None
        Name of the unit and its size in millimeters.
    """
    said = INSUNITS.get(code or 0)
    if code and said is None and not rule.overrule:
        problems.error(
            "D003",
            f"expected a unit code of 1 to 24 in $INSUNITS, got {shown(code)}; set the unit in the drawing, "
            f"or set drawing_units with overrule_drawing = true for {key}",
            file,
            "header",
        )
        return None
    if rule.stated is not None:
        name, size = INSUNITS[DRAWING_UNITS[rule.stated]]
        if said is not None and said[1] != size:
            if not rule.overrule:
                message = f"{file} is in {said[0]}, drawing_units says {rule.stated}; remove drawing_units"
                if rule.place[0].endswith(".toml"):  # the rack has no such column
                    message += ". If the drawing is wrong, add overrule_drawing = true"
                problems.error("D004", message, *rule.place)
                return None
            problems.note(
                "D004",
                f"the drawing says {said[0]} ($INSUNITS {code}); read as {rule.stated} because {key} "
                "overrules it",
                file,
                "header",
            )
        return name, float(size)
    if said is not None:
        return said[0], float(said[1])
    if rule.fallback is not None:
        name, size = INSUNITS[DRAWING_UNITS[rule.fallback]]
        return name, float(size)
    problems.error(
        "D003",
        "the drawing has no unit; "
        + (
            f"in {key} write mm (or in) under drawing_units"
            if key.startswith("row ")
            else f'for {key} write drawing_units = "mm" (or "in"), or under [shop] for all such drawings'
        ),
        file,
        "header",
    )
    return None
