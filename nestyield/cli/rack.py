"""Add up the rack: rows, pieces, board feet and value by species, and the largest piece of each."""

from __future__ import annotations

import argparse
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
    what_if_options(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print a line a species and the sums."""
    from nestyield import api

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
