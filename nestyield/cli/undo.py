"""Take the last booking of a shop back. Files that nobody touched since get the very bytes that they had.

In a file that was changed since, the lines of that booking are put back and everything else stays.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from nestyield.cli.exit_codes import DONE
from nestyield.cli.numbers import positive_int
from nestyield.cli.output import entry_data, output_options, say_json
from nestyield.cli.tell import say

SUMMARY = "take the last booking back"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument(
        "--entry", metavar="N", type=positive_int, help="this entry of the journal instead of the last take"
    )
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Undo, print what was undone."""
    from nestyield import api

    entry = api.undo(args.shop, args.entry)
    if args.json:
        say_json(ok=True, **entry_data(entry))
        return DONE
    if args.quiet:
        return DONE
    say(f"Undone: entry {entry.entry}, {', '.join(entry.blanks or entry.leftovers)}")
    if entry.pieces:
        say(f"  back in the rack: {', '.join(entry.pieces)}")
    say(f"  restored: {', '.join(f.name for f in entry.files)}")
    return DONE
