"""Random shops through the whole way: read, plan, write, verify, take, undo. What breaks is told.

    python scripts/study_shops.py [--cases N] [--seed K] [--keep DIR]

Each case is a folder of files like a maker's: parts with arcs, pockets, openings and holes, a rack of boards, offcuts,
glued boards and sheets with defects of every kind, beds with open ends and keep-outs, mm or inches. Asked of each:
no traceback, a plan that verifies against its shop, `take` and `undo` that give the folder back byte for byte,
and a second plan of the same bytes.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
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

from nestyield.cli import main as command

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

KINDS = (
    "knot",
    "loose knot",
    "check",
    "split",
    "bark",
    "wane",
    "worm",
    "screw hole",
    "mortise",
    "stain",
    "sapwood",
    "metal",
)
SPECIES = ("sugar maple", "black cherry", "black walnut", "MDF")


class Maker:
    """Draws one random shop into a folder; lengths in mm are written in the shop's unit.

    Parameters
    ----------
    folder : Path
    rng : numpy.random.Generator
    """

    def __init__(self, folder: Path, rng: np.random.Generator) -> None:
        self.folder, self.rng = folder, rng
        self.inch = bool(rng.random() < 0.4)
        self.unit = 25.4 if self.inch else 1.0

    def num(self, mm: float) -> str:
        """Write a length in the shop's unit."""
        return f"{mm / self.unit:.4f}".rstrip("0").rstrip(".")

    def blob(self, length: float, width: float, dent: float) -> list[tuple[float, float]]:
        """Return a star-shaped outline that fills a box."""
        n = int(self.rng.integers(6, 14))
        turn = (np.arange(n) + self.rng.uniform(0.15, 0.85, n)) * 2 * math.pi / n
        reach = self.rng.uniform(1.0 - dent, 1.0, n)
        x, y = reach * np.cos(turn), reach * np.sin(turn)
        x = (x - x.min()) / (x.max() - x.min()) * length
        y = (y - y.min()) / (y.max() - y.min()) * width
        return [(float(a), float(b)) for a, b in zip(x, y)]

    def part(self, name: str) -> str:
        """Draw a part; return its section of the shop file."""
        rng, u = self.rng, self.unit
        length, width = float(rng.uniform(80, 400)), float(rng.uniform(30, 180))
        thick = float(rng.choice([19.0, 38.0, 44.5]))
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 1 if self.inch else 4
        space = doc.modelspace()
        corners = self.blob(length, width, 0.45)
        rounded = rng.random() < 0.5
        space.add_lwpolyline(
            [(x / u, y / u, float(rng.uniform(-0.12, 0.25)) if rounded else 0.0) for x, y in corners],
            format="xyb",
            close=True,
            dxfattribs={"layer": "EDGE"},
        )
        layers = ['EDGE = "outline"']
        cx, cy = sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)
        if rng.random() < 0.6:
            a, b = length * 0.12, width * 0.12
            box = [((cx + i * a) / u, (cy + j * b) / u) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
            role = str(rng.choice(["pocket", "contour", "cutout", "no_seam"]))
            if role == "contour":  # along one end, over the edge
                ends, far = (-0.02 * length / u, 0.2 * length / u), 1.1 * width / u
                box = [(ends[0], -far), (ends[1], -far), (ends[1], far), (ends[0], far)]
            space.add_lwpolyline(box, close=True, dxfattribs={"layer": "CAVITY"})
            if role in ("pocket", "contour"):
                face, depth = rng.choice(["front", "back"]), thick * rng.uniform(0.3, 0.8)
                tolerates = ', tolerates = { knot = "allowed" }' if rng.random() < 0.3 else ""
                layers.append(
                    f'CAVITY = {{ role = "{role}", face = "{face}", depth = {self.num(depth)}{tolerates} }}'
                )
            else:
                layers.append(f'CAVITY = "{role}"')
        if rng.random() < 0.4:
            space.add_circle((cx / u, cy / u), 2.0 / u, dxfattribs={"layer": "STUD"})
            layers.append('STUD = "hole"')
        doc.saveas(self.folder / f"{name}.dxf")
        lines = [f"[part.{name}]", f'drawing = "{name}.dxf"', f"thickness = {self.num(thick)}"]
        if rng.random() < 0.2:
            lines.append('grain = "none"')
        else:
            lines.append(f"grain_tolerance = {rng.choice([0, 2, 5, 10, 90])}")
        if rng.random() < 0.3:
            some = rng.choice(SPECIES, int(rng.integers(1, 3)), replace=False)
            lines.append("species = [" + ", ".join(f'"{s}"' for s in some) + "]")
        lines.append(f'mirrored = "{rng.choice(["no", "no", "allowed", "only"])}"')
        if rng.random() < 0.3:
            lines.append('tolerates = { stain = "allowed", "screw hole" = "filled", sapwood = "allowed" }')
            lines.append("fill_limit = 5")
        return "\n".join([*lines, f"[part.{name}.layers]", *layers, ""])

    def rack(self) -> None:
        """Write the rack and its defects."""
        rng = self.rng
        u = "in" if self.inch else "mm"
        head = ["piece", "species", f"thickness_{u}", f"length_{u}", f"width_{u}", f"outline_{u}", "grain"]
        rows = [",".join([*head, "moisture", "count", "status", f"seams_{u}", "note"])]
        flaws = [f"piece,kind,x_{u},y_{u},diameter_{u},length_{u},width_{u},angle,face,depth_{u}"]
        for k in range(int(rng.integers(2, 12))):
            species = str(rng.choice(SPECIES))
            thick = float(rng.choice([19.0, 20.6, 40.0, 46.5, 48.0, 50.0]))
            length, width = float(rng.uniform(100, 800)), float(rng.uniform(40, 320))
            outline, seams, plain = "", "", rng.random() < 0.6
            if not plain:
                corners = self.blob(length, width, 0.3)
                points = ", ".join(f"{self.num(x)} {self.num(y)}" for x, y in [*corners, corners[0]])
                outline = f'"POLYGON (({points}))"'
            elif rng.random() < 0.2 and species != "MDF":
                at = self.num(width * rng.uniform(0.3, 0.7))
                seams = f'"LINESTRING (0 {at}, {self.num(length)} {at})"'
            grain = "none" if species == "MDF" else str(rng.choice([0, 0, 0, 3, 90]))
            size = [self.num(length), self.num(width)] if plain else ["", ""]
            moist = "" if rng.random() < 0.5 else f"{rng.uniform(6, 12):.1f}"
            count = int(rng.integers(1, 4))
            status = "hold" if rng.random() < 0.08 else "ready"
            row = [f"R{k}", species, self.num(thick), *size, outline, grain, moist, str(count), status]
            rows.append(",".join([*row, seams, "=1+1" if rng.random() < 0.2 else "as found"]))
            for _ in range(int(rng.integers(0, 4))):
                x, y = rng.uniform(0.1, 0.9) * length, rng.uniform(0.1, 0.9) * width
                kind, face = str(rng.choice(KINDS)), str(rng.choice(["top", "bottom", "through"]))
                depth = "" if face == "through" else self.num(thick * rng.uniform(0.1, 0.9))
                if rng.random() < 0.6:
                    shape = [self.num(rng.uniform(3, 30)), "", "", ""]
                else:
                    long, wide = rng.uniform(10, 80), rng.uniform(2, 15)
                    shape = ["", self.num(long), self.num(wide), f"{rng.uniform(-90, 90):.0f}"]
                flaws.append(",".join([f"R{k}", kind, self.num(x), self.num(y), *shape, face, depth]))
        (self.folder / "rack.csv").write_text("\n".join(rows) + "\n")
        (self.folder / "flaws.csv").write_text("\n".join(flaws) + "\n")

    def write(self) -> None:
        """Write the whole folder."""
        rng = self.rng
        names = [f"part{k}" for k in range(int(rng.integers(1, 4)))]
        text = ["[shop]", 'name = "Random"', f'units = "{"in" if self.inch else "mm"}"', 'rack = "rack.csv"']
        text += ['defects = "flaws.csv"', "[cutter]", f"diameter = {self.num(rng.choice([3.0, 6.35, 12.7]))}"]
        if rng.random() < 0.3:
            text += ["[allowance]", f"blank_margin = {self.num(rng.choice([0.0, 3.0, 10.0]))}"]
        text += ["[glueup]", f"most_pieces = {rng.integers(2, 4)}"]
        for b in range(int(rng.integers(1, 3))):
            text += [f"[bed.b{b}]", f"travel_x = {self.num(rng.uniform(250, 900))}"]
            text += [f"travel_y = {self.num(rng.uniform(150, 500))}"]
            if rng.random() < 0.5:
                text += ['open_ends = ["x-", "x+"]', f"pin_diameter = {self.num(6.0)}"]
            if rng.random() < 0.3:
                corner = ", ".join(self.num(v) for v in (0.0, 0.0, 40.0, 25.0))
                text += [f"[[bed.b{b}.keep_out]]", 'name = "clamp"', f"rectangle = [{corner}]"]
        text += [self.part(name) for name in names]
        for name in names:
            text += ["[[order]]", f'part = "{name}"', f"count = {rng.integers(1, 4)}"]
            text += [f"priority = {rng.integers(1, 6)}"]
        text += ["[search]", "effort = 1", "seconds = 120"]
        (self.folder / "shop.toml").write_text("\n".join(text) + "\n")
        self.rack()


def digest(folder: Path, but: str = "") -> str:
    """Return one hash of all files of a folder."""
    total = hashlib.sha256()
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        name = path.relative_to(folder).as_posix()
        if not but or not name.startswith(but):
            total.update(name.encode() + b"\0" + hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()


def run(*argv: object) -> tuple[int, str]:
    """Run a command in this process; return its exit code and what it said."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = command([str(a) for a in argv])
    return code, said.getvalue()


def case(folder: Path, rng: np.random.Generator, tally: Counter[str]) -> str:
    """Make one shop and take it all the way; return what went wrong, or ''."""
    shop, out = folder / "shop", folder / "plan"
    shop.mkdir(parents=True)
    Maker(shop, rng).write()
    code, said = run("plan", shop, "--out", out, "--workers", 1)
    tally[f"plan ended with {code}"] += 1
    if code == 2:
        if "error" not in said or "failed its own check" in said:
            return f"refused without an error: {said}"
        tally["refused: " + said.partition("error ")[2][:150]] += 1
        return "" if not out.exists() else "refused, but something was written"
    if "over its ceiling" in said or "stopped" in said:
        tally["stopped by its ceiling"] += 1
    code, said = run("verify", out, "--shop", shop)
    if code != 0:
        return f"verify ended with {code}: {said}"
    before = digest(shop)
    tally["blanks"] += (blanks := len(list((out / "drawings").glob("*.dxf"))))
    tally["glue-ups"] += len(list((out / "drawings").glob("glue-up*.dxf")))
    code, _ = run("plan", shop, "--out", folder / "again", "--workers", 1)
    if digest(out) != digest(folder / "again"):
        return "a second plan has other bytes"
    if blanks:
        code, said = run("take", out, "--shop", shop)
        if code == 2:
            return f"take refused: {said}"
        code, said = run("check", shop)
        if code == 2:
            return f"after take the shop does not read: {said}"
        code, said = run("undo", shop)
        if code == 2 or digest(shop, ".nestyield") != before:
            return f"undo ended with {code} or left other bytes: {said}"
    return ""


def main() -> int:
    """Run the cases and print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for the shops that broke something")
    args = parser.parse_args()
    tally: Counter[str] = Counter()
    wrong, started = 0, time.process_time()
    for k in range(args.cases):
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch)
            begun = time.process_time()
            try:
                found = case(folder, np.random.default_rng([args.seed, k]), tally)
            except Exception:
                found = traceback.format_exc()
            spent = time.process_time() - begun
            if spent > 60:
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
