"""Random shops planned, and their plans checked by the second checker, which shares no code with the project.

    python scripts/check_again.py [--cases N] [--first K] [--seed S] [--keep DIR]

Shops are those of `study_shops.py` and `study_hostile.py` (odd settings, planted fits), one after the other.
Asked of each plan: no finding of `tests/second` in places, depths, beds, work, glue-ups, leftovers, numbers, claims,
tables, drawings, and in what the plan says of the shop's files.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np
from study_hostile import Hostile, Planted, Strange
from study_shops import Maker, run

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
from second import check

KINDS = {"whole": Maker, "odd": Hostile, "planted": Planted, "strange": Strange}


def case(folder: Path, kind: str, seed: list[int], tally: Counter[str]) -> list[tuple[str, str, str]]:
    """Make a shop, plan it, and return what the second checker finds."""
    shop, out = folder / "shop", folder / "plan"
    shop.mkdir(parents=True)
    KINDS[kind](shop, np.random.default_rng(seed)).write()
    code, said = run("plan", shop, "--out", out, "--workers", 1)
    if code == 2:
        tally[f"{kind}: refused while reading" if "F009" in said else f"{kind}: refused"] += 1
        return [] if "F009" in said or "error" in said else [("plan", "", said)]
    found = check.findings(out, shop)
    tally[f"{kind}: planned"] += 1
    tally["looks"] += sum(found.looked.values())
    for name, n in found.looked.items():
        tally[f"looks: {name}"] += n
    return found.found


def main() -> int:
    """Run the cases and print what was found."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=99)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for shops and plans with findings")
    args = parser.parse_args()
    tally: Counter[str] = Counter()
    wrong, started = 0, time.process_time()
    for k in range(args.first, args.first + args.cases):
        kind = list(KINDS)[k % len(KINDS)]
        with tempfile.TemporaryDirectory() as scratch:
            found = case(Path(scratch), kind, [args.seed, k], tally)
            if found:
                wrong += 1
                print(f"case {k} ({kind}): {len(found)} findings", flush=True)
                for line in found[:6]:
                    print("   ", " | ".join(line)[:300], flush=True)
                if args.keep:
                    shutil.copytree(scratch, args.keep / str(k), dirs_exist_ok=True)
    for what, n in sorted(tally.items()):
        print(f"{n:9d}  {what}")
    spent = time.process_time() - started
    print(f"{args.cases} shops, {wrong} with findings, {spent:.0f} s of processor")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
