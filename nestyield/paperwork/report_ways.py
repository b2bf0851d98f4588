"""The runners-up of each blank, for the report and as a table."""

from __future__ import annotations

from nestyield.model import OtherWay, Plan
from nestyield.paperwork.words import cell, clean, currency_of
from nestyield.words import Words


def ways_of(plan: Plan, blank: str) -> list[OtherWay]:
    """Return the other ways for a blank, best first."""
    return [way for way in plan.other_ways if way.instead_of == blank]


def rows(plan: Plan, blank: str) -> list[list[str]]:
    """Return the cells for each other way of a blank, best first, as the report's columns stand."""
    words = Words(plan.shop.units, "\u00a0", clean(plan.shop.settings.currency))
    return [
        [
            str(k),
            clean(" + ".join(way.blank.stock)),
            str(_joints(way)),
            _more(way.costs_more, words),
            words.money(way.value),
            words.money(way.back),
            f"{way.used_up:.2f}",
            words.share(way.part_area_mm2, way.stock_area_mm2),
            words.column(way.seams_mm) if way.seams_mm else "none",
        ]
        for k, way in enumerate(ways_of(plan, blank), start=1)
    ]


def csv_rows(plan: Plan) -> tuple[list[str], list[list[str]]]:
    """Return header and rows of ``other_ways.csv``."""
    words = Words(plan.shop.units)
    money = currency_of(plan)
    header = [
        "instead_of",
        "way",
        "pieces",
        "joints",
        f"costs_more{money}",
        f"value{money}",
        f"comes_back{money}",
        "board_feet_used_up",
    ]
    header += ["yield_pct", f"seams_under_parts_{words.units}"]
    out = []
    for blank in dict.fromkeys(way.instead_of for way in plan.other_ways):
        for k, way in enumerate(ways_of(plan, blank), start=1):
            out.append(
                [
                    cell(blank),
                    str(k),
                    cell(" + ".join(way.blank.stock)),
                    str(_joints(way)),
                    f"{way.costs_more:.2f}",
                    f"{way.value:.2f}",
                    f"{way.back:.2f}",
                    f"{way.used_up:.2f}",
                    words.share(way.part_area_mm2, way.stock_area_mm2).split()[0],
                    words.cell(way.seams_mm),
                ]
            )
    return header, out


def _joints(way: OtherWay) -> int:
    return len(way.blank.seams) if len(way.blank.members) > 1 else 0


def _more(amount: float, words: Words) -> str:
    """Return a difference in money with its sign."""
    return f"{'+' if round(amount, 2) > 0 else ''}{words.money(amount)}"
