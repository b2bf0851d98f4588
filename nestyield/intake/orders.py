"""Orders of the shop file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nestyield.intake.problems import did_you_mean, shown
from nestyield.intake.species import canonical_species
from nestyield.intake.values import Values
from nestyield.model import Order, OwnWood
from nestyield.model.sets import sets_of


def read_orders(
    shop: Values, part_names: list[str], bed_names: list[str], own: Sequence[OwnWood] = ()
) -> list[Order]:
    """Read every ``[[order]]``.

    Parameters
    ----------
    shop : Values
        The whole shop file.
    part_names, bed_names : list of str
        Names that orders may use, also of parts and beds that have errors of their own.
    own : sequence of OwnWood
        The maker's own woods.

    Returns
    -------
    list of Order
        In file order; those that could be read.
    """
    orders: list[Order] = []
    told: dict[str, Values] = {}
    given = _of_sets(shop)
    seen: dict[str, Values] = {}
    for number, values in enumerate(shop.tables("order"), start=1):
        v = values.read("order")
        name = v["name"] or f"order {number}"
        _refuse_alike(name, values, seen)
        seen.setdefault(name, values)
        part = v["part"]
        if part is not None and part not in part_names:
            hint = did_you_mean(part, part_names, "parts")
            values.error("S008", f"the shop file has no part {shown(part)}; {hint}", "part")
            continue
        for bed in v["bed"]:
            if bed not in bed_names:
                hint = did_you_mean(bed, bed_names, "beds")
                values.error("S008", f"the shop file has no bed {shown(bed)}; {hint}", "bed")
        if part is None:
            continue
        cut_from = _cut_from(values, v["cut_from"], v["match"], own)
        if not v["set"] and (v["match"] or v["per_set"] > 1):
            values.error("S005", "expected set beside per_set and match: the name of the set", "set")
            continue
        priority, due = _rank(values, v, given)
        told[name] = values
        orders.append(
            Order(
                name=name,
                part=part,
                count=v["count"],
                priority=priority,
                due=due,
                beds=tuple(v["bed"]),
                hold=v["hold"] or v["done"],
                done=v["done"],
                set=v["set"],
                per_set=v["per_set"],
                match=v["match"],
                cut_from=cut_from if v["match"] else (),
            )
        )
    _tell_sets(orders, told)
    return orders


def _cut_from(values: Values, raw: Any, match: str, own: Sequence[OwnWood]) -> tuple[str, ...]:
    """Read the wood of copies that were cut before: one name or a list, each as often as it counts."""
    items = [raw] if isinstance(raw, str) else raw
    if not isinstance(items, (list, tuple)) or not all(isinstance(v, str) and v.strip() for v in items):
        message = f"expected a text or a list of texts for cut_from, got {shown(raw)}"
        values.error("S006", message, "cut_from")
        return ()
    if items and not match:
        values.error("S005", 'expected match beside cut_from, such as match = "species"', "cut_from")
    if match != "species":
        return tuple(v.strip() for v in items)
    where = values.where("cut_from")
    return tuple(canonical_species(v, values.problems, "S011", values.file, where, own) for v in items)


def _refuse_alike(name: str, values: Values, seen: dict[str, Values]) -> None:
    """Tell of a name that an earlier order has, perhaps in other capitals."""
    if name in seen:
        lines = [v.line("name") for v in (seen[name], values)]
        where = f" (lines {lines[0]} and {lines[1]})" if all(lines) else ""
        values.error("S009", f"two orders are called {shown(name)}{where}; rename one", "name")
    for other in seen:
        if other != name and other.casefold() == name.casefold():
            message = f"orders {shown(other)} and {shown(name)} differ only in capitals; rename one"
            values.error("S009", message, "name")


def _of_sets(shop: Values) -> dict[tuple[str, str], list[Any]]:
    """Return the values that orders of each set give for priority, due and match, by set and key."""
    found: dict[tuple[str, str], list[Any]] = {}
    for values in shop.tables("order"):
        name = values.data.get("set")
        for key in ("priority", "due", "match"):
            if isinstance(name, str) and name.strip() and key in values.data:
                found.setdefault((name.strip(), key), []).append(str(values.data[key]))
    return found


def _rank(
    values: Values, v: dict[str, Any], given: dict[tuple[str, str], list[Any]]
) -> tuple[int, str | None]:
    """Return priority and due date of an order; one of a set has those that any order of the set gives."""
    if not v["set"]:
        return v["priority"], v["due"]
    for key in ("priority", "due", "match"):
        several = list(dict.fromkeys(given.get((v["set"], key), [])))
        if len(several) > 1 and key in values.data:
            rule = "matches in one way" if key == "match" else "is served together"
            values.error(
                "S017",
                f"a set {rule}: set {shown(v['set'])} has {key} {' and '.join(several)}; keep one",
                key,
            )
    priorities, dues = given.get((v["set"], "priority"), []), given.get((v["set"], "due"), [])
    priority = int(priorities[0]) if priorities and priorities[0].isdecimal() else v["priority"]
    return priority, dues[0] if dues else v["due"]


def _tell_sets(orders: list[Order], told: dict[str, Values]) -> None:
    """Note sets of one order, matches of one order, and those whose counts do not go together."""
    for wanted in sets_of(orders):
        here = [orders[k] for k in wanted.orders]
        values = told[here[0].name]
        alone = sum(o.set == wanted.name for o in orders) == 1
        if alone:
            message = f"only one order is of set {shown(wanted.name)}; is it spelt alike everywhere?"
            values.warning("S017", message, "set")
        if len(wanted.matching) == 1 and wanted.count == 1 and here[0].per_set == 1 and not alone:
            matching = told[orders[wanted.matching[0]].name]
            message = (
                f"only one order of set {shown(wanted.name)} has match, so there is nothing to match it with"
            )
            matching.warning("S017", message, "match")
        if len(wanted.classes) > 1:
            counts = ", ".join(f"{o.count} {o.part}" for o in here)
            message = f"set {shown(wanted.name)} wants {counts}: what is fewer is taken as cut before"
            values.note("S017", message, "count")
