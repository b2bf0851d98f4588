"""Plan a shop by schedule: one dated folder a run, with a short summary of what is new since the last.

Nothing is planned again when nothing that matters has changed. Prints the summary when there is anything new,
and nothing otherwise, so that a scheduler only writes to you when there is something to read.
"""

from __future__ import annotations

import argparse
import datetime
import sys
from pathlib import Path

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.numbers import positive_int
from nestyield.cli.output import output_options, say_json
from nestyield.cli.tell import plain, say

SUMMARY = "plan by schedule: a dated folder, and what is new since the last run"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
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
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Run once; print only what is new."""
    from nestyield import api

    date = args.date or datetime.date.today()
    night = api.nightly(args.shop, args.runs, date, keep_last=args.keep_last, workers=args.workers)
    code = NEEDS_PERSON if api.needs_person(night.plan) or night.stay else DONE
    if args.json:
        say_json(ok=True, folder=str(night.folder), news=night.news.to_data(), stay=list(night.stay))
        return code
    if args.quiet:
        return code
    if night.news.anything or args.verbose:
        sys.stdout.write(plain(night.news.to_text()))
        say(f"Report: {night.folder / 'report.html'}")
    for name in night.stay:
        say(f"the run {name} was changed by hand and stays", sys.stderr)
    return code


def _date(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"expected a date such as 2026-12-01, got {text!r}") from None
