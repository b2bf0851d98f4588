"""Strip benchmark: run, verify with shapely, compare with published densities.

    python scripts/bench_strip.py --data ../shared/bench/strip --seconds 60 --seed 1,2,3 --workers 2 --json out.json

OUT is {"runs": [{"name", "seed", "seconds", "length", "density_pct", "placements": [...]}]}; each copy of a
part is its given polygon, mirrored in x if so, turned about the origin, then shifted.
The clock starts after the kernels are compiled or loaded and before the tables are made.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from pathlib import Path

from bench.nest_strip import StripLayout, nest_strip
from bench.problem import Item
from shapely import STRtree
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

# Mean and best published densities, read in Gardeyn, Vanden Berghe, Wauters (2025), arXiv:2509.13329, tables 2, 3:
# best 2025, best before, mean 2025, mean Sato 2019, mean Elkeran 2013.
PUBLISHED = {
    "albano": (89.82, 89.58, 89.47, 87.55, 87.47),
    "blaz": (86.23, 84.84, 84.68, 83.02, 82.40),
    "dagli": (90.17, 89.51, 89.26, 87.50, 87.06),
    "fu": (92.41, 92.41, 92.24, 91.95, 90.68),
    "jakobs1": (89.26, 89.09, 89.09, 89.09, 88.90),
    "mao": (86.87, 86.05, 86.14, 83.76, 82.93),
    "shapes0": (69.98, 68.79, 68.60, 68.73, 67.26),
    "trousers": (92.62, 91.06, 91.73, 90.48, 89.02),
}


def read(path: Path) -> tuple[dict, list[Item]]:
    """Read one instance."""
    data = json.loads(path.read_text())
    items = []
    for part in data["parts"]:
        turns = part.get("rotations_deg", [0.0])
        items.append(
            Item(
                name=str(part["id"]),
                rings=[[tuple(p) for p in part["polygon"]]],
                count=int(part["demand"]),
                angles_deg=None if turns is None else tuple(turns),
            )
        )
    return data, items


def turn_polygon(points: list, angle_deg: float, mirrored: bool, x: float, y: float) -> Polygon:
    """Place a given polygon as the protocol says."""
    import math

    quarter = angle_deg / 90.0
    if quarter == int(quarter):
        c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[int(quarter) % 4]
    else:
        c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    m = -1.0 if mirrored else 1.0
    return affine_transform(Polygon(points), (c * m, -s, s * m, c, x, y))


def verify(data: dict, placements: list[dict], length: float, width: float) -> list[str]:
    """Check a layout from the data and the placements alone; returns what is wrong."""
    wrong = []
    given = {str(p["id"]): p for p in data["parts"]}
    count: dict[str, int] = {}
    shapes = []
    for p in placements:
        part = given[p["part"]]
        count[p["part"]] = count.get(p["part"], 0) + 1
        turns = part.get("rotations_deg", [0.0])
        if p["mirrored"] or (turns is not None and p["angle_deg"] not in turns):
            wrong.append(f"{p['part']}: turn {p['angle_deg']} not allowed")
        shapes.append(turn_polygon(part["polygon"], p["angle_deg"], p["mirrored"], p["x"], p["y"]))
    for name, part in given.items():
        if count.get(name, 0) != part["demand"]:
            wrong.append(f"{name}: expected {part['demand']} copies, got {count.get(name, 0)}")
    slack = 1e-9 * width
    for s in shapes:
        x0, y0, x1, y1 = s.bounds
        if x0 < -slack or y0 < -slack or x1 > length + slack or y1 > width + slack:
            wrong.append(f"outside the strip: {s.bounds}")
    tree = STRtree(shapes)
    for i, j in tree.query(shapes, predicate="intersects").T:
        if i < j:
            area = shapes[i].intersection(shapes[j]).area
            if area > 1e-9 * min(shapes[i].area, shapes[j].area):
                wrong.append(f"parts {i} and {j} overlap by {area:g}")
    return wrong


def run(data: dict, items: list[Item], seconds: float, seed: int, workers: int) -> tuple[StripLayout, dict]:
    """One run; returns the layout and its record."""
    layout = nest_strip(items, data["strip_width"], seed=seed, seconds=seconds, workers=workers)
    placements = [
        {
            "part": items[s.item].name,
            "angle_deg": s.angle_deg,
            "mirrored": s.mirrored,
            "x": s.x,
            "y": s.y,
            "bin": s.bin,
        }
        for s in layout.spots
    ]
    record = {
        "name": data["name"],
        "seed": seed,
        "seconds": seconds,
        "length": layout.length,
        "density_pct": layout.density_pct,
        "placements": placements,
    }
    return layout, record


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--data", type=Path, default=Path("../shared/bench/strip"), help="folder of instances"
    )
    parser.add_argument("--only", default="", help="names, with commas")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", default="1", help="one or more, with commas")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    if not args.data.is_dir():
        print(f"expected a folder of instances, {args.data} is not there; nothing done")
        return 0
    seeds = [int(s) for s in args.seed.split(",")]
    only = {s for s in args.only.split(",") if s}
    paths = [p for p in sorted(args.data.glob("*.json")) if not only or p.stem in only]
    warm = [Item(name="w", rings=[[(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]], count=3)]
    began = time.perf_counter()
    nest_strip(warm, 3.0, seed=1, effort=20_000, workers=1)
    print(f"kernels ready after {time.perf_counter() - began:.1f} s")
    runs = []
    bad = 0
    print(
        f"{'instance':<10} {'seed':>4} {'density':>8} {'length':>12}  valid   best     mean25   Sato19   Elk13"
    )
    for path in paths:
        data, items = read(path)
        got = []
        for seed in seeds:
            t0 = time.perf_counter()
            layout, record = run(data, items, args.seconds, seed, args.workers)
            wrong = verify(data, record["placements"], layout.length, data["strip_width"])
            bad += bool(wrong)
            got.append(layout.density_pct)
            runs.append(record)
            print(
                f"{data['name']:<10} {seed:>4} {layout.density_pct:8.3f} {layout.length:12.5f}  "
                f"{'no: ' + wrong[0] if wrong else 'yes'}  ({time.perf_counter() - t0:.1f} s, {layout.stopped})",
                flush=True,
            )
        known = PUBLISHED.get(data["name"])
        mean = statistics.mean(got)
        line = f"{data['name']:<10} mean {mean:8.3f} best {max(got):8.3f}"
        if known:
            line += f"  to best {max(got) - known[0]:+.2f}, mean 2025 {mean - known[2]:+.2f}, Sato {mean - known[3]:+.2f}, Elkeran {mean - known[4]:+.2f}"  # fmt: skip
        print(line, flush=True)
        if args.json:
            args.json.write_text(json.dumps({"runs": runs}, indent=1) + "\n")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
