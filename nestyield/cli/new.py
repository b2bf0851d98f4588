"""Start a shop folder: a small shop with comments that checks clean and plans at once, to make your own.

It holds a shop file, a rack with one row for each way to describe a piece, a defect table, two drawings, and
first-steps.txt. No file that is already there is touched.
"""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path

from nestyield.cli.exit_codes import DONE
from nestyield.cli.output import output_options, say_json
from nestyield.cli.tell import say

SUMMARY = "start a shop folder that plans at once, to make your own"

_WHAT = {
    "shop.toml": "cutter, bed, parts, orders",
    "rack.csv": "the wood: one row for each piece",
    "defects.csv": "knots, checks, screw holes",
    "first-steps.txt": "what to change first, where 0,0 is, names of woods",
}


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder to make; it may exist")
    parser.add_argument(
        "--units", choices=("mm", "in"), default="mm", help="what a bare number means in the files [mm]"
    )
    parser.add_argument(
        "--example",
        action="store_true",
        help="a larger example instead: odd pieces, glue-ups, several parts and beds",
    )
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Write the folder, print its files and what to do next."""
    from nestyield import api

    written = api.new_shop(args.folder, args.units, example=args.example)
    if args.json:
        say_json(ok=True, folder=str(args.folder), units=args.units, files=[p.name for p in written])
        return DONE
    if args.quiet:
        return DONE
    say(f"New shop folder {args.folder}, in {'inches' if args.units == 'in' else 'millimeters'}:")
    for path in written:
        say(f"  {path.name:<17}{_WHAT.get(path.name, 'a drawing')}")
    name = shlex.quote(str(args.folder))
    out = shlex.quote(f"{args.folder}-plan")
    say(f"Next:\n  nestyield check {name}\n  nestyield plan {name} --out {out}")
    return DONE
