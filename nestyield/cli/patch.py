"""Tell how a damaged place of a part is cut away straight, and which piece of the rack gives the patch.

The cut runs right through where it takes the least wood and spares pockets, holes and openings: along the
grain or up to 1:8 off it where that can be, else steeper, with how weak the joint is. The place is measured
from the left and the lower end of the part as it is drawn, front up.
"""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.output import output_options, say_json
from nestyield.cli.questions import lies, maker_data, what_if, what_if_options
from nestyield.cli.tell import say
from nestyield.words import Words

if TYPE_CHECKING:
    from nestyield.model import Shop
    from nestyield.planning.patch import Patch

SUMMARY = "tell how a damaged place of a part is cut away, and what gives the patch"
#: Pieces that are told.
MOST_TOLD = 4


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument("--part", metavar="P", required=True, help="a part of the shop file")
    parser.add_argument(
        "--damage",
        metavar="PLACE",
        required=True,
        help="its middle and size: '120,45 30x12', or '120,45 12' for a round one; '4 3/4, 1; 1/2 x 1/4'",
    )
    parser.add_argument(
        "--picture", metavar="FILE", type=Path, help="draw the cut: .svg, or .pdf for a sheet to work from"
    )
    what_if_options(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print the cut and the wood for the patch."""
    from nestyield import api

    shop = api.load_shop(args.shop, what_if(args))
    found = api.patch(shop, args.part, args.damage)
    if args.picture is not None and found.cut is not None:
        api.patch_picture(shop, found, args.picture)
    if args.json:
        say_json(ok=True, **data(shop, found))
    elif not args.quiet:
        say("\n".join(lines(shop, found)))
        if args.picture is not None and found.cut is not None:
            say(f"  picture: {args.picture}")
    return DONE if found.cut is not None and found.wood is not None and found.wood.makers else NEEDS_PERSON


def data(shop: Shop, found: Patch) -> dict[str, object]:
    """Return the answer as it stands in JSON; places in the drawing's coordinates."""
    from nestyield.paperwork.phrases import phrase

    words = Words(shop.units)
    wood = found.wood
    return {
        "part": found.part,
        "cut": None if found.cut is None else asdict(found.cut),
        "in_the_way": list(found.in_the_way),
        "wood": [] if wood is None else [maker_data(m) for m in wood.makers],
        "why_none": [] if wood is None else [phrase(r, words) for r in wood.reasons],
    }


def lines(shop: Shop, found: Patch) -> list[str]:
    """Write the answer for people."""
    from nestyield.paperwork import patch_sheet
    from nestyield.paperwork.phrases import phrase

    words = Words(shop.units)
    if found.cut is None or found.wood is None:
        return patch_sheet.no_cut(found.part, found.in_the_way)
    part = shop.part(found.part)
    out = patch_sheet.cut_lines(part, found.cut, found.in_the_way, words)
    for maker in found.wood.makers[:MOST_TOLD]:
        state = "" if maker.status == "ready" else f" (on {maker.status})"
        out.append(f"  patch from {' + '.join(maker.pieces)}{state}: it lies at {lies(maker, words)}")
    if not found.wood.makers:
        out += [f"  no piece gives the patch: {phrase(reason, words)}" for reason in found.wood.reasons]
    return out
