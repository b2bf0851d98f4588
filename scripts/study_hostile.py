"""Random shops at the edge of what can be: every plan comes out, and what is planted is found.

    python scripts/study_hostile.py [--cases N] [--first K] [--seed S] [--planted | --strange] [--keep DIR]

Plain cases have odd settings (no margins, gaps of hundredths of a millimeter, thick cutters, tiny leftovers), keep-outs
at the edges of beds, beds hardly larger than the parts. Planted cases have one layout that fits with no play at all:
the piece is cut around the parts, margins and gap kept exactly. Strange cases are of extremes (see `Strange`). Asked of each: no traceback, exit codes 0 and 1, a plan
that verifies, nothing rejected by the plan's own check, and every planted order met.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

import ezdxf
import numpy as np
from study_shops import Maker, run

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

GAPS = (0.0, 0.001, 0.01, 0.03, 0.049, 0.05, 0.1, 1.0, 9.0)
MARGINS = (0.0, 0.0, 0.001, 0.02, 0.5, 3.0, 6.35)


class Hostile(Maker):
    """A shop with odd settings, few parts and pieces."""

    def settings(self) -> list[str]:
        """Return allowances, leftovers and glue-ups of an odd shop."""
        rng = self.rng
        some = rng.choice
        return [
            "[cutter]",
            f"diameter = {self.num(some([0.2, 1.0, 3.0, 6.35, 12.7, 40.0]))}",
            "[allowance]",
            f"between_parts = {self.num(some(GAPS))}",
            f"blank_margin = {self.num(some(MARGINS))}",
            f"jointing = {self.num(some([0.0, 0.01, 0.8, 3.0]))}",
            f"planing = {self.num(some([0.0, 0.01, 0.8]))}",
            "[leftover]",
            f"shortest = {self.num(some([0.0, 5.0, 60.0, 200.0]))}",
            f"narrowest = {self.num(some([0.0, 5.0, 50.0]))}",
            f"worth = {some([0.0, 0.5, 1.0])}",
            "[glueup]",
            f"most_pieces = {rng.integers(1, 4)}",
            f"least_piece_width = {self.num(some([0.0, 10.0, 30.0]))}",
            f"sliver = {self.num(some([0.0, 2.0, 10.0]))}",
        ]

    def bed(self, name: str) -> list[str]:
        """Return a bed with keep-outs at its edges and an odd table."""
        rng, n = self.rng, self.num
        x, y = float(rng.uniform(90, 700)), float(rng.uniform(60, 400))
        lines = [f"[bed.{name}]", f"travel_x = {n(x)}", f"travel_y = {n(y)}"]
        if rng.random() < 0.4:
            lines.append(f"travel_z = {n(rng.uniform(5, 60))}")
        if rng.random() < 0.4:
            by = float(rng.choice([-10.0, 0.0, 0.5, 30.0]))
            lines += [f"table_x = [{n(-by)}, {n(x + by)}]", f"table_y = [{n(-by)}, {n(y + by)}]"]
        if rng.random() < 0.6:
            ends = rng.choice(["x-", "x+", "y-", "y+"], int(rng.integers(1, 5)), replace=False)
            lines.append("open_ends = [" + ", ".join(f'"{e}"' for e in ends) + "]")
        if rng.random() < 0.7:
            lines.append(f"pin_diameter = {n(rng.choice([3.0, 6.0, 20.0]))}")
        for k in range(int(rng.integers(0, 4))):
            side, w, h = int(rng.integers(4)), float(rng.uniform(2, 60)), float(rng.uniform(2, 60))
            at = float(rng.uniform(0, 1)), float(rng.choice([0.0, 0.01, -5.0]))
            x0 = (at[1], x - w - at[1], at[0] * (x - w), at[0] * (x - w))[side]
            y0 = (at[0] * (y - h), at[0] * (y - h), at[1], y - h - at[1])[side]
            lines += [f"[[bed.{name}.keep_out]]", f'name = "k{k}"']
            lines.append(f"rectangle = [{n(x0)}, {n(y0)}, {n(x0 + w)}, {n(y0 + h)}]")
            lines.append(f'blocks = "{rng.choice(["cutter", "blank", "both"])}"')
        return lines

    def write(self) -> None:
        """Write the whole folder."""
        rng = self.rng
        text = ["[shop]", 'name = "Hostile"', f'units = "{"in" if self.inch else "mm"}"', 'rack = "rack.csv"']
        text += ['defects = "flaws.csv"', *self.settings()]
        for b in range(int(rng.integers(1, 3))):
            text += self.bed(f"b{b}")
        names = [f"part{k}" for k in range(int(rng.integers(1, 3)))]
        text += [self.part(name) for name in names]
        for name in names:
            text += ["[[order]]", f'part = "{name}"', f"count = {rng.integers(1, 3)}"]
        (self.folder / "shop.toml").write_text(
            "\n".join([*text, "[search]", "effort = 1", "seconds = 900", ""])
        )
        self.rack()


#: Names as makers of anywhere write them: accents, other scripts, right to left, a space, marks of tables and paths.
NAMES = (
    "Épicéa 7",
    "木-1",
    "לוח 3",
    "Стол",
    "a;b",
    "7/8 rest",
    "O'Neill",
    "x" * 60,
    "ﬁr",
    "N° 4 (old)",
    "-1",
    "A.b",
)


class Strange(Hostile):
    """A shop of extremes: tiny and huge, many corners, C-shapes and holes, dozens of flaws, other units and names."""

    def __init__(self, folder: Path, rng: np.random.Generator) -> None:
        super().__init__(folder, rng)
        self.scale = float(rng.choice([0.06, 0.3, 1.0, 1.0, 1.0, 4.0]))
        self.kinds: list[str] = []
        self.thick = float(rng.choice([3.0, 19.0, 44.5]))

    def settings(self) -> list[str]:
        """Return allowances with gaps and margins at both ends, and a cutter that may be wider than any pocket."""
        some, n = self.rng.choice, self.num
        most = 3.0 if self.scale < 1.0 else 30.0
        lines = ["[cutter]", f"diameter = {n(some([0.5, 3.0, 6.0, 60.0 if self.scale > 1.0 else 3.0]))}"]
        lines += ["[allowance]", f"between_parts = {n(some([0.0, 3.0, most]))}"]
        lines += [f"blank_margin = {n(some([0.0, 0.0, 1.0, most / 3]))}", f"planing = {n(some([0.0, 0.8]))}"]
        lines += [f"thickness_tolerance = {n(some([0.0, 0.15]))}"] if self.rng.random() < 0.5 else []
        lines += [
            "[leftover]",
            f"shortest = {n(some([0.0, 3.0, 300.0]))}",
            f"worth = {some([0.0, 0.5, 1.0])}",
        ]
        return [*lines, "[glueup]", f"most_pieces = {some([1, 2, 3])}"]

    def ring(self, length: float, width: float) -> list[tuple[float, float]]:
        """Return an outline that fills a box: round with up to 500 corners, a C, a box, a wedge, a comb."""
        rng = self.rng
        kind = str(rng.choice(["round", "C", "box", "wedge", "comb"]))
        self.kinds.append(kind)
        a, b = length * rng.uniform(0.15, 0.4), width * rng.uniform(0.15, 0.35)
        if kind == "round":
            turn = np.arange(n := int(rng.choice([24, 120, 500]))) * 2 * math.pi / n
            far = 1.0 + 0.15 * np.cos(3 * turn + rng.uniform(0, 6)) + 0.02 * np.cos(40 * turn) * (n > 100)
            x, y = far * np.cos(turn), far * np.sin(turn)
            xs, ys = (x - x.min()) / np.ptp(x) * length, (y - y.min()) / np.ptp(y) * width
            return list(zip(xs.tolist(), ys.tolist()))
        if kind == "C":
            low = [(0, 0), (length, 0), (length, b), (a, b), (a, width - b), (length, width - b)]
            return [*low, (length, width), (0, width)]
        if kind == "wedge":
            return [(0, 0), (length, width * 0.4), (length, width * 0.6), (0, width)]
        if kind == "comb":
            teeth = np.linspace(0, length, 12).tolist()
            up = [
                p
                for k, x in enumerate(teeth[::-1])
                for p in ((x, width), (x, width * 0.6))[:: 1 if k % 2 else -1]
            ]
            return [(0, 0), (length, 0), *up]
        return [(0, 0), (length, 0), (length, width), (0, width)]

    def part(self, name: str) -> str:
        """Draw a part, with a pocket or a hole at times; return its section of the shop file."""
        rng, u, s = self.rng, self.unit, self.scale
        length, width = float(rng.uniform(60, 300)) * s, float(rng.uniform(40, 160)) * s
        thick = self.thick
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 1 if self.inch else 4
        space = doc.modelspace()
        ring = self.ring(length, width)
        space.add_lwpolyline([(x / u, y / u) for x, y in ring], close=True, dxfattribs={"layer": "EDGE"})
        layers = ['EDGE = "outline"']
        if rng.random() < 0.5:
            c, r = (length * 0.06 / u, width * 0.5 / u), min(length, width) * 0.05 / u
            space.add_circle(c, r, dxfattribs={"layer": "CAVITY"})
            role = '{ role = "pocket", face = "front", depth = ' + self.num(thick / 2) + " }"
            layers.append(f"CAVITY = {role}" if rng.random() < 0.6 else 'CAVITY = "cutout"')
        doc.saveas(self.folder / f"{name}.dxf")
        lines = [f"[part.{name}]", f'drawing = "{name}.dxf"', f"thickness = {self.num(thick)}"]
        lines.append(f"grain = {rng.choice([0, 0, 90, 45])}")
        lines.append(f"grain_tolerance = {rng.choice([0, 0.001, 3, 50, 90])}")
        return "\n".join([*lines, f"[part.{name}.layers]", *layers, ""])

    def bed(self, name: str) -> list[str]:
        """Return a bed of any size, or one that is a hair larger or smaller than a piece."""
        rng, n = self.rng, self.num
        x, y = (float(v) for v in rng.choice([[3000, 1500], [800 * self.scale, 400 * self.scale]]))
        if rng.random() < 0.4 and self.sizes:
            long, wide = self.sizes[int(rng.integers(len(self.sizes)))]
            by = float(rng.choice([-0.01, 0.0, 0.01, 1.0]))
            x, y = long + by, wide + by
        ends = ['open_ends = ["x-", "x+"]', "pin_diameter = " + n(6.0)] if rng.random() < 0.3 else []
        return [f"[bed.{name}]", f"travel_x = {n(max(x, 1.0))}", f"travel_y = {n(max(y, 1.0))}", *ends]

    def rack(self) -> None:
        """Write pieces of odd shapes, with holes, dozens of flaws, odd names, in the other unit at times."""
        rng, s = self.rng, self.scale
        other = 25.4 if rng.random() < 0.3 else self.unit
        u = "in" if other > 1.0 else "mm"
        rows, flaws = (
            [f"piece,species,thickness_{u},outline_{u},grain,count"],
            [f"piece,kind,x_{u},y_{u},diameter_{u}"],
        )
        names = [*rng.permutation(NAMES).tolist()]
        num = lambda v: f"{v / other:.6f}"  # noqa: E731
        for k in range(int(rng.integers(1, 6))):
            length, width = float(rng.uniform(150, 800)) * s, float(rng.uniform(60, 320)) * s
            self.sizes.append((length, width))
            rings = [self.ring(length, width)]
            inside = self.kinds[-1] in ("box", "round")
            if inside and rng.random() < 0.4:
                a, b, r = length * rng.uniform(0.4, 0.6), width * 0.5, width * rng.uniform(0.01, 0.2)
                rings.append([(a - r, b - r), (a + r, b - r), (a + r, b + r), (a - r, b + r)])
            text = ", ".join(
                "(" + ", ".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]]) + ")" for r in rings
            )
            name = names[k] if rng.random() < 0.5 else f"R{k}"
            name = "R0" if rng.random() < 0.03 else name
            species = "MDF" if rng.random() < 0.2 else "sugar maple"
            grain = "none" if species == "MDF" else rng.choice([0, 0, 0, 90, 45, 179.999])
            thick = self.thick + float(rng.choice([0.0, 0.15, 1.6, 2.0, 2.0, 9.0]))
            rows.append(
                f'"{name}",{species},{num(thick)},"POLYGON ({text})",{grain},{rng.choice([1, 1, 3, 40])}'
            )
            for _ in range(int(rng.choice([0, 1, 30])) if inside else 0):
                x, y = rng.uniform(0.3, 0.7) * length, rng.choice([0.3, 0.7]) * width
                kind = str(rng.choice(["knot", "nail hole", "stain", "metal", "worm"]))
                flaws.append(f'"{name}",{kind},{num(x)},{num(y)},{num(rng.uniform(0.5, 12) * min(s, 1.0))}')
        (self.folder / "rack.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        (self.folder / "flaws.csv").write_text("\n".join(flaws) + "\n", encoding="utf-8")

    def write(self) -> None:
        """Write the whole folder."""
        rng = self.rng
        self.sizes: list[tuple[float, float]] = []
        self.rack()
        units = "in" if self.inch else "mm"
        text = [
            "[shop]",
            'name = "Œuvre 木"',
            f'units = "{units}"',
            'rack = "rack.csv"',
            'defects = "flaws.csv"',
        ]
        text += [*self.settings(), *self.bed("b0")]
        names = [f"part{k}" for k in range(int(rng.integers(1, 3)))]
        text += [self.part(name) for name in names]
        for name in names:
            text += [
                "[[order]]",
                f'part = "{name}"',
                f"count = {rng.choice([1, 2, 3, 40] if rng.random() < 0.9 else [0])}",
            ]
        (self.folder / "shop.toml").write_text(
            "\n".join([*text, "[search]", "effort = 1", "seconds = 10", ""]), encoding="utf-8"
        )


class Planted(Maker):
    """A shop whose only piece holds all its parts with no play, turned as the grain allows."""

    def shape(self, name: str) -> tuple[float, float, str]:
        """Draw a part that fills its box exactly; return length, width and its section."""
        rng = self.rng
        length, width = float(rng.integers(60, 300)), float(rng.integers(30, 120))
        if rng.random() < 0.4:
            length, width = length + float(rng.choice([0.1, 0.001, 1 / 3])), width + 0.25
        kind = str(rng.choice(["box", "round ends", "disc", "blob", "cut corner"]))
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 4
        space = doc.modelspace()
        layer = {"layer": "EDGE"}
        if kind == "disc":
            width = length = min(length, width)
            space.add_circle((length / 2, width / 2), length / 2, dxfattribs=layer)
        else:
            r = width / 2
            points = {
                "box": [(0, 0, 0), (length, 0, 0), (length, width, 0), (0, width, 0)],
                "round ends": [(r, 0, 0), (length - r, 0, 1.0), (length - r, width, 0), (r, width, 1.0)],
                "blob": [(x, y, 0) for x, y in self.blob(length, width, 0.3)],
                "cut corner": [
                    (0, 0, 0),
                    (length, 0, 0),
                    (length, width / 3, 0),
                    (length / 2, width, 0),
                    (0, width, 0),
                ],
            }[kind]
            if kind == "round ends" and length <= width:
                length = width * 1.5
                points = [(r, 0, 0), (length - r, 0, 1.0), (length - r, width, 0), (r, width, 1.0)]
            space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=layer)
        doc.saveas(self.folder / f"{name}.dxf")
        lines = [f"[part.{name}]", f'drawing = "{name}.dxf"', "thickness = 19"]
        lines.append(f"grain_tolerance = {rng.choice([0, 0, 2, 5, 90])}")
        return length, width, "\n".join([*lines, f"[part.{name}.layers]", 'EDGE = "outline"', ""])

    def write(self) -> None:
        """Write the whole folder: parts in a row, the piece a box around them, turned with its grain."""
        rng = self.rng
        margin = float(rng.choice([0.0, 0.001, 0.5, 3.0, 6.35]))
        gap = float(rng.choice([0.0, 0.01, 0.05, 3.0, 9.35]))
        text = ["[shop]", 'name = "Planted"', 'units = "mm"', 'rack = "rack.csv"', "[cutter]", "diameter = 3"]
        text += [
            "[allowance]",
            f"between_parts = {gap}",
            f"blank_margin = {margin}",
            "[glueup]",
            "most_pieces = 1",
        ]
        text += ["[bed.b]", "travel_x = 3000", "travel_y = 3000"]
        along, across = 2 * margin - gap, 0.0
        for k in range(int(rng.choice([1, 1, 1, 2]))):
            length, width, section = self.shape(f"part{k}")
            along, across = along + length + gap, max(across, width + 2 * margin)
            text += [section, "[[order]]", f'part = "part{k}"']
        (self.folder / "shop.toml").write_text(
            "\n".join([*text, "[search]", "effort = 1", "seconds = 900", ""])
        )
        turn = math.radians(float(rng.choice([0, 0, 0, 90, 30, 7.3])))
        c, s = math.cos(turn), math.sin(turn)
        corners = [(0.0, 0.0), (along, 0.0), (along, across), (0.0, across)]
        if turn == 0.0:
            size, outline = f"{along!r},{across!r}", ""
        else:  # rounded outwards, so that the piece is never smaller than the parts need
            ring = [(x * c - y * s, x * s + y * c) for x, y in corners]
            size = ","
            outline = '"POLYGON ((' + ", ".join(f"{x!r} {y!r}" for x, y in [*ring, ring[0]]) + '))"'
        head = "piece,species,thickness_mm,length_mm,width_mm,outline_mm,grain"
        row = f"R0,sugar maple,20.6,{size},{outline},{math.degrees(turn):g}"
        (self.folder / "rack.csv").write_text(f"{head}\n{row}\n")


def case(
    folder: Path, rng: np.random.Generator, planted: bool, tally: Counter[str], strange: bool = False
) -> str:
    """Make one shop and plan it; return what went wrong, or ''."""
    shop, out = folder / "shop", folder / "plan"
    shop.mkdir(parents=True)
    (Planted if planted else Strange if strange else Hostile)(shop, rng).write()
    code, said = run("plan", shop, "--out", out, "--workers", 1)
    tally[f"plan ended with {code}"] += 1
    if code == 2:
        if "failed its own check" in said or "error" not in said:
            return f"refused: {said}"
        tally["refused: " + said.partition("error ")[2][:120]] += 1
        return f"planted shop refused: {said}" if planted else ""
    code, found = run("verify", out, "--shop", shop)
    if code:
        return f"verify ended with {code}: {found}"
    told = json.loads((out / "plan.json").read_text())
    rejected = [line for line in said.splitlines() if " P03" in line]
    if rejected:
        return "rejected: " + "\n  ".join(rejected)
    if planted and any(r["placed"] < r["count"] for r in told["orders"]):
        return "a planted order is not met: " + "; ".join(
            json.dumps(r["reasons"])[:400] for r in told["orders"]
        )
    tally["blanks"] += len(told["layouts"])
    return ""


def main() -> int:
    """Run the cases and print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--planted", action="store_true", help="fits with no play instead of odd settings")
    parser.add_argument("--strange", action="store_true", help="shops of extremes instead")
    parser.add_argument("--keep", type=Path, help="folder for the shops that broke something")
    args = parser.parse_args()
    tally: Counter[str] = Counter()
    wrong, started = 0, time.process_time()
    for k in range(args.first, args.first + args.cases):
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch)
            begun = time.process_time()
            try:
                rng = np.random.default_rng([args.seed, k, args.planted])
                found = case(folder, rng, args.planted, tally, args.strange)
            except Exception:
                found = traceback.format_exc()
            if (spent := time.process_time() - begun) > 60:
                print(f"case {k}: {spent:.0f} s", flush=True)
            if found:
                wrong += 1
                print(f"case {k}: {found}", flush=True)
                if args.keep:
                    shutil.copytree(folder, args.keep / str(k), dirs_exist_ok=True)
    for what, n in sorted(tally.items()):
        print(f"{n:6d}  {what}")
    print(
        f"{args.cases} shops, {wrong} with something wrong, {time.process_time() - started:.0f} s of processor"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
