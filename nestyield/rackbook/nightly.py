"""The scheduled run: plan what changed, write a dated folder, tell what is new."""

from __future__ import annotations

import datetime
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from nestyield.model import Finding, Plan, Shop
from nestyield.planfile import PlanFileError, digest, dumps, loads
from nestyield.planfile.folder import PLAN, SUMS, check_replaceable, replace_folder
from nestyield.planfile.text import canonical
from nestyield.rackbook.cache import AnswerCache
from nestyield.rackbook.lock import lock
from nestyield.rackbook.news import News, news_of
from nestyield.rackbook.runs import SUMMARY_JSON, SUMMARY_TEXT, last_plan, let_go, next_name, runs_in

#: The folder in the runs folder that holds lock and cache.
OWN = ".nightly"


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """What a scheduled run did.

    Parameters
    ----------
    folder : Path
        The run's folder.
    plan : Plan
    news : News
    reused : bool
        Whether nothing that matters had changed, so that the plan is the cached one.
    stay : tuple of str
        Old runs that were not removed because somebody changed them.
    """

    folder: Path
    plan: Plan
    news: News
    reused: bool
    stay: tuple[str, ...]


def nightly(
    shop: Shop,
    findings: tuple[Finding, ...],
    runs: Path,
    date: datetime.date,
    *,
    make: Callable[[Shop, AnswerCache], Plan],
    write: Callable[[Plan, Path], object],
    basis: str = "",
    keep_last: int | None = None,
) -> Night:
    """Plan a shop, unless nothing has changed, and write the run into its dated folder.

    Parameters
    ----------
    shop : Shop
    findings : tuple of Finding
        Of intake.
    runs : Path
        Folder of dated runs; made when missing.
    date : date
        Names the run's folder and is used for nothing else.
    make : callable
        ``make(shop, cache)`` plans without intake's findings.
    write : callable
        ``write(plan, folder)`` writes all papers but ``plan.json`` into an empty folder.
    basis : str
        What else the plan rests on: program version, kept blanks.
    keep_last : int, optional
        How many runs stay; left out, all.

    Raises
    ------
    BusyError
        When another run is at work on the same runs folder.
    """
    (runs / OWN).mkdir(parents=True, exist_ok=True)
    with lock(runs / OWN / "lock", "the nightly run"):
        cache = AnswerCache(runs / OWN / "cache")
        plan, reused = _plan(shop, cache, basis, make)
        plan = replace(plan, shop=shop, intake=(*findings, *plan.intake))
        news = news_of(last_plan(runs), plan)
        text = dumps(plan)
        same = _same_papers(runs, text) if reused else None
        folder = runs / next_name(runs, date)
        with replace_folder(folder) as new:
            if same is None:
                write(plan, new)
            else:
                shutil.copytree(same, new, dirs_exist_ok=True)
                (new / SUMS).unlink()
            (new / PLAN).write_bytes(text)
            (new / SUMMARY_TEXT).write_text(news.to_text(), encoding="utf-8")
            (new / SUMMARY_JSON).write_text(canonical(news.to_data()) + "\n", encoding="utf-8")
        if not plan.stopped:
            cache.sweep()
        stay = let_go(runs, keep_last) if keep_last is not None else ()
        return Night(folder=folder, plan=plan, news=news, reused=reused, stay=stay)


def _same_papers(runs: Path, text: bytes) -> Path | None:
    """Return the last run if its papers are of this very plan and nobody touched them."""
    for last in runs_in(runs)[-1:]:
        try:
            check_replaceable(last)
            if (last / PLAN).read_bytes() == text:
                return last
        except OSError:
            pass
    return None


def _plan(
    shop: Shop, cache: AnswerCache, basis: str, make: Callable[[Shop, AnswerCache], Plan]
) -> tuple[Plan, bool]:
    key = f"plan {basis} {digest(bare(shop))}"
    found = cache.get(key)
    if found is not None:
        try:
            return loads(found), True
        except PlanFileError:
            pass
    plan = make(shop, cache)
    if not plan.stopped:
        cache.put(key, dumps(plan))
    return plan, False


def bare(shop: Shop) -> Shop:
    """Return a shop without what planning does not look at: files, shelves, notes, most parents."""
    boards = shop.settings.glueup.one_board
    pieces = tuple(
        replace(p, shelf="", note="", parent=p.parent if boards else "", row=0) for p in shop.pieces
    )
    return replace(shop, files={}, pieces=pieces)
