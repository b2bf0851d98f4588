"""Planted layouts of two and three parts at odd angles on one odd piece with defects, through `nestyield plan`.

    python scripts/study_planted.py --cases 40 --parts 2,3 --play 0.5,3 --seed 1 [--effort 3] [--keep DIR]

Each case is a shop folder. Parts are random outlines, each laid at a random angle within its grain tolerance (5 to 30
degrees, or free: grain "none"), close beside each other: the gap and so much play apart. The piece is what they cover
with margin and play around it, its bays closed as a saw would leave them; knots lie where no part does. Found means that the
plan lays all parts, and that shapely, from the plan and the outlines alone, finds margin, gap, grain and knots kept.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
import shapely
from shapely.affinity import affine_transform, rotate, translate
from shapely.geometry import Point, Polygon

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

MARGIN, GAP, KNOT_PLAY = 6.0, 9.0, 1.0
#: Bays of the piece narrower than this are filled: no saw leaves them.
BAY = 25.0
#: Places are whole micrometers and edges are flattened to the hundredth, millimeters.
TOL = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A planted case.

    Parameters
    ----------
    outlines : tuple of Polygon
        As drawn.
    tolerances : tuple of float
        Degrees; 180 for a part without grain.
    piece : Polygon
    knots : tuple of (x, y, diameter)
    """

    outlines: tuple[Polygon, ...]
    tolerances: tuple[float, ...]
    piece: Polygon
    knots: tuple[tuple[float, float, float], ...]


def blob(rng: np.random.Generator) -> Polygon:
    """Return a star-shaped outline, mostly longer than wide, with dents."""
    while True:
        n = int(rng.integers(6, 13))
        turn = (np.arange(n) + rng.uniform(0.15, 0.85, n)) * 2 * math.pi / n
        reach = rng.uniform(0.55, 1.0, n)
        x, y = reach * np.cos(turn), reach * np.sin(turn)
        length, width = rng.uniform(150, 380), rng.uniform(60, 180)
        points = np.column_stack([(x - x.min()) / np.ptp(x) * length, (y - y.min()) / np.ptp(y) * width])
        polygon = Polygon(np.round(points, 2))
        if polygon.is_valid and polygon.area > 0.3 * length * width:
            return polygon


def plant(rng: np.random.Generator, parts: int, play: float) -> Planted:
    """Plant parts and draw the piece around them."""
    while True:
        outlines = [blob(rng) for _ in range(parts)]
        tolerances = [float(rng.choice([5, 10, 15, 20, 30, 180])) for _ in outlines]
        laid: list[Polygon] = []
        for outline, tolerance in zip(outlines, tolerances):
            off = rng.uniform(-tolerance, tolerance)
            turn = off if tolerance == 180 else off + float(rng.choice([0, 180]))
            shape = rotate(outline, turn, origin=(0, 0))
            if laid:  # slide up to the others from a random side
                whole = shapely.unary_union(laid)
                way = rng.uniform(0, 2 * math.pi)
                c = whole.centroid
                low, high = 0.0, 1500.0
                for _ in range(40):
                    mid = (low + high) / 2
                    at = translate(
                        shape,
                        c.x + mid * math.cos(way) - shape.centroid.x,
                        c.y + mid * math.sin(way) - shape.centroid.y,
                    )
                    low, high = (mid, high) if at.distance(whole) < GAP + play else (low, mid)
                shape = translate(
                    shape,
                    c.x + high * math.cos(way) - shape.centroid.x,
                    c.y + high * math.sin(way) - shape.centroid.y,
                )
            laid.append(shape)
        wood = shapely.unary_union(
            [s.buffer(MARGIN + play, join_style="mitre", mitre_limit=2.0) for s in laid]
        )
        piece = wood.buffer(BAY, join_style="mitre", mitre_limit=2.0).buffer(
            -BAY, join_style="mitre", mitre_limit=2.0
        )
        piece = shapely.unary_union([piece, wood])
        if piece.geom_type != "Polygon" or piece.interiors:
            continue
        x0, y0, _, _ = piece.bounds
        piece = Polygon(np.round(np.array(translate(piece, -x0, -y0).exterior.coords), 3))
        laid = [translate(s, -x0, -y0) for s in laid]
        if not all(piece.buffer(-MARGIN - 0.9 * play).covers(s) for s in laid):
            continue
        knots: list[tuple[float, float, float]] = []
        for _ in range(200):
            x, y = rng.uniform(piece.bounds[:2], piece.bounds[2:])
            d = float(rng.uniform(4, 20))
            spot = Point(x, y).buffer(d / 2 + KNOT_PLAY + play)
            if piece.covers(spot) and not any(spot.intersects(s) for s in laid) and len(knots) < 3:
                knots.append((round(float(x), 2), round(float(y), 2), round(d, 2)))
        return Planted(
            outlines=tuple(outlines), tolerances=tuple(tolerances), piece=piece, knots=tuple(knots)
        )


def write(case: Planted, folder: Path, search: str) -> None:
    """Write a case as a shop."""
    folder.mkdir(parents=True)
    lines = ["[shop]", 'name = "planted"', 'units = "mm"', 'rack = "rack.csv"']
    lines += ['defects = "defects.csv"', "", "[cutter]", "diameter = 6", "", "[allowance]"]
    lines += [f"between_parts = {GAP}", f"blank_margin = {MARGIN}", "", "[glueup]", "most_pieces = 1", ""]
    lines += ["[bed.big]", "travel_x = 5000", "travel_y = 5000", "", "[search]", search, ""]
    for k, (outline, tolerance) in enumerate(zip(case.outlines, case.tolerances)):
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 4
        doc.modelspace().add_lwpolyline(
            list(outline.exterior.coords)[:-1], close=True, dxfattribs={"layer": "EDGE"}
        )
        doc.saveas(folder / f"p{k}.dxf")
        lines += [f"[part.p{k}]", f'drawing = "p{k}.dxf"', "thickness = 19", 'show_face = "top"']
        lines += ['grain = "none"'] if tolerance == 180 else [f"grain_tolerance = {tolerance:g}"]
        lines += [f"[part.p{k}.layers]", 'EDGE = "outline"', "", "[[order]]", f'part = "p{k}"', ""]
    (folder / "shop.toml").write_text("\n".join(lines))
    (folder / "rack.csv").write_text(
        f'piece,species,thickness,outline,grain\nodd,black cherry,20.6,"{case.piece.wkt}",0\n'
    )
    rows = "".join(f"odd,knot,{x},{y},{d},through\n" for x, y, d in case.knots)
    (folder / "defects.csv").write_text("piece,kind,x,y,diameter,face\n" + rows)


def judge(case: Planted, plan: dict) -> tuple[int, list[str]]:
    """Return how many parts the plan lays, and what is wrong with their places."""
    shapes: list[Polygon] = []
    wrong: list[str] = []
    for layout in plan["layouts"]:
        for at in layout["placements"]:
            k = int(at["part"][1:])
            turn = math.radians(at["angle_deg"])
            c, s = math.cos(turn), math.sin(turn)
            shape = affine_transform(case.outlines[k], (c, -s, s, c, at["x_um"] / 1000, at["y_um"] / 1000))
            off = abs((at["angle_deg"] + 90) % 180 - 90)
            if case.tolerances[k] < 180 and off > case.tolerances[k] + 1e-6:
                wrong.append(f"p{k} lies {off:.2f} degrees off the grain")
            if at["mirrored"] or not at["front_up"]:
                wrong.append(f"p{k} lies on its face")
            if not case.piece.covers(shape) or shape.distance(case.piece.exterior) < MARGIN - TOL:
                wrong.append(f"p{k} lies outside")
            if any(shape.distance(other) < GAP - TOL for other in shapes):
                wrong.append(f"p{k} lies too near")
            if any(shape.distance(Point(x, y)) < d / 2 - TOL for x, y, d in case.knots):
                wrong.append(f"p{k} lies on a knot")
            shapes.append(shape)
    return len(shapes), wrong


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=40)
    parser.add_argument("--parts", default="2,3")
    parser.add_argument("--play", default="0.5,3")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--effort", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="folder for the shops that were not found")
    args = parser.parse_args()
    bad = 0
    for parts in (int(v) for v in args.parts.split(",")):
        for play in (float(v) for v in args.play.split(",")):
            found, times = 0, []
            for case_no in range(args.cases):
                rng = np.random.default_rng([args.seed, parts, round(10 * play), case_no])
                case = plant(rng, parts, play)
                with tempfile.TemporaryDirectory() as base:
                    shop, out = Path(base) / "shop", Path(base) / "out"
                    search = f"effort = {args.effort}\nseconds = {args.seconds:g}\nworkers = {args.workers}"
                    write(case, shop, search)
                    began = time.perf_counter()
                    done = subprocess.run(
                        [sys.executable, "-m", "nestyield", "plan", str(shop), "--out", str(out)],
                        capture_output=True,
                        text=True,
                    )
                    times.append(time.perf_counter() - began)
                    if done.returncode > 1 or not (out / "plan.json").exists():
                        print(f"case {case_no}: exit {done.returncode}: {done.stderr[-400:]}")
                        laid, wrong = 0, ["no plan"]
                    else:
                        laid, wrong = judge(case, json.loads((out / "plan.json").read_text()))
                    bad += bool(wrong)
                    found += laid == parts and not wrong
                    if args.keep and laid < parts:
                        shutil.copytree(shop, args.keep / f"{parts}-{play:g}-{case_no}", dirs_exist_ok=True)
                    print(
                        f"{parts} parts, play {play:g}, case {case_no}: {laid} laid, {times[-1]:.1f} s"
                        f", tolerances {case.tolerances} {'; '.join(wrong)}",
                        flush=True,
                    )
            middle = sorted(times)[len(times) // 2]
            print(
                f"== {parts} parts, play {play:g} mm: {found} of {args.cases} found; "
                f"median {middle:.1f} s, most {max(times):.1f} s",
                flush=True,
            )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
