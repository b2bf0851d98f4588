"""Reasons put to the test: what a plan says would help is done to the shop, and then a little less of it.

    python scripts/study_reasons.py [--cases N] [--first M] [--seed K] [--keep DIR] [--glue-ups]
                                     [--one] [--turned]

Random shops with a small rack of odd pieces and one or two parts are planned through the command line. Each amount
that the reason of an unfilled order names, as it is rounded on paper (wider, longer, thicker, less margin, more tolerance, a defect filled, more
travel) is made so in the shop's files. Planned again, more copies must be placed; with one per cent or one step of
rounding less (the greater), the piece named must not serve. Amounts that are told as "at least" need only pass the
second half. A change of the margin, the tolerance or the travel is a change for all pieces. Other orders keep the
copies that they have, so that they do not take what was made for this one.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry
from study_shops import run

from nestyield.paperwork.phrases.refusals import PHRASES

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

#: One step of rounding of what is told, mm and degrees; and the share of what is told that may make no difference.
STEP_MM, STEP_DEG, LESS = 0.1, 0.1, 0.01
#: Kinds of flaws on the rack.
KINDS = ("knot", "check", "bark", "stain", "screw hole")
#: Whether the phrase of a refusal says "at least".
_AT_LEAST = {
    f.default: "at least" in str(phrase)
    for kind, phrase in PHRASES.items()
    for f in fields(kind)
    if f.name == "code"
}


@dataclass
class Stock:
    """A piece of the rack."""

    name: str
    outline: BaseGeometry
    thick: float
    grain: float | None
    flaws: list[tuple[str, float, float, float]] = field(default_factory=list)


@dataclass
class Study:
    """A shop as the study changes it: what the files say."""

    margin: float
    travel: dict[str, float]
    most_pieces: int
    parts: dict[str, dict[str, Any]]
    rack: dict[str, Stock]

    def write(self, folder: Path) -> None:
        """Write the folder."""
        folder.mkdir(parents=True)
        text = ['[shop]\nname = "Study"\nunits = "mm"\nrack = "rack.csv"\ndefects = "flaws.csv"']
        text += ["[cutter]\ndiameter = 6", f"[allowance]\nblank_margin = {self.margin:.6f}"]
        text += [f"[glueup]\nmost_pieces = {self.most_pieces}", "[leftover]\nshortest = 200\nnarrowest = 60"]
        text.append("[bed.bench]\n" + "\n".join(f"travel_{a} = {v:.4f}" for a, v in self.travel.items()))
        for name, part in self.parts.items():
            doc = ezdxf.new("R2010")
            doc.header["$INSUNITS"] = 4
            doc.modelspace().add_lwpolyline(
                part["corners"], format="xyb", close=True, dxfattribs={"layer": "OUTLINE"}
            )
            doc.saveas(folder / f"{name}.dxf")
            grain = 'grain = "none"' if part["tol"] is None else f"grain_tolerance = {part['tol']:.8f}"
            text.append(
                f'[part.{name}]\ndrawing = "{name}.dxf"\nthickness = {part["thick"]}\n{grain}\n'
                f'mirrored = "{part["mirrored"]}"\n[part.{name}.layers]\nOUTLINE = "outline"'
            )
            if part["count"] == 0:
                continue
            text.append(f'[[order]]\nname = "{name}"\npart = "{name}"\ncount = {part["count"]}')
        text.append("[search]\neffort = 1\nseconds = 600")
        (folder / "shop.toml").write_text("\n".join(text) + "\n")
        rows, flaws = ["piece,species,thickness_mm,outline_mm,grain"], ["piece,kind,x_mm,y_mm,diameter_mm"]
        for piece in self.rack.values():
            grain = "none" if piece.grain is None else f"{piece.grain:g}"
            wkt = shapely.to_wkt(piece.outline, rounding_precision=6)
            rows.append(f'{piece.name},ash,{piece.thick:.6f},"{wkt}",{grain}')
            flaws += [f"{piece.name},{k},{x:.4f},{y:.4f},{d:.4f}" for k, x, y, d in piece.flaws]
        (folder / "rack.csv").write_text("\n".join(rows) + "\n")
        (folder / "flaws.csv").write_text("\n".join(flaws) + "\n")

    def planned(self, scratch: Path) -> dict[str, Any]:
        """Plan the shop through the command line; return the plan."""
        shutil.rmtree(scratch, ignore_errors=True)
        self.write(scratch / "shop")
        code, said = run("plan", scratch / "shop", "--out", scratch / "plan", "--workers", 1)
        if code == 2:
            raise RuntimeError(said)
        plan: dict[str, Any] = json.loads((scratch / "plan" / "plan.json").read_text())
        return plan


def star(rng: np.random.Generator, length: float, width: float, dent: float) -> list[tuple[float, float]]:
    """Return a star-shaped outline that fills a box."""
    n = int(rng.integers(5, 11))
    turn = (np.arange(n) + rng.uniform(0.15, 0.85, n)) * 2 * math.pi / n
    reach = rng.uniform(1.0 - dent, 1.0, n)
    x, y = reach * np.cos(turn), reach * np.sin(turn)
    x = (x - x.min()) / (x.max() - x.min()) * length
    y = (y - y.min()) / (y.max() - y.min()) * width
    return [(round(float(a), 3), round(float(b), 3)) for a, b in zip(x, y)]


def random_study(rng: np.random.Generator, glue_ups: bool, one: bool = False) -> Study:
    """Return a shop in which the parts hardly fit; with ``one`` a single part, once, on smaller pieces."""
    parts = {}
    sheet = rng.random() < 0.15
    for name in ("p",) if one else ("p", "q")[: int(rng.integers(1, 3))]:
        length, width = float(rng.uniform(150, 420)), float(rng.uniform(60, 180))
        shape = star(rng, length, width, 0.4) if rng.random() < 0.7 else shapely.box(0, 0, length, width)
        corners = shape if isinstance(shape, list) else list(shape.exterior.coords)[:-1]
        bulge = rng.random() < 0.3 and isinstance(shape, list)
        parts[name] = {
            "corners": [(x, y, float(rng.uniform(-0.1, 0.2)) if bulge else 0.0) for x, y in corners],
            "thick": 38.0,
            "tol": None if sheet else float(rng.choice([0, 2, 5, 10, 30, 90])),
            "mirrored": str(rng.choice(["no", "allowed"])),
            "count": 1 if one else int(rng.integers(1, 3)),
            "size": (length, width),
        }
    rack = {}
    most = 1.15 if one else 1.35
    for k in range(int(rng.integers(1, 3 if one else 6))):
        length, width = list(parts.values())[int(rng.integers(len(parts)))]["size"]
        length, width = length * rng.uniform(0.85, most), width * rng.uniform(0.85, most)
        odd = rng.random() < 0.6
        shape = shapely.Polygon(star(rng, length, width, 0.3)) if odd else shapely.box(0, 0, length, width)
        thick = 38.0 if sheet else float(rng.choice([36.0, 41.0, 41.0, 41.0, 41.0, 60.0]))
        grain = None if sheet else float(rng.choice([0, 0, 0, 4] if not one else [0, 0, 3, 6]))
        piece = Stock(f"R{k}", shape, thick, grain)
        for _ in range(int(rng.integers(0, 3))):
            spot = shape.representative_point()
            x, y = spot.x + rng.normal(0, length / 6), spot.y + rng.normal(0, width / 6)
            if shape.contains(shapely.Point(x, y).buffer(16)):
                piece.flaws.append((str(rng.choice(KINDS)), x, y, float(rng.uniform(3, 30))))
        rack[piece.name] = piece
    short = rng.random() < (0.35 if one else 0.2)
    travel = {"x": float(rng.uniform(200, 400)) if short else 1500.0, "y": 700.0 if not short else 300.0}
    margin = float(rng.choice([0.0, 3.0, 6.35]))
    return Study(margin, travel, int(rng.integers(2, 4)) if glue_ups else 1, parts, rack)


def turned_study(rng: np.random.Generator) -> Study:
    """Return a shop with a piece that has the part's outline and margin, turned farther than the part may be."""
    length, width = float(rng.uniform(200, 420)), float(rng.uniform(60, 120))
    corners = (
        star(rng, length, width, 0.15)
        if rng.random() < 0.5
        else [(0, 0), (length, 0), (length, width), (0, width)]
    )
    tol, margin = float(rng.choice([0, 2, 5])), float(rng.choice([0.0, 3.0, 6.35]))
    part = {
        "corners": [(x, y, 0.0) for x, y in corners],
        "thick": 38.0,
        "tol": tol,
        "mirrored": "no",
        "count": 1,
        "size": (length, width),
    }
    around = shapely.Polygon(corners).buffer(margin + float(rng.uniform(0.05, 0.4)), join_style="mitre")
    turn = (tol + float(rng.uniform(1.5, 9.0))) * float(rng.choice([-1.0, 1.0]))
    rack = {"R0": Stock("R0", rotate(around, turn, origin=(0, 0)), 41.0, 0.0)}
    return Study(margin, {"x": 1500.0, "y": 700.0}, 1, {"p": part}, rack)


def drawn_out(shape: BaseGeometry, angle_deg: float, by: float) -> BaseGeometry:
    """Return the union of all shifts of a shape by 0 to ``by`` along a direction."""
    dx, dy = by * math.cos(math.radians(angle_deg)), by * math.sin(math.radians(angle_deg))
    ring = list(shape.exterior.coords)
    swept = [
        shapely.Polygon([a, b, (b[0] + dx, b[1] + dy), (a[0] + dx, a[1] + dy)]).buffer(0)
        for a, b in itertools.pairwise(ring)
    ]
    whole = shapely.union_all([shape, translate(shape, dx, dy), *swept])
    return shapely.Polygon(whole.exterior, [r for r in whole.interiors if shapely.Polygon(r).area > 0.01])


def up(um: int) -> float:
    """Return a length as a shop in millimeters reads it: rounded up to a tenth."""
    return math.ceil(um / 100) / 10


def amounts(refusal: dict[str, Any]) -> Iterator[tuple[str, float, bool, dict[str, Any]]]:
    """Yield what a refusal says would help: kind, amount in mm or degrees, bound only, and the fact."""
    code = refusal["code"]
    bound = _AT_LEAST.get(code, False) or refusal.get("enough") is False
    if code == "fits if relaxed":
        for way in refusal["relaxations"]:
            told = {
                "narrower margin": lambda w: w["required_um"] / 1000 - w["reachable_um"] // 10 / 100,
                "wider grain tolerance": lambda w: w["needed_deg"] - w["allowed_deg"],
                "defect filled": lambda w: 0.0,
                "longer piece": lambda w: up(w["missing_um"]),
                "wider piece": lambda w: up(w["missing_um"]),
            }[way["code"]]
            yield way["code"], told(way), False, way
    elif code in (
        "too thin",
        "too thin when planed",
        "too thick",
        "sheet too thick",
        "too short",
        "too narrow",
    ) or code in ("too narrow any way", "too short and narrow"):
        yield code, up(refusal["far_um"]), bound, refusal
    elif code == "beds refuse" and [w["code"] for w in refusal["why"]] == ["travel short"]:
        yield "travel short", up(refusal["why"][0]["short_um"]), bound, refusal["why"][0]


def changed(study: Study, part: str, piece: str, kind: str, by: float, fact: dict[str, Any]) -> Study:
    """Return the shop with a change made to its files."""
    study = deepcopy(study)
    stock = study.rack[piece]
    grain = stock.grain or 0.0
    if kind == "narrower margin":
        study.margin -= by
    elif kind == "wider grain tolerance":
        study.parts[part]["tol"] += by
    elif kind == "defect filled":
        row = int(fact["defect"].split()[-1]) if fact["defect"].split()[-1].isdigit() else 0
        rows = [(p, f) for p in study.rack.values() for f in p.flaws]
        owner, flaw = rows[row - 2]
        owner.flaws.remove(flaw)
    elif kind in ("longer piece", "wider piece"):
        stock.flaws = []
        stock.outline = drawn_out(stock.outline, grain + (90.0 if kind == "wider piece" else 0.0), by)
    elif kind in ("too thin", "too thin when planed"):
        stock.thick += by
    elif kind in ("too thick", "sheet too thick"):
        stock.thick -= by
    elif kind in ("too short", "too short and narrow", "too narrow", "too narrow any way"):
        scale = by / fact["far_um"] * 1000 if fact["far_um"] else 1.0
        along = {"too short": by, "too short and narrow": scale * fact.get("along_um", 0) / 1000}.get(
            kind, 0.0
        )
        across = scale * fact.get("across_um", 0) / 1000 if kind == "too short and narrow" else by
        if along:
            stock.outline = drawn_out(stock.outline, grain, along)
        if kind != "too short":
            stock.outline = drawn_out(stock.outline, grain + 90.0, across)
    elif kind == "travel short":
        study.travel[fact["axis"]] += by
    return study


def placed(plan: dict[str, Any], order: str) -> int:
    """Return how many copies of an order are placed."""
    return next((int(r["placed"]) for r in plan["orders"] if r["order"] == order), 0)


def serves(plan: dict[str, Any], order: str, piece: str) -> bool:
    """Tell whether a piece by itself makes a copy of an order."""
    return any(
        [m["piece"] for m in x["blank"]["members"]] == [piece]
        and any(p["order"] == order for p in x["placements"])
        for x in plan["layouts"]
    )


def tried(study: Study, scratch: Path, tally: Counter[str]) -> Iterator[str]:
    """Plan a shop, make each change told, and yield what did not hold."""
    plan = study.planned(scratch)
    for result in plan["orders"]:
        for reason in result["reasons"]:
            tally[f"reason: {reason['code']}"] += 1
            if reason["code"] == "pieces spent":
                used = Counter(m["piece"] for x in plan["layouts"] for m in x["blank"]["members"])
                if not set(reason["pieces"]) <= set(used):
                    yield f"{result['order']}: said to be spent, but not used: {reason['pieces']}"
            if reason["code"] != "closest refusal":
                continue
            refusal, order = reason["refusal"], result["order"]
            if reason.get("used"):
                tally["closest: a piece that is told to be used"] += 1
                continue
            tally[f"closest: {refusal['code']}"] += 1
            for kind, by, bound, fact in amounts(refusal):
                yield from _one(
                    study, scratch, tally, (plan, order, refusal["piece"]), (kind, by, bound, fact)
                )


def _one(
    study: Study,
    scratch: Path,
    tally: Counter[str],
    asked: tuple[dict[str, Any], str, str],
    told: tuple[str, float, bool, dict[str, Any]],
) -> Iterator[str]:
    plan, order, piece = asked
    kind, by, bound, fact = told
    before = placed(plan, order)
    study = deepcopy(study)
    for other in study.parts:
        if other != order:  # other orders that are short would compete for what the change gives
            study.parts[other]["count"] = placed(plan, other)
    if bound and kind == "travel short":
        tally["told of one place: travel short"] += 1
        return
    name = f"{kind}, at least" if bound else kind
    tally[f"told: {name}"] += 1
    wrong = ""
    if not bound and placed(changed(study, order, piece, kind, by, fact).planned(scratch), order) <= before:
        wrong = "does not help"
    step = STEP_DEG if kind == "wider grain tolerance" else STEP_MM
    less = by - max(LESS * by, step)
    if not wrong and kind != "defect filled" and less > 0.0:
        again = changed(study, order, piece, kind, less, fact).planned(scratch)
        if placed(again, order) > before:
            if serves(again, order, piece) and not serves(plan, order, piece):
                wrong = f"{less:.3f} is enough"
            else:
                tally[f"less helps by another piece: {name}"] += 1
    if wrong:
        tally[f"wrong: {name}: {wrong.split()[-1]}"] += 1
        yield f"{order}, {piece}: {name} {by:.3f}: {wrong}"
    else:
        tally[f"holds: {name}"] += 1


def main() -> int:
    """Run the cases and print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--first", type=int, default=0, help="number of the first case, to run them in slices"
    )
    parser.add_argument("--only", type=int, help="one case")
    parser.add_argument(
        "--one", action="store_true", help="a single part, once: cheap, a refusal in most shops"
    )
    parser.add_argument(
        "--turned", action="store_true", help="one piece that would do, turned beyond the grain tolerance"
    )
    parser.add_argument("--glue-ups", action="store_true")
    parser.add_argument("--keep", type=Path, help="folder for the shops with a reason that does not hold")
    args = parser.parse_args()
    tally: Counter[str] = Counter()
    started = time.process_time()
    cases = range(args.first, args.first + args.cases)
    for k in cases if args.only is None else [args.only]:
        rng = np.random.default_rng([args.seed, k])
        study = turned_study(rng) if args.turned else random_study(rng, args.glue_ups, args.one)
        with tempfile.TemporaryDirectory() as scratch:
            wrong = list(tried(study, Path(scratch) / "run", tally))
        for line in wrong or ["holds"]:
            print(f"case {k}: {line}", flush=True)
        if wrong and args.keep:
            study.write(args.keep / str(k))
    for what, n in sorted(tally.items()):
        print(f"{n:6d}  {what}")
    held, told = (sum(n for w, n in tally.items() if w.startswith(f"{x}: ")) for x in ("holds", "told"))
    print(f"{told} amounts told, {held} hold; {time.process_time() - started:.0f} s of processor")
    return 0 if held == told else 1


if __name__ == "__main__":
    sys.exit(main())
