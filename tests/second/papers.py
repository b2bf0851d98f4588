"""Tables and drawings of a plan's folder against its ``plan.json``; the list of sums."""

from __future__ import annotations

import csv
import hashlib
import re
from pathlib import Path

import ezdxf
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

from . import shapes
from .told import Findings, Laid, Told


def check(told: Told, laid: list[Laid], folder: Path, out: Findings) -> None:
    """Check the folder of a plan."""
    sums(folder, out)
    per = 25.4 if told.shop["units"] == "in" else 1.0
    cuts(told, laid, folder, per, out)
    leftovers(told, laid, folder, per, out)
    for one in laid:
        drawing(one, folder, per, out)


def sums(folder: Path, out: Findings) -> None:
    listed = {}
    for line in (folder / "SHA256SUMS").read_text(encoding="utf-8").splitlines():
        digest, _, name = line.partition("  ")
        listed[name.lstrip("*")] = digest
    there = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()} - {"SHA256SUMS"}
    out.expect(
        there == set(listed), "sums", "SHA256SUMS", f"not listed or not there: {sorted(there ^ set(listed))}"
    )
    for name in there & set(listed):
        same = hashlib.sha256((folder / name).read_bytes()).hexdigest() == listed[name]
        out.expect(same, "sums", name, "is not as listed")


def rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))


def figure(text: str) -> float:
    """Read a number of a table: decimals, or fractions as ``4 1/2``."""
    total = 0.0
    for piece in text.replace("-", " -").replace("- ", "-").split():
        top, _, under = piece.partition("/")
        total += float(top) / float(under) if under else float(piece)
    return total


def cuts(told: Told, laid: list[Laid], folder: Path, per: float, out: Findings) -> None:
    """A row for each part, with its place from the datum corner and its size."""
    table = rows(folder / "cuts.csv") if (folder / "cuts.csv").exists() else []
    every = [(one, k) for one in laid for k in range(len(one.placements))]
    out.expect(len(table) == len(every), "cuts.csv", "cuts.csv", f"{len(table)} rows, {len(every)} parts")
    unit = "in" if per > 1 else "mm"
    slack = 0.06 if per == 1 else per / 64 + 0.03
    for row, (one, k) in zip(table, every):
        p, where = one.placements[k], f"cuts.csv {row['blank']} {row['number']}"
        same = (
            row["blank"].lstrip("'") == one.name
            and row["number"] == str(k + 1)
            and row["part"].lstrip("'") == p["part"]
        )
        out.expect(
            same and row["order"].lstrip("'") == p["order"] and row["copy"] == str(p["copy"]),
            "cuts.csv",
            where,
            "other names",
        )
        x0, y0, x1, y1 = one.parts[k].bounds
        bx, by = one.wood.bounds[:2]
        for key, value in (
            ("left", x0 - bx),
            ("bottom", y0 - by),
            ("across_x", x1 - x0),
            ("across_y", y1 - y0),
        ):
            cell = row.get(f"{key}_{unit}")
            if cell:
                right = abs(figure(cell) * per - value) <= slack
                out.expect(right, "cuts.csv", where, f"{key} {cell}, it is {value / per:.4f} {unit}")
        thick = figure(row[f"blank_thickness_{unit}"]) * per
        out.expect(abs(thick - one.blank["thickness_mm"]) <= slack, "cuts.csv", where, f"thickness {thick}")
        feet = float(row["board_feet_of_blank"])
        out.expect(abs(feet - one.layout["board_feet"]) <= 0.0051, "cuts.csv", where, f"board feet {feet}")
        image = p["mirrored"] == p.get("front_up", True)
        out.expect(row["mirror_image"] == ("yes" if image else "no"), "cuts.csv", where, "mirror image")
        up = "front" if p.get("front_up", True) else "back"
        out.expect(row["face_up"] == up, "cuts.csv", where, f"face up {row['face_up']}")
        chosen = one.layout["chosen"]
        if chosen is not None:
            setup = one.layout["setups"][chosen]
            out.expect(
                row["bed"] == setup["bed"] and row["along"] == setup["along"], "cuts.csv", where, "other bed"
            )


def leftovers(told: Told, laid: list[Laid], folder: Path, per: float, out: Findings) -> None:
    """A row for each leftover, with its size, never more than there is but for a hair, and whether it is kept."""
    if not (folder / "leftovers.csv").exists():
        return
    unit = "in" if per > 1 else "mm"
    table = {r["leftover"].lstrip("'"): r for r in rows(folder / "leftovers.csv")}
    step = 0.1 if per == 1 else per / 64
    for one in laid:
        for x in one.layout.get("leftovers", []):
            row = table.get(x["name"])
            where = f"leftovers.csv {x['name']}"
            out.expect(row is not None, "leftovers.csv", where, "is not there")
            if row is None:
                continue
            out.expect(
                row["keep"] == ("yes" if x["usable"] else "no"), "leftovers.csv", where, f"keep {row['keep']}"
            )
            for key, value in zip(("length", "width"), x["rectangle_mm"][2:]):
                cell = row[f"{key}_{unit}"]
                right = not cell or value - step - 0.002 <= figure(cell) * per <= value + 0.032
                out.expect(right, "leftovers.csv", where, f"{key} {cell}, it is {value / per:.4f}")


def drawing(one: Laid, folder: Path, per: float, out: Findings) -> None:
    """Outlines of blank and parts in the drawing are those of the plan, from the datum corner."""
    path = folder / "drawings" / (re.sub(r"[^A-Za-z0-9_-]+", "-", one.name) + ".dxf")
    if not path.exists():
        out.expect(False, "drawings", path.name, "is not there")
        return
    doc = ezdxf.readfile(path)
    unit = {1: 25.4, 4: 1.0}.get(doc.header.get("$INSUNITS"))
    out.expect(unit == per, "drawings", path.name, f"unit {doc.header.get('$INSUNITS')}")
    space = doc.modelspace()
    bx, by = one.wood.bounds[:2]

    def drawn(layer: str) -> list[Polygon]:
        found = []
        for e in space:
            if e.dxf.layer == layer and e.dxftype() in ("LWPOLYLINE", "CIRCLE"):
                found.append(shapes.of_entity(e, per))
        return found

    parts = drawn("PART")
    out.expect(
        len(parts) == len(one.parts),
        "drawings",
        path.name,
        f"{len(parts)} outlines of {len(one.parts)} parts",
    )
    for k, part in enumerate(one.parts):
        home = affinity.translate(part, -bx, -by)
        off = min((home.symmetric_difference(p).area for p in parts), default=9e9)
        out.expect(off < 0.02 * home.length, "drawings", f"{path.name} part {k + 1}", f"{off:.2f} mm2 off")
    blank = drawn("BLANK")
    if blank:
        outer = max(blank, key=lambda p: p.area)
        whole = unary_union([outer]).difference(unary_union([p for p in blank if p is not outer]))
        off = whole.symmetric_difference(affinity.translate(one.wood, -bx, -by)).area
        out.expect(off < 0.02 * one.wood.length, "drawings", f"{path.name} blank", f"{off:.2f} mm2 off")
    usable = [x for x in one.layout.get("leftovers", []) if x["usable"]]
    kept = drawn("LEFTOVER")
    for x in usable:
        home = affinity.translate(shapes.region(x["shape"]), -bx, -by)
        outer = Polygon(home.exterior) if home.geom_type == "Polygon" else home
        off = min((outer.symmetric_difference(p).area for p in kept), default=9e9)
        out.expect(off < 0.05 * outer.length, "drawings", f"{path.name} {x['name']}", f"{off:.2f} mm2 off")
