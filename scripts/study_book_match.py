"""Planted book matches: boards that only one pair of leaves, opened the right way, serves, through the commands.

    python scripts/study_book_match.py --cases 20 --seed 1 [--keep DIR]

Each case is a rack made by cutting up a known answer: a part with an opening on one side of its center line and a corner
off on the other, halves laid on two neighboring leaves of one board, the second mirrored about the joint; with leaves
that are not used above or below, 0.05 mm of play around the part and none in thickness. One knot reaches down into the
upper leaf alone, where its mirrored place is the opening; another up into the lower leaf alone, where the corner is off.
Beside it stand boards that cannot do: higher than the resaw takes, a little too short, a knot in the upper leaf where
the part is solid. Found means that the copy is placed, that `nestyield verify` has no finding, and that shapely, from
plan.json and what was planted alone, finds the leaves neighbors, each the mirror image of the other about the joint,
the center line on it, margins and jointing allowance kept and no knot in the part. Then all of it is taken, and undone.
"""

from __future__ import annotations

import argparse
import csv
import json
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
import shapely
from shapely.affinity import affine_transform, rotate, scale, translate
from shapely.geometry import LineString, Point, Polygon, box
from study_resaw import nestyield

MARGIN, PLAY, PLANING, JOINTING = 6.0, 0.05, 1.0, 0.8
KERF, FLAT, HEIGHT = 1.5, 0.7, 220.0
#: The joint and mirrored places are exact to this, and edges to that, millimeters.
ON, TOL = 0.005, 0.02

Knot = tuple[float, float, float, str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A planted case: the part as drawn, its thickness, what lies above and below the pair, the board, knots."""

    outline: Polygon
    opening: Polygon
    middle: float
    thick: float
    rests: tuple[float, float]
    board: tuple[float, float, float]
    knots: tuple[Knot, ...]


def plant(rng: np.random.Generator) -> Planted:
    """Return a random case."""
    length, half = float(rng.integers(320, 560)), float(rng.integers(60, 120))
    off = rng.uniform(30, 45, 2)
    corners = [
        (off[0], -half),
        (length, -half),
        (length, half - 20),
        (length - 30, half),
        (0, half),
        (0, off[1] - half),
    ]
    x = float(rng.integers(40, int(length / 2) - 100))
    opening = box(x, 16, x + 60, 46)
    up = float(rng.integers(0, 40))  # the drawing has its middle elsewhere
    thick, gap = float(rng.integers(8, 24)), KERF + 2 * FLAT
    leaf = thick + 2 * PLANING
    rests = tuple(float(rng.integers(8, 16)) if rng.random() < 0.5 else 0.0 for _ in range(2))
    top = rests[0] + gap if rests[0] else 0.0
    high = round(top + 2 * leaf + gap + (rests[1] + gap if rests[1] else 0.0), 6)
    long, wide = length + 2 * (MARGIN + PLAY), half + MARGIN + PLAY + JOINTING
    seam = wide - JOINTING  # the joint on the board, which lies as the lower leaf does
    a, b = opening.centroid.x + MARGIN + PLAY, opening.centroid.y
    knots = [
        (a, seam - b, 20.0, "top", round(top + leaf - 0.3, 3)),
        (MARGIN + PLAY + 4.0, seam - half + 4.0, 14.0, "bottom", round(high - top - leaf - gap - 0.3, 3)),
    ]
    if rng.random() < 0.5:  # the board may stand the other way round on the rack
        knots = [(long - p, wide - q, d, f, z) for p, q, d, f, z in knots]
    return Planted(
        outline=translate(Polygon(corners), 0, up),
        opening=translate(opening, 0, up),
        middle=up,
        thick=thick,
        rests=(rests[0], rests[1]),
        board=(long, wide, high),
        knots=tuple((round(p, 3), round(q, 3), d, f, z) for p, q, d, f, z in knots),
    )


def write(case: Planted, folder: Path) -> None:
    """Write a case as a shop."""
    folder.mkdir(parents=True)
    lines = ["[shop]", 'name = "book match"', 'units = "mm"', 'rack = "rack.csv"', 'defects = "defects.csv"']
    lines += ["[cutter]", "diameter = 6", "[allowance]", f"blank_margin = {MARGIN}", f"planing = {PLANING}"]
    lines += [f"jointing = {JOINTING}", "thickness_tolerance = 0", "most_planed_away = 3"]
    lines += ["[leftover]", "shortest = 100", "narrowest = 40", "[machines]", "resaw_cost = 0.1"]
    lines += [f"resaw_height = {HEIGHT}", f"resaw_kerf = {KERF}", f"resaw_planing = {FLAT}"]
    lines += ["[bed.big]", "travel_x = 5000", "travel_y = 5000", "[search]", "effort = 1"]
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    for layer, ring in (("EDGE", case.outline), ("OPEN", case.opening)):
        points = list(ring.exterior.coords)[:-1]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
    x0, _, x1, _ = case.outline.bounds
    space.add_line((x0, case.middle), (x1, case.middle), dxfattribs={"layer": "MIDDLE"})
    doc.saveas(folder / "top.dxf")
    lines += ["[part.top]", 'drawing = "top.dxf"', f"thickness = {case.thick}", "grain_tolerance = 2"]
    lines += ["book_match = true", "[part.top.layers]", 'EDGE = "outline"', 'OPEN = "cutout"']
    lines += ['MIDDLE = "center_line"', "[[order]]", 'name = "one"', 'part = "top"']
    (folder / "shop.toml").write_text("\n".join(lines) + "\n")
    long, wide, high = case.board
    rack = [["piece", "species", "thickness", "length", "width", "value"]]
    rack += [
        ["planted", "hard maple", high, long, wide, 60],
        ["tall", "hard maple", high, long, HEIGHT + 5, 20],
    ]
    rack += [["short", "hard maple", high, long - 2 * PLAY - 0.3, wide, 15]]
    rack += [["solid", "hard maple", high, long, wide, 10]]
    flaws = [["piece", "kind", "x", "y", "diameter", "face", "depth"]]
    flaws += [["planted", "knot", x, y, d, face, depth] for x, y, d, face, depth in case.knots]
    flaws += [["solid", "knot", long / 2, wide / 2, 16, face, high * 0.6] for face in ("top", "bottom")]
    for name, rows in (("rack", rack), ("defects", flaws)):
        with (folder / f"{name}.csv").open("w", newline="") as out:
            csv.writer(out).writerows(rows)


def _laid(shape: shapely.Geometry, at: dict[str, float]) -> shapely.Geometry:
    if at["mirrored"]:
        shape = scale(shape, -1, 1, origin=(0, 0))
    shape = rotate(shape, at["angle_deg"], origin=(0, 0))
    return translate(shape, at["x_um"] / 1000, at["y_um"] / 1000)


def wrong(case: Planted, folder: Path) -> str:
    """Return what shapely finds wrong with a plan, from its numbers and the planted case alone."""
    plan = json.loads((folder / "plan" / "plan.json").read_text())
    if len(plan["layouts"]) != 1:
        return f"{len(plan['layouts'])} blanks"
    (layout,) = plan["layouts"]
    blank, (at,) = layout["blank"], layout["placements"]
    long, wide, high = case.board
    one, other = blank["members"]
    if {m["piece"] for m in (one, other)} != {"planted"} or one["copy"] != other["copy"]:
        return "another board is used"
    upper, lower = sorted((one, other), key=lambda m: m["layer"]["top_mm"])
    gap = lower["layer"]["top_mm"] - upper["layer"]["bottom_mm"]
    if abs(gap - KERF - 2 * FLAT) > 1e-6 or lower["layer"]["bottom_mm"] > high + 1e-6:
        return "the leaves are no neighbors"
    (seam,) = blank["seams"]
    (_, ay), (_, by) = seam["line_mm"]
    if abs(ay - by) > 1e-9:
        return "the joint does not lie along X"
    corners = [Point(p) for p in ((0, 0), (long, 0), (long, wide), (0, wide), (long / 3, wide / 5))]
    for corner in corners:  # mirrored about the joint, place by place
        p, q = _laid(corner, one), affine_transform(_laid(corner, other), [1, 0, 0, -1, 0, 2 * ay])
        if p.distance(q) > ON:
            return f"mirrored places are {p.distance(q):.3f} mm off"
    middle = _laid(LineString([(0, case.middle), (case.outline.bounds[2], case.middle)]), at)
    if max(abs(y - ay) for _, y in middle.coords) > ON:
        return "the center line is not on the joint"
    rim = _laid(case.outline, at)
    solid = _laid(case.outline.difference(case.opening), at)
    spare = lower["layer"]["bottom_mm"] - lower["layer"]["top_mm"] - case.thick
    off = spare / 2 if at["top_off_mm"] is None else at["top_off_mm"]
    for member in (one, other):
        side = 1 if _laid(Point(long / 2, wide / 2), member).y > ay else -1
        half = box(-1e4, ay, 1e4, ay + 1e4) if side > 0 else box(-1e4, ay - 1e4, 1e4, ay)
        wood = _laid(box(0, 0, long, wide), member)
        needed = rim.buffer(MARGIN - TOL, join_style="mitre").intersection(half)
        past = translate(rim.intersection(box(-1e4, ay - 1e-3, 1e4, ay + 1e-3)), 0, -side * (JOINTING - TOL))
        if not wood.covers(needed) or not wood.covers(past):
            return "margin or jointing allowance"
        layer = member["layer"]
        first, last = (spare - off, off) if member["mirrored"] else (off, spare - off)
        depth = (layer["top_mm"] + first, layer["bottom_mm"] - last)
        for x, y, d, face, deep in case.knots:
            low, end = (0.0, deep) if face == "top" else (high - deep, high)
            if low < depth[1] - 1e-6 and end > depth[0] + 1e-6:
                spot = _laid(Point(x, y).buffer(d / 2), member).intersection(half)
                if spot.intersection(solid).area > TOL:
                    return "a knot lies in the part"
    return ""


def booked(case: Planted, folder: Path) -> str:
    """Take the plan, look at the rests on the rack, as thick together as those planted, and undo it."""
    files = [folder / "rack.csv", folder / "defects.csv"]
    before = [f.read_bytes() for f in files]
    if nestyield("take", str(folder / "plan"), "--shop", str(folder)).returncode:
        return "take"
    with files[0].open() as text:
        rows = {row["piece"]: row for row in csv.DictReader(text)}
    rests = [row for row in rows.values() if row.get("parent") == "planted"]
    whole = [float(r["thickness"]) for r in rests if r["length"] and float(r["length"]) == case.board[0]]
    if rows["planted"]["status"] != "taken" or abs(sum(whole) - sum(case.rests)) > 1e-6:
        return f"rests on the rack {whole}, planted {case.rests}"
    if nestyield("undo", str(folder)).returncode or [f.read_bytes() for f in files] != before:
        return "undo"
    return ""


def run(seed: int, keep: Path | None) -> str:
    """Return what went wrong with one case; nothing when all is well."""
    case = plant(np.random.default_rng(seed))
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "shop"
        write(case, folder)
        planned = nestyield("plan", str(folder), "--out", str(folder / "plan"), "--workers", "1")
        why = f"plan: exit {planned.returncode} {planned.stderr[-300:]}" if planned.returncode else ""
        if not why:
            checked = nestyield("verify", str(folder / "plan"), "--shop", str(folder))
            why = f"verify: exit {checked.returncode}" if checked.returncode else wrong(case, folder)
        why = why or booked(case, folder)
        if keep is not None:
            shutil.copytree(folder, keep / f"{seed}", dirs_exist_ok=True)
    return f"{why} (rests {case.rests})" if why else ""


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
