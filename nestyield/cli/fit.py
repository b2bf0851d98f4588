"""Tell whether a part goes on the bed: along X and along Y, with the spare travel or what is missing."""

from __future__ import annotations

import argparse
from pathlib import Path

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON

SUMMARY = "tell whether a part goes on the bed, and which way"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument("--part", metavar="P", required=True, help="a part of the shop file")
    parser.add_argument("--bed", metavar="B", help="only this bed; left out, every bed")


def run(args: argparse.Namespace) -> int:
    """Print the answer of every bed asked, on stdout."""
    from nestyield import api

    shop = api.load_shop(args.shop)
    answer = api.fit(shop, args.part, args.bed)
    print("\n".join(answer.lines(shop.units)))
    return DONE if answer.fits else NEEDS_PERSON
