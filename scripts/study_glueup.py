"""Study: glue-ups found in racks in which one is planted.

    python scripts/study_glueup.py --seeds 30 [--first M] --members 2 3 4 --decoys 30 [--hard]

A blank that holds a wavy part with its margin is cut at seams along the grain into odd pieces; each gets its
jointing allowances and rough far edges, is turned end for end or face for face, and is shuffled among
decoys of which none alone holds the part. With ``--hard`` the far edges have 10 to 40 corners, every piece
has knots, wane, checks and holes (planted ones where the part bears them: in waste, planed off, or in its
pockets), thicknesses differ, and pieces lie at any angle in their own drawings, their grain with them.
Found: a glue-up whose seams are closed under the part and whose wood holds part and margin, measured with
shapely alone, which the search does not use for that, and in which the audit finds no fault. Area: pieces as
they lie on the rack, against the planted ones. Times are processor seconds.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity

from nestyield.audit.check import audit
from nestyield.glueup.band import lay
from nestyield.glueup.find import find
from nestyield.glueup.rules import forbidden_intervals
from nestyield.model import (
    Defect,
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
from nestyield.planning.layouts import make_layout
from nestyield.planning.work.cautions import general_cautions

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=6.35, jointing_mm=0.8, chord_error_mm=0.02)
T_MM = 44.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A rack with a glue-up in it."""

    part: Part
    pieces: tuple[Piece, ...]
    names: tuple[str, ...]
    area_mm2: float


def wavy_part(rng: np.random.Generator, pockets: bool = False) -> Part:
    """A smooth closed outline with a waist, grain along it, perhaps with two pockets on its center line."""
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
    zones = [Zone(name="CENTER", role="center_line", line_mm=((-100.0, middle), (100.0, middle)))]
    for k, x in enumerate((-70.0, 30.0) if pockets else ()):
        shape = Shape(outer=Outline.rectangle(x, middle - 28, x + 40, middle + 28))
        zones.append(
            Zone(name=f"POCKET {k}", role="pocket", face="front", depth_mm=19.0 + 12 * k, shape=shape)
        )
    return Part(name="part", drawing="", outline=outline, thickness_mm=T_MM, zones=tuple(zones))


def _piece(name: str, xy: np.ndarray, rng: np.random.Generator, flaws: list[Defect] | None = None) -> Piece:
    """A piece of these corners turned end for end or face for face, in a frame of its own.

    With flaws it may lie at any angle in its frame, its grain with it.
    """
    flip = rng.choice([-1.0, 1.0], size=2)
    mirrored, angle = bool(flip[0] != flip[1]), 0.0 if flip[1] > 0 else 180.0
    thick = T_MM + float(rng.choice([2, 4, 6]))
    if flaws is not None:
        thick = T_MM + float(rng.choice([1.6, 2.1, 3.3, 5.7, 9.0]))
        angle += float(rng.choice([0.0, 90.0, 12.5, -33.0]))
    shape = Pose(angle_deg=angle, mirrored=mirrored).shape(
        Shape(outer=Outline.polygon([tuple(p) for p in xy.tolist()]))
    )
    turned = np.array(shape.outer.points_mm)
    x, y = -turned.min(axis=0)
    other = {"top": "bottom", "bottom": "top", "through": "through"}
    defects = tuple(
        replace(
            d,
            shape=Pose(x_mm=x, y_mm=y).shape(Pose(angle_deg=angle, mirrored=mirrored).shape(d.shape)),
            face=other[d.face] if mirrored else d.face,
        )
        for d in flaws or ()
    )
    return Piece(
        name=name,
        species="sugar maple",
        thickness_mm=thick,
        shape=Pose(x_mm=x, y_mm=y).shape(shape),
        grain_deg=angle % 180.0,
        defects=defects,
    )


def _rough(
    x0: float, x1: float, y: float, out: float, rng: np.random.Generator, points: int = 7
) -> np.ndarray:
    """A wandering edge from x0 to x1, never nearer than y, by at most 12 mm farther."""
    x = np.linspace(x0, x1, points)
    return np.column_stack([x, y + out * rng.uniform(0.0, 12.0, size=points)])


def _flaws(
    xy: np.ndarray, band: shapely.Polygon | None, part: Part, rng: np.random.Generator
) -> list[Defect]:
    """Knots, wane, checks; in a planted piece only where the part bears them."""
    out = []
    wood = shapely.Polygon(xy)
    x0, y0, x1, y1 = wood.bounds
    pockets = [z for z in part.zones if z.role == "pocket"]
    for k in range(int(rng.integers(3, 7))):
        x, y = float(rng.uniform(x0, x1)), float(rng.uniform(y0, y1))
        kind = str(rng.choice(["knot", "wane", "check", "nail hole"]))
        shape = Shape(outer=Outline.circle(x, y, float(rng.uniform(2, 14))))
        name = f"row {k}"
        through = Defect(name=name, kind=kind, shape=shape)
        on_top = Defect(name=name, kind=kind, shape=shape, face="top", depth_mm=float(rng.uniform(0.2, 30)))
        defect = through if rng.uniform() < 0.5 else on_top
        if band is not None:
            r = max(p[0] for p in shape.outer.points_mm) - x
            spot = shapely.Point(x, y).buffer(r + 0.1)
            if spot.intersects(band):
                # not in waste: planed off, or inside a pocket and shallower than that
                defect = replace(on_top, depth_mm=float(rng.uniform(0.1, 0.7)))
                for zone in pockets if rng.uniform() < 0.7 else ():
                    (a, b), (c, d) = zone.shape.outer.points_mm[0], zone.shape.outer.points_mm[2]
                    if d - b > 30:
                        u = float(rng.uniform(a + 11, c - 11))
                        v = float(rng.uniform(b + 11, d - 11))
                        if wood.contains(shapely.Point(u, v).buffer(10)):
                            defect = replace(
                                on_top,
                                shape=Shape(outer=Outline.circle(u, v, 10.0)),
                                depth_mm=float(rng.uniform(5, 18)),
                            )
                            break
        out.append(defect)
    return out


def plant(seed: int, members: int, decoys: int, hard: bool = False) -> Planted:
    """Make a rack with a planted glue-up."""
    rng = np.random.default_rng([seed, members, 1] if hard else [seed, members])
    part = wavy_part(rng, hard)
    need = shapely.Polygon(part.outline.points_mm).buffer(SETTINGS.blank_margin_mm + 0.1, quad_segs=64)
    x0, y0, x1, y1 = need.bounds
    middle = (y0 + y1) / 2
    seams = _seams(part, members, middle, y0, y1)
    edges = [y0, *seams, y1]
    pieces = []
    for k in range(members):
        low = edges[k] - (SETTINGS.jointing_mm + 0.1 if k else 0.0)
        high = edges[k + 1] + (SETTINGS.jointing_mm + 0.1 if k + 1 < members else 0.0)
        band = need.intersection(shapely.box(x0, low, x1, high))
        a, _, b, _ = band.bounds
        a, b = a - rng.uniform(0, 25), b + rng.uniform(0, 25)
        corners = int(rng.integers(10, 41)) if hard else 7
        lower = np.array([[a, low], [b, low]]) if k else _rough(a, b, low, -1.0, rng, corners)
        upper = np.array([[b, high], [a, high]]) if k + 1 < members else _rough(b, a, high, 1.0, rng, corners)
        xy = np.concatenate([lower, upper])
        flaws = _flaws(xy, band, part, rng) if hard else None
        pieces.append(_piece(f"planted {k}", xy, rng, flaws))
    area = sum(p.shape.area_mm2 for p in pieces)
    for k in range(decoys):
        # Too narrow or too short to be the whole blank; some serve with others.
        length = rng.uniform(0.4, 1.5) * (x1 - x0)
        width = rng.uniform(0.12, {2: 0.62, 3: 0.36}.get(members, 0.28)) * (y1 - y0)
        xy = np.array(
            [[0, 0], [length, 0], [length - rng.uniform(0, 30), width], [rng.uniform(0, 30), width]]
        )
        if hard:
            inset = min(30.0, length / 4)
            edge = _rough(length - rng.uniform(0, inset), rng.uniform(0, inset), width, 1.0, rng, 15)
            xy = np.concatenate([xy[:2], edge])
        pieces.append(_piece(f"decoy {k}", xy, rng, _flaws(xy, None, part, rng) if hard else None))
    order = rng.permutation(len(pieces))
    names = tuple(f"planted {k}" for k in range(members))
    return Planted(part=part, pieces=tuple(pieces[i] for i in order), names=names, area_mm2=area)


def plant_turned(seed: int, members: int, decoys: int, play_mm: float) -> Planted:
    """Make a rack with a planted glue-up that follows the part closely, turned within its grain tolerance.

    The pieces are the blank itself, larger by ``play_mm`` across, and its margin, cut along the grain.
    """
    for again in range(100):
        found = _planted_turned([seed, members, round(play_mm * 1000), again], members, decoys, play_mm)
        if found is not None:
            return found
    raise ValueError("no part without a wing of its own at a seam")


def _planted_turned(seed: list[int], members: int, decoys: int, play_mm: float) -> Planted | None:
    rng = np.random.default_rng(seed)
    part = wavy_part(rng)
    angle = float(rng.uniform(-1.0, 1.0)) * part.grain_tolerance_deg
    # grown by the margin as finely as the search does it, in arcs that stay outside
    around = shapely.Polygon(part.outline.points_mm).buffer(
        SETTINGS.blank_margin_mm + play_mm / 2, quad_segs=256
    )
    need = affinity.rotate(around, angle, origin=(0, 0)).simplify(play_mm / 16).buffer(play_mm / 16)
    x0, y0, x1, y1 = need.bounds
    bars = forbidden_intervals(lay(part, SETTINGS, angle, False), SETTINGS.glueup)
    edges = [y0]
    for k in range(1, members):
        at = y0 + (y1 - y0) * k / members
        free = [
            t
            for t in sorted(np.arange(-25, 25.5, 0.5), key=abs)
            if not any(b.low < (at + t) * 1000 < b.high for b in bars)
        ]
        edges.append(at + (free[0] if free else 0.0))
    edges.append(y1)
    reach = SETTINGS.jointing_mm + play_mm / 2
    pieces = []
    for k in range(members):
        low, high = edges[k] - (reach if k else 1.0), edges[k + 1] + (reach if k + 1 < members else 1.0)
        band = need.intersection(shapely.box(x0 - 1, low, x1 + 1, high))
        if band.geom_type != "Polygon":
            return None
        pieces.append(_piece(f"planted {k}", np.array(band.exterior.coords)[:-1], rng))
    area = sum(p.shape.area_mm2 for p in pieces)
    pieces += _plain_decoys(rng, members, decoys, x1 - x0, y1 - y0)
    order = rng.permutation(len(pieces))
    names = tuple(f"planted {k}" for k in range(members))
    return Planted(part=part, pieces=tuple(pieces[i] for i in order), names=names, area_mm2=area)


def _plain_decoys(
    rng: np.random.Generator, members: int, decoys: int, length_mm: float, width_mm: float
) -> list[Piece]:
    """Pieces that hold no part alone and, in so many, too little for one to be made of as few."""
    out = []
    for k in range(decoys):
        length = rng.uniform(0.4, 0.98) * length_mm
        width = rng.uniform(0.12, {2: 0.55, 3: 0.34}.get(members, 0.26)) * width_mm
        xy = np.array(
            [[0, 0], [length, 0], [length - rng.uniform(0, 30), width], [rng.uniform(0, 30), width]]
        )
        out.append(_piece(f"decoy {k}", xy, rng))
    return out


def _seams(part: Part, members: int, middle: float, y0: float, y1: float) -> list[float]:
    """Where the planted seams run: in four pieces about evenly, moved to where the rules let them."""
    if members == 2:
        return [middle]
    if members == 3:
        return [middle - 52.0, middle + 52.0]
    bars = forbidden_intervals(lay(part, SETTINGS, 0.0, False), SETTINGS.glueup)
    out = []
    for k in range(1, members):
        at = y0 + (y1 - y0) * k / members
        tries = sorted(np.arange(-20, 20.5, 0.5), key=abs)
        free = [t for t in tries if not any(b.low < (at + t) * 1000 < b.high for b in bars)]
        out.append(at + (free[0] if free else 0.0))
    return out


def plan_of(planted: Planted, glued: list, settings: Settings = SETTINGS) -> Plan:
    """Return a plan that makes every glue-up of a list, each from a rack of its own, for the audit."""
    shop = Shop(
        name="",
        units="mm",
        settings=settings,
        beds=(),
        parts=(planted.part,),
        pieces=tuple(replace(p, count=9 * p.count) for p in planted.pieces),
        orders=(Order(name="order 1", part="part", count=max(1, len(glued))),),
    )
    used: dict[str, int] = {}
    layouts = []
    for k, each in enumerate(glued):
        members = []
        start = dict(used)
        for member in each.blank.members:
            used[member.piece] = max(used.get(member.piece, 0), start.get(member.piece, 0) + member.copy)
            members.append(replace(member, copy=start.get(member.piece, 0) + member.copy))
        blank = replace(each.blank, name=f"glue-up {k + 1}", members=tuple(members))
        at = replace(each.placement, order="order 1", copy=k + 1)
        layouts.append(make_layout(shop, blank, [at], (), each.chain.value))
    orders = (OrderResult(order="order 1", placed=len(glued), count=len(glued)),)
    general = general_cautions(shop, layouts)
    return Plan(shop=shop, seed=1, effort=1, layouts=tuple(layouts), orders=orders, cautions=general)


#: Told because the study has no bed, and values pieces by their area.
_NOT_ASKED = ("A407", "A502", "A503", "A504")


def audited(planted: Planted, glued: list, settings: Settings = SETTINGS) -> list[str]:
    """What the audit finds in glue-ups, beds and prices aside."""
    if not glued:
        return []
    return [
        f"{f.code} {f.message}" for f in audit(plan_of(planted, glued, settings)) if f.code not in _NOT_ASKED
    ]


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
    sawn = [m.cut or rack[m.piece].shape for m in glued.blank.members]
    wholes = [_moved(shapely.Polygon(s.outer.points_mm), m) for s, m in zip(sawn, glued.blank.members)]
    for i, one in enumerate(glued.blank.members):
        for k, other in enumerate(glued.blank.members[:i]):
            if (one.piece, one.copy) == (other.piece, other.copy):
                apart = shapely.Polygon(sawn[i].outer.points_mm).distance(
                    shapely.Polygon(sawn[k].outer.points_mm)
                )
                if one.cut is None or other.cut is None or apart < 3.195:
                    out.append(f"two members of one piece are {apart:.3f} mm apart in it")
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
    ask.add_argument("--first", type=int, default=0, help="the first seed, to run them in slices")
    ask.add_argument("--members", type=int, nargs="+", default=[2, 3])
    ask.add_argument("--decoys", type=int, default=30)
    ask.add_argument("--hard", action="store_true")
    ask.add_argument("--play", type=float, help="pieces that follow the part, turned; so much larger, mm")
    options = ask.parse_args()
    for members in options.members:
        found = small = wrong = 0
        times = []
        for seed in range(options.first, options.first + options.seeds):
            if options.play is None:
                planted = plant(seed, members, options.decoys, options.hard)
            else:
                planted = plant_turned(seed, members, options.decoys, options.play)
            start = time.process_time()
            glued = find(planted.part, planted.pieces, SETTINGS, lambda p: p.shape.area_mm2)
            times.append(time.process_time() - start)
            bad = [f for g in glued for f in faults(planted, g)] + audited(planted, glued)
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
            f"{members} members among {options.decoys}{', hard' if options.hard else ''}"
            f"{'' if options.play is None else f', play {options.play:g} mm'}: found {found}/{options.seeds}, no more area "
            f"{small}/{options.seeds}, with faults {wrong}, seconds median {np.median(times):.2f} "
            f"most {max(times):.2f} all {sum(times):.0f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
