"""Planted boards that only the right leaves serve, as shop folders through `nestyield plan`, `verify`, `take`, `undo`.

    python scripts/study_resaw.py --cases 20 --seed 1 [--keep DIR]

Each case is a rack made by cutting up a known answer: two to four leaves of the thickness that the parts ask for, in a
random order, and sometimes one that no part uses, stacked with the saw's kerf and planing between them, with no play in
thickness and 0.05 mm around the parts. Knots of less than the whole thickness lie where only that order has no wood of
a part: in the opening of the thick part where it is on the outside, anywhere in a leaf that is not used. Beside it stand
boards that cannot do: higher than the resaw takes, with a knot through, a little too short. Found means that every copy
is placed, that `nestyield verify` has no finding, and that shapely, from plan.json and what was planted alone, finds
leaves apart, margins kept and no knot in any part. Then all of it is taken, and undone, byte for byte.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import json
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
import shapely
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Point, Polygon, box

MARGIN, PLAY, PLANING = 6.0, 0.05, 1.0
KERF, FLAT, HEIGHT = 1.5, 0.7, 220.0
#: Places are whole micrometers, millimeters.
TOL = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A planted case: outlines as drawn, thickness of each part, the leaves from the top, knots."""

    thick: Polygon
    opening: Polygon
    thin: Polygon
    thickness: dict[str, float]
    leaves: tuple[str, ...]
    rest: float
    board: tuple[float, float, float]
    knots: tuple[tuple[float, float, float, str, float], ...]


def plant(rng: np.random.Generator) -> Planted:
    """Return a random case."""
    length, width = float(rng.integers(320, 600)), float(rng.integers(90, 190))
    cut = rng.uniform(15, 40, 4)
    corners = [(0, 0), (length, 0), (length, width - cut[0]), (length - cut[1], width), (0, width)]
    thick = Polygon(corners)
    thin = Polygon([(cut[2], 0), (length, 0), (length, width), (0, width), (0, cut[3])])
    x, y = rng.uniform(0.3, 0.6) * length, rng.uniform(0.35, 0.5) * width
    opening = box(round(x), round(y), round(x) + 60, round(y) + 30)
    sizes = {"thick": float(rng.integers(20, 34)), "thin": float(rng.integers(8, 16))}
    leaves = ["thick", *rng.choice(["thick", "thin"], int(rng.integers(1, 3)))]
    if rng.random() < 0.6:
        leaves.append("rest")
    order = [str(leaves[k]) for k in rng.permutation(len(leaves))]
    rest = float(rng.integers(8, 16))
    high = [rest if kind == "rest" else sizes[kind] + 2 * PLANING for kind in order]
    whole = sum(high) + (len(order) - 1) * (KERF + 2 * FLAT)
    board = (length + 2 * (MARGIN + PLAY), width + 2 * (MARGIN + PLAY), round(whole, 6))
    knots = []
    for kind, deep, face in ((order[0], high[0], "top"), (order[-1], high[-1], "bottom")):
        reach = round(deep - 0.4, 3)
        if kind == "thick":
            c = opening.centroid
            knots.append((c.x + MARGIN + PLAY, c.y + MARGIN + PLAY, 24.0, face, reach))
        elif kind == "rest":
            knots.append((rng.uniform(60, length - 60), rng.uniform(30, width - 20), 30.0, face, reach))
        else:
            knots.append((length / 2, width / 2, 20.0, face, round(PLANING * 0.9, 3)))
    return Planted(
        thick=thick,
        opening=opening,
        thin=thin,
        thickness=sizes,
        leaves=tuple(order),
        rest=rest,
        board=board,
        knots=tuple((round(a, 2), round(b, 2), d, f, z) for a, b, d, f, z in knots),
    )


def write(case: Planted, folder: Path) -> None:
    """Write a case as a shop."""
    folder.mkdir(parents=True)
    lines = ["[shop]", 'name = "resaw"', 'units = "mm"', 'rack = "rack.csv"', 'defects = "defects.csv"']
    lines += [
        "[cutter]",
        "diameter = 6",
        "[allowance]",
        f"blank_margin = {MARGIN}",
        f"planing = {PLANING}",
        "thickness_tolerance = 0",
    ]
    lines += [
        "[leftover]",
        "shortest = 100",
        "narrowest = 40",
        "[glueup]",
        "most_pieces = 1",
        "[machines]",
        "resaw_cost = 0.1",
    ]
    lines += [f"resaw_height = {HEIGHT}", f"resaw_kerf = {KERF}", f"resaw_planing = {FLAT}"]
    lines += ["[bed.big]", "travel_x = 5000", "travel_y = 5000", "[search]", "effort = 1"]
    for name, outline in (("thick", case.thick), ("thin", case.thin)):
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 4
        for layer, ring in (("EDGE", outline), ("OPEN", case.opening)):
            if layer == "EDGE" or name == "thick":
                points = list(ring.exterior.coords)[:-1]
                doc.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
        doc.saveas(folder / f"{name}.dxf")
        lines += [f"[part.{name}]", f'drawing = "{name}.dxf"', f"thickness = {case.thickness[name]}"]
        lines += ["grain_tolerance = 2", f"[part.{name}.layers]", 'EDGE = "outline"']
        lines += ['OPEN = "cutout"'] if name == "thick" else []
        if name in case.leaves:
            order = ["[[order]]", f'name = "{name}s"', f'part = "{name}"']
            lines += [*order, f"count = {case.leaves.count(name)}"]
    (folder / "shop.toml").write_text("\n".join(lines) + "\n")
    length, width, high = case.board
    rack = [["piece", "species", "thickness", "length", "width", "value"]]
    rack += [["planted", "hard maple", high, length, width, 60]]
    rack += [["tall", "hard maple", high, length, HEIGHT + 5, 20]]
    rack += [["knotty", "hard maple", high, length, width, 10]]
    rack += [["short", "hard maple", high, length - 2 * PLAY - 0.3, width, 15]]
    flaws = [["piece", "kind", "x", "y", "diameter", "face", "depth"]]
    flaws += [["planted", "knot", x, y, d, face, depth] for x, y, d, face, depth in case.knots]
    flaws += [[name, "knot", length / 4, width / 4, 12, "through", ""] for name in ("knotty", "tall")]
    for name, rows in (("rack", rack), ("defects", flaws)):
        with (folder / f"{name}.csv").open("w", newline="") as out:
            csv.writer(out).writerows(rows)


def nestyield(*args: str) -> subprocess.CompletedProcess[str]:
    """Run the program."""
    return subprocess.run(
        [sys.executable, "-m", "nestyield", *args], capture_output=True, text=True, check=False
    )


def wrong(case: Planted, folder: Path) -> str:
    """Return what shapely finds wrong with a plan, from its numbers and the planted case alone."""
    plan = json.loads((folder / "plan" / "plan.json").read_text())
    wanted = {name: case.leaves.count(name) for name in case.thickness}
    made = dict.fromkeys(wanted, 0)
    spans = []
    length, width, high = case.board
    for layout in plan["layouts"]:
        (member,) = layout["blank"]["members"]
        if member["piece"] != "planted":
            return f"{member['piece']} is used"
        layer = member["layer"] or {"top_mm": 0.0, "bottom_mm": high}
        spans.append((layer["top_mm"], layer["bottom_mm"]))
        wood = translate(box(0, 0, length, width), member["x_um"] / 1000, member["y_um"] / 1000)
        for at in layout["placements"]:
            made[at["part"]] += 1
            spare = layer["bottom_mm"] - layer["top_mm"] - case.thickness[at["part"]]
            off = spare / 2 if at["top_off_mm"] is None else at["top_off_mm"]
            if min(off, spare - off) < PLANING - 1e-6:
                return "planed too little"
            depth = (layer["top_mm"] + off, layer["bottom_mm"] - (spare - off))
            solid = case.thin if at["part"] == "thin" else case.thick.difference(case.opening)
            rim = case.thin if at["part"] == "thin" else case.thick
            laid, edge = (_laid(shape, at) for shape in (solid, rim))
            if not wood.buffer(-MARGIN + TOL, join_style="mitre").covers(edge):
                return "margin"
            for x, y, d, face, deep in case.knots:
                low, end = (0.0, deep) if face == "top" else (high - deep, high)
                spot = translate(Point(x, y).buffer(d / 2), member["x_um"] / 1000, member["y_um"] / 1000)
                if low < depth[1] - 1e-6 and end > depth[0] + 1e-6 and spot.intersection(laid).area > TOL:
                    return "a knot lies in a part"
    spans.sort()
    gap = KERF + 2 * FLAT
    if any(b[0] - a[1] < gap - 1e-6 for a, b in itertools.pairwise(spans)) or spans[-1][1] > high + 1e-6:
        return "leaves overlap"
    return "" if made == wanted else f"made {made}, wanted {wanted}"


def _laid(shape: shapely.Geometry, at: dict[str, float]) -> shapely.Geometry:
    if at["mirrored"]:
        shape = scale(shape, -1, 1, origin=(0, 0))
    shape = rotate(shape, at["angle_deg"], origin=(0, 0))
    return translate(shape, at["x_um"] / 1000, at["y_um"] / 1000)


def run(seed: int, keep: Path | None) -> str:
    """Return what went wrong with one case; nothing when all is well."""
    case = plant(np.random.default_rng(seed))
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "shop"
        write(case, folder)
        planned = nestyield("plan", str(folder), "--out", str(folder / "plan"), "--workers", "1")
        if planned.returncode:
            why = f"plan: exit {planned.returncode}"
        else:
            checked = nestyield("verify", str(folder / "plan"), "--shop", str(folder))
            why = f"verify: exit {checked.returncode}" if checked.returncode else wrong(case, folder)
        if not why:
            why = booked(case, folder)
        if keep is not None:
            shutil.copytree(folder, keep / f"{seed}", dirs_exist_ok=True)
        return f"{why} ({' '.join(case.leaves)})" if why else ""


def booked(case: Planted, folder: Path) -> str:
    """Take the plan, look at the rest on the rack, and undo it."""
    files = [folder / "rack.csv", folder / "defects.csv"]
    before = [f.read_bytes() for f in files]
    if nestyield("take", str(folder / "plan"), "--shop", str(folder)).returncode:
        return "take"
    with files[0].open() as text:
        rows = {row["piece"]: row for row in csv.DictReader(text)}
    rests = [row for name, row in rows.items() if row.get("parent") == "planted"]
    leaves = [float(r["thickness"]) for r in rests if float(r["length"] or 0) == case.board[0]]
    if rows["planted"]["status"] != "taken" or leaves != [case.rest] * case.leaves.count("rest"):
        return f"rests on the rack {leaves}, planted {case.rest}"
    if nestyield("undo", str(folder)).returncode or [f.read_bytes() for f in files] != before:
        return "undo"
    return ""


def main() -> None:
    """Run the study and print its table."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--cases", type=int, default=20)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--keep", type=Path)
    args = ask.parse_args()
    bad = 0
    for seed in range(args.seed, args.seed + args.cases):
        why = run(seed, args.keep)
        bad += bool(why)
        print(f"{seed}: {why or 'found'}", flush=True)
    print(f"found {args.cases - bad} of {args.cases}")


if __name__ == "__main__":
    main()
