"""Study: every answer of ``study_exact`` looked for again with shapely alone.

    python scripts/study_brute.py --cases 400 --seed 1

A case answered "infeasible" is searched for a place, a case answered "tight" for one with 0.05 mm to spare: for
every way up, end for end and choice of planing, angles in steps of half a degree and shifts on a lattice are
rated by the area that lies where it must not; the best starts are then improved by continuous minimization
(Nelder and Mead) of that area over x, y and angle, with everything 2 micrometers narrower, so that what is
found can be checked without. A place with no area where it must not be contradicts the answer. A case answered
"placed" is measured: nothing may reach more than 4.5 micrometers past a limit (contact and rounding).

The search itself is tried on cases that do have a place: with --seek it is run on answers "placed" and told
how many it finds, which says how much its silence is worth.
"""

from __future__ import annotations

import argparse
import collections
import time
from dataclasses import replace

import numpy as np
import shapely
import shapely.affinity
from scipy.optimize import minimize
from study_exact import random_blank, random_part, ring, wood_for

from nestyield.model import Outline, Settings, Shape
from nestyield.placement.single import WITHIN_MM, place_part

TOLERANCE_MM = 0.0045
STEP_DEG = 0.5
LATTICE = 7
STARTS = 24
LOOKS = 160
NARROWER_MM = 0.002


def question(seed, k, points=200):
    """Case k of the study, as ``study_exact`` makes it."""
    rng = np.random.default_rng([seed, k])
    part = random_part(rng, points)
    blank = random_blank(rng, part)
    settings = Settings(cutter_diameter_mm=6.35, blank_margin_mm=float(rng.choice([0.0, 2.0, 5.0])))
    return part, blank, settings


class Face:
    """One way up and one planing: what must lie where, at the origin of the drawing."""

    def __init__(self, part, blank, settings, front_up, top_off, spare_mm):
        margin = settings.blank_margin_mm + spare_mm
        self.front_up, self.top_off = front_up, top_off
        self.sign = 1.0 if front_up else -1.0
        self.drawn = part.grain_deg if front_up else 180.0 - part.grain_deg
        self.home = ring(blank.shape.outer).buffer(-margin, quad_segs=64)
        shapely.prepare(self.home)
        self.body = ring(part.outline)
        openings = [ring(z.shape.outer) for z in part.zones if z.role == "cutout"]
        solid = self.body.difference(shapely.union_all(openings)) if openings else self.body
        self.pairs = [(ring(h).buffer(margin, quad_segs=64), solid) for h in blank.shape.holes]
        for d, wood in zip(blank.defects, wood_for(part, blank, front_up, top_off)):
            if wood is not None and not wood.is_empty:
                ground = ring(d.shape.outer)
                self.pairs.append((ground.buffer(spare_mm, quad_segs=64) if spare_mm else ground, wood))

    def turned(self, shape, angle):
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        return shapely.affinity.affine_transform(shape, [self.sign * c, -s, self.sign * s, c, 0, 0])

    def wrong(self, angle, shifts):
        """Area where it must not be, at one angle and many shifts."""
        coords = shapely.get_coordinates(self.turned(self.body, angle))
        bodies = shapely.polygons(coords[None, :, :] + shifts[:, None, :])
        total = (
            shapely.area(shapely.difference(bodies, self.home))
            if not self.home.is_empty
            else shapely.area(bodies)
        )
        for ground, wood in self.pairs:
            wood = self.turned(wood, angle)
            g = shapely.get_coordinates(ground.exterior)
            moved = shapely.polygons(g[None, :, :] - shifts[:, None, :])
            total = total + shapely.area(shapely.intersection(moved, wood))
        return total


def faces_of(part, blank, settings, spare_mm):
    """Every way up with every planing at which something changes."""
    spare = max(0.0, blank.thickness_mm - part.thickness_mm)
    least = min(settings.planing_mm, spare / 2)
    floors = [0.0] + [
        v for z in part.zones if z.depth_mm for v in (z.depth_mm, part.thickness_mm - z.depth_mm)
    ]
    offs = {least, spare - least, spare / 2}
    for d in blank.defects:
        if d.depth_mm:
            for f in floors:
                top = d.depth_mm - f if d.face == "top" else spare - (d.depth_mm - f)
                offs |= {o for o in (top, top + 1e-5) if least <= o <= spare - least}
    out, seen = [], set()
    for front_up in (True, False):
        for off in sorted(offs):
            face = Face(part, blank, settings, front_up, off, spare_mm)
            sign = (front_up, *(round(w.area, 3) for _, w in face.pairs), len(face.pairs))
            if sign not in seen:
                seen.add(sign)
                out.append(face)
    return out


def seek(part, blank, settings, spare_mm=0.0):
    """A place found with shapely alone, or None; and the least area that was left."""
    tol = part.grain_tolerance_deg
    wide = faces_of(part, blank, settings, spare_mm)
    narrow = faces_of(part, blank, settings, spare_mm + NARROWER_MM)
    starts = []
    for n, face in enumerate(narrow):
        for end in (0.0, 180.0):
            middle = (blank.grain_deg - face.drawn) % 180.0 + end
            for off in np.arange(-tol, tol + 1e-9, STEP_DEG):
                angle = middle + off
                b = face.turned(face.body, angle).bounds
                h = face.home.bounds if not face.home.is_empty else b
                xs, ys = (_steps(h[i] - b[i], h[i + 2] - b[i + 2]) for i in (0, 1))
                shifts = np.array([(x, y) for x in xs for y in ys])
                left = face.wrong(angle, shifts)
                i = int(np.argmin(left))
                starts.append((float(left[i]), n, middle, angle, *shifts[i].tolist()))
    starts.sort()
    least = np.inf
    for area, n, middle, angle, x, y in starts[:STARTS]:
        face = narrow[n]
        far = max(face.body.bounds[2] - face.body.bounds[0], 1.0) / 2
        center = np.array(face.body.centroid.coords[0]) * (face.sign, 1.0)

        def place(v, angle=angle, x=x, y=y, far=far, center=center, middle=middle):
            a = float(np.clip(angle + np.degrees(v[2] / far), middle - tol, middle + tol))
            return a, np.array([[x + v[0], y + v[1]]]) + _turn(center, angle) - _turn(center, a)

        def cost(v, face=face, place=place):
            return float(face.wrong(*place(v))[0])

        if area > 0:
            step = max(0.02, min(2.0, area / 100.0))
            simplex = np.array([[0, 0, 0], [step, 0, 0], [0, step, 0], [0, 0, step]], dtype=float)
            got = minimize(
                cost,
                np.zeros(3),
                method="Nelder-Mead",
                options={"initial_simplex": simplex, "maxfev": LOOKS, "xatol": 1e-4, "fatol": 1e-9},
            )
            v, area = got.x, float(got.fun)
        else:
            v = np.zeros(3)
        least = min(least, area)
        a, shift = place(v)
        for other in wide:
            if (other.front_up, other.top_off) == (face.front_up, face.top_off) and other.wrong(a, shift)[
                0
            ] <= 0.0:
                return (a, face.front_up, face.top_off, *shift[0].tolist()), least
    return None, least


def _turn(p, angle):
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    return np.array([p[0] * c - p[1] * s, p[0] * s + p[1] * c])


def _steps(low, high):
    middle = (low + high) / 2
    half = max((high - low) / 2, 0.0)
    return np.unique(np.linspace(middle - half, middle + half, LATTICE))


def measured(part, blank, settings, at):
    """What a placement breaks by more than the tolerance, measured with shapely; empty when nothing."""
    spare = max(0.0, blank.thickness_mm - part.thickness_mm)
    off = spare / 2 if at.top_off_mm is None else at.top_off_mm
    face = Face(part, blank, settings, at.front_up, off, -TOLERANCE_MM)
    assert at.mirrored == (not at.front_up)
    shift = np.array([[at.x_um / 1000, at.y_um / 1000]])
    return float(face.wrong(at.angle_deg, shift)[0])


def planted(seed, k, clear_mm, points=200):
    """A part and a piece of its own outline wider by a clearance, turned; flaws of the piece lie in pockets."""
    rng = np.random.default_rng([seed, 11, k])
    part = random_part(rng, points)
    turn = float(rng.uniform(-9, 9)) - part.grain_deg
    edge = shapely.affinity.rotate(
        ring(part.outline).buffer(clear_mm, join_style="mitre"), turn, origin=(0, 0)
    )
    shape = Shape(outer=Outline.polygon([tuple(p) for p in np.array(edge.exterior.coords)[:-1].tolist()]))
    blank = random_blank(rng, part)
    flaws = []
    for d, z in zip(blank.defects, [z for z in part.zones if z.face != "back"]):
        at = shapely.affinity.rotate(ring(z.shape.outer), turn, origin=(0, 0)).centroid
        flaws.append(replace(d, shape=Shape(outer=Outline.circle(at.x, at.y, 4.0)), face="top", depth_mm=4.0))
    return (
        part,
        replace(blank, shape=shape, defects=tuple(flaws)),
        Settings(cutter_diameter_mm=6.35, blank_margin_mm=0.0),
    )


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--cases", type=int, default=400)
    ask.add_argument("--first", type=int, default=0, help="number of the first case, to share the work")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--seek", type=int, default=0, help="cases answered placed on which the search is tried")
    ask.add_argument(
        "--planted", type=int, default=0, help="narrow fits, planted, on which the search is tried"
    )
    a = ask.parse_args()
    for clear in (0.5, 0.1, 0.05) if a.planted else ():
        places = [planted(a.seed, k, clear) for k in range(a.planted)]
        found = sum(seek(*p)[0] is not None for p in places)
        exact = sum(place_part(*p).placement is not None for p in places)
        print(
            f"planted with {clear} mm all round: brute force finds {found}, place_part {exact} of {a.planted}",
            flush=True,
        )
    counts, bad, times, sought, hit = collections.Counter(), [], [], 0, 0
    near = []
    for k in range(a.first, a.first + a.cases):
        part, blank, settings = question(a.seed, k)
        answer = place_part(part, blank, settings)
        counts[answer.verdict] += 1
        start = time.process_time()
        if answer.placement is not None:
            area = measured(part, blank, settings, answer.placement)
            if area > 1e-9:
                bad.append((k, "placed", area))
            if sought < a.seek:
                sought += 1
                found = seek(part, blank, settings)[0]
                hit += found is not None
        elif answer.verdict in ("infeasible", "tight"):
            spare = WITHIN_MM if answer.verdict == "tight" else 0.0
            found, least = seek(part, blank, settings, spare)
            near.append((least, k))
            times.append(time.process_time() - start)
            if found is not None:
                bad.append((k, answer.verdict, found))
        if (k + 1) % 20 == 0:
            print(f"  {k + 1} of {a.first + a.cases}: {dict(counts)}, contradictions {bad}", flush=True)
    for b in bad:
        print("contradiction", *b)
    print(
        f"cases {a.first} to {a.first + a.cases - 1}, seed {a.seed}: {dict(sorted(counts.items()))}; contradictions {len(bad)}"
    )
    if times:
        print(f"search without a place: {len(times)} cases, {np.mean(times):.1f} s each, {sum(times):.0f} s")
    near.sort()
    print("nearest to a place, mm2 left:", ", ".join(f"{k}: {v:.3g}" for v, k in near[:8]))
    if sought:
        print(f"search tried on answers with a place: {hit} of {sought} found")


if __name__ == "__main__":
    main()
