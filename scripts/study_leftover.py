"""Leftovers against trying everything: one part on one odd piece, through `nestyield plan`.

    python scripts/study_leftover.py --cases 40 --seed 1

What is kept is the exact outline (``leftover.cut``), not straight saw lines. Each case is written as a shop and planned. The
plan's place, and every place on a lattice (both ends, both faces, grain along grain), are rated on a raster by the same measure: the wood, outside the part grown by the cutter, that lies in some
rectangle of the shop's least size along the grain. The best of the lattice are improved by steps of a raster cell. The
rating uses numpy, scipy and shapely alone. Printed: how much less than the best the plan keeps, percent.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import shapely
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from shapely.affinity import affine_transform
from shapely.geometry import Polygon
from study_planted import MARGIN, Planted, blob, write

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

CUTTER_MM = 6.0
LEAST_MM = (120, 50)
CELL_MM = 1.0
LATTICE_MM = 6.0
IMPROVED = 6
Place = tuple[bool, int, float, float]


def odd_piece(rng: np.random.Generator) -> Polygon:
    """A piece with four to seven corners, some of them cut back."""
    while True:
        length, width = rng.uniform(320, 620), rng.uniform(160, 320)
        n = int(rng.integers(4, 8))
        turn = np.sort(rng.uniform(0, 2 * math.pi, n))
        reach = rng.uniform(0.75, 1.3, n)
        x = length / 2 + np.clip(reach * np.cos(turn), -1, 1) * length / 2
        y = width / 2 + np.clip(reach * np.sin(turn), -1, 1) * width / 2
        piece = Polygon(np.round(np.column_stack([x, y]), 1))
        if piece.is_valid and piece.area > 0.55 * length * width:
            return piece


class Rating:
    """Rates places of one part on one piece."""

    def __init__(self, piece: Polygon, part: Polygon) -> None:
        self.piece, self.part = piece, part
        self.home = piece.buffer(-MARGIN, quad_segs=32)
        x0, y0, x1, y1 = piece.bounds
        self.x = np.arange(x0 - 1, x1 + 2, CELL_MM)
        self.y = np.arange(y0 - 1, y1 + 2, CELL_MM)
        self.gx, self.gy = np.meshgrid(self.x, self.y, indexing="ij")
        self.wood = shapely.contains_xy(piece, self.gx, self.gy)

    def laid(self, at: Place) -> Polygon:
        """Return the part as it lies."""
        mirrored, turn, x, y = at
        c = 1 if turn == 0 else -1
        return affine_transform(self.part, ((-c if mirrored else c), 0, 0, c, x, y))

    def holds(self, at: Place) -> bool:
        """Tell whether the part lies in the piece with its margin."""
        return bool(self.home.covers(self.laid(at)))

    def kept(self, at: Place) -> float:
        """Return the area worth keeping, square millimeters."""
        gone = self.laid(at).buffer(CUTTER_MM, quad_segs=16)
        shapely.prepare(gone)
        left = self.wood & ~shapely.contains_xy(gone, self.gx, self.gy)
        for axis, size in enumerate(LEAST_MM):
            left = minimum_filter1d(left, round(size / CELL_MM) + 1, axis=axis, mode="constant", cval=0)
        for axis, size in enumerate(LEAST_MM):
            left = maximum_filter1d(left, round(size / CELL_MM) + 1, axis=axis, mode="constant", cval=0)
        return float(left.sum()) * CELL_MM**2

    def places(self) -> Iterator[Place]:
        """Give the places of the lattice."""
        x0, y0, x1, y1 = self.piece.bounds
        for mirrored in (False, True):
            for turn in (0, 180):
                a0, b0, a1, b1 = self.laid((mirrored, turn, 0.0, 0.0)).bounds
                for x in np.arange(x0 - a0 + MARGIN, x1 - a1, LATTICE_MM):
                    for y in np.arange(y0 - b0 + MARGIN, y1 - b1, LATTICE_MM):
                        at = (mirrored, turn, float(x), float(y))
                        if self.holds(at):
                            yield at

    def best(self) -> float:
        """Return the most that is kept, of all places tried."""
        rated = sorted(((self.kept(at), at) for at in self.places()), reverse=True)
        top = 0.0
        for value, at in rated[:IMPROVED]:
            step = LATTICE_MM / 2
            while step >= 0.5:
                moves = [(step, 0), (-step, 0), (0, step), (0, -step)]
                near = [(at[0], at[1], at[2] + dx, at[3] + dy) for dx, dy in moves]
                there = max(((self.kept(p), p) for p in near if self.holds(p)), default=(0.0, at))
                if there[0] > value:
                    value, at = there
                else:
                    step /= 2
            top = max(top, value)
        return top


def case_of(seed: int, number: int) -> tuple[Polygon, Polygon]:
    """Return a piece and a part that fills 12 to 45 percent of it and has a place on it."""
    rng = np.random.default_rng([seed, number])
    while True:
        piece, part = odd_piece(rng), blob(rng)
        if 0.12 < part.area / piece.area < 0.45 and next(Rating(piece, part).places(), None):
            return piece, part


def planned(piece: Polygon, part: Polygon, effort: int) -> tuple[Place | None, float, float]:
    """Plan a case; return the place, and the usable area and the seconds that the run gives."""
    with tempfile.TemporaryDirectory() as base:
        shop, out = Path(base) / "shop", Path(base) / "out"
        write(
            Planted(outlines=(part,), tolerances=(0.0,), piece=piece, knots=()),
            shop,
            f'effort = {effort}\nworkers = 1\n\n[leftover]\ncut = "outline"\nshortest = {LEAST_MM[0]}\nnarrowest = {LEAST_MM[1]}',
        )
        text = (shop / "shop.toml").read_text().replace('show_face = "top"', 'show_face = "either"')
        (shop / "shop.toml").write_text(text)
        began = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "nestyield", "plan", str(shop), "--out", str(out)],
            capture_output=True,
            text=True,
        )
        took = time.perf_counter() - began
        if done.returncode > 1:
            print(done.stdout[-500:], done.stderr[-500:])
            return None, 0.0, took
        layouts = json.loads((out / "plan.json").read_text())["layouts"]
        if not layouts:
            return None, 0.0, took
        at = layouts[0]["placements"][0]
        turn = round(at["angle_deg"]) % 360
        assert turn in (0, 180)
        return (
            (at["mirrored"], turn, at["x_um"] / 1000, at["y_um"] / 1000),
            layouts[0]["usable_area_mm2"],
            took,
        )


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=40)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--effort", type=int, default=1)
    args = parser.parse_args()
    less = []
    for number in range(args.first, args.first + args.cases):
        piece, part = case_of(args.seed, number)
        at, told, took = planned(piece, part, args.effort)
        rating = Rating(piece, part)
        most = rating.best()
        kept = rating.kept(at) if at is not None else 0.0
        most = max(most, kept)
        short = 100.0 * (1.0 - kept / most) if most else 0.0
        less.append(short)
        print(
            f"case {number}: best {most:.0f} mm2, plan {kept:.0f} (tells {told:.0f}), {short:.2f} % less, {took:.1f} s",
            flush=True,
        )
    within = sum(v <= 2.0 for v in less)
    print(f"== within 2 % of the best: {within} of {len(less)}; worst {max(less):.1f} % less")
    return 0


if __name__ == "__main__":
    sys.exit(main())
