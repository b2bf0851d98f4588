"""Add up the rack: rows, pieces, board feet and value by species, and the largest piece of each.

With --to the rack and defect tables are copied instead, whole: into a database (a file such as rack.sqlite,
or a URL; ${NAME} in it is a variable of the environment, for the password), or out of one into a new folder
as CSV. The shop file stays as it is; what to write in it is told.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE
from nestyield.cli.output import output_options, say_json
from nestyield.cli.questions import what_if, what_if_options
from nestyield.cli.tell import say
from nestyield.words import Words

if TYPE_CHECKING:
    from nestyield.planning.contents import RackContents

SUMMARY = "add up the rack: board feet and value by species"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument(
        "--to", metavar="PLACE", help="copy its tables: rack.sqlite, a URL, or a new folder for CSV files"
    )
    what_if_options(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print a line a species and the sums."""
    from nestyield import api

    if args.to is not None:
        return _copy(args)
    shop = api.load_shop(args.shop, what_if(args))
    found = api.rack(shop)
    if args.json:
        say_json(
            ok=True,
            species=[asdict(h) for h in found.holdings],
            board_feet=sum(h.board_feet for h in found.holdings),
            value=sum(h.value for h in found.holdings) if found.knows_money else None,
        )
    elif not args.quiet:
        say("\n".join(lines(found, Words(shop.units, currency=shop.settings.currency))))
    return DONE


def _copy(args: argparse.Namespace) -> int:
    from nestyield import api

    done = api.copy_rack(args.shop, args.to)
    if args.json:
        say_json(ok=True, rows=done.rows, comments_left_out=done.comments)
    elif not args.quiet:
        say(f"Copied: {', '.join(f'{n} rows of {key}' for key, n in done.rows.items())}")
        say("To use the copy, with its files in the shop folder, write in [shop] of shop.toml:")
        for key, name in done.names.items():
            say(f'  {key} = "{name}"')
        if done.comments:
            say(
                f"{done.comments} lines of comments stay behind: a database has no place for them", sys.stderr
            )
    return DONE


def lines(found: RackContents, words: Words) -> list[str]:
    """Write the rack for people, one line a species."""
    money = found.knows_money
    rows = [("species", "rows", "pieces", "board feet", *(("value",) if money else ()), "largest")]
    for h in found.holdings:
        size = " x ".join(words.length(v) for v in h.largest_mm)
        held = f" ({h.held} on hold)" if h.held else ""
        value = (words.money(h.value),) if money else ()
        rows.append(
            (
                h.species,
                str(h.rows),
                f"{h.pieces}{held}",
                f"{h.board_feet:.2f}",
                *value,
                f"{h.largest}, {size}",
            )
        )
    total = (words.money(sum(h.value for h in found.holdings)),) if money else ()
    sums = (sum(h.rows for h in found.holdings), sum(h.pieces for h in found.holdings))
    feet = sum(h.board_feet for h in found.holdings)
    rows.append(("together", str(sums[0]), str(sums[1]), f"{feet:.2f}", *total, ""))
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return ["  ".join(cell.ljust(w) for cell, w in zip(row, widths)).rstrip() for row in rows]
