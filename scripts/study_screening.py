"""The same choice with rows screened by their tighter bound and without: random racks, planned both ways.

    python scripts/study_screening.py [--racks N] [--size PIECESxORDERS] [--seed K] [--glue]

The racks are those of `bench_scale.py`, larger than is tried whole. Both ways are told with the rows tried, and every
goal of the choice must come out the same. Only this script can switch the bound off.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

import bench_scale

import nestyield.api as api
from nestyield.planning import pool

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""


def processor_s() -> float:
    """Return the processor seconds of this process."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def planned(shop: Any, screened: bool) -> tuple[Any, float]:
    """Plan a shop, with the bound or without; return the plan and its processor seconds."""
    bound = pool._carried
    if not screened:
        pool._carried = lambda s, d, a, r, p, areas=None, under=0.0: bound(s, d, a, r, p, None, under)
    try:
        began = processor_s()
        plan = api.plan(shop, workers=1, seconds=1e6)
        return plan, processor_s() - began
    finally:
        pool._carried = bound


def main() -> int:
    """Print a row for each rack; return 1 when any choice differs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--racks", type=int, default=20)
    parser.add_argument("--size", default="300x5")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--glue", action="store_true", help="with glue-ups")
    args = parser.parse_args()
    pieces, orders = map(int, args.size.split("x"))
    print("| rack | rows tried, screened | without | processor s, screened | without | same choice |")
    print("|---|---|---|---|---|---|")
    other = 0
    for rack in range(args.racks):
        with tempfile.TemporaryDirectory() as base:
            folder = Path(base) / "shop"
            bench_scale.write_shop(folder, pieces, orders, 1000 * args.seed + rack)
            shop = api.load_shop(folder, [] if args.glue else ["glueup.most_pieces=1"])
        ways = [planned(shop, screened) for screened in (True, False)]
        (one, one_s), (two, two_s) = ways
        same = one.objectives == two.objectives
        other += not same
        print(
            f"| {rack} | {one.tried.rows} | {two.tried.rows} | {one_s:.1f} | {two_s:.1f} | {'yes' if same else 'NO'} |",
            flush=True,
        )
    print(f"\n{args.racks - other} of {args.racks} the same")
    return 1 if other else 0


if __name__ == "__main__":
    sys.exit(main())
