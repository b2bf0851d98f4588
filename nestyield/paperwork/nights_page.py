"""One page for many shops planned by schedule: what needs a person first, a row a shop, and what is new."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, Protocol
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined

from nestyield.model import Finding, Plan
from nestyield.model.totals import totals_of
from nestyield.paperwork.notices import person_lines, plan_findings
from nestyield.words import Words

#: Stands in each such page, so that no other is written over.
MARK = "<!-- nestyield nights 1 -->"
#: More lines of one shop are counted, not shown.
MOST_LINES = 12


class NewsOf(Protocol):
    """What is new in a plan since the one before."""

    @property
    def anything(self) -> bool:
        """Whether there is anything new at all."""

    def to_data(self) -> dict[str, Any]:
        """Return the news as JSON-like data."""

    def to_text(self) -> str:
        """Return the news in a few lines of plain text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopNight:
    """What became of one shop of many.

    Parameters
    ----------
    folder : str
        Name of the shop's folder.
    run : str
        Its run, relative to the page; ``""`` when it could not be planned.
    plan : Plan or None
    news : News or None
        What is new since the run before.
    stay : tuple of str
        Old runs that were not removed because somebody changed them.
    needs_person : bool
    findings : tuple of Finding
        Why it could not be planned.
    error : str
        Why it could not be planned, in a sentence.
    """

    folder: str
    run: str = ""
    plan: Plan | None = None
    news: NewsOf | None = None
    stay: tuple[str, ...] = ()
    needs_person: bool = False
    findings: tuple[Finding, ...] = ()
    error: str = ""

    @property
    def failed(self) -> bool:
        """Whether there is no plan."""
        return self.plan is None

    @property
    def why(self) -> tuple[str, ...]:
        """Why there is no plan, a line each."""
        return (*((self.error,) if self.error else ()), *map(str, self.findings))

    def to_data(self) -> dict[str, Any]:
        """Return it as JSON-like data."""
        state = "failed" if self.failed else "person" if self.needs_person or self.stay else "done"
        return {
            "folder": self.folder,
            "state": state,
            "run": self.run or None,
            "error": "; ".join(self.why) or None,
            "news": None if self.news is None else self.news.to_data(),
            "needs_person": [] if self.plan is None else person_lines(self.plan),
            "stay": list(self.stay),
        }


def nights_page(shops: Sequence[ShopNight], date: datetime.date) -> str:
    """Return the page: one HTML file that needs nothing but the reports it leads to.

    Parameters
    ----------
    shops : sequence of ShopNight
    date : date
        Of the run.
    """
    environment = Environment(
        loader=PackageLoader("nestyield.paperwork", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    rows = [_row(shop) for shop in shops]
    style = (files("nestyield.paperwork") / "templates" / "report.css").read_text(encoding="utf-8")
    return environment.get_template("nights.html.j2").render(
        mark=MARK,
        style=style,
        date=date.isoformat(),
        rows=rows,
        failed=[r for r in rows if r["kind"] == "no"],
        person=[r for r in rows if r["kind"] == "part"],
        news=[r for r in rows if r["news"]],
        filled=sum(r["filled"] for r in rows),
        wanted=sum(r["wanted"] for r in rows),
        blanks=sum(r["blanks"] for r in rows),
    )


def _row(shop: ShopNight) -> dict[str, Any]:
    row: dict[str, Any] = {
        "name": shop.folder,
        "folder": shop.folder,
        "anchor": f"shop-{quote(shop.folder, safe='')}",
        "why": shop.why[:MOST_LINES],
        "more": max(0, len(shop.why) - MOST_LINES),
        **dict.fromkeys(("filled", "wanted", "blanks"), 0),
        **dict.fromkeys(("link", "share", "board_feet"), ""),
        **dict.fromkeys(("news", "look"), ()),
    }
    if shop.plan is None or shop.news is None:
        return row | {"kind": "no", "state": "not planned"}
    plan = shop.plan
    results = {r.order: r for r in plan.orders}
    active = [o for o in plan.shop.orders if not o.hold]
    filled = sum(results[o.name].placed == o.count for o in active if o.name in results)
    totals = totals_of(plan)
    words = Words(plan.shop.units)
    look = [str(f) for f in plan_findings(plan) if f.severity != "note"]
    look += [f"the run {name} was changed by hand and stays" for name in shop.stay]
    told = shop.news.to_text().splitlines()[1:] if shop.news.anything else []
    lines = [line.strip() for line in told if not line.startswith("New since")]
    return row | {
        "name": plan.shop.name,
        "kind": "part" if look else "yes",
        "state": "needs a person" if look else "done",
        "link": f"{quote(shop.run)}/report.html",
        "filled": filled,
        "wanted": len(active),
        "blanks": len(plan.layouts),
        "share": words.share(totals.part_area_mm2, totals.stock_area_mm2) if totals.parts else "",
        "board_feet": f"{totals.board_feet:.2f}",
        "news": lines,
        "look": look[:MOST_LINES],
        "more": max(0, len(look) - MOST_LINES),
    }
