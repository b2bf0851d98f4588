"""Bin benchmark: run, verify with shapely, compare with the known optimum.

    python scripts/bench_bins.py --data ../shared/bench/bins --seconds 60 --seed 1 --workers 2 --json out.json

OUT is as for bench_strip.py, with "bins" beside "length"; each part's "bin" counts from 0.
Parts keep the turn in which the file gives them. The clock starts after the kernels are ready.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

from bench.nest_bins import nest_bins
from bench.problem import Item
from bench_strip import turn_polygon
from shapely import STRtree


def verify(data: dict, placements: list[dict]) -> list[str]:
    """Check a layout from the data and the placements alone; returns what is wrong."""
    wrong = []
    given = {str(p["id"]): p for p in data["parts"]}
    count: dict[str, int] = {}
    by_bin: dict[int, list] = {}
    w, h = data["bin_width"], data["bin_height"]
    for p in placements:
        part = given[p["part"]]
        count[p["part"]] = count.get(p["part"], 0) + 1
        if p["mirrored"] or p["angle_deg"] not in (part.get("rotations_deg") or [0.0]):
            wrong.append(f"{p['part']}: turn {p['angle_deg']} not allowed")
        shape = turn_polygon(part["polygon"], p["angle_deg"], p["mirrored"], p["x"], p["y"])
        x0, y0, x1, y1 = shape.bounds
        if x0 < -1e-9 * w or y0 < -1e-9 * h or x1 > w * (1 + 1e-9) or y1 > h * (1 + 1e-9):
            wrong.append(f"{p['part']} outside its bin: {shape.bounds}")
        by_bin.setdefault(p["bin"], []).append(shape)
    for name, part in given.items():
        if count.get(name, 0) != part["demand"]:
            wrong.append(f"{name}: expected {part['demand']} copies, got {count.get(name, 0)}")
    for shapes in by_bin.values():
        for i, j in STRtree(shapes).query(shapes, predicate="intersects").T:
            if i < j and shapes[i].intersection(shapes[j]).area > 1e-9 * min(shapes[i].area, shapes[j].area):
                wrong.append(f"parts {i} and {j} of a bin overlap")
    return wrong


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--data", type=Path, default=Path("../shared/bench/bins"), help="folder of instances")
    parser.add_argument("--only", default="", help="names, with commas")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", default="1", help="one or more, with commas")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    if not args.data.is_dir():
        print(f"expected a folder of instances, {args.data} is not there; nothing done")
        return 0
    only = {s for s in args.only.split(",") if s}
    paths = [p for p in sorted(args.data.glob("*.json")) if not only or p.stem in only]
    began = time.perf_counter()
    tri = [(0, 0), (2, 0), (0, 2)]
    nest_bins([Item(name="w", rings=[tri], count=2, angles_deg=(0.0,))], 3.0, 3.0, effort=20_000, workers=1)
    nest_bins([Item(name="w", rings=[[(0, 0), (1, 0), (1, 1), (0, 1)]], count=4)], 2.0, 2.0, workers=1)
    print(f"kernels ready after {time.perf_counter() - began:.1f} s")
    runs, solved, known, bad = [], 0, 0, 0
    print(f"{'instance':<12} {'seed':>4} {'bins':>5} {'known':>6} {'bound':>6}  valid")
    for path in paths:
        data = json.loads(path.read_text())
        items = [
            Item(
                name=str(p["id"]),
                rings=[[tuple(q) for q in p["polygon"]]],
                count=int(p["demand"]),
                angles_deg=tuple(p.get("rotations_deg") or (0.0,)),
            )
            for p in data["parts"]
        ]
        for seed in (int(s) for s in args.seed.split(",")):
            t0 = time.perf_counter()
            layout = nest_bins(
                items, data["bin_width"], data["bin_height"], seed=seed, seconds=args.seconds,
                effort=10**12, workers=args.workers,
            )  # fmt: skip
            took = time.perf_counter() - t0
            placements = [
                {"part": items[s.item].name, "angle_deg": s.angle_deg, "mirrored": s.mirrored, "x": s.x, "y": s.y,
                 "bin": s.bin}
                for s in layout.spots
            ]  # fmt: skip
            wrong = verify(data, placements)
            bad += bool(wrong)
            optimum = data.get("known_optimum_bins")
            if optimum:
                known += 1
                solved += layout.bins <= optimum and not wrong
            density = 100.0 * data["total_area"] / (data["bin_width"] * data["bin_height"] * layout.bins)
            runs.append(
                {"name": data["name"], "seed": seed, "seconds": args.seconds, "length": None, "bins": layout.bins,
                 "density_pct": density, "placements": placements}
            )  # fmt: skip
            print(
                f"{data['name']:<12} {seed:>4} {layout.bins:>5} {optimum or '-':>6} {layout.bound:>6}  "
                f"{'no: ' + wrong[0] if wrong else 'yes'}  ({took:.1f} s, {layout.stopped})",
                flush=True,
            )
            if args.json:
                args.json.write_text(json.dumps({"runs": runs}, indent=1) + "\n")
    print(f"known optimum reached: {solved} of {known}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
