"""What a field of a model type may hold: a range or a choice, stated there and checked."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from typing import Annotated, Any, Literal, get_args, get_origin, get_type_hints

from nestyield.model.errors import ModelError


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Least and most of a number.

    Parameters
    ----------
    above : float or None
        The number is greater.
    low, high : float or None
        The number is not less, not greater.
    """

    above: float | None = None
    low: float | None = None
    high: float | None = None

    def broken(self, value: float) -> tuple[str, float] | None:
        """Return the rule that a value breaks, as ``(">=", 0.0)``; None when it keeps all."""
        for sign, limit, kept in (
            (">", self.above, self.above is None or value > self.above),
            (">=", self.low, self.low is None or value >= self.low),
            ("<=", self.high, self.high is None or value <= self.high),
        ):
            if limit is not None and not kept:
                return sign, limit
        return None


Positive = Annotated[float, Range(above=0.0)]
NotNegative = Annotated[float, Range(low=0.0)]


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """What the annotation of a field allows.

    Parameters
    ----------
    kind : type or tuple of str
        ``float``, ``int``, ``bool`` or any other type; or the choices of a ``Literal``.
    range : Range
        Without limits when the field has none.
    optional : bool
        None is allowed.
    """

    kind: Any
    range: Range = Range()
    optional: bool = False


@cache
def allowed(cls: type) -> dict[str, Allowed]:
    """Return what each field of a dataclass may hold, in their order."""
    hints = get_type_hints(cls, include_extras=True)
    return {f.name: _allowed(hints[f.name]) for f in dataclasses.fields(cls)}


def _allowed(hint: Any) -> Allowed:
    limits, optional = Range(), False
    while True:
        if get_origin(hint) is Annotated:
            limits = next((m for m in hint.__metadata__ if isinstance(m, Range)), limits)
            hint = get_args(hint)[0]
        elif type(None) in (members := get_args(hint)) and len(members) == 2:
            hint, optional = next(m for m in members if m is not type(None)), True
        else:
            break
    kind = get_args(hint) if get_origin(hint) is Literal else hint
    return Allowed(kind=kind, range=limits, optional=optional)


def check_fields(item: Any) -> None:
    """Check the fields of a dataclass against the choices and ranges in their annotations.

    Raises
    ------
    ModelError
        Naming type, field, rule and value.
    """
    of: type = type(item)
    for name, may in allowed(of).items():
        value = getattr(item, name)
        if value is None and may.optional:
            continue
        rule = _rule_broken(may, value)
        if rule:
            raise ModelError(f"expected {of.__name__}.{name} {rule}, got {value!r}")


def _rule_broken(may: Allowed, value: Any) -> str:
    if isinstance(may.kind, tuple):
        return "" if value in may.kind else f"to be one of {', '.join(may.kind)}"
    if may.kind is bool:
        return "" if isinstance(value, bool) else "to be true or false"
    if may.kind not in (int, float):
        return ""
    whole = may.kind is int
    if isinstance(value, bool) or not isinstance(value, int if whole else int | float):
        return f"to be a {'whole ' if whole else ''}number"
    broken = may.range.broken(value)
    if broken:
        return f"{broken[0]} {broken[1]:g}"
    return "to be a number" if math.isnan(value) else ""
