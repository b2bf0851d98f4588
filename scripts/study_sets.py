"""Planted sets: racks made by cutting up a known answer in which one distribution alone makes every set whole.

Each shop has two or three instruments of three or four parts. The parts of one thickness are nested: the piece of
a larger part would hold a smaller one, which costs more wood where it belongs; each piece holds its own part with
a play of up to 2 mm and no second one. So the wood is enough for all only when each piece gets its own part. In
two of three shops the instruments are matched, by species, by row or by board; pieces of other wood, cheaper, hold
every part but one, so they make none.

Each shop goes through `nestyield plan`, `verify`, `take` (rack and orders as told) and `undo` (all as before).
Then one piece is taken off the rack: one set fewer must be whole, and what the plan says that lacks, bought as
told, must make all of them whole again.

    .venv/test/bin/python scripts/study_sets.py --seeds 20
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import io
import json
import shutil
import sys
import tempfile
import time
from pathlib import Path

import ezdxf
import numpy as np

from nestyield.cli import main as nestyield

MATCHES = ("", "species", "row", "board", "", "species")
SPECIES = ("sugar maple", "black cherry", "black walnut", "white ash")
MARGIN, PLANED = 6.35, 2.4
HEADER = ["piece", "species", "thickness", "length", "width", "value", "parent", "status"]


def parts_of(rng: np.random.Generator) -> list[tuple[str, float, float, float]]:
    """Return name, length, width, thickness of the parts of one instrument, the largest first."""
    names = ["body", "neck", "arm", "plate"][: int(rng.integers(3, 5))]
    length, width = float(rng.integers(420, 480)), float(rng.integers(200, 240))
    thick = 30.0
    out = []
    for k, name in enumerate(names):
        # the last one of four is thinner, and has wood of its own
        thin = 8.0 if k == 3 else thick
        out.append((name, round(length, 1), round(width, 1), thin))
        length, width = length * float(rng.uniform(0.86, 0.93)), width * float(rng.uniform(0.72, 0.8))
    return out


def shop_of(seed: int, folder: Path) -> dict[str, object]:
    """Write a shop folder; return what is planted."""
    rng = np.random.default_rng(seed)
    match = MATCHES[seed % len(MATCHES)]
    parts, count = parts_of(rng), int(rng.integers(2, 4))
    folder.mkdir(parents=True)
    rows: list[list[str]] = []
    planted: dict[str, str] = {}
    for s in range(count):
        wood = SPECIES[s] if match == "species" else SPECIES[0]
        if match == "row":
            continue
        for name, length, width, thick in parts:
            play = rng.uniform(0.0, 2.0, 2)
            piece = f"P-{len(rows) + 1}"
            parent = f"plank {s + 1}" if match == "board" else ""
            rows.append(
                [
                    piece,
                    wood,
                    f"{thick + PLANED:g}",
                    f"{length + 2 * MARGIN + play[0]:.2f}",
                    f"{width + 2 * MARGIN + play[1]:.2f}",
                    # the larger the cheaper: money draws small parts to large pieces
                    f"{40 - 30 * width / parts[0][2]:.2f}",
                    parent,
                    "ready",
                ]
            )
            planted[piece] = name
    if match == "row":  # one plank holds all thick parts of one instrument in a line, one strip the thin ones
        for s in range(count):
            rows += _planks(rng, parts, s, planted)
    if match:
        rows += _decoys(rng, parts, match, count)
    rng.shuffle(rows)
    with (folder / "rack.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([HEADER, *rows])
    _shop_file(folder, parts, count, match)
    return {"match": match, "count": count, "parts": [p[0] for p in parts], "planted": planted}


def _planks(
    rng: np.random.Generator,
    parts: list[tuple[str, float, float, float]],
    s: int,
    planted: dict[str, str],
) -> list[list[str]]:
    """Return the plank of one instrument: its thick parts fit on it in a line, and only one of each."""
    thick = [p for p in parts if p[3] == parts[0][3]]
    length = sum(p[1] for p in thick) + 2 * MARGIN + 9.35 * (len(thick) - 1) + float(rng.uniform(0, 2))
    planted[f"R-{s}"] = "all"
    size = [f"{length:.2f}", f"{thick[0][2] + 2 * MARGIN + float(rng.uniform(0, 2)):.2f}"]
    out = [[f"R-{s}", SPECIES[0], f"{parts[0][3] + PLANED:g}", *size, "50", "", "ready"]]
    for name, length, width, thick in parts:
        if thick != parts[0][3]:  # not matched
            planted[f"P-{s}"] = name
            size = [f"{length + 2 * MARGIN + 1:.2f}", f"{width + 2 * MARGIN + 1:.2f}"]
            out.append([f"P-{s}", SPECIES[0], f"{thick + PLANED:g}", *size, "5", "", "ready"])
    return out


def _decoys(
    rng: np.random.Generator, parts: list[tuple[str, float, float, float]], match: str, count: int
) -> list[list[str]]:
    """Return cheap pieces of other wood that hold every part but the largest, once."""
    wood = SPECIES[3] if match == "species" else SPECIES[0]
    out = []
    for k, (_, length, width, thick) in enumerate(parts[1:], start=1):
        if match == "row" and thick != parts[0][3]:
            continue  # parts that do not match would rightly take it
        size = [f"{length + 2 * MARGIN + 1:.2f}", f"{width + 2 * MARGIN + 1:.2f}"]
        parent = "plank 9" if match == "board" else ""
        out.append([f"D-{k}", wood, f"{thick + PLANED:g}", *size, "0.50", parent, "ready"])
    return out


def _shop_file(folder: Path, parts: list[tuple[str, float, float, float]], count: int, match: str) -> None:
    text = [
        '[shop]\nname = "Sets"\nunits = "mm"\nrack = "rack.csv"\n[cutter]\ndiameter = 6.35\n'
        "[glueup]\nmost_pieces = 1\n[allowance]\nblank_margin = 6.35\nbetween_parts = 9.35\nplaning = 0.8\n"
        "[bed.bench]\ntravel_x = 3000\ntravel_y = 1200\ntravel_z = 90\n"
    ]
    for name, length, width, thick in parts:
        drawing = ezdxf.new(units=4)
        drawing.modelspace().add_lwpolyline(
            [(0, 0), (length, 0), (length, width), (0, width)], close=True, dxfattribs={"layer": "EDGE"}
        )
        drawing.saveas(folder / f"{name}.dxf")
        text.append(
            f'[part.{name}]\ndrawing = "{name}.dxf"\nthickness = {thick:g}\n'
            f'[part.{name}.layers]\nEDGE = "outline"\n'
        )
    for name, _, _, thick in parts:
        asked = f'match = "{match}"\n' if match and not (match == "row" and thick != parts[0][3]) else ""
        text.append(
            f'[[order]]\nname = "{name} order"\npart = "{name}"\ncount = {count}\nset = "trio"\n{asked}'
        )
    (folder / "shop.toml").write_text("\n".join(text), encoding="utf-8")


def run(*args: str) -> tuple[int, dict[str, object]]:
    """Run a command in this process; return its exit code and its JSON."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        code = nestyield([*args, "--json"])
    return code, json.loads(out.getvalue() or "{}")


def planned(shop: Path, out: Path) -> dict[str, object]:
    """Plan and verify; return the plan's summary."""
    shutil.rmtree(out, ignore_errors=True)
    code, told = run("plan", str(shop), "--out", str(out), "--workers", "1")
    if code not in (0, 1):
        raise RuntimeError(f"plan ended with {code}: {told}")
    code, verified = run("verify", str(out), "--shop", str(shop))
    if code != 0:
        raise RuntimeError(f"verify ended with {code}: {verified}")
    return told


def one(seed: int, folder: Path) -> str:
    """Return what is wrong with one seed, ``""`` for a sound one."""
    shop, out = folder / "shop", folder / "plan"
    about = shop_of(seed, shop)
    before = {p.name: p.read_bytes() for p in shop.iterdir() if p.is_file()}
    told = planned(shop, out)
    (row,) = told["sets"]
    if (row["made"], row["wanted"]) != (about["count"], about["count"]):
        return f"{row['made']} of {row['wanted']} whole"
    where = {b["stock"][0]: b["parts"][0]["part"] for b in told["blanks"] if len(b["parts"]) == 1}
    wrong = [p for p, part in about["planted"].items() if part != "all" and where.get(p) != part]
    if wrong:
        return f"{wrong[0]} makes {where.get(wrong[0])}"
    code, _ = run("take", str(out), "--shop", str(shop))
    if code:
        return f"take ended with {code}"
    taken = (shop / "rack.csv").read_text(encoding="utf-8")
    orders = (shop / "shop.toml").read_text(encoding="utf-8")
    if orders.count("done = true") != len(about["parts"]) or taken.count("taken") < len(told["blanks"]):
        return "take did not book every blank and order"
    code, _ = run("undo", str(shop))
    after = {p.name: p.read_bytes() for p in shop.iterdir() if p.is_file()}
    if code or after != before:
        return "undo did not bring everything back"
    return _one_less(about, shop, out)


def _one_less(about: dict[str, object], shop: Path, out: Path) -> str:
    """Take the piece of one part off the rack, plan, buy what is told to lack, plan again."""
    gone = sorted(about["planted"])[0]
    lines = (shop / "rack.csv").read_text(encoding="utf-8").splitlines()
    lines = [line for line in lines if not line.startswith(f"{gone},")]
    (shop / "rack.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    told = planned(shop, out)
    (row,) = told["sets"]
    if row["made"] != about["count"] - 1 or not row["lacks"]:
        return f"without {gone} {row['made']} of {row['wanted']} whole, lacking {row['lacks']!r}"
    if about["match"] == "board":
        return ""  # no board to buy matches an old one
    bought = []
    for k, need in enumerate(told["to_buy"]):
        wood = need["species"][0] if need["species"] else SPECIES[0]
        size = f"{need['length_mm']},{need['width_mm']}"
        for n in range(need["count"]):
            bought.append(f"N-{k}-{n},{wood},{need['thickness_mm']},{size},30,,ready")
    if about["match"] == "row":
        return ""
    (shop / "rack.csv").write_text("\n".join([*lines, *bought]) + "\n", encoding="utf-8")
    (row,) = planned(shop, out)["sets"]
    if row["made"] != about["count"]:
        return f"with {len(bought)} bought as told {row['made']} of {row['wanted']} whole"
    return ""


def main() -> int:
    """Run the seeds and print a line each."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    sound, began = 0, time.process_time()
    for seed in range(args.first, args.first + args.seeds):
        with tempfile.TemporaryDirectory() as folder:
            why = one(seed, Path(folder))
        sound += not why
        print(f"seed {seed}, {MATCHES[seed % len(MATCHES)] or 'any wood'}: {why or 'whole'}", flush=True)
    print(f"{sound} of {args.seeds}; {time.process_time() - began:.0f} processor seconds")
    return 0 if sound == args.seeds else 1


if __name__ == "__main__":
    sys.exit(main())
