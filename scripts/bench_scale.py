"""How time and memory grow with the rack: odd pieces with defects, and orders for the demo shop's parts.

    python scripts/bench_scale.py 100x5 300x20 --workers 2

Each size is a shop folder, written from its seed alone and planned by the command line. Processor seconds are those
of all processes; memory is that of the largest. Pairs are parts ordered by rows of the rack: all of them, and those
that wood, thickness and size do not rule out at once; of the rows so many were tried. The exponent is the slope of processor seconds over pieces, on
logarithms. With ``--profile`` the largest is run once more under py-spy, when that is installed.
"""

from __future__ import annotations

import argparse
import csv
import ctypes
import json
import math
import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from nestyield.api import load_shop
from nestyield.planning.candidates import may_serve
from nestyield.planning.demand import demands_of

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

DEMO = Path(__file__).parents[1] / "fixtures" / "demo-shop"
#: Species with the thickness in which they come, and how often.
WOODS = (("sugar maple", 44.5, 5), ("black cherry", 45.0, 3), ("black walnut", 44.5, 3))
WOODS += (("white oak", 26.0, 3), ("northern red oak", 26.0, 2), ("mdf", 12.0, 2), ("white ash", 44.5, 2))
PARTS = ("mandolin", "lap steel", "dulcimer", "fingerboard", "cavity template", "console", "ash console")
#: How often each part is ordered.
ASKED = (5, 4, 4, 2, 2, 1, 1)
RACK = ("piece", "shelf", "species", "thickness", "length", "width", "outline", "grain", "count", "status")
DEFECTS = ("piece", "kind", "x", "y", "diameter", "length", "width", "face", "depth")
#: Asks the kernel to hand processes whose parent has ended to this one, so that their time is counted.
_SUBREAPER = 36


def outline(rng: np.random.Generator, length: float, width: float) -> str:
    """Return well-known text of an odd piece, empty for a plain rectangle: tapered, notched, or a corner off."""
    kind = rng.choice(["plain", "tapered", "notched", "corner"], p=[0.5, 0.2, 0.15, 0.15])
    if kind == "plain":
        return ""
    a, b = round(length * rng.uniform(0.1, 0.5)), round(width * rng.uniform(0.15, 0.5))
    corners = {
        "tapered": [(0, 0), (length, 0), (length, width - b), (0, width)],
        "notched": [(0, 0), (length, 0), (length, width), (a, width), (a, width - b), (0, width - b)],
        "corner": [(0, 0), (length, 0), (length, width - b), (length - a, width), (0, width)],
    }[str(kind)]
    return "POLYGON ((" + ", ".join(f"{x:g} {y:g}" for x, y in [*corners, corners[0]]) + "))"


def write_shop(folder: Path, pieces: int, orders: int, seed: int) -> None:
    """Write a shop folder of so many pieces and orders."""
    rng = np.random.default_rng([seed, pieces, orders])
    shutil.copytree(DEMO, folder)
    text = (DEMO / "shop.toml").read_text()
    text = re.sub(r"\[rack_layers\].*?(?=\[\[order\]\])", "", text, flags=re.DOTALL)
    text = text[: text.index("[[order]]")]
    for k in range(orders):
        part = rng.choice(PARTS, p=np.array(ASKED) / sum(ASKED))
        text += f'[[order]]\nname = "order {k + 1}"\npart = "{part}"\ncount = {rng.integers(1, 4)}\n\n'
    text += "[search]\neffort = 1\nseconds = 1000000\nseed = 1\n"
    (folder / "shop.toml").write_text(text)
    weights = np.array([w for *_, w in WOODS], dtype=float)
    rack, defects = [], []
    for k in range(pieces):
        species, thickness, _ = WOODS[rng.choice(len(WOODS), p=weights / weights.sum())]
        length, width = float(rng.integers(250, 1200)), float(round(50 + 300 * rng.random() ** 1.5))
        name = f"P-{k + 1}"
        text = outline(rng, length, width)
        size = ("", "") if text else (f"{length:g}", f"{width:g}")
        rack.append((name, "A1", species, f"{thickness:g}", *size, text, "0", "1", "ready"))
        for _ in range(int(rng.poisson(1.2))):
            x, y = length * rng.uniform(0.05, 0.95), width * rng.uniform(0.1, 0.5)
            kind, size = (("knot", 20), ("screw hole", 5), ("nail hole", 3), ("stain", 40))[rng.integers(4)]
            deep = ("through", "") if kind == "knot" else ("top", "12")
            defects.append((name, kind, f"{x:.0f}", f"{y:.0f}", f"{size}", "", "", *deep))
    for file, head, rows in (("rack.csv", RACK, rack), ("defects.csv", DEFECTS, defects)):
        with (folder / file).open("w", newline="") as stream:
            csv.writer(stream).writerows([head, *rows])


def planned(shop: Path, out: Path, workers: int) -> tuple[int, float, float, float]:
    """Plan a shop; return the exit code, processor and clock seconds, and megabytes of the largest process."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "nestyield", "plan", str(shop), "--out", str(out), "--workers", str(workers)],
        capture_output=True,
        text=True,
    )
    took = time.perf_counter() - began
    while True:  # processes that outlived the one that started them
        try:
            os.waitpid(-1, 0)
        except ChildProcessError:
            break
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode > 1:
        print(done.stderr[-2000:], file=sys.stderr)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return done.returncode, used, took, after.ru_maxrss / 1024


def pairs_of(shop: Path) -> tuple[int, int]:
    """Return pairs of a wanted part and a row: all of them, and those not ruled out at once."""
    read = load_shop(shop)
    demands = demands_of(read)
    left = sum(len(may_serve(read, demands, row)) for row in range(len(read.pieces)))
    return len(demands) * len(read.pieces), left


def slope(points: list[tuple[int, float]]) -> float:
    """Return the exponent of growth."""
    if len({n for n, _ in points}) < 2:
        return math.nan
    x, y = np.log([n for n, _ in points]), np.log([t for _, t in points])
    return float(np.polyfit(x, y, 1)[0])


def main() -> None:
    """Print a table, a row a size."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="+", metavar="PIECESxORDERS")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--profile", type=Path, metavar="FILE", help="stacks of the largest, by py-spy")
    args = parser.parse_args()
    sizes = sorted(tuple(map(int, s.split("x"))) for s in args.sizes)
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_SUBREAPER, 1)
    print(
        "| pieces x orders | processor s | clock s | largest process MB | pairs | left | rows tried | glue-ups tried "
        "| copies placed | layouts |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    points = []
    for pieces, orders in sizes:
        with tempfile.TemporaryDirectory() as base:
            shop, out = Path(base) / "shop", Path(base) / "out"
            write_shop(shop, pieces, orders, args.seed)
            code, used, took, most = planned(shop, out, args.workers)
            made: tuple[object, ...] = ("-",) * 4
            if code <= 1:
                plan = json.loads((out / "plan.json").read_text())
                placed = sum(o["placed"] for o in plan["orders"])
                wanted, tried = sum(o["count"] for o in plan["shop"]["orders"]), plan["tried"]
                made = tried["rows"], tried["glue_ups"], f"{placed} of {wanted}", len(plan["layouts"])
            row = (
                f"{pieces} x {orders}",
                f"{used:.1f}",
                f"{took:.1f}",
                f"{most:.0f}",
                *pairs_of(shop),
                *made,
            )
            print("| " + " | ".join(map(str, row)) + " |", flush=True)
            points.append((pieces, used))
            if args.profile and (pieces, orders) == sizes[-1]:
                run = [
                    sys.executable,
                    "-m",
                    "nestyield",
                    "plan",
                    str(shop),
                    "--out",
                    str(out),
                    "--workers",
                    "1",
                ]
                spy = ["py-spy", "record", "-r", "25", "-f", "raw", "-o", str(args.profile), "--", *run]
                subprocess.run(spy, capture_output=True, check=False)
    print(f"\nexponent of processor seconds over pieces: {slope(points):.2f}")


if __name__ == "__main__":
    main()
