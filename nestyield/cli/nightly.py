"""Plan a shop by schedule: one dated folder a run, with a short summary of what is new since the last.

Nothing is planned again when nothing that matters has changed. Prints the summary when there is anything new,
why the exit code is 1 where it is, and nothing otherwise, so that a scheduler only writes to you when there
is something to read or to do.

A folder of shop folders is planned shop by shop, each with runs and answers of its own below DIR; a shop that
cannot be planned does not cost the others. DIR/index.html and index.json tell of all.
"""

from __future__ import annotations

import argparse
import datetime
import sys
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import COULD_NOT_RUN, DONE, NEEDS_PERSON
from nestyield.cli.numbers import positive_int
from nestyield.cli.output import cluster_option, output_options, say_json
from nestyield.cli.tell import plain, say

if TYPE_CHECKING:
    from nestyield.model import Plan
    from nestyield.paperwork.nights_page import NewsOf
    from nestyield.rackbook.nights import Nights

SUMMARY = "plan by schedule: a dated folder, and what is new since the last run"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "shop", metavar="SHOP", type=Path, help="the shop folder, or a folder of shop folders"
    )
    parser.add_argument("--runs", metavar="DIR", type=Path, required=True, help="folder of the dated runs")
    parser.add_argument(
        "--keep-last", metavar="N", type=positive_int, help="remove all runs but the last N [keep all]"
    )
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", type=_date, help="name of the run's folder [today's date]"
    )
    parser.add_argument(
        "--workers", metavar="W", type=positive_int, help="processes, instead of the shop file's"
    )
    cluster_option(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Run once; print only what is new."""
    from nestyield import api

    date = args.date or datetime.date.today()
    more = {"keep_last": args.keep_last, "workers": args.workers, "cluster": args.cluster}
    all_of_them = api.nights(args.shop, args.runs, date, crashed=_tell_crash, **more)
    if all_of_them is not None:
        return _tell_nights(all_of_them, args)
    night = api.nightly(args.shop, args.runs, date, **more)
    code = NEEDS_PERSON if api.needs_person(night.plan) or night.stay else DONE
    if args.json:
        from nestyield.paperwork.notices import person_lines

        person = person_lines(night.plan)
        data = {"news": night.news.to_data(), "needs_person": person, "stay": list(night.stay)}
        say_json(ok=True, folder=str(night.folder), **data)
        return code
    if args.quiet:
        return code
    told = _tell_news(night.news, args)
    _tell_person("Needs a person (exit code 1)", night.plan, told)
    if told or code == NEEDS_PERSON:
        say(f"Report: {night.folder / 'report.html'}")
    for name in night.stay:
        say(f"the run {name} was changed by hand and stays (exit code 1)", sys.stderr)
    return code


def _tell_news(news: NewsOf, args: argparse.Namespace) -> str:
    """Print what is new, where anything is or all is asked for; return what was printed."""
    told = news.to_text() if news.anything or args.verbose else ""
    sys.stdout.write(plain(told))
    return told


def _tell_person(head: str, plan: Plan, told: str) -> None:
    """Print why a plan needs a person, a line each, without what was told as news."""
    from nestyield.paperwork.notices import person_lines

    for number, line in enumerate(person_lines(plan, told)):
        say(f"  {line}" if number else f"{head}: {line}")


def _tell_nights(nights: Nights, args: argparse.Namespace) -> int:
    """Print what is new in each shop, and why some could not be planned; the exit code is the worst's."""
    failed = [s for s in nights.shops if s.failed]
    person = [s for s in nights.shops if not s.failed and (s.needs_person or s.stay)]
    code = COULD_NOT_RUN if failed else NEEDS_PERSON if person else DONE
    if args.json:
        data = [s.to_data() for s in nights.shops]
        say_json(ok=not failed, shops=data, report=str(nights.page))
        return code
    for shop in nights.shops:
        if shop.plan is not None and shop.news is not None and not args.quiet:
            told = _tell_news(shop.news, args)
            _tell_person(f"{shop.folder} needs a person", shop.plan, told)
            if told or shop.needs_person:
                say(f"Report: {nights.page.parent / shop.run / 'report.html'}\n")
        for line in (*shop.why, *(f"the run {name} was changed by hand and stays" for name in shop.stay)):
            say(f"{shop.folder}: {line}", sys.stderr)
    new = bool(person) or any(s.failed or (s.news is not None and s.news.anything) for s in nights.shops)
    if (new and not args.quiet) or args.verbose:
        done = len(nights.shops) - len(failed)
        say(f"{done} of {len(nights.shops)} shops planned; all of them: {nights.page}")
    return code


def _tell_crash(shop: Path, error: Exception) -> None:
    traceback.print_exception(error, file=sys.stderr)


def _date(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"expected a date such as 2026-12-01, got {text!r}") from None
