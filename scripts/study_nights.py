"""Five nights of the demo shop: changes by day, a scheduled run by night, the summaries on stdout.

    python scripts/study_nights.py [--out DIR] [--workers W]

The days are in fixtures/nightly. After the last night the run is repeated without any change, and with the
cache deleted; both must give the same plan.
"""

from __future__ import annotations

import argparse
import datetime
import shutil
import sys
import tempfile
import time
import tomllib
from pathlib import Path
from typing import Any

from nestyield import api
from nestyield.planfile import loads
from nestyield.rackbook.nightly import OWN, Night

FIXTURES = Path(__file__).parent.parent / "fixtures"
FIRST = datetime.date(2026, 12, 1)


def change(shop: Path, what: dict[str, Any]) -> None:
    """Change one text in one file of a shop, or add lines after the row that begins so."""
    path = shop / what["file"]
    text = path.read_bytes().decode()
    if "add" in what:
        lines = text.splitlines(keepends=True)
        at = max(i for i, line in enumerate(lines) if line.startswith(what["after"]))
        lines.insert(at + 1, what["add"].strip("\n") + "\n")
        text = "".join(lines)
    else:
        if text.count(what["old"]) != 1:
            raise SystemExit(f"{what['file']}: expected once {what['old']!r}")
        text = text.replace(what["old"], what["new"])
    path.write_bytes(text.encode())


def blanks_with(folder: Path, parts: list[str]) -> list[str]:
    """Return the blanks of a run that hold certain parts."""
    plan = loads((folder / "plan.json").read_bytes())
    return [x.blank.name for x in plan.layouts if any(p.part in parts for p in x.placements)]


def day(shop: Path, night: dict[str, Any], last: Path | None) -> None:
    """Do what the day brings."""
    print(f"By day: {night['story']}")
    for what in night.get("change", []):
        change(shop, what)
    if last is not None and "take" in night:
        taken = api.take(last, shop, blanks_with(last, night["take"]))
        print(f"  taken: {', '.join(taken.entry.blanks)}; into the rack: {', '.join(taken.entry.leftovers)}")
    if last is not None and "keep" in night:
        print(f"  kept: {', '.join(api.keep(last, shop, blanks_with(last, night['keep'])[:1]))}")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--out", type=Path, help="folder for shop and runs; new [a temporary one]")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    room = args.out or Path(tempfile.mkdtemp())
    shop, runs = room / "shop", room / "runs"
    shutil.copytree(FIXTURES / "demo-shop", shop)
    last: Path | None = None
    for number, path in enumerate(sorted((FIXTURES / "nightly").glob("night-*.toml"))):
        print(f"\n=== Night {number + 1}")
        day(shop, tomllib.loads(path.read_text()), last)
        night = run(shop, runs, number, args.workers)
        last = night.folder
        sys.stdout.write(night.news.to_text())
    assert last is not None
    plain = (last / "plan.json").read_bytes()
    print("\n=== Once more, nothing changed")
    again = run(shop, runs, 5, args.workers)
    sys.stdout.write(again.news.to_text())
    print("\n=== Once more, cache deleted")
    shutil.rmtree(runs / OWN / "cache")
    anew = run(shop, runs, 6, args.workers)
    same = [(x.folder / "plan.json").read_bytes() == plain for x in (again, anew)]
    print(f"plans equal: {same}")
    if args.out is None:
        shutil.rmtree(room)
    return 0 if all(same) and again.reused and not again.news.anything else 1


def run(shop: Path, runs: Path, number: int, workers: int) -> Night:
    """Run one night and tell how long it took."""
    start = time.monotonic()
    night = api.nightly(shop, runs, FIRST + datetime.timedelta(days=number), workers=workers)
    told = "plan from the cache" if night.reused else "planned"
    print(f"({told}, {time.monotonic() - start:.1f} s with papers)")
    return night


if __name__ == "__main__":
    sys.exit(main())
