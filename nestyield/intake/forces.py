"""Forces as a workshop writes them: newtons, kilonewtons, pounds."""

from __future__ import annotations

import math
import re

from nestyield.model import NestyieldError

#: Newtons in each unit; the pound is exact: the international pound times standard gravity.
UNIT_N = {"n": 1.0, "kn": 1000.0, "lbf": 4.4482216152605, "lb": 4.4482216152605, "kgf": 9.80665}

_FORCE = re.compile(r"\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*([a-z]*)\s*", re.IGNORECASE)


class ForceError(NestyieldError, ValueError):
    """A text is not a force; the message states the rule, then the text."""


def parse_force(value: str | int | float, bare: str) -> float:
    """Read a force, newtons.

    Parameters
    ----------
    value : str, int or float
        A bare number counts in ``bare``; a text may carry its unit: ``4.5 kN``, ``1000 lbf``.
    bare : {"n", "lbf"}
        What a number without unit means.

    Raises
    ------
    ForceError
        When it is no finite force.

    Examples
    --------
    >>> parse_force("4.5 kN", "n"), round(parse_force(1000, "lbf"), 1)
    (4500.0, 4448.2)
    """
    found = _FORCE.fullmatch(f"{value}") if not isinstance(value, bool) else None
    unit = (found[2] or bare).lower() if found else ""
    if found is None or unit not in UNIT_N:
        raise ForceError(f"expected a force such as '4.5 kN' or '1000 lbf', got {str(value)[:40]!r}")
    newton = float(found[1]) * UNIT_N[unit]
    if not math.isfinite(newton):
        raise ForceError(f"expected a finite force, got {str(value)[:40]!r}")
    return newton
