"""Read a shop folder and tell all that is wrong with it, at once. Plans nothing, writes nothing."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from nestyield.cli.exit_codes import COULD_NOT_RUN, DONE, NEEDS_PERSON
from nestyield.cli.tell import say, say_findings

SUMMARY = "read a shop folder and tell all that is wrong with it"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")


def run(args: argparse.Namespace) -> int:
    """Print findings on stderr and what was read on stdout."""
    from nestyield.api import check_shop

    shop, findings = check_shop(args.shop)
    say_findings(findings, sys.stderr)
    if shop is None:
        errors = sum(f.severity == "error" for f in findings)
        say(f"{errors} {'error' if errors == 1 else 'errors'}; nothing can be planned", sys.stderr)
        return COULD_NOT_RUN
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
    return NEEDS_PERSON if any(f.severity == "warning" for f in findings) else DONE
