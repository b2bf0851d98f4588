"""Planted repairs: parts cut by a known straight line, the wood beyond it damaged, one piece of the rack to mend it.

Each part is a rectangle with corners cut off or rounded, pockets and holes. A damaged place lies at its edge or
corner; the least cut is found beside the project by trying every direction in steps of 0.1 degrees with shapely.
The rack has one piece that holds the patch with 0.5 mm of play, and others that do not: too short or too narrow by
2 mm, of another species, too thin. Found: the cut takes within 0.5 % of the least wood, and the piece is the one
that was planted.

    .venv/test/bin/python scripts/study_patch.py --seeds 20
"""

from __future__ import annotations

import argparse
import math
import sys
import time

import numpy as np
import shapely
import shapely.affinity

from nestyield import api
from nestyield.audit.curves import points_of
from nestyield.model import Outline, Part, Piece, Settings, Shape, Shop, Zone

STEP_DEG = 0.1
SPARED_MM, BEYOND_MM, FAR = 3.0, 1.0, 1e5


def part_of(rng: np.random.Generator) -> Part:
    """Return a part with a slanted corner, a round one, two pockets and a hole."""
    length, width = float(rng.integers(300, 460)), float(rng.integers(160, 260))
    a, b, r = (float(rng.uniform(20, 60)) for _ in range(3))
    bulge = math.tan(math.pi / 8)
    outline = Outline(
        points_mm=((0, 0), (length - r, 0), (length, r), (length, width), (a, width), (0, width - b)),
        bulges=(0.0, bulge, 0.0, 0.0, 0.0, 0.0),
    )
    zones = []
    for k in range(2):
        x, y = rng.uniform(90 + 90 * k, 110 + 90 * k), rng.uniform(45, width - 95)
        pocket = Outline.rectangle(x, y, x + float(rng.uniform(40, 70)), y + float(rng.uniform(30, 50)))
        zones.append(
            Zone(name=f"P{k}", role="pocket", shape=Shape(outer=pocket), depth_mm=15.0, face="front")
        )
    hole = Outline.circle(length - 40, width - float(rng.uniform(25, 45)), 5.0)
    zones.append(Zone(name="H", role="hole", shape=Shape(outer=hole)))
    return Part(
        name="top",
        drawing="top.dxf",
        outline=outline,
        zones=tuple(zones),
        thickness_mm=20.0,
        species=("sugar maple",),
        grain_deg=float(rng.choice([0.0, 0.0, 5.0, -8.0])),
        grain_tolerance_deg=0.0,
    )


def damage_of(rng: np.random.Generator, part: Part) -> str:
    """Return a damaged place at an edge that runs along the grain, or at a corner, as a maker measures it."""
    box = np.array(part.outline.points_mm).max(axis=0)
    low = bool(rng.integers(0, 2))
    x = float(rng.uniform(70, box[0] - 90))
    size = (float(rng.uniform(8, 40)), float(rng.uniform(5, 16)))
    y = size[1] / 2 - 1 if low else box[1] - size[1] / 2 + 1
    if rng.integers(0, 3) == 0:
        return f"{x:.1f},{y:.1f} {min(size):.1f}"
    return f"{x:.1f},{y:.1f} {size[0]:.1f}x{size[1]:.1f}"


def least(part: Part, damage: shapely.Geometry, steps: np.ndarray) -> tuple[float, float] | None:
    """Return the least area and its direction, by trying directions within 1:8 of the grain, or None."""
    whole = shapely.Polygon(points_of(part.outline))
    place = damage.intersection(whole)
    zones = shapely.union_all([shapely.Polygon(points_of(z.shape.outer)) for z in part.zones])
    best = None
    for turn in steps:
        off = abs(turn - part.grain_deg) % 180.0
        if min(off, 180.0 - off) > math.degrees(math.atan(1 / 8)):
            continue
        # turned so that the cut is level: what comes off lies above it
        flat, spot = (shapely.affinity.rotate(g, -turn, origin=(0, 0)) for g in (whole, place))
        low = spot.bounds[1] - BEYOND_MM
        off_part = flat.intersection(shapely.box(-FAR, low, FAR, FAR))
        pieces = [p for p in shapely.get_parts(off_part) if p.intersects(spot)]
        if len(pieces) != 1 or pieces[0].area > whole.area / 2:
            continue
        if pieces[0].distance(shapely.affinity.rotate(zones, -turn, origin=(0, 0))) < SPARED_MM:
            continue
        if best is None or pieces[0].area < best[0]:
            best = (float(pieces[0].area), float(turn))
    return best


def rack_for(
    rng: np.random.Generator, size: tuple[float, float], thick: float
) -> tuple[tuple[Piece, ...], str]:
    """Return a rack with one piece that holds a patch of a size, and its name."""
    margin, planed = 6.35, 1.6

    def piece(name: str, dx: float, dy: float, dz: float = 0.0, species: str = "sugar maple") -> Piece:
        shape = Outline.rectangle(0, 0, size[0] + 2 * margin + dx, size[1] + 2 * margin + dy)
        return Piece(
            name=name, species=species, thickness_mm=thick + planed + dz, shape=Shape(outer=shape), value=5.0
        )

    rack = [
        piece("short", -2.0, 30.0),
        piece("narrow", 60.0, -2.0),
        piece("other wood", 5.0, 5.0, species="black cherry"),
        piece("thin", 5.0, 5.0, -2.0),
        piece("planted", 0.5, 0.5),
    ]
    return tuple(rack[k] for k in rng.permutation(len(rack))), "planted"


def one(seed: int) -> str:
    """Return what is wrong with one seed, ``""`` for a sound one."""
    rng = np.random.default_rng(seed)
    part = part_of(rng)
    settings = Settings(cutter_diameter_mm=6.35)
    while True:  # places that can be mended by a cut along the grain
        text = damage_of(rng, part)
        bare = Shop(name="s", units="mm", settings=settings, beds=(), parts=(part,), pieces=(), orders=())
        first = api.patch(bare, "top", text)
        damage = shapely.Polygon(points_of(first.damage.outer))
        best = least(part, damage, np.arange(0.0, 360.0, STEP_DEG))
        if best is not None:
            break
        if first.cut is not None and (first.cut.off_grain_deg or 0.0) < 7.1:
            return "a cut is told where none was found by trying"
    if first.cut is None:
        return f"no cut told, {best[0]:.0f} mm2 at {best[1]:.1f} degrees by trying"
    if first.cut.area_mm2 > best[0] * 1.005 + 0.5:
        return f"{first.cut.area_mm2:.1f} mm2 told, {best[0]:.1f} by trying"
    turned = shapely.affinity.rotate(
        shapely.Polygon(points_of(first.cut.removed.outer)), -(part.grain_deg or 0.0), origin=(0, 0)
    )
    x0, y0, x1, y1 = turned.bounds  # as it lies on a piece, its grain along it
    pieces, planted = rack_for(rng, (x1 - x0, y1 - y0), part.thickness_mm)
    full = Shop(name="s", units="mm", settings=settings, beds=(), parts=(part,), pieces=pieces, orders=())
    found = api.patch(full, "top", text)
    makers = [m.pieces for m in found.wood.makers] if found.wood else []
    return "" if makers == [(planted,)] else f"the patch is told from {makers}"


def main() -> int:
    """Run the seeds and print a line each."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=20)
    args = parser.parse_args()
    sound, began = 0, time.process_time()
    for seed in range(args.seeds):
        why = one(seed)
        sound += not why
        print(f"seed {seed}: {why or 'found'}", flush=True)
    print(f"{sound} of {args.seeds}; {time.process_time() - began:.0f} processor seconds")
    return 0 if sound == args.seeds else 1


if __name__ == "__main__":
    sys.exit(main())
