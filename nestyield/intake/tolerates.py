"""What a part or zone tolerates: kind of defect -> verdict."""

from __future__ import annotations

from typing import Any

from nestyield.intake.problems import did_you_mean, nearest, shown
from nestyield.intake.values import Values
from nestyield.model import DEFECT_KINDS, Verdict
from nestyield.words import listed

VERDICTS: tuple[Verdict, ...] = ("refused", "filled", "allowed")


def defect_kind(text: str) -> str | None:
    """Return the known kind of defect that a text names, whatever its case, hyphens or plural; or None."""
    tidy = " ".join(text.casefold().replace("_", " ").replace("-", " ").split())
    for candidate in (tidy, tidy.removesuffix("s"), tidy.removesuffix("es")):
        if candidate in DEFECT_KINDS:
            return candidate
    return None


def unknown_kind(text: str) -> str:
    """Return that a text names no kind of defect, and which kind it may mean: several where it is a part of
    their names.

    Parameters
    ----------
    text : str
    """
    word = text.casefold().strip()
    of = [kind for kind in DEFECT_KINDS if word and word in kind.split()]
    if len(of) > 1:
        return f"{shown(text)} may be several kinds of defect; write {listed(of, 'or')}"
    return f"unknown kind of defect {shown(text)}; {did_you_mean(text, DEFECT_KINDS, 'kinds')}"


def read_tolerates(values: Values, raw: Any) -> dict[str, Verdict]:
    """Read ``tolerates = { stain = "allowed", ... }``.

    Parameters
    ----------
    values : Values
        The table that holds the key.
    raw : object
        Its value as parsed; None when absent.

    Returns
    -------
    dict of str to {"refused", "filled", "allowed"}
        In file order.
    """
    if raw is None:
        return {}
    if not isinstance(raw, dict):
        message = 'expected tolerates = { knot = "allowed" }'
        values.error("S006", f"{message}, got {shown(raw)}", "tolerates")
        return {}
    out: dict[str, Verdict] = {}
    for name, verdict in raw.items():
        kind = defect_kind(name)
        if kind is None:
            values.error("S008", unknown_kind(name), "tolerates")
        elif verdict not in VERDICTS:
            near = nearest(verdict, VERDICTS) if isinstance(verdict, str) else None
            hint = f"; did you mean {near!r}?" if near else ""
            values.error(
                "S006",
                f"expected {name} to be one of {', '.join(VERDICTS)}, got {shown(verdict)}{hint}",
                "tolerates",
            )
        else:
            out[kind] = verdict
    return out
