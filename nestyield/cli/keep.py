"""Keep blanks of a plan that you have accepted: later plans leave them as they are and plan around them.

nestyield keep DIR --shop SHOP --blank M-01     keep one blank of the plan in DIR
nestyield keep DIR --shop SHOP --blank M-01 --way 2
                                                keep the second of its other ways instead
nestyield keep --shop SHOP                      list what is kept
nestyield keep --shop SHOP --release M-01       let it go again
"""

from __future__ import annotations

import argparse
from pathlib import Path

from nestyield.cli.exit_codes import DONE
from nestyield.cli.output import output_options, say_json
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
        "--way",
        metavar="N",
        type=int,
        default=0,
        help="keep the blank's other way N instead, as the report numbers them [the plan's own]",
    )
    parser.add_argument(
        "--release", metavar="B", action="append", default=[], help="let this blank go; may be given again"
    )
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Keep, release or list."""
    from nestyield import api

    if args.release and (args.plan or args.blank):
        raise NestyieldError("expected either blanks to keep or blanks to --release, got both")
    if args.blank and not args.plan:
        raise NestyieldError("expected the folder of the plan that the blanks are from")
    if args.way and len(args.blank) != 1:
        raise NestyieldError("expected one --blank that the --way is for")
    if args.release:
        head, blanks = "Let go", api.release(args.shop, args.release)
    elif args.plan:
        head, blanks = "Kept", api.keep(args.plan, args.shop, args.blank, way=args.way)
    else:
        head, blanks = "Kept", api.kept(args.shop)
    if args.json:
        say_json(ok=True, **{"released" if args.release else "kept": list(blanks)})
    elif not args.quiet:
        say(f"{head}: {', '.join(blanks) or 'nothing'}")
        if args.way and args.blank[0] not in blanks:
            say(f"Way {args.way} of {args.blank[0]} is called {blanks[-1]} from now on.")
    return DONE
