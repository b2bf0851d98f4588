"""The orders of a shop file as they were before a take, in a file that was changed since.

A line such as ``count = 1`` stands in many orders, so each line is looked for in its own order only. What
comes out is parsed and must differ from the file as it is in those keys of those orders and in nothing else.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from nestyield.rackbook.lines import changed, split

_HEADER = re.compile(r"\s*\[\[\s*order\s*\]\]\s*(#.*)?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Order:
    """One ``[[order]]``: what it says, its lines, and which line of the file is its heading."""

    data: dict[str, Any]
    lines: list[str]
    start: int

    @property
    def told(self) -> list[str]:
        return [line.strip() for line in self.lines if line.strip() and not line.lstrip().startswith("#")]


def restored_orders(before: str, after: str, now: str) -> tuple[str, str]:
    """Return the shop file as it is now, with the orders that a take changed as they were before it.

    Parameters
    ----------
    before, after : str
        The shop file as the take found it and as it left it.
    now : str
        As it is now.

    Returns
    -------
    (str, str)
        New text; or the text as it is now, and what a person must write before it can be done.
    """
    old, booked = _orders(before), _orders(after)
    mine = _orders(now)
    if mine is None or old is None or booked is None or len(old) != len(booked):
        return now, "its orders cannot be read; write each under a line [[order]] of its own"
    lines = split(now)
    wanted = tomllib.loads(now)
    for was, had in zip(old, booked, strict=True):
        if was.lines == had.lines:
            continue
        name = (
            f"order {had.data['name']!r}" if "name" in had.data else f"the order of {had.data.get('part')!r}"
        )
        alike = [order for order in booked if _same(order, had)]  # more than one only without names
        found = [i for i, order in enumerate(mine) if _same(order, had)]
        if len(found) != len(alike):
            times = "once" if len(alike) == 1 else f"{len(alike)} times alike"
            wrong = f"expected {name} {times}, and it is {_there(len(found))}"
            return now, f"{wrong}; write it so again, as the take left it"
        at = found[alike.index(had)]
        why = _put_back(lines, mine[at], was, had)
        if why:
            return now, f"{name} {why}"
        order = wanted["order"][at]
        for key in was.data.keys() | had.data.keys():
            if was.data.get(key) != had.data.get(key):
                order.pop(key, None)
                order |= {key: was.data[key]} if key in was.data else {}
    text = "".join(lines)
    try:
        sure = tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        sure = False
    return (text, "") if sure else (now, "its orders are written in a way that is not changed by itself")


def _orders(text: str) -> list[_Order] | None:
    """Return the orders of a shop file; None where they cannot be told apart by their headings."""
    try:
        found = tomllib.loads(text).get("order", [])
    except tomllib.TOMLDecodeError:
        return None
    lines = split(text)
    heads = [i for i, line in enumerate(lines) if _HEADER.match(line.rstrip("\r\n"))]
    if not isinstance(found, list) or len(heads) != len(found):
        return None
    ends = [
        next((k for k in range(i + 1, len(lines)) if lines[k].lstrip()[:1] == "["), len(lines)) for i in heads
    ]
    return [
        _Order(data=data, lines=lines[i:end], start=i)
        for data, i, end in zip(found, heads, ends, strict=True)
    ]


def _same(order: _Order, had: _Order) -> bool:
    """Tell whether an order is the one that was booked: by its name, without one by all that it says."""
    if "name" in had.data:
        return bool(order.data.get("name") == had.data["name"])
    return "name" not in order.data and order.told == had.told


def _there(times: int) -> str:
    return {0: "not there", 1: "there once"}.get(times, f"there {times} times")


def _put_back(lines: list[str], order: _Order, was: _Order, had: _Order) -> str:
    """Put back the lines of one order; return what is in the way."""
    for written, earlier in changed(had.lines, was.lines):
        if written is None:
            return f"lacks {(earlier or '').strip()!r}; write it there"
        if earlier is not None and written.strip() == earlier.strip():
            continue
        spots = _spots(order.lines, written)
        if len(spots) != 1:
            return f"no longer has the line {written.strip()!r} that it wrote; write that line there again"
        at = order.start + spots[0]
        end = lines[at][len(lines[at].rstrip("\r\n")) :]
        lines[at] = "" if earlier is None else earlier.rstrip("\r\n") + end
    return ""


def _spots(lines: Sequence[str], wanted: str) -> list[int]:
    return [i for i, line in enumerate(lines) if line.strip() == wanted.strip()]
