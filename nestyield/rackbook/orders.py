"""The shop file after some copies of its orders were cut.

Lines are changed one by one and the result is parsed again: tomlkit, which edits TOML in place, moves orders
that do not stand together next to each other when it writes a file back.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping, Sequence

from nestyield.model import Plan
from nestyield.model.same_orders import is_named
from nestyield.rackbook.lines import split

_HEADER = re.compile(r"\s*\[\[\s*order\s*\]\]\s*(#.*)?$")
_COUNT = re.compile(r"(\s*count\s*=\s*)(\d+)(\s*(?:#.*)?)$")
_CUT_FROM = re.compile(r"\s*cut_from\s*=[^#]*?(\s*(?:#.*)?)$")
_DONE = re.compile(r"(\s*done\s*=\s*)false(\s*(?:#.*)?)$")


def book_orders(
    text: str,
    cut: Mapping[str, int],
    plan: Plan,
    names: Mapping[str, str | None] | None = None,
    woods: Mapping[str, Sequence[str]] | None = None,
) -> tuple[str, tuple[str, ...]]:
    """Return the shop file with what was cut taken off the counts of its orders.

    An order of which nothing is left gets ``done = true``, one whose set matches the wood that was cut
    (``cut_from``); everything else stays as the maker wrote it.

    Parameters
    ----------
    text : str
        The shop file.
    cut : dict of str to int
        Copies by order.
    plan : Plan
        Says which part each order is for.
    names : mapping of str to (str or None), optional
        What each order of the plan is called now, as `same_orders` gives it; left out, as in the plan.
    woods : mapping of str to sequence of str, optional
        By order of the plan, the wood of each copy cut, for orders that match.

    Returns
    -------
    (str, tuple of str)
        New text, and what a person must do where it could not be changed.
    """
    notes = []
    orders = {order.name: order for order in plan.shop.orders}
    for name, copies in sorted(cut.items()):
        now = name if names is None else names.get(name)
        if now is None and not is_named(orders[name]):
            new, why = text, "which order of the shop file it is cannot be told"
        else:
            part = orders[name].part if name in orders else ""
            new, why = _less(text, now or name, part, copies, (woods or {}).get(name, ()))
        if why:
            notes.append(f"order {name!r}: {copies} cut, but {why}; take them off its count in the shop file")
        text = new
    return text, tuple(notes)


def _less(text: str, name: str, part: str, copies: int, woods: Sequence[str]) -> tuple[str, str]:
    data = tomllib.loads(text)
    orders = data.get("order", [])
    names = [order.get("name", f"order {i}") for i, order in enumerate(orders, start=1)]
    if names.count(name) != 1:
        return text, "the shop file has no such order now"
    index = names.index(name)
    if orders[index].get("part") != part:
        return text, "it is for another part now"
    left = int(orders[index].get("count", 1)) - copies
    lines = split(text)
    heads = [i for i, line in enumerate(lines) if _HEADER.match(line.rstrip("\r\n"))]
    why = "the shop file is written in a way that is not changed by itself"
    if len(heads) != len(orders):
        return text, why
    start = heads[index]
    end = next((i for i in range(start + 1, len(lines)) if lines[i].lstrip().startswith("[")), len(lines))
    wanted = {**orders[index], "count": left} if left > 0 else {**orders[index], "done": True}
    pattern, value = (_COUNT, str(left)) if left > 0 else (_DONE, "true")
    for i in range(start + 1, end):
        body = lines[i].rstrip("\r\n")
        match = pattern.match(body)
        if match:
            lines[i] = f"{match[1]}{value}{match[match.lastindex or 1]}{lines[i][len(body) :]}"
            break
    else:
        newline = lines[start][len(lines[start].rstrip("\r\n")) :] or "\n"
        if not lines[start].endswith(("\n", "\r")):
            lines[start] += newline
        lines.insert(start + 1, f"done = true  # all cut{newline}")
    if woods:
        wanted["cut_from"] = _with_woods(lines, start, wanted.get("cut_from", []), woods)
    changed = "".join(lines)
    orders[index] = wanted
    try:
        return (changed, "") if tomllib.loads(changed) == data else (text, why)
    except tomllib.TOMLDecodeError:
        return text, why


def _with_woods(lines: list[str], start: int, before: str | list[str], woods: Sequence[str]) -> list[str]:
    """Write the wood of copies cut into the order whose head stands at a line; return all of that order."""
    names = [*([before] if isinstance(before, str) else before), *woods]
    text = f"cut_from = [{', '.join(json.dumps(n, ensure_ascii=False) for n in names)}]"
    end = next((i for i in range(start + 1, len(lines)) if lines[i].lstrip().startswith("[")), len(lines))
    for i in range(start + 1, end):
        body = lines[i].rstrip("\r\n")
        if match := _CUT_FROM.match(body):
            lines[i] = f"{text}{match[1]}{lines[i][len(body) :]}"
            return names
    newline = lines[start][len(lines[start].rstrip("\r\n")) :] or "\n"
    lines.insert(start + 1, text + newline)
    return names
