"""Sets of a plan in words: how many are whole, and what lacks."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model import Plan
from nestyield.model.facts import SetNotWhole
from nestyield.model.sets import WantedSet, sets_of
from nestyield.paperwork.words import clean
from nestyield.words import listed

#: What wood has in common that matches.
_WITH = {"row": "board", "board": "board"}
_ALIKE = {"species": "species", "row": "row of the rack", "board": "board"}


def rest_of(set_name: str, match: str) -> str:
    """Return what wood bought for an order of a set must have in common with the rest; ``""`` for nothing."""
    return f", of one {_WITH[match]} with the rest of set {clean(set_name)}" if match in _WITH else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRow:
    """One set as papers tell it.

    Parameters
    ----------
    name : str
    parts : str
        ``body, neck and 2 plate``.
    made, wanted : int
        How many are whole, and wanted.
    lacks : str
        What the rest lacks, ``""`` where all are whole.
    match : str
        Which parts match by what, ``""`` where none do.
    """

    name: str
    parts: str
    made: int
    wanted: int
    lacks: str
    match: str


def bought_with(plan: Plan, name: str) -> str:
    """Return the same for an order of a plan."""
    return next((rest_of(o.set, o.match) for o in plan.shop.orders if o.name == name), "")


def rows(plan: Plan) -> list[SetRow]:
    """Return the sets of a plan in file order, those on hold left out."""
    return [_row(plan, wanted) for wanted in sets_of(plan.shop.orders)]


def _row(plan: Plan, wanted: WantedSet) -> SetRow:
    orders = [plan.shop.orders[k] for k in wanted.orders]
    results = {r.order: r for r in plan.orders}
    most = max(orders, key=lambda o: o.count / o.per_set)
    told = [x for o in orders for x in results[o.name].reasons if isinstance(x, SetNotWhole)]
    lacking = {part.order: part for reason in told for part in reason.lacking}
    matching = [clean(plan.shop.orders[k].part) for k in wanted.matching]
    return SetRow(
        name=clean(wanted.name),
        parts=listed(f"{o.per_set} {clean(o.part)}" if o.per_set > 1 else clean(o.part) for o in orders),
        made=results[most.name].placed // most.per_set,
        wanted=wanted.count,
        lacks=listed(
            f"{p.copies} {clean(p.part)}" + (f" of {listed(p.species, 'or')}" if p.species else "")
            for p in lacking.values()
        ),
        match=f"{listed(matching)} of one {_ALIKE[wanted.match]}" if wanted.match else "",
    )


def lines(plan: Plan) -> list[str]:
    """Return a line a set for the terminal."""
    return [
        f"  {row.name}: {row.made} of {row.wanted} whole ({row.parts}"
        + (f"; {row.match}" if row.match else "")
        + ")"
        + (f"; missing: {row.lacks}" if row.lacks else "")
        for row in rows(plan)
    ]
