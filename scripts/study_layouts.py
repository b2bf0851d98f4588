"""Random layouts through search, separation and the last rounding: every one is checked twice.

    python scripts/study_layouts.py --count 10000 --seed 1

Part sets, turns, mirrors, gaps and containers are drawn at random: strips, boards, irregular pieces with and without
holes. Each layout is checked with shapely, from the parts as given and the reported places alone, and again by the
exact test on the integer grid. Prints a table and the number of the first bad layout, which ``--first N --count 1``
repeats.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections import Counter

import numpy as np
from shapely import STRtree
from shapely.geometry import Polygon

from nestyield.model.pose import Pose
from nestyield.nesting.exact import edge_rows, interiors_meet
from nestyield.nesting.sheet import Sheet, SheetItem, nest

ANGLES = (
    (0.0,),
    (0.0, 180.0),
    (0.0, 90.0, 180.0, 270.0),
    (0.0, 45.0, 90.0, 135.0),
    (0.0, 7.5, 200.0),
    (0.0, 33.0, 211.5),
)


def outline(rng: np.random.Generator, size: float) -> list[np.ndarray]:
    """Random simple polygon in whole micrometers, sometimes with a hole; outer ring first."""
    kind = int(rng.integers(6))
    w, h = size * (0.3 + 0.7 * rng.random(2))
    if kind == 0:
        ring = [(0, 0), (w, 0), (w, h), (0, h)]
    elif kind == 1:
        a, b = w * (0.2 + 0.6 * rng.random()), h * (0.2 + 0.6 * rng.random())
        ring = [(0, 0), (w, 0), (w, b), (a, b), (a, h), (0, h)]
    elif kind == 2:
        ring = [(0, 0), (w, 0), (w * rng.random(), h)]
    elif kind == 3:  # a comb with narrow slots
        teeth = int(rng.integers(2, 5))
        ring = [(0, 0), (w, 0)]
        for t in range(teeth, 0, -1):
            x1, x0 = w * t / teeth, w * (t - 0.6) / teeth
            ring += [(x1, h), (x0, h)]
            if t > 1:
                ring += [(x0, 0.3 * h), (w * (t - 1) / teeth, 0.3 * h)]
        ring = [p for i, p in enumerate(ring) if i == 0 or p != ring[i - 1]] + [(0, 0.15 * h)]
    else:  # star-shaped about its middle
        n = int(rng.integers(5, 14))
        turn = np.sort(rng.random(n)) * 2 * math.pi
        turn = 2 * math.pi * (np.arange(n) + 0.8 * rng.random(n)) / n + turn[0]
        far = 0.25 + 0.75 * rng.random(n)
        ring = [(0.5 * w * r * math.cos(t), 0.5 * h * r * math.sin(t)) for t, r in zip(turn, far)]
    rings = [np.rint(np.array(ring) * 1000).astype(np.int64)]
    outer = Polygon(rings[0])
    if kind in (0, 4) and rng.random() < 0.4:
        inner = outer.buffer(-0.15 * min(w, h) * 1000)
        if inner.geom_type == "Polygon" and inner.area > 0:
            hole = np.rint(np.array(inner.simplify(50).exterior.coords[:-1])).astype(np.int64)
            if len(hole) >= 3 and outer.buffer(-100).contains(Polygon(hole)):
                rings.append(hole)
    if not outer.is_valid or outer.area < 1e4:
        return outline(rng, size)
    return [_wound(r, k == 0) for k, r in enumerate(rings)]


def _wound(ring: np.ndarray, outer: bool) -> np.ndarray:
    x, y = ring[:, 0], ring[:, 1]
    left = int((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) > 0
    return ring if left == outer else np.ascontiguousarray(ring[::-1])


def container(rng: np.random.Generator) -> list[np.ndarray]:
    """Board, notched board or irregular piece, sometimes with a hole; whole micrometers."""
    w, h = 100 + 300 * rng.random(2)
    kind = int(rng.integers(3))
    if kind == 0:
        ring = [(0, 0), (w, 0), (w, h), (0, h)]
    elif kind == 1:
        ring = [(0, 0), (w, 0), (w, 0.5 * h), (0.6 * w, 0.5 * h), (0.6 * w, h), (0, h)]
    else:
        n = int(rng.integers(5, 11))
        turn = 2 * math.pi * (np.arange(n) + 0.7 * rng.random(n)) / n
        far = 0.7 + 0.3 * rng.random(n)
        ring = [(0.5 * w * r * math.cos(t), 0.5 * h * r * math.sin(t)) for t, r in zip(turn, far)]
    rings = [np.rint(np.array(ring) * 1000).astype(np.int64)]
    if rng.random() < 0.4:
        c = Polygon(rings[0]).representative_point()
        r = 8000 + 10000 * rng.random()
        hole = [
            (c.x + r * math.cos(t), c.y + r * math.sin(t)) for t in np.arange(6) * math.pi / 3 + rng.random()
        ]
        hole = np.rint(np.array(hole)).astype(np.int64)
        if Polygon(rings[0]).contains(Polygon(hole)):
            rings.append(hole)
    return [_wound(r, k == 0) for k, r in enumerate(rings)]


def overlaps(shapes: list[Polygon], slack: float) -> str:
    """First pair whose common area exceeds a share of the smaller; empty when there is none."""
    if not shapes:
        return ""
    tree = STRtree(shapes)
    for i, j in tree.query(shapes, predicate="intersects").T:
        if i < j:
            area = shapes[i].intersection(shapes[j]).area
            if area > slack * min(shapes[i].area, shapes[j].area):
                return f"parts {i} and {j} share an area of {area:g}"
    return ""


def strip(rng: np.random.Generator) -> list[np.ndarray]:
    """Long sheet, whole micrometers."""
    width = 60.0 + 100.0 * rng.random()
    ring = np.array([(0, 0), (900.0, 0), (900.0, width), (0, width)])
    return [np.rint(ring * 1000).astype(np.int64)]


def case(rng: np.random.Generator, effort: int, on_strip: bool) -> tuple[str, str, int]:
    """Parts on a strip or on sheets; returns what shapely and the grid found wrong, and the number of parts."""
    angles = ANGLES[int(rng.integers(len(ANGLES)))]
    mirrors = (False, True) if rng.random() < 0.2 else (False,)
    gap = int(rng.choice([0, 0, 1000, 3175, 6000]))
    items = [
        SheetItem(
            name=f"p{k}",
            outline=outline(rng, 90.0),
            count=int(rng.integers(1, 5)),
            orientations=tuple((a, m) for m in mirrors for a in angles),
            value=float(rng.choice([0.0, 1.0, 5.0])),
        )
        for k in range(int(rng.integers(1, 4)))
    ]
    regions = [strip(rng)] if on_strip else [container(rng) for _ in range(int(rng.integers(1, 3)))]
    sheets = [Sheet(name=f"s{k}", region=region) for k, region in enumerate(regions)]
    goal = "length" if on_strip else ("value", "sheets", "length")[int(rng.integers(3))]
    got = nest(items, sheets, goal=goal, gap_um=gap, seed=int(rng.integers(1000)), effort=effort, workers=1)
    by_shapely = by_grid = ""
    for b, sheet in enumerate(sheets):
        own = [p for p in got.places if p.sheet == b]
        regions = [Pose.of(p).on_grid(items[p.item].outline) for p in own]
        shapes = [Polygon(r[0], r[1:]) for r in regions]
        ground = Polygon(sheet.region[0], sheet.region[1:])
        by_shapely = by_shapely or overlaps(shapes, 1e-12)
        for i, s in enumerate(shapes):
            if (
                s.difference(ground.buffer(1.0, join_style="mitre")).area > 0.0
            ):  # a grid unit, for slanted edges
                by_shapely = f"part {i} leaves its sheet"
            if gap and any(s.distance(t) < gap - 1.5 for t in shapes[:i]):
                by_shapely = f"part {i} is nearer than the gap"
        rows = [edge_rows(r) for r in regions]
        for i, a in enumerate(rows):
            if any(interiors_meet(a, c, 0, 0) for c in rows[:i]):
                by_grid = f"part {i} meets another"
    for k, it in enumerate(items):
        if sum(p.item == k for p in got.places) + got.left[k] != it.count:
            by_shapely = "copies placed and left do not add up"
    return by_shapely, by_grid, len(got.places)


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0, help="number of the first layout")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--effort", type=int, default=3_000, help="evaluations a layout")
    args = parser.parse_args()
    tally: dict[str, Counter[str]] = {"strip": Counter(), "sheets": Counter()}
    began = time.perf_counter()
    for number in range(args.first, args.first + args.count):
        rng = np.random.default_rng([args.seed, number])
        family = "strip" if rng.random() < 0.5 else "sheets"
        by_shapely, by_grid, parts = case(rng, args.effort, family == "strip")
        row = tally[family]
        row.update({"layouts": 1, "parts": parts, "shapely": bool(by_shapely), "grid": bool(by_grid)})
        if by_shapely or by_grid:
            print(f"layout {number} ({family}): {by_shapely or by_grid}", flush=True)
    print(f"{'family':<8} {'layouts':>8} {'parts':>8} {'bad by shapely':>15} {'bad on the grid':>16}")
    for family, row in tally.items():
        print(
            f"{family:<8} {row['layouts']:>8} {row['parts']:>8} {row['shapely']:>15} {row['grid']:>16}",
        )
    print(f"{time.perf_counter() - began:.0f} s")
    return 1 if any(r["shapely"] or r["grid"] for r in tally.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
