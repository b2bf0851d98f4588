"""Read a shop folder and tell all that is wrong with it, at once. Plans nothing, writes nothing."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import COULD_NOT_RUN, DONE, NEEDS_PERSON
from nestyield.cli.output import findings_data, for_reader, output_options, say_json, say_notes_left_out
from nestyield.cli.questions import what_if, what_if_options
from nestyield.cli.tell import say, say_findings

if TYPE_CHECKING:
    from nestyield.model import Shop

SUMMARY = "read a shop folder and tell all that is wrong with it"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    what_if_options(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print findings on stderr and what was read on stdout."""
    from nestyield.api import check_shop

    shop, findings = check_shop(args.shop, what_if(args))
    code = COULD_NOT_RUN if shop is None else DONE
    if any(f.severity == "warning" for f in findings) and shop is not None:
        code = NEEDS_PERSON
    if args.json:
        counts = {} if shop is None else _counts(shop)
        say_json(ok=shop is not None, findings=findings_data(findings), **counts)
        return code
    say_findings(for_reader(findings, args), sys.stderr)
    if shop is None:
        errors = sum(f.severity == "error" for f in findings)
        say(f"{errors} {'error' if errors == 1 else 'errors'}; nothing can be planned", sys.stderr)
        return code
    if args.quiet:
        return code
    held = sum(p.status == "hold" for p in shop.pieces)
    taken = sum(p.status == "taken" for p in shop.pieces)
    say(f"{shop.name}: good to plan")
    say(f"  parts   {len(shop.parts)}: {', '.join(p.name for p in shop.parts)}")
    say(
        f"  pieces  {sum(p.count for p in shop.pieces)} in {len(shop.pieces)} rows"
        f" ({held} on hold, {taken} taken), {sum(len(p.defects) for p in shop.pieces)} defects"
    )
    say(f"  beds    {len(shop.beds)}: {', '.join(b.name for b in shop.beds)}")
    say(f"  orders  {len(shop.orders)} for {sum(o.count for o in shop.orders)} parts")
    say_notes_left_out(findings, args)
    return code


def _counts(shop: Shop) -> dict[str, object]:
    return {
        "shop": shop.name,
        "units": shop.units,
        "parts": [p.name for p in shop.parts],
        "pieces": sum(p.count for p in shop.pieces),
        "rows": len(shop.pieces),
        "defects": sum(len(p.defects) for p in shop.pieces),
        "beds": [b.name for b in shop.beds],
        "orders": [{"name": o.name, "part": o.part, "count": o.count} for o in shop.orders],
    }
