"""Study: glue-ups found in racks in which one is planted.

    python scripts/study_glueup.py --seeds 30 --members 2 3 --decoys 30

A blank that holds a wavy part with its margin is cut at seams along the grain into odd pieces; each gets its
jointing allowances and rough far edges, is turned end for end or face for face, and is shuffled among
decoys of which none alone holds the part. Found: a glue-up whose seams are closed under the part and whose
wood holds part and margin, measured with shapely alone, which the search does not use for that. Area: pieces
as they lie on the rack, against the planted ones. Times are processor seconds.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from nestyield.glueup.find import find
from nestyield.model import Outline, Part, Piece, Settings, Shape, Zone

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=6.35, jointing_mm=0.8, chord_error_mm=0.02)
T_MM = 44.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A rack with a glue-up in it."""

    part: Part
    pieces: tuple[Piece, ...]
    names: tuple[str, ...]
    area_mm2: float


def wavy_part(rng: np.random.Generator) -> Part:
    """A smooth closed outline with a waist, grain along it."""
    turn = np.arange(120) * 2 * np.pi / 120
    far = np.ones(120)
    for k in range(2, 5):
        far += 0.2 / k * rng.normal() * np.cos(k * turn + rng.uniform(0, 2 * np.pi))
    far = np.clip(far, 0.5, 1.6)
    xy = np.column_stack(
        [rng.uniform(170, 240) * far * np.cos(turn), rng.uniform(110, 160) * far * np.sin(turn)]
    )
    outline = Outline.polygon([(float(x), float(y)) for x, y in xy])
    middle = float(xy[:, 1].min() + xy[:, 1].max()) / 2
    line = Zone(name="CENTRE", role="centre_line", line_mm=((-100.0, middle), (100.0, middle)))
    return Part(name="part", drawing="", outline=outline, thickness_mm=T_MM, zones=(line,))


def _piece(name: str, xy: np.ndarray, rng: np.random.Generator) -> Piece:
    """A piece of these corners turned end for end or face for face, in a frame of its own."""
    xy = xy * rng.choice([-1.0, 1.0], size=2)
    if shapely.Polygon(xy).exterior.is_ccw is False:
        xy = xy[::-1]
    xy = xy - xy.min(axis=0)
    shape = Shape(outer=Outline.polygon([(float(x), float(y)) for x, y in xy]))
    return Piece(
        name=name, species="sugar maple", thickness_mm=T_MM + float(rng.choice([2, 4, 6])), shape=shape
    )


def _rough(x0: float, x1: float, y: float, out: float, rng: np.random.Generator) -> np.ndarray:
    """A wandering edge from x0 to x1, never nearer than y, by at most 12 mm farther."""
    x = np.linspace(x0, x1, 7)
    return np.column_stack([x, y + out * rng.uniform(0.0, 12.0, size=7)])


def plant(seed: int, members: int, decoys: int) -> Planted:
    """Make a rack with a planted glue-up."""
    rng = np.random.default_rng([seed, members])
    part = wavy_part(rng)
    need = shapely.Polygon(part.outline.points_mm).buffer(SETTINGS.blank_margin_mm + 0.1, quad_segs=64)
    x0, y0, x1, y1 = need.bounds
    middle = (y0 + y1) / 2
    seams = [middle] if members == 2 else [middle - 52.0, middle + 52.0]
    edges = [y0, *seams, y1]
    pieces = []
    for k in range(members):
        low = edges[k] - (SETTINGS.jointing_mm + 0.1 if k else 0.0)
        high = edges[k + 1] + (SETTINGS.jointing_mm + 0.1 if k + 1 < members else 0.0)
        band = need.intersection(shapely.box(x0, low, x1, high))
        a, _, b, _ = band.bounds
        a, b = a - rng.uniform(0, 25), b + rng.uniform(0, 25)
        lower = np.array([[a, low], [b, low]]) if k else _rough(a, b, low, -1.0, rng)
        upper = np.array([[b, high], [a, high]]) if k + 1 < members else _rough(b, a, high, 1.0, rng)
        pieces.append(_piece(f"planted {k}", np.concatenate([lower, upper]), rng))
    area = sum(p.shape.area_mm2 for p in pieces)
    for k in range(decoys):
        # Too narrow or too short to be the whole blank; some serve with others.
        length = rng.uniform(0.4, 1.5) * (x1 - x0)
        width = rng.uniform(0.12, 0.62 if members == 2 else 0.36) * (y1 - y0)
        corners = np.array(
            [[0, 0], [length, 0], [length - rng.uniform(0, 30), width], [rng.uniform(0, 30), width]]
        )
        pieces.append(_piece(f"decoy {k}", corners, rng))
    order = rng.permutation(len(pieces))
    names = tuple(f"planted {k}" for k in range(members))
    return Planted(part=part, pieces=tuple(pieces[i] for i in order), names=names, area_mm2=area)


def faults(planted: Planted, glued) -> list[str]:
    """What is wrong with a glue-up, measured with shapely; empty when it can be made."""
    out = []
    at = glued.placement
    part = _moved(shapely.Polygon(planted.part.outline.points_mm), at)
    need = part.buffer(SETTINGS.blank_margin_mm - 0.005, quad_segs=64)
    wood = shapely.Polygon(glued.blank.shape.outer.points_mm, [h.points_mm for h in glued.blank.shape.holes])
    bare = need.difference(wood.buffer(0.003))
    if not bare.is_empty:
        out.append(f"margin bare by {bare.area:.4f} mm2")
    rack = {p.name: p for p in planted.pieces}
    wholes = [_moved(shapely.Polygon(rack[m.piece].shape.outer.points_mm), m) for m in glued.blank.members]
    if len({m.piece for m in glued.blank.members}) < len(glued.blank.members):
        out.append("a piece is used twice")
    for k, seam in enumerate(glued.blank.seams):
        y = seam.line_mm[0][1]
        under = shapely.LineString([(-5000, y), (5000, y)]).intersection(part)
        if under.is_empty:
            out.append(f"{seam.name} is not under the part")
            continue
        reach = SETTINGS.jointing_mm - 0.005
        for whole in wholes[k : k + 2]:
            strip = under.buffer(reach, cap_style="flat").difference(whole.buffer(0.003))
            if strip.area > 1e-3:
                out.append(f"{seam.name}: {strip.area:.4f} mm2 of the jointing allowance is missing")
    return out


def _moved(shape, at):
    if at.mirrored:
        shape = affinity.scale(shape, -1, 1, origin=(0, 0))
    return affinity.translate(
        affinity.rotate(shape, at.angle_deg, origin=(0, 0)), at.x_um / 1000, at.y_um / 1000
    )


def main() -> None:
    """Run the study and print its table."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--seeds", type=int, default=30)
    ask.add_argument("--members", type=int, nargs="+", default=[2, 3])
    ask.add_argument("--decoys", type=int, default=30)
    options = ask.parse_args()
    for members in options.members:
        found = small = wrong = 0
        times = []
        for seed in range(options.seeds):
            planted = plant(seed, members, options.decoys)
            start = time.process_time()
            glued = find(planted.part, planted.pieces, SETTINGS, lambda p: p.shape.area_mm2)
            times.append(time.process_time() - start)
            bad = [f for g in glued for f in faults(planted, g)]
            wrong += bool(bad)
            good = bool(glued) and not bad
            found += good
            best = min((g.chain.value for g in glued), default=float("inf"))
            less = good and best <= planted.area_mm2 * (1 + 1e-9)
            small += less
            if bad or not less:
                print(
                    f"  members {members} seed {seed}: best {best / planted.area_mm2:.3f} {bad[:2]}",
                    flush=True,
                )
        print(
            f"{members} members among {options.decoys}: found {found}/{options.seeds}, no more area "
            f"{small}/{options.seeds}, with faults {wrong}, seconds median {np.median(times):.2f} "
            f"most {max(times):.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
