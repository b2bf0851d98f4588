"""Book a plan's blanks: used pieces out of the rack, leftovers and their defects in.

The rack and defect tables keep your columns, order, comments and line ends. Counts in the shop file's orders
go down by what was cut. Refused when a row that the blanks use was changed since the plan was made; other
rows may change freely. Everything is written as one, or not at all; `nestyield undo` takes it back.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.output import entry_data, output_options, say_json
from nestyield.cli.tell import say

SUMMARY = "book a plan's blanks: used pieces out of the rack, leftovers in"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("plan", metavar="DIR", type=Path, help="the folder of the plan")
    parser.add_argument(
        "--shop", metavar="SHOP", type=Path, default=Path(), help="the shop folder [the current folder]"
    )
    parser.add_argument(
        "--blank", metavar="B", action="append", default=[], help="only this blank; may be given again [all]"
    )
    parser.add_argument(
        "--leave-orders", action="store_true", help="leave the counts of the orders in the shop file alone"
    )
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Take, print what was booked."""
    from nestyield import api

    taken = api.take(args.plan, args.shop, args.blank, orders=not args.leave_orders)
    entry = taken.entry
    code = NEEDS_PERSON if taken.notes else DONE
    if args.json:
        say_json(ok=True, **entry_data(entry), notes=list(taken.notes))
        return code
    if args.quiet:
        return code
    say(f"Taken (entry {entry.entry} of the journal): {', '.join(entry.blanks)}")
    out = ", ".join(f"{n} of {name}" if n > 1 else name for name, n in entry.pieces.items())
    say(f"  out of the rack: {out}")
    say(f"  into the rack: {', '.join(entry.leftovers) or 'nothing'}")
    if entry.leftovers:
        say(f"  write the shelf of {', '.join(entry.leftovers)} in the rack table")
    if args.blank and (more := [b for b in entry.blanks if b not in args.blank]):
        say(f"  {', '.join(more)} too: sawn off the same piece, and booked with it")
    cut = ", ".join(f"{n} of {name}" for name, n in entry.cut.items())
    if cut:
        say(f"  cut: {cut}")
    say(f"  changed: {', '.join(f.name for f in entry.files)}")
    for note in taken.notes:
        say(note, sys.stderr)
    return code
