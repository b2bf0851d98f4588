"""Orders of the shop file."""

from __future__ import annotations

from nestyield.intake.problems import did_you_mean, shown
from nestyield.intake.values import Values
from nestyield.model import Order


def read_orders(shop: Values, part_names: list[str], bed_names: list[str]) -> list[Order]:
    """Read every ``[[order]]``.

    Parameters
    ----------
    shop : Values
        The whole shop file.
    part_names, bed_names : list of str
        Names that orders may use, also of parts and beds that have errors of their own.

    Returns
    -------
    list of Order
        In file order; those that could be read.
    """
    orders: list[Order] = []
    seen: set[str] = set()
    for number, values in enumerate(shop.tables("order"), start=1):
        v = values.read("order")
        name = v["name"] or f"order {number}"
        if name in seen:
            values.error("S009", f"expected a unique name, another order is called {shown(name)}", "name")
        for other in seen - {name}:
            if other.casefold() == name.casefold():
                values.error(
                    "S009",
                    f"expected names that differ by more than case, got {shown(other)} and {shown(name)}; "
                    "rename one of them",
                    "name",
                )
        seen.add(name)
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
        orders.append(
            Order(
                name=name,
                part=part,
                count=v["count"],
                priority=v["priority"],
                due=v["due"],
                beds=tuple(v["bed"]),
                hold=v["hold"],
            )
        )
    return orders
