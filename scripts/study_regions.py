"""Study: allowed regions at one angle against dense sampling with shapely.

    python scripts/study_regions.py --cases 300 --samples 300 --seed 1

Each case is a random concave part on a random piece (holes, defects in depth) at one allowed angle. Shifts
are sampled all over, and close to the region's border (2 to 40 micrometers to either side). A shift in the
region must hold by shapely's predicates when everything fixed gives way by 2 micrometers, and one outside must
not hold when everything fixed comes 2 micrometers nearer. (The distance is taken where wood meets wood and not
between shifts: at an acute corner half a micrometer of rounding moves the corner of a region much farther.)
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
import shapely
import shapely.affinity

sys.path.insert(0, str(Path(__file__).parent))
from study_exact import random_blank, random_part, wood_for

from nestyield.geometry.boolean import components
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import SUBGRID
from nestyield.model import Settings
from nestyield.model.pose import Pose
from nestyield.placement.candidates import orientations
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.problem import FlattenedInputs
from nestyield.placement.region import feasible_region

TOL_UM = 2.0


def polygon(ring):
    shape = shapely.Polygon(ring)
    return shape if shape.is_valid else shapely.make_valid(shape)


def truth(part, blank, settings, facing, angle, mirrored):
    """Container and pairs (fixed, wood), micrometers, by shapely from the same flattened outlines."""
    error = settings.chord_error_mm
    margin = settings.blank_margin_mm * 1000
    home = polygon(flatten(blank.shape.outer, error, "inside")).buffer(-margin, quad_segs=400)
    outline = flatten(part.outline, error, "outside")
    body = polygon(Pose(angle_deg=angle, mirrored=mirrored).on_grid(outline))
    pairs = []
    cuts = [z for z in part.zones if z.role == "cutout"]
    solid = polygon(outline)
    for z in cuts:
        solid = solid.difference(polygon(flatten(z.shape.outer, error, "inside")))

    def turned(shape):
        parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
        made = []
        for p in parts:
            rings = [np.array(p.exterior.coords[:-1]), *(np.array(r.coords[:-1]) for r in p.interiors)]
            rings = [
                Pose(angle_deg=angle, mirrored=mirrored).on_grid(np.rint(r).astype(np.int64)) for r in rings
            ]
            made.append(shapely.Polygon(rings[0], rings[1:]).buffer(0))
        return shapely.union_all(made)

    for h in blank.shape.holes:
        pairs.append((polygon(flatten(h, error, "outside")).buffer(margin, quad_segs=400), turned(solid)))
    for d, wood in zip(blank.defects, wood_for(part, blank, facing.front_up, facing.top_off_mm)):
        if wood is not None and not wood.is_empty:
            fixed = polygon(flatten_shape(d.shape, error, "outside")[0])
            pairs.append((fixed, turned(shapely.affinity.scale(wood, 1000, 1000, origin=(0, 0)))))
    return home, body, pairs


def holds(home, body, pairs, x, y):
    """Whether a shift keeps the body at home and the wood clear, by shapely's predicates."""
    return home.covers(shapely.affinity.translate(body, x, y)) and not any(
        fixed.intersects(w := shapely.affinity.translate(wood, x, y)) and not fixed.touches(w)
        for fixed, wood in pairs
    )


def study(cases, samples, seed):
    """Compare; returns (cases, cases with a region, samples, samples too close to say, contradictions)."""
    some = total = close = 0
    wrong = []
    for k in range(cases):
        rng = np.random.default_rng([seed, 3, k])
        part = random_part(rng, points=int(rng.integers(5, 80)))
        blank = random_blank(rng, part, tight=1.6)
        settings = Settings(cutter_diameter_mm=6.35, blank_margin_mm=float(rng.choice([0.0, 2.0, 5.0])))
        way = orientations(part, blank.grain_deg)[int(rng.integers(4))]
        angle = float(rng.choice([way.middle_deg, way.middle_deg + rng.uniform(-10, 10)]))
        facing = ThicknessSplit(
            front_up=way.front_up, top_off_mm=(blank.thickness_mm - part.thickness_mm) / 2
        )
        problem = FlattenedInputs(part, blank, settings).problem(facing)
        paths = feasible_region(problem, angle, way.mirrored)
        home, body, pairs = truth(part, blank, settings, facing, angle, way.mirrored)
        shapely.prepare(home)
        region = shapely.union_all(
            [shapely.Polygon(o / SUBGRID, [h / SUBGRID for h in hs]).buffer(0) for o, hs in components(paths)]
        )
        some += not region.is_empty
        b, hb = body.bounds, home.bounds if not home.is_empty else body.bounds
        lo = np.array([hb[0] - b[0], hb[1] - b[1]]) - 3000
        hi = np.array([hb[2] - b[2], hb[3] - b[3]]) + 3000
        spots = rng.uniform(np.minimum(lo, hi), np.maximum(lo, hi), (samples, 2))
        if not region.is_empty:
            edge = region.boundary
            along = shapely.get_coordinates(
                shapely.line_interpolate_point(edge, rng.uniform(0, edge.length, samples))
            )
            far = rng.uniform(2, 40, samples) * rng.choice([-1, 1], samples)
            turn = rng.uniform(0, 2 * np.pi, samples)
            spots = np.vstack([spots, along + far[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])])
        points = shapely.points(spots)
        inside = shapely.contains(region, points)
        near = (
            shapely.distance(region.boundary, points) if not region.is_empty else np.full(len(spots), np.inf)
        )
        for (x, y), said, off in zip(spots, inside, near):
            total += 1
            if off <= TOL_UM:
                continue
            if holds(home, body, pairs, x, y) == bool(said):
                continue
            way_um = TOL_UM if said else -TOL_UM
            given = [(fixed.buffer(-way_um, join_style="mitre"), wood) for fixed, wood in pairs]
            if holds(home.buffer(way_um, join_style="mitre"), body, given, x, y) != bool(said):
                wrong.append((k, float(x), float(y), bool(said), float(off)))
            else:
                close += 1
    return cases, some, total, close, wrong


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--cases", type=int, default=300)
    ask.add_argument("--samples", type=int, default=300)
    ask.add_argument("--seed", type=int, default=1)
    a = ask.parse_args()
    cases, some, total, close, wrong = study(a.cases, a.samples, a.seed)
    for w in wrong[:40]:
        print("contradiction", *w)
    print(
        f"cases {cases} (with a region: {some}), samples {total}, "
        f"undecided within {TOL_UM:g} um {close}, contradictions {len(wrong)}"
    )


if __name__ == "__main__":
    main()
