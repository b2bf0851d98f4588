"""Facts of a plan beside those that the audit derives itself."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

from nestyield.audit.sheet import CheckedBlank

#: Lengths in facts are right to this, micrometers; other figures to this much.
SAME_UM = 60
SAME = 0.02


def same(one: Any, other: Any) -> bool:
    """Return whether two facts say the same: names and codes exactly, figures nearly."""
    if type(one) is not type(other):
        return False
    if dataclasses.is_dataclass(one):
        return all(
            _close(f.name, getattr(one, f.name), getattr(other, f.name)) for f in dataclasses.fields(one)
        )
    return bool(one == other)


def _close(name: str, one: Any, other: Any) -> bool:
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(_close(name, a, b) for a, b in zip(one, other))
    if isinstance(one, int | float) and isinstance(other, int | float):
        return abs(one - other) <= (SAME_UM if name.endswith("_um") else SAME)
    return same(one, other)


def compare(
    bench: CheckedBlank,
    code: str,
    told: Sequence[Any],
    surely: Sequence[Any],
    maybe: Sequence[Any] = (),
    where: str = "",
) -> None:
    """Find facts that a plan leaves out, and facts that are not true.

    Parameters
    ----------
    bench : CheckedBlank
    code : str
        Of the findings.
    told : sequence of facts
        In the plan.
    surely : sequence of facts
        That must be there.
    maybe : sequence of facts
        That may be there: a limit is too near to tell.
    where : str
    """
    for fact in surely:
        if not any(same(fact, t) for t in told):
            bench.say(code, f"does not report {_words(fact)}", where)
    for fact in told:
        if not any(same(fact, t) for t in (*surely, *maybe)):
            bench.say(code, f"reports {_words(fact)}, which is not so", where)


def _words(fact: Any) -> str:
    values = (f"{f.name} {getattr(fact, f.name)}" for f in dataclasses.fields(fact)[1:])
    return f"{fact.code!r} ({', '.join(values)})"
