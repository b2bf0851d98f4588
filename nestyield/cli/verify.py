"""Check a finished plan once more, from its own file alone, or against the shop folder it was made from."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import COULD_NOT_RUN, DONE, NEEDS_PERSON
from nestyield.cli.output import findings_data, output_options, say_json
from nestyield.cli.tell import say, say_findings

if TYPE_CHECKING:
    from nestyield.model import Finding

#: Findings that say that there is no plan to check.
NO_PLAN = ("A001", "A002")

#: Findings that tell how the shop folder differs from the one that was planned.
SHOP_MOVED = ("A004", "A005")

#: What nothing else in a plan says, so that it cannot be worked out again.
TAKEN_AS_TOLD = (
    "Taken as told, because nothing in the plan says it again: seed and effort of the search, how many "
    "layouts and glue-ups were tried, what was found while reading the shop, and places on beds that do not "
    "take a blank."
)

SUMMARY = "check a finished plan once more"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("dir", metavar="DIR", type=Path, help="the folder of a finished plan")
    parser.add_argument(
        "--shop", type=Path, help="also read this shop folder again and tell what differs from the plan"
    )
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print findings on stderr and the verdict on stdout."""
    from nestyield.api import verify

    findings = verify(args.dir, args.shop)
    bad = [f for f in findings if f.severity in ("error", "warning")]
    if args.json:
        say_json(ok=not bad, findings=findings_data(findings))
        return _code(findings)
    if not args.quiet:
        say_findings(findings, sys.stderr)
    if any(f.code in NO_PLAN for f in findings):
        return COULD_NOT_RUN
    if args.quiet:
        return _code(findings)
    if bad and all(f.code in SHOP_MOVED and f.severity == "warning" for f in bad):
        say(f"{args.dir}: the plan holds, but the shop has changed since; plan again before you cut")
    elif bad:
        say(f"{args.dir}: the plan does not hold: {len(bad)} {'finding' if len(bad) == 1 else 'findings'}")
    else:
        say(f"{args.dir}: the plan holds")
    if args.verbose:
        say(TAKEN_AS_TOLD)
    return _code(findings)


def _code(findings: Sequence[Finding]) -> int:
    if any(f.code in NO_PLAN for f in findings):
        return COULD_NOT_RUN
    return NEEDS_PERSON if any(f.severity in ("error", "warning") for f in findings) else DONE
