"""Strips and bins through the front door: an instance as a shop, `nestyield plan`, the plan checked by shapely.

    python scripts/bench_product.py --only albano,swim --under 1.0 --against elkeran --seconds 120 --seed 1
    python scripts/bench_product.py --only albano --density 60
    python scripts/bench_product.py --data ../shared/bench/bins --only TC001,TK001 --seconds 60

The sheet is as wide as the strip and so long that the parts fill a given share of it: `--density 86.5`, or `--under`
so many points below a published mean. What lies on it is pushed to one end: "used %" is the share of the length that is
used, to compare with published densities where the sheet is long. Of bins the shop has half as many again as the known
optimum and one more, and "bins" counts those that are used. Margin and gap are nothing, the front of every part shows, and parts that the
data turn by quarters are without grain (the shop then allows any angle; copies at other angles are counted). The
plan is read back as JSON; places are checked against the data file alone. Exit code 1 when a plan is not valid.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon, box

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

#: Published means: Elkeran 2013, Sato 2019, 2025; read in ../shared/bench/README.md, which names the papers.
MEANS = {
    "albano": (87.47, 87.55, 89.47),
    "blaz": (82.40, 83.02, 84.68),
    "dagli": (87.06, 87.50, 89.26),
    "fu": (90.68, 91.95, 92.24),
    "jakobs1": (88.90, 89.09, 89.09),
    "jakobs2": (81.14, 83.56, 84.77),
    "mao": (82.93, 83.76, 86.14),
    "shapes0": (67.26, 68.73, 68.60),
    "swim": (74.49, 74.29, 78.26),
    "trousers": (89.02, 90.48, 91.73),
}
AGAINST = ("elkeran", "sato", "2025")
#: Width of the sheet, about; the unit of the data becomes a whole number of micrometers.
ABOUT_MM = 600.0
#: So far parts may reach into each other or past the sheet, millimeters: places are whole micrometers.
TOL_MM = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What one plan came to.

    Parameters
    ----------
    laid, asked : int
        Copies.
    share : float
        Area of the copies laid over the sheet's, percent.
    used : float
        Area of the copies laid over the length that they use, percent.
    sheets : int
        Sheets that are used.
    other_angles : int
        Copies that lie at an angle that the data do not list.
    wrong : tuple of str
    seconds, processor : float
    """

    laid: int
    asked: int
    share: float
    used: float
    sheets: int
    other_angles: int
    wrong: tuple[str, ...]
    seconds: float
    processor: float


def scale_of(data: dict) -> float:
    """Millimeters a unit of the data: a whole number of micrometers."""
    return max(1, round(ABOUT_MM * 1000 / (data.get("strip_width") or data["bin_height"]))) / 1000


def write_shop(data: dict, folder: Path, density: float, search: str) -> tuple[float, float]:
    """Write an instance as a shop; return length and width of its sheets, millimeters."""
    k = scale_of(data)
    area = sum(Polygon(p["polygon"]).area * p["demand"] for p in data["parts"]) * k * k
    if "bin_width" in data:
        # bins of which the known layouts fill all are made larger, so that the same parts fill the share asked for
        wider = math.sqrt(100.0 / density)
        length, width = data["bin_width"] * k * wider, data["bin_height"] * k * wider
        sheets = math.ceil(1.5 * (data.get("known_optimum_bins") or area / (length * width))) + 1
    else:
        width, sheets = data["strip_width"] * k, 1
        length = math.ceil(area / (width * density / 100.0) * 1000) / 1000
    lines = ["[shop]", 'name = "bench"', 'units = "mm"', 'rack = "rack.csv"', "chaining = 0", ""]
    lines += ["[cutter]", "diameter = 6", "", "[allowance]", "between_parts = 0", "blank_margin = 0", ""]
    lines += ["[bed.big]", "travel_x = 9000", "travel_y = 9000", "", "[search]", search, ""]
    for part in data["parts"]:
        name = f"p{part['id']}"
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 4
        corners = [(x * k, y * k) for x, y in part["polygon"]]
        doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "EDGE"})
        doc.saveas(folder / f"{name}.dxf")
        turns = part.get("rotations_deg", [0.0])
        free = turns is None or len(turns) > 2
        lines += [f"[part.{name}]", f'drawing = "{name}.dxf"', "thickness = 19", 'show_face = "top"']
        lines += ['grain = "none"'] if free else ["grain = 0", "grain_tolerance = 0"]
        lines += [f"[part.{name}.layers]", 'EDGE = "outline"', ""]
        lines += ["[[order]]", f'part = "{name}"', f"count = {part['demand']}", ""]
    (folder / "shop.toml").write_text("\n".join(lines))
    (folder / "rack.csv").write_text(
        "piece,species,thickness,length,width,grain,count\n"
        f"sheet,black cherry,20.6,{length:.3f},{width:.3f},0,{sheets}\n"
    )
    return length, width


def check(data: dict, plan: dict, length: float, width: float) -> tuple[list[list[Polygon]], int, list[str]]:
    """Check a plan's places from the data alone; return copies by sheet, how many at other angles, what is wrong."""
    k = scale_of(data)
    given = {f"p{p['id']}": p for p in data["parts"]}
    wrong: list[str] = []
    sheets, copies, other = [], dict.fromkeys(given, 0), 0
    for layout in plan["layouts"]:
        shapes: list[Polygon] = []
        sheets.append(shapes)
        for at in layout["placements"]:
            part = given[at["part"]]
            copies[at["part"]] += 1
            turns = part.get("rotations_deg", [0.0])
            if at["mirrored"] or not at["front_up"]:
                wrong.append(f"{at['part']} lies mirrored")
            if turns is not None and at["angle_deg"] % 360 not in turns:
                other += 1
            quarter = at["angle_deg"] / 90.0
            if quarter == int(quarter):
                c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[int(quarter) % 4]
            else:
                c, s = math.cos(math.radians(at["angle_deg"])), math.sin(math.radians(at["angle_deg"]))
            corners = [(x * k, y * k) for x, y in part["polygon"]]
            shapes.append(
                affine_transform(Polygon(corners), (c, -s, s, c, at["x_um"] / 1000, at["y_um"] / 1000))
            )
    for name, n in copies.items():
        if n > given[name]["demand"]:
            wrong.append(f"{name}: {n} copies, {given[name]['demand']} asked for")
    sheet = box(0, 0, length, width).buffer(TOL_MM, join_style="mitre")
    for shapes in sheets:
        wrong += [
            f"placement {i} reaches past the sheet" for i, s in enumerate(shapes) if not sheet.covers(s)
        ]
        cores = [s.buffer(-TOL_MM, join_style="mitre") for s in shapes]
        for i, j in shapely.STRtree(shapes).query(cores, predicate="intersects").T:
            if i < j and cores[i].intersects(shapes[j]):
                wrong.append(
                    f"placements {i} and {j} overlap by {shapes[i].intersection(shapes[j]).area:g} mm2"
                )
    return sheets, other, wrong


def run(data: dict, density: float, seconds: float, effort: int, seed: int, workers: int) -> Result:
    """Plan one instance and check the plan."""
    with tempfile.TemporaryDirectory() as base:
        shop = Path(base) / "shop"
        shop.mkdir()
        search = f"effort = {effort}\nseconds = {seconds:g}\nseed = {seed}\nworkers = {workers}"
        length, width = write_shop(data, shop, density, search)
        out = Path(base) / "out"
        began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run(
            [sys.executable, "-m", "nestyield", "plan", str(shop), "--out", str(out)],
            capture_output=True,
            text=True,
        )
        took, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
        spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        asked = sum(p["demand"] for p in data["parts"])
        found = sorted(out.rglob("plan.json"))
        if done.returncode not in (0, 1) or not found:
            return Result(
                laid=0,
                asked=asked,
                share=0.0,
                used=0.0,
                sheets=0,
                other_angles=0,
                wrong=(f"exit {done.returncode}: {done.stdout[-300:]} {done.stderr[-600:]}",),
                seconds=took,
                processor=spent,
            )
        sheets, other, wrong = check(data, json.loads(found[0].read_text()), length, width)
        area = sum(s.area for shapes in sheets for s in shapes)
        ends = [max(s.bounds[2] for s in shapes) for shapes in sheets]
        return Result(
            laid=sum(map(len, sheets)),
            asked=asked,
            share=100 * area / (length * width * max(1, len(sheets))),
            used=100 * area / (sum(ends) * width) if ends else 0.0,
            sheets=len(sheets),
            other_angles=other,
            wrong=tuple(wrong),
            seconds=took,
            processor=spent,
        )


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--data", type=Path, default=Path("../shared/bench/strip"))
    parser.add_argument("--only", default="", help="names, with commas; left out, those with published means")
    parser.add_argument(
        "--density",
        type=float,
        help="share of the sheet, or of the optimal bins, that the parts fill, percent",
    )
    parser.add_argument("--against", choices=AGAINST, default="elkeran")
    parser.add_argument("--under", type=float, default=1.0, help="points under that mean")
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--effort", type=int, default=1000)
    parser.add_argument("--seed", default="1", help="one or more, with commas")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    if not args.data.is_dir():
        print(f"expected a folder of instances, {args.data} is not there; nothing done")
        return 0
    names = [n for n in args.only.split(",") if n] or sorted(MEANS)
    bad = 0
    print(
        f"{'instance':<10} {'seed':>4} {'asked %':>8} {'laid':>9} {'laid %':>7} {'used %':>7} {'bins':>8} {'odd':>4} "
        f"{'s':>6} {'cpu s':>6}"
    )
    for name in names:
        data = json.loads((args.data / f"{name}.json").read_text())
        bins = data.get("known_optimum_bins") or "-"
        if args.density is None and name not in MEANS and "bin_width" not in data:
            print(f"{name}: expected --density, no mean is published for it")
            return 2
        density = args.density or 100.0
        if args.density is None and "bin_width" not in data:
            density = MEANS[name][AGAINST.index(args.against)] - args.under
        for seed in (int(s) for s in args.seed.split(",")):
            r = run(data, density, args.seconds, args.effort, seed, args.workers)
            bad += bool(r.wrong)
            print(
                f"{name:<10} {seed:>4} {density:8.2f} {r.laid:>4}/{r.asked:<4} {r.share:7.2f} {r.used:7.2f} "
                f"{f'{r.sheets}/{bins}':>8} {r.other_angles:>4} {r.seconds:6.1f} {r.processor:6.1f}  "
                f"{'all' if r.laid == r.asked else ''}{'; '.join(r.wrong[:3])}",
                flush=True,
            )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
