"""Rectangle benchmark: perfect packings (c*) and most value from one sheet (ngcut*).

    python scripts/bench_rectangles.py --data ../shared/bench/rectangles --seconds 60 --seed 1 --workers 2 --json out.json

OUT is as for bench_strip.py: the given polygon of part "k" is the k-th rectangle with its lower left corner at the
origin. The c* may be turned by 90 degrees, the ngcut* may not. The optimum values of the ngcut* are from memory.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

import numpy as np
from bench.rectangles import perfect_rectangles
from bench.worth import most_value
from bench_strip import turn_polygon
from shapely import STRtree


def placements_of(rects: tuple, sides: list) -> list[dict]:
    """Records of placed rectangles by the protocol."""
    out = []
    for r in rects:
        h = sides[r.kind][1]
        out.append(
            {"part": str(r.kind), "angle_deg": 90.0 if r.turned else 0.0, "mirrored": False,
             "x": float(r.x + (h if r.turned else 0)), "y": float(r.y), "bin": 0}
        )  # fmt: skip
    return out


def verify(placements: list[dict], sides: list, counts: list, width: float, height: float) -> str:
    """Check a layout with shapely; "" when it is valid."""
    shapes = []
    used: dict[str, int] = {}
    for p in placements:
        w, h = sides[int(p["part"])]
        used[p["part"]] = used.get(p["part"], 0) + 1
        shapes.append(turn_polygon([(0, 0), (w, 0), (w, h), (0, h)], p["angle_deg"], False, p["x"], p["y"]))
    if any(n > counts[int(k)] for k, n in used.items()):
        return "too many copies"
    for s in shapes:
        x0, y0, x1, y1 = s.bounds
        if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
            return f"outside: {s.bounds}"
    if shapes:
        for i, j in STRtree(shapes).query(shapes, predicate="intersects").T:
            if i < j and shapes[i].intersection(shapes[j]).area > 1e-9:
                return f"{i} and {j} overlap"
    return ""


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--data", type=Path, default=Path("../shared/bench/rectangles"))
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
    began = time.perf_counter()
    perfect_rectangles([(1, 1)], [4], 2, 2, turn=True, rng=np.random.default_rng(1))
    print(f"kernels ready after {time.perf_counter() - began:.1f} s")
    runs, bad = [], 0
    done: dict[str, list[int]] = {}
    print(f"{'instance':<9} {'seed':>4} {'found':>8} {'known':>7}  valid")
    for path in sorted(args.data.glob("*.json")):
        if only and path.stem not in only:
            continue
        data = json.loads(path.read_text())
        sides = [(int(r[0]), int(r[1])) for r in data["rects"]]
        counts = [int(r[2]) for r in data["rects"]]
        width, known = int(data["bin_width"]), int(data["known_optimum"])
        for seed in (int(s) for s in args.seed.split(",")):
            t0 = time.perf_counter()
            if data["kind"] == "perfect":
                height, family = known, path.stem[:2]
                answer = perfect_rectangles(
                    sides, counts, width, height, turn=True, rng=np.random.default_rng(seed), effort=10**12,
                    workers=args.workers, stop=lambda t0=t0: time.perf_counter() - t0 > args.seconds,
                )  # fmt: skip
                rects, found, good = answer.rects or (), answer.height, answer.rects is not None
            else:
                height, family = int(data["bin_height"]), "ngcut"
                worth = most_value(
                    sides, counts, [int(v) for v in data["values"]], width, height, seed=seed,
                    seconds=args.seconds, effort=1e9,
                )  # fmt: skip
                rects, found, good = worth.rects, worth.value, worth.value >= known
            placements = placements_of(rects, sides)
            wrong = verify(placements, sides, counts, width, height)
            bad += bool(wrong)
            tally = done.setdefault(family, [0, 0])
            tally[0] += good and not wrong
            tally[1] += 1
            note = (
                ""
                if data["kind"] == "perfect"
                else (", proven" if worth.proven else f", bound {worth.bound}")
            )
            print(
                f"{path.stem:<9} {seed:>4} {found or '-':>8} {known:>7}  {wrong or 'yes'}  "
                f"({time.perf_counter() - t0:.2f} s{note})",
                flush=True,
            )
            area = sum(sides[r.kind][0] * sides[r.kind][1] for r in rects)
            runs.append(
                {"name": data["name"], "seed": seed, "seconds": args.seconds, "length": found,
                 "density_pct": 100.0 * area / (width * height), "placements": placements}
            )  # fmt: skip
            if args.json:
                args.json.write_text(json.dumps({"runs": runs}, indent=1) + "\n")
    print("reached: " + ", ".join(f"{k} {a} of {n}" for k, (a, n) in sorted(done.items())))
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
