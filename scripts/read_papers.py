"""What can spoil a blank, read from a plan's folder alone: plan.json, sheets and tables.

    python scripts/read_papers.py PLAN_FOLDER

Tells leftovers booked larger than what is sawn off, seams in holes, metal near outlines, screws in wood that comes free,
forces of clamps, angles. Works with plans of any version so far; nothing of the program is imported.
"""

from __future__ import annotations

import csv
import json
import math
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import shapely
from shapely import affinity
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

METAL = {"screw hole", "nail hole", "metal"}


def ring(outline: dict[str, Any]) -> list[tuple[float, float]]:
    """Return an outline's corners, arcs as 24 chords."""
    points = outline["points_mm"]
    bulges = [*(outline.get("bulges") or []), *[0.0] * len(points)][: len(points)]
    out: list[tuple[float, float]] = []
    for (x0, y0), (x1, y1), bulge in zip(points, [*points[1:], points[0]], bulges):
        out.append((x0, y0))
        if not bulge:
            continue
        turn, chord = 4 * math.atan(bulge), math.hypot(x1 - x0, y1 - y0)
        radius = chord / 2 / math.sin(turn / 2)
        reach = radius * math.cos(turn / 2) / chord
        cx, cy = (x0 + x1) / 2 - (y1 - y0) * reach, (y0 + y1) / 2 + (x1 - x0) * reach
        first = math.atan2(y0 - cy, x0 - cx)
        for k in range(1, 24):
            a = first + turn * k / 24
            out.append((cx + abs(radius) * math.cos(a), cy + abs(radius) * math.sin(a)))
    return out


def region(shape: dict[str, Any]) -> BaseGeometry:
    """Return a shape with its holes."""
    return Polygon(ring(shape["outer"]), [ring(h) for h in shape.get("holes", [])]).buffer(0)


def placed(placement: dict[str, Any], area: BaseGeometry) -> BaseGeometry:
    """Return something of a part where the part lies in its blank."""
    if placement["mirrored"]:
        area = affinity.scale(area, -1, 1, origin=(0, 0))
    turned = affinity.rotate(area, placement["angle_deg"], origin=(0, 0))
    return affinity.translate(turned, placement["x_um"] / 1000, placement["y_um"] / 1000)


def sheet_text(path: Path) -> str:
    """Return the text of a PDF."""
    done = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True
    )
    return done.stdout


def of_blank(layout: dict[str, Any], parts: dict[str, Any], cutter: float) -> list[str]:
    """Return what is wrong with one blank."""
    name, found = layout["blank"]["name"], []
    for left in layout["leftovers"]:
        booked, sawn = left["area_mm2"] / 100, left["rectangle_mm"][2] * left["rectangle_mm"][3] / 100
        if left["usable"] and abs(booked - sawn) > 0.01 * sawn:
            found.append(f"1 leftover {left['name']}: booked {booked:.0f} cm2, sawn {sawn:.0f}")
    bodies = [placed(p, Polygon(ring(parts[p["part"]]["outline"]))) for p in layout["placements"]]
    for seam in layout["blank"]["seams"]:
        line = shapely.LineString(seam["line_mm"])
        for p in layout["placements"]:
            for zone in parts[p["part"]]["zones"]:
                if zone["role"] == "hole" and zone.get("shape"):
                    near = line.distance(placed(p, region(zone["shape"])))
                    if near < 3.0:
                        found.append(f"2 {name}, {seam['name']}: {near:.2f} mm from {zone['name']}")
    for defect in layout["blank"]["defects"]:
        if defect["kind"] in METAL:
            near = min(b.distance(region(defect["shape"])) for b in bodies)
            if near < 3.0:
                found.append(f"4 {name}, {defect['kind']}: {near:.2f} mm from an outline")
    if layout.get("glueup"):
        found.append(f"5 {name}: {layout['board_feet']:.2f} board feet")
    wood = region(layout["blank"]["shape"]).difference(shapely.union_all([b.buffer(cutter) for b in bodies]))
    pieces = list(shapely.get_parts(wood))
    frame = max(pieces, key=lambda c: c.area)
    for hold in (layout.get("work") or {}).get("hold_downs", []):
        at = Point(hold["x_mm"], hold["y_mm"])
        if min(pieces, key=lambda c: c.distance(at)) is not frame:
            found.append(f"6 {name}, {hold['name']}: in wood that comes free of the frame")
    return found


def main() -> None:
    """Read one plan's folder and tell what is found, by the points of the issue about papers."""
    folder = Path(sys.argv[1])
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    parts = {p["name"]: p for p in plan["shop"]["parts"]}
    cutter = plan["shop"]["settings"]["cutter_diameter_mm"]
    for layout in plan["layouts"]:
        print(*of_blank(layout, parts, cutter), sep="\n", end="\n" if of_blank(layout, parts, cutter) else "")
    sheets = {p: sheet_text(p) for p in sorted((folder / "sheets").glob("*.pdf"))}
    text = "\n".join(sheets.values())
    print("3 '(both faces)':", text.count("(both faces)"))
    print(
        "3 sheets that name both faces of the wood:",
        text.count("Write TOP on the top face and BOTTOM on the other"),
    )
    head = (folder / "leftovers.csv").read_text(encoding="utf-8-sig").splitlines()[0]
    print("7 leftovers.csv:", head)
    print("8 clamps:", *sorted(set(re.findall(r"[\d.]+ kN|\d+ lbf", text))))
    with (folder / "cuts.csv").open(encoding="utf-8-sig") as stream:
        turned = [float(row["turned_deg"]) for row in csv.DictReader(stream)]
    print("9 turned beyond half a turn:", sum(abs(t) > 180 for t in turned))


if __name__ == "__main__":
    main()
