"""Study: one part on one piece at all angles, against brute force.

    python scripts/study_exact.py --cases 400 --seed 1 --brute 120

Random concave parts of 200 points (pockets, cutouts) on random pieces (concave, holes, 0 to 8 defects in
depth), 10 degrees of grain tolerance. A placement is checked by the audit, which shares no code with the
search. For the other answers a search with shapely alone tries angles in steps, places on a lattice, and
slides the best of them; a find contradicts the proof. Jigsaw: a part on a piece of its own outline, turned
by a random allowed angle. Times are processor seconds, so that other work on the machine counts less.
"""

from __future__ import annotations

import argparse
import collections
import itertools
import time
from dataclasses import dataclass, replace

import numpy as np
import shapely
import shapely.affinity

from nestyield.audit.check import audit
from nestyield.model import (
    Blank,
    Defect,
    Layout,
    Member,
    Order,
    OrderResult,
    Outline,
    Part,
    Piece,
    Plan,
    Settings,
    Shape,
    Shop,
    Zone,
)
from nestyield.model.pose import Pose
from nestyield.placement.single import place_part

T_MM = 40.0


def wavy(rng, n, a, b, amp):
    """A smooth closed curve with dents, n points."""
    turn = np.arange(n) * 2 * np.pi / n
    far = np.ones(n)
    for k in range(2, 6):
        far += amp / k * rng.normal() * np.cos(k * turn + rng.uniform(0, 2 * np.pi))
    far = np.clip(far, 0.35, 2.0)
    return np.column_stack([a * far * np.cos(turn), b * far * np.sin(turn)])


def outline(points):
    return Outline.polygon([(float(x), float(y)) for x, y in points])


def random_part(rng, points=200):
    p = wavy(rng, points, rng.uniform(100, 200), rng.uniform(60, 120), 0.25)
    w, h = np.ptp(p, axis=0)
    zones = []
    for k in range(rng.integers(0, 4)):
        x, y = rng.uniform(-0.3, 0.3) * w, rng.uniform(-0.3, 0.3) * h
        box = Outline.rectangle(
            x - rng.uniform(10, 30), y - rng.uniform(8, 20), x + rng.uniform(10, 30), y + rng.uniform(8, 20)
        )
        shape = Shape(outer=box)
        if rng.random() < 0.33:
            zones.append(Zone(name=f"Z{k}", role="cutout", shape=shape, face="through"))
        else:
            face = ("front", "back")[rng.integers(2)]
            deep = float(rng.uniform(8, 35))
            zones.append(Zone(name=f"Z{k}", role="pocket", shape=shape, face=face, depth_mm=deep))
    grain = float(rng.choice([0, 30, 90]))
    return Part(
        name="part",
        drawing="",
        outline=outline(p),
        zones=tuple(zones),
        thickness_mm=T_MM,
        grain_deg=grain,
        grain_tolerance_deg=10.0,
    )


def random_defect(rng, k, at):
    """A round defect at a point."""
    face = ("top", "bottom", "through")[rng.integers(3)]
    return Defect(
        name=f"defect {k}",
        kind=("knot", "check", "screw hole", "bark")[rng.integers(4)],
        shape=Shape(outer=Outline.circle(float(at[0]), float(at[1]), float(rng.uniform(2, 9)))),
        face=face,
        depth_mm=None if face == "through" else float(rng.uniform(3, 25)),
    )


def random_blank(rng, part, tight=1.35):
    p = np.array(part.outline.points_mm)
    w, h = np.ptp(p, axis=0)
    s = rng.uniform(1.0, tight)
    length, width = w * s + 10, h * s + 10
    if part.grain_deg == 90:
        length, width = width, length
    kind = rng.integers(3)
    if kind == 0:
        edge = np.array([(0, 0), (length, 0), (length, width), (0, width)])
    elif kind == 1:
        edge = np.array([(0, 0), (1.3, 0), (1.3, 0.5), (1.0, 0.6), (1.0, 1.1), (0, 1.0)]) * (length, width)
    else:
        edge = wavy(rng, 40, length * 0.62, width * 0.65, 0.12)
    holes = ()
    if rng.random() < 0.4:
        c = edge.mean(axis=0) + rng.uniform(-0.35, 0.35, 2) * np.ptp(edge, axis=0)
        if shapely.Polygon(edge).buffer(-12).contains(shapely.Point(c)):
            holes = (Outline.circle(float(c[0]), float(c[1]), float(rng.uniform(3, 10))),)
    defects = []
    for k in range(rng.integers(0, 9)):
        c = edge.min(axis=0) + rng.uniform(0, 1, 2) * np.ptp(edge, axis=0)
        defects.append(random_defect(rng, k, c))
    return Blank(
        name="piece",
        members=(Member(piece="piece", copy=1),),
        species="sugar maple",
        thickness_mm=float(rng.uniform(41.6, 46)),
        shape=Shape(outer=outline(edge), holes=holes),
        grain_deg=0.0,
        defects=tuple(defects),
    )


def many_points(rng, part, points=200, defects=8):
    """A wavy piece of many points with as many defects as the study's most."""
    w, h = np.ptp(np.array(part.outline.points_mm), axis=0)
    f = rng.uniform(1.0, 1.35)
    edge = wavy(rng, points, w * f * 0.56, h * f * 0.58, 0.15)
    low, high = edge.min(axis=0), edge.max(axis=0)
    found = []
    for k in range(defects):
        c = low + rng.uniform(0, 1, 2) * (high - low)
        found.append(random_defect(rng, k, c))
    return replace(random_blank(rng, part), shape=Shape(outer=outline(edge)), defects=tuple(found))


def plan_of(part, blank, settings, placement):
    """A plan of one placement, enough for the audit."""
    piece = Piece(
        name="piece",
        species=blank.species,
        thickness_mm=blank.thickness_mm,
        shape=blank.shape,
        grain_deg=blank.grain_deg,
        defects=blank.defects,
    )
    shop = Shop(
        name="study",
        units="mm",
        settings=settings,
        beds=(),
        parts=(part,),
        pieces=(piece,),
        orders=(Order(name="order 1", part=part.name),),
    )
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=(),
        chosen=None,
        part_area_mm2=abs(part.outline.signed_area_mm2),
        stock_area_mm2=blank.shape.area_mm2,
        usable_area_mm2=0.0,
        board_feet=0.0,
        value=0.0,
    )
    return Plan(
        shop=shop,
        seed=1,
        effort=1,
        layouts=(layout,),
        orders=(OrderResult(order="order 1", placed=1, count=1),),
    )


def audit_says(part, blank, settings, placement):
    """What the audit finds wrong with the place itself (codes A2xx and A3xx)."""
    found = audit(plan_of(part, blank, settings, placement))
    return [f for f in found if f.code.startswith(("A2", "A3"))]


# ---- brute force with shapely alone -----------------------------------------------------------------


def ring(o, error=0.005):
    """Points of an outline, arcs as chords."""
    out = []
    n = len(o.points_mm)
    for i, (p, b) in enumerate(zip(o.points_mm, o.bulges)):
        out.append(p)
        q = o.points_mm[(i + 1) % n]
        if b:
            a = 4 * np.arctan(b)
            chord = np.hypot(q[0] - p[0], q[1] - p[1])
            r = chord / (2 * np.sin(abs(a) / 2))
            k = max(2, int(np.ceil(abs(a) / (2 * np.arccos(1 - error / r)))))
            mid = complex(*p) + (complex(*q) - complex(*p)) / 2
            center = mid + 1j * (complex(*q) - complex(*p)) / 2 / np.tan(a / 2)
            start = complex(*p) - center
            out += [
                (
                    (center + start * np.exp(1j * a * m / k)).real,
                    (center + start * np.exp(1j * a * m / k)).imag,
                )
                for m in range(1, k)
            ]
    return shapely.Polygon(out)


@dataclass
class Face:
    """Wood that stays against each defect, for one way up and one planing."""

    wood: list


def wood_for(part, blank, front_up, top_off):
    """For each defect the wood of the part that would hold it (drawing coordinates)."""
    t, total = part.thickness_mm, blank.thickness_mm
    out = []
    body = ring(part.outline)
    for d in blank.defects:
        deep = total if d.depth_mm is None else d.depth_mm
        if d.face == "bottom":
            lo, hi = total - deep - top_off, t
        else:
            lo, hi = 0.0, min(t, deep - top_off) if d.depth_mm is not None else t
        lo = max(lo, 0.0)
        if hi - lo <= 1e-6:
            out.append(None)
            continue
        if not front_up:
            lo, hi = t - hi, t - lo
        held = []
        cuts = sorted(
            {
                lo,
                hi,
                *(v for z in part.zones if z.depth_mm for v in (z.depth_mm, t - z.depth_mm) if lo < v < hi),
            }
        )
        for a, b in itertools.pairwise(cuts):
            gone = []
            for z in part.zones:
                if (
                    z.role == "cutout"
                    or (z.face == "front" and z.depth_mm >= b - 1e-6)
                    or (z.face == "back" and t - z.depth_mm <= a + 1e-6)
                ):
                    gone.append(ring(z.shape.outer))
            held.append(body.difference(shapely.union_all(gone)) if gone else body)
        out.append(shapely.union_all(held))
    return out


def brute_force(part, blank, settings, step_deg=2.0, step_mm=2.5):
    """A placement found with shapely alone, or None: (angle, mirrored, front_up, x, y)."""
    home = ring(blank.shape.outer).buffer(-settings.blank_margin_mm, quad_segs=64)
    holes = [ring(h).buffer(settings.blank_margin_mm, quad_segs=64) for h in blank.shape.holes]
    spots = [ring(d.shape.outer) for d in blank.defects]
    body = ring(part.outline)
    openings = [ring(z.shape.outer) for z in part.zones if z.role == "cutout"]
    solid = body.difference(shapely.union_all(openings)) if openings else body
    if home.is_empty:
        return None
    spare = max(0.0, blank.thickness_mm - part.thickness_mm)
    least = min(settings.planing_mm, spare / 2)
    planings = (least, spare - least) if any(d.depth_mm for d in blank.defects) else [spare / 2]
    shapely.prepare(home)
    for front_up, planing in itertools.product((True, False), planings):
        wood = wood_for(part, blank, front_up, planing)
        mirrored = not front_up
        sign = -1.0 if mirrored else 1.0
        drawn = 180.0 - part.grain_deg if mirrored else part.grain_deg
        for end in (0.0, 180.0):
            for off in np.arange(-10.0, 10.0 + 1e-9, step_deg):
                angle = (0.0 - drawn) % 180.0 + end + off
                c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
                m = [sign * c, -s, sign * s, c, 0, 0]
                turned = shapely.affinity.affine_transform(body, m)
                hit = _slide(
                    turned,
                    home,
                    [(h, shapely.affinity.affine_transform(solid, m)) for h in holes]
                    + [
                        (g, shapely.affinity.affine_transform(w, m))
                        for g, w in zip(spots, wood)
                        if w is not None and not w.is_empty
                    ],
                    step_mm,
                )
                if hit is not None:
                    return angle, mirrored, front_up, *hit
    return None


def _slide(turned, home, pairs, step_mm):
    """A shift that holds, from a lattice and by sliding its best places."""
    hb, tb = home.bounds, turned.bounds
    x0, y0, x1, y1 = hb[0] - tb[0], hb[1] - tb[1], hb[2] - tb[2], hb[3] - tb[3]
    if x1 < x0 or y1 < y0:
        return None
    xs = np.linspace(x0, x1, max(2, int((x1 - x0) / step_mm) + 1))
    ys = np.linspace(y0, y1, max(2, int((y1 - y0) / step_mm) + 1))
    corner = shapely.get_coordinates(turned)[::5]
    grid = np.array([(x, y) for x in xs for y in ys])
    # a quick look with every fifth vertex drops most places
    outside = np.zeros(len(grid))
    for v in corner:
        points = shapely.points(grid + v)
        outside += ~shapely.intersects(home, points)
    order = np.argsort(outside, kind="stable")[:3]
    for x, y in grid[order[outside[order] <= 1]]:
        best = _cost(turned, home, pairs, x, y)
        step = step_mm
        for _ in range(14):
            if best <= 0:
                break
            moves = [(dx * step, dy * step) for dx in (-1, 0, 1) for dy in (-1, 0, 1) if dx or dy]
            costs = [_cost(turned, home, pairs, x + dx, y + dy) for dx, dy in moves]
            k = int(np.argmin(costs))
            if costs[k] < best:
                best, x, y = costs[k], x + moves[k][0], y + moves[k][1]
            else:
                step /= 2
        if best <= 0:
            return float(x), float(y)
    return None


def _cost(turned, home, pairs, x, y):
    moved = shapely.affinity.translate(turned, x, y)
    cost = 0.0 if home.covers(moved) else moved.difference(home).area
    for fixed, wood in pairs:
        there = shapely.affinity.translate(wood, x, y)
        if fixed.intersects(there):
            cost += fixed.intersection(there).area
    return cost


# ---- the studies ---------------------------------------------------------------------------------------


def study(cases, seed, brute, wide=False):
    """Random cases; returns counts, times, contradictions."""
    counts, times, contradictions, tried = collections.Counter(), [], [], 0
    for k in range(cases):
        rng = np.random.default_rng([seed, k])
        part = random_part(rng)
        blank = many_points(rng, part) if wide else random_blank(rng, part)
        settings = Settings(cutter_diameter_mm=6.35, blank_margin_mm=float(rng.choice([0.0, 2.0, 5.0])))
        start = time.process_time()
        answer = place_part(part, blank, settings, order="order 1")
        times.append(time.process_time() - start)
        counts[answer.verdict] += 1
        if answer.placement is not None:
            for f in audit_says(part, blank, settings, answer.placement):
                contradictions.append((k, "audit", str(f)))
        elif tried < brute:
            tried += 1
            found = brute_force(part, blank, settings)
            if found is not None:
                contradictions.append((k, answer.verdict, found))
        if (k + 1) % 20 == 0:
            print(f"  {k + 1} of {cases}: {dict(counts)}, contradictions {len(contradictions)}", flush=True)
    return counts, times, contradictions, tried


def jigsaw(cases, seed, arcs):
    """Parts on pieces of their own outline, zero play."""
    found, times = 0, []
    for k in range(cases):
        rng = np.random.default_rng([seed, 7, k, int(arcs)])
        points = wavy(
            rng,
            int(rng.choice([6, 12, 40, 200 if not arcs else 40])),
            rng.uniform(100, 200),
            rng.uniform(60, 120),
            0.25,
        )
        o = outline(points)
        if arcs:
            n = len(points)
            bulges = rng.uniform(-0.3, 0.3, n) * (rng.random(n) < 0.5)
            o = Outline(points_mm=o.points_mm, bulges=tuple(float(b) for b in bulges))
        part = Part(name="part", drawing="", outline=o, thickness_mm=T_MM, grain_tolerance_deg=10.0)
        turn = float(rng.uniform(-10, 10))
        edge = Pose(angle_deg=turn, x_mm=float(rng.uniform(0, 500)), y_mm=float(rng.uniform(0, 500))).outline(
            o
        )
        blank = Blank(
            name="piece",
            members=(Member(piece="piece", copy=1),),
            species="sugar maple",
            thickness_mm=T_MM + 2,
            shape=Shape(outer=edge),
            grain_deg=0.0,
        )
        settings = Settings(cutter_diameter_mm=6.35, blank_margin_mm=0.0)
        start = time.process_time()
        answer = place_part(part, blank, settings, order="order 1")
        times.append(time.process_time() - start)
        good = answer.placement is not None and not audit_says(part, blank, settings, answer.placement)
        found += good
        if not good:
            print(f"  jigsaw {k} (arcs {arcs}): {answer.verdict}, turned {turn:.6f}", flush=True)
    return found, times


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--cases", type=int, default=400)
    ask.add_argument("--brute", type=int, default=120)
    ask.add_argument("--jigsaw", type=int, default=100)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--wide", action="store_true", help="pieces of 200 points with 8 defects")
    a = ask.parse_args()
    counts, times, contradictions, tried = study(a.cases, a.seed, a.brute, a.wide)
    for c in contradictions:
        print("contradiction", *c)
    decided = 100 * (counts["placed"] + counts["infeasible"] + counts["tight"]) / max(a.cases, 1)
    print(f"cases {a.cases}, seed {a.seed}: {dict(sorted(counts.items()))}; decided {decided:.1f} %")
    print(f"brute force on {tried} answers without a place; contradictions {len(contradictions)}")
    q = np.percentile(times, [50, 95, 100]) if times else (0, 0, 0)
    print(f"processor seconds a case: median {q[0]:.3f}, 95 % {q[1]:.3f}, most {q[2]:.3f}")
    for arcs in (False, True):
        n, times = jigsaw(a.jigsaw, a.seed, arcs)
        q = np.percentile(times, [50, 95, 100]) if times else (0, 0, 0)
        print(
            f"jigsaw with {'arcs' if arcs else 'lines'}: {n} of {a.jigsaw}; "
            f"median {q[0]:.3f} s, 95 % {q[1]:.3f} s, most {q[2]:.3f} s"
        )


if __name__ == "__main__":
    main()
