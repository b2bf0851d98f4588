"""Keep blanks of a plan that you have accepted: later plans leave them as they are and plan around them.

nestyield keep DIR --shop SHOP --blank M-01     keep one blank of the plan in DIR
nestyield keep --shop SHOP                      list what is kept
nestyield keep --shop SHOP --release M-01       let it go again
"""

from __future__ import annotations

import argparse
from pathlib import Path

from nestyield.cli.exit_codes import DONE
from nestyield.cli.tell import say
from nestyield.model import NestyieldError

SUMMARY = "keep blanks of an accepted plan, list them, or let them go"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("plan", metavar="DIR", nargs="?", type=Path, help="the folder of the plan")
    parser.add_argument(
        "--shop", metavar="SHOP", type=Path, default=Path(), help="the shop folder [the current folder]"
    )
    parser.add_argument(
        "--blank", metavar="B", action="append", default=[], help="keep this blank; may be given again [all]"
    )
    parser.add_argument(
        "--release", metavar="B", action="append", default=[], help="let this blank go; may be given again"
    )


def run(args: argparse.Namespace) -> int:
    """Keep, release or list."""
    from nestyield import api

    if args.release and (args.plan or args.blank):
        raise NestyieldError("expected either blanks to keep or blanks to --release, got both")
    if args.blank and not args.plan:
        raise NestyieldError("expected the folder of the plan that the blanks are from")
    if args.release:
        say(f"Let go: {', '.join(api.release(args.shop, args.release))}")
    elif args.plan:
        say(f"Kept: {', '.join(api.keep(args.plan, args.shop, args.blank))}")
    else:
        say(f"Kept: {', '.join(api.kept(args.shop)) or 'nothing'}")
    return DONE
