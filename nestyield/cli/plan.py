"""Plan all orders over the whole rack; write the plan, the report and the drawings into a folder.

The same inputs, seed and effort give the same files, with any number of workers. Ctrl-C ends the search
early and writes the best plan so far, marked as stopped. The plan is checked before anything is written.
"""

from __future__ import annotations

import argparse
import sys
from contextlib import nullcontext
from pathlib import Path

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.numbers import positive_float, positive_int, whole_number
from nestyield.cli.output import (
    answers_option,
    cluster_option,
    for_reader,
    kept_answers,
    output_options,
    say_json,
)
from nestyield.cli.tell import say, say_findings

SUMMARY = "plan all orders over the whole rack and write plan, report and drawings"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        required=True,
        help="folder to write; new, empty, or holding an earlier plan, which is replaced",
    )
    instead = "instead of the shop file's"
    parser.add_argument("--seed", metavar="K", type=whole_number, help=f"seed of the search, {instead}")
    parser.add_argument(
        "--effort", metavar="E", type=positive_int, help=f"steps of the search, {instead}; more takes longer"
    )
    parser.add_argument(
        "--seconds",
        metavar="S",
        type=positive_float,
        help=f"ceiling on the search, {instead}; a run that reaches it says so in the plan",
    )
    parser.add_argument("--workers", metavar="W", type=positive_int, help=f"processes, {instead}")
    cluster_option(parser)
    answers_option(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Plan, write, print the summary on stdout."""
    from nestyield import api
    from nestyield.cli.progress import progress_on
    from nestyield.cli.summary import plan_data, short_summary, still_to_tell, summary

    api.check_out(args.out)
    shown = progress_on(sys.stderr) if not args.quiet else nullcontext()
    with kept_answers(args) as cache, shown as progress:
        plan = api.plan(
            args.shop,
            seed=args.seed,
            effort=args.effort,
            seconds=args.seconds,
            workers=args.workers,
            cluster=args.cluster,
            progress=progress,
            cache=cache,
        )
    workers = plan.shop.settings.workers if args.workers is None else args.workers
    api.write_plan(plan, args.out, workers)
    report = args.out / "report.html"
    if args.json:
        say_json(ok=True, **plan_data(plan), report=str(report))
    elif not args.quiet:
        say_findings(for_reader(still_to_tell(plan), args), sys.stderr)
        say(summary(plan) if args.verbose else short_summary(plan))
        say(f"\nReport: {report}")
    return NEEDS_PERSON if api.needs_person(plan) else DONE
