"""What to write in the shop file in place of what is missing or wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from nestyield.intake.keys import Key
from nestyield.intake.lengths import LengthError, parse_length
from nestyield.intake.problems import nearest, shown, slips_between

#: What to write for a key that must be there: in a shop in mm, in inches where that differs.
EXAMPLES: dict[tuple[str, str], tuple[str, ...]] = {
    ("shop", "units"): ('"mm" or units = "in"',),
    ("shop", "rack"): ('"rack.csv"',),
    ("cutter", "diameter"): ("6", '"1/4 in"'),
    ("bed.*", "travel_x"): ("900", "36"),
    ("bed.*", "travel_y"): ("450", "18"),
    ("bed.*", "travel_z"): ("75", "3"),
    ("part.*", "drawing"): ('"neck.dxf"',),
    ("part.*", "thickness"): ("38", '"1 1/2 in"'),
    ("part.*.layers.*", "role"): ('"pocket"',),
    ("part.*.layers.*", "depth"): ("12", '"1/2 in"'),
    ("rack_layers.*", "role"): ('"outline"',),
    ("order", "part"): ('"neck"',),
}
#: Ends of a bed as they are said.
ENDS = {"x-": "left", "x+": "right", "y-": "near you", "y+": "far from you"}
#: (key, what makers write) -> what is meant.
_MEANT: dict[tuple[str, object], str] = {
    **{("open_ends", word): "x-" for word in ("left", "l")},
    **{("open_ends", word): "x+" for word in ("right", "r")},
    **{("open_ends", word): "y-" for word in ("front", "near", "bottom")},
    **{("open_ends", word): "y+" for word in ("back", "far", "rear", "top")},
    ("face", "top"): "front",
    ("face", "bottom"): "back",
    ("face", "both"): "through",
    ("mirrored", False): "no",
    ("strips", False): "no",
    ("strips", True): "allowed",
}
_COUNTS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_MONEY = re.compile(r"\s*[^\s\d.,+-]{0,4}\s*(\d+(?:\.\d+)?)\s*[^\s\d.,+-]{0,4}\s*")
_COMMA = re.compile(r"\s*([+-]?\d+),(\d{1,2}|\d{4,})\s*(|mm|cm|m|in|ft)\s*", re.IGNORECASE)
_AMOUNT_UNIT = re.compile(r"\s*([+-]?\d[\d\s./-]*?)\s*([a-z]+)\.?\s*", re.IGNORECASE)
#: Keys whose lengths are items of a list.
_LISTS = ("rectangle", "polygon", "table_x", "table_y")


def example(key: Key, units: str) -> str:
    """Return what may be written for a key, ``""`` when nothing is known.

    Parameters
    ----------
    key : Key
    units : {"mm", "in"}
        Of the shop.
    """
    texts = EXAMPLES.get((key.section, key.name), ())
    return texts[-1 if units == "in" else 0] if texts else ""


def missing(key: Key, units: str, path: tuple[str | int, ...]) -> str:
    """Return the message for a key that must be there and is not."""
    if key.name == "layers":
        name = str(path[-1])
        plain = name.replace("_", "").replace("-", "").isalnum() and name.isascii()
        heading = f"[part.{name if plain else shown(name).replace(chr(39), chr(34))}.layers]"
        return f'the layers are missing; add {heading}, and below it a line such as OUTLINE = "outline"'
    such = example(key, units)
    if key.name == "units":
        return f"units is missing; add units = {such}: {key.doc}"
    unit = f", in {'inches' if units == 'in' else 'mm'}" if key.kind == "length" else ""
    return f"{key.name} is missing; add {key.doc}{unit}" + (f", such as {key.name} = {such}" if such else "")


def choice(name: str, raw: Any, choices: Sequence[str], many: bool = False) -> str:
    """Return the message for a value that is none of the choices."""
    got = str(raw).lower() if isinstance(raw, bool) else shown(raw)
    if name == "mirrored" and raw is True:
        return 'mirrored is "no", "allowed" or "only"; write mirrored = "allowed" if either hand serves'
    folded = raw.strip().casefold() if isinstance(raw, str) else raw
    meant = _MEANT.get((name, folded)) if isinstance(folded, (str, bool)) else None
    near = [c for c in choices if isinstance(folded, str) and folded and c.startswith(folded)]
    if meant in choices:
        near = [str(meant)]
    elif len(near) < 2 or len(near) == len(choices):
        one = nearest(raw, choices) if isinstance(raw, str) else None
        near = [] if one is None else [one]
    if not near:
        return f"{name} cannot be {got}; it is one of {', '.join(choices)}"
    if len(near) > 1:
        said = [f'"{c}" ({ENDS[c]})' if c in ENDS else f'"{c}"' for c in near]
        return f"{name} cannot be {got}; write {' or '.join(said)}"
    text = f'["{near[0]}"]' if many else f'"{near[0]}"'
    said_so = f" for {ENDS[near[0]]}" if near[0] in ENDS else ""
    return f"{name} cannot be {got}; write {name} = {text}{said_so}"


def whole_number(key: Key, raw: Any) -> str:
    """Return the message for a value that is no whole number."""
    text = raw.strip() if isinstance(raw, str) else ""
    if re.fullmatch(r"-?\d+(\.\d+)?", text):
        return f"{key.name} takes no quotes; write {key.name} = {text}"
    if isinstance(raw, float) and abs(raw) < 1e9:
        return f"{key.name} is a whole number; got {raw:g}, write {int(raw)} or {int(raw) + 1}"
    word = text.casefold()
    such = f"such as {key.name} = {key.low or 1:g}"
    if word in _COUNTS:
        such = f"write {key.name} = {_COUNTS.index(word) + 1}"
    elif word in ("high", "highest", "urgent", "first", "asap"):
        such = f"write {key.name} = 1"
    doc = f" ({key.doc})" if key.doc else ""
    return f"{key.name} is a whole number{doc}, got {shown(raw)}; {such}"


def number(name: str, raw: Any) -> str:
    """Return the message for a value that is no number."""
    text = raw if isinstance(raw, str) else ""
    if re.fullmatch(r"\s*-?(\d+\.?\d*|\.\d+)\s*", text):
        return f"{name} takes no quotes; write {name} = {text.strip()}"
    if found := _MONEY.fullmatch(text):
        return f"{name} is a bare number; write {name} = {found[1]}"
    return f"expected a finite number for {name}, got {shown(raw)}"


def out_of_range(key: Key, raw: Any, value: float, say: Any, units: str) -> str:
    """Return the message for a number out of its range, ``""`` when it is inside.

    Parameters
    ----------
    key : Key
    raw : object
        As written.
    value : float
        As read.
    say : callable
        Writes a value of the key with its unit.
    units : {"mm", "in"}
    """
    small = (key.above is not None and not value > key.above) or (
        key.low is not None and not value >= key.low
    )
    if key.high is not None and not value <= key.high:
        return f"{key.name} is {say(value)}, too much; write {say(key.high)} or less"
    if not small:
        return ""
    if (key.section, key.name) == ("order", "count") and value == 0:
        return (
            "count is 0; write 1 or more. To pause the order, write hold = true; when all is cut, done = true"
        )
    most = float("inf") if key.high is None else key.high
    if value < 0 and (key.low or 0.0) <= -value <= most:
        text = f"{-raw:g}" if isinstance(raw, (int, float)) else f'"{str(raw).strip().lstrip("- ")}"'
        return f"{key.name} is negative ({say(value)}); write {key.name} = {text}"
    if key.above is not None:
        such = example(key, units)
        doc = key.doc.partition(";")[0].partition(" (")[0]
        return f"{key.name} is {say(value)}; write more" + (
            f", such as {key.name} = {such}: {doc}" if such else f" than {say(key.above)}"
        )
    return f"{key.name} is {say(value)}, too little; write {say(key.low)} or more"


def length(raw: Any, name: str, units: str) -> str:
    """Return the message for a text that is no length, ``""`` where that of the reader does."""
    found = _COMMA.fullmatch(raw) if isinstance(raw, str) else None
    start = "" if name in _LISTS else f"{name} = "
    if found:
        amount = f"{found[1]}.{found[2]}"
        text = f'"{amount} {found[3]}"' if found[3] else amount
        return f"numbers take a decimal point, not a comma; write {start}{text}"
    found = _AMOUNT_UNIT.fullmatch(raw) if isinstance(raw, str) else None
    if found and not _is_unit(found[2]):
        near = _near_unit(found[2].casefold(), (units, "mm", "in", "cm", "ft", "m", "inch", "inches", "feet"))
        write = f'{start}"{found[1]} {near}"' if near else "mm, cm, m, in or ft"
        return f"{found[2]!r} is not a unit; write {write}"
    return ""


def _is_unit(text: str) -> bool:
    try:
        parse_length(f"1 {text}", "mm")
    except LengthError:
        return False
    return True


def _near_unit(text: str, units: Iterable[str]) -> str:
    return next((u for u in units if slips_between(text, u) <= 1), "")


def is_bare_fraction(raw: Any) -> bool:
    """Tell whether a text is a fraction that does not say its unit: ``1 1/2``."""
    return isinstance(raw, str) and bool(
        re.fullmatch(r"\s*(?:\d+\s*[- ]\s*)?\d+\s*/\s*\d+\s*|\s*\d*\s*[½¼¾⅛⅜⅝⅞]\s*", raw)
    )


def in_other_unit(raw: Any, key: str, units: str) -> str:
    """Return how a bare number would be written in the other unit.

    Parameters
    ----------
    raw : object
        As written.
    key : str
    units : {"mm", "in"}
        Of the shop.
    """
    other, name = ("mm", "mm") if units == "in" else ("in", "inches")
    if isinstance(raw, (int, float)) and not isinstance(raw, bool):
        return f'if {name} are meant, write {key} = "{raw:g} {other}"'
    return f"is the unit of {shown(raw)} right?"


def grain(raw: str) -> str:
    """Return what to write for a text that is no angle of grain."""
    word = raw.strip().casefold()
    if found := re.fullmatch(r"(-?\d+(?:\.\d+)?)\s*(?:°|deg\w*\.?)?", word):
        return f"write grain = {found[1]}"
    if word in ("along", "lengthwise", "length", "long", "x", "horizontal", "straight"):
        return "for along X write grain = 0"
    if word in ("across", "crosswise", "cross", "y", "vertical", "perpendicular"):
        return "for across X write grain = 90"
    if word in ("any", "no", "sheet", "either", "all", "free"):
        return 'for none write grain = "none"'
    return f'write 0 for along X, 90 for across, "none" for sheets; got {shown(raw)}'
