"""Templates: text with quantities, each formatted by what the end of its name says.

A field is ``{name}`` or ``{name:flags}``. The end of a name gives the quantity: ``_um`` and ``_mm`` a length,
``_deg`` an angle, ``_mm2`` an area, ``_ml`` a volume, ``_n`` a force, ``_mpa`` a pressure, ``_pct`` a
percentage, ``_kg`` a weight, ``_money`` money. A tuple of lengths becomes a size (``508 × 177.8 mm``),
another tuple a list.

Flags, parted by spaces: ``up``, ``down`` (rounding); ``rule``, ``fine``, ``machine``, ``setting``, ``coarse``
(style); ``bare`` (no unit); ``or`` (list with "or"); ``cap`` (first letter large). ``{count:plural piece}``
or ``{count:plural box boxes}`` gives the word that goes with a count.
"""

from __future__ import annotations

import dataclasses
import string
from collections.abc import Mapping
from typing import Any

from nestyield.words.names import listed, plural
from nestyield.words.quantities import Rounding, Style, Words

_STYLES: tuple[Style, ...] = ("rule", "fine", "machine", "setting", "coarse")
_FLAGS = frozenset(["up", "down", "bare", "or", "cap", *_STYLES])


class _Formatter(string.Formatter):
    """Formats the fields of one template for one shop."""

    def __init__(self, words: Words) -> None:
        self.words = words
        self.name = ""

    def get_field(self, field_name: str, args: Any, kwargs: Any) -> Any:
        """Look a field up and keep its name, whose end says what quantity it is."""
        value, used = super().get_field(field_name, args, kwargs)
        return (field_name, value), used

    def format_field(self, value: Any, format_spec: str) -> str:
        """Format one value by its name and flags."""
        name, quantity = value
        flags = format_spec.split()
        if flags[:1] == ["plural"]:
            return plural(quantity, *flags[1:3])
        if unknown := [f for f in flags if f not in _FLAGS]:
            raise ValueError(f"unknown flag {unknown[0]!r} at {{{name}:{format_spec}}}")
        text = self._quantity(name, quantity, flags)
        return text[:1].upper() + text[1:] if "cap" in flags else text

    def _quantity(self, name: str, value: Any, flags: list[str]) -> str:
        words = self.words
        rounding: Rounding = "up" if "up" in flags else "down" if "down" in flags else "nearest"
        style: Style = next((s for s in _STYLES if s in flags), "rule")
        end = name.rsplit("_", 1)[-1] if "_" in name else ""
        if end in ("um", "mm"):
            scale = 1e-3 if end == "um" else 1.0
            if isinstance(value, tuple):
                return words.size(*(v * scale for v in value), style=style, rounding=rounding)
            write = words.number if "bare" in flags else words.length
            return write(value * scale, style=style, rounding=rounding)
        simple = {
            "deg": words.angle,
            "mm2": words.area,
            "n": words.force,
            "mpa": words.pressure,
            "pct": words.percent,
            "money": words.money,
            "kg": words.weight,
        }
        if end == "ml":
            return words.volume(value, rounding=rounding)
        if end in simple:
            return simple[end](value)
        if isinstance(value, (tuple, list)):
            return listed((str(v) for v in value), "or" if "or" in flags else "and")
        return str(value)


def fill(template: str, values: Mapping[str, Any] | Any, words: Words) -> str:
    """Return a template with its fields filled.

    Parameters
    ----------
    template : str
    values : mapping or dataclass instance
        Where the fields are looked up.
    words : Words

    Raises
    ------
    KeyError
        A field that ``values`` does not have.
    ValueError
        An unknown flag.

    Examples
    --------
    >>> fill("needs {needs_um:up} along {axis}", {"needs_um": 334_241, "axis": "X"}, Words("mm"))
    'needs 334.3 mm along X'
    >>> fill("{count} {count:plural box boxes}", {"count": 2}, Words("in"))
    '2 boxes'
    """
    if not isinstance(values, Mapping):
        values = {f.name: getattr(values, f.name) for f in dataclasses.fields(values)}
    return _Formatter(words).vformat(template, (), values)
