"""Render photos of known pieces and read them with ``nestyield photo``: how far off, and are bad ones refused.

    PYTHONPATH=. .venv/test/bin/python scripts/study_photo.py --seed 1 --count 100 --keep /tmp/photos

Rendering takes longer than reading: ``--keep`` leaves the pictures in a folder and takes those that are there.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import photo_render as pr
import shapely

from nestyield.model import InputError
from nestyield.photo.read import read_photos
from nestyield.photo.request import LIMIT_MM, PhotoRequest
from nestyield.photo.sheet import marker_sheets

WOODS = {
    "maple": (0.66, 0.50, 0.33),
    "ash": (0.55, 0.43, 0.29),
    "cherry": (0.40, 0.23, 0.11),
    "mahogany": (0.25, 0.11, 0.055),
    "walnut": (0.125, 0.075, 0.042),
}
GROUNDS = {
    "gray card": ((0.25, 0.26, 0.27), "plain"),
    "green cloth": ((0.06, 0.16, 0.09), "weave"),
    "blue cloth": ((0.05, 0.10, 0.24), "weave"),
    "concrete": ((0.36, 0.36, 0.35), "concrete"),
    "dark card": ((0.035, 0.037, 0.04), "plain"),
    "light gray": ((0.60, 0.61, 0.62), "plain"),
}
BAD = ("blurred", "few markers", "cut off", "like wood")


def circle(x, y, r, n=120):
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return np.column_stack([x + r * np.cos(t), y + r * np.sin(t)])


def shape(rng, kind: str, length: float, width: float):
    """Return outline and holes of an invented piece, lower left about 0,0."""
    j = lambda s: float(rng.uniform(-s, s))  # noqa: E731
    if kind == "offcut":
        return [
            (0, j(8) + 8),
            (length, 10 + j(8)),
            (length - 15 + j(12), width),
            (12 + j(10), width - 10 + j(8)),
        ], []
    if kind == "corner":
        a, b = length * rng.uniform(0.4, 0.6), width * rng.uniform(0.4, 0.6)
        return [(0, 0), (length, j(5) + 5), (length, b), (a + j(15), b + j(8)), (a, width), (0, width)], []
    if kind == "window":
        x, y = length * rng.uniform(0.35, 0.6), width * 0.5
        r = rng.uniform(20, 0.28 * width + 6)
        return [(0, 0), (length, 6), (length - 10, width), (0, width - 8)], [circle(x, y, r)]
    if kind == "sink":
        x, y, w, h = length * 0.35, width * 0.3, length * 0.3, width * 0.4
        hole = np.array([(x, y), (x + w, y + 5), (x + w - 6, y + h), (x + 3, y + h)])
        return [(0, 0), (length, 0), (length, width), (20, width)], [hole]
    if kind == "curved":
        t = np.linspace(0, 2 * np.pi, 240, endpoint=False)
        r = 1 + 0.10 * np.cos(2 * t + j(3)) + 0.05 * np.cos(3 * t + j(3))
        p = np.column_stack([length / 2 * r * np.cos(t), width / 2 * r * np.sin(t)])
        return p - p.min(axis=0), []
    x = np.linspace(0, length, 80)  # a live edge
    wave = width - 14 + 7 * np.sin(x / length * 7 + j(3)) + 5 * np.sin(x / length * 17 + j(3))
    return np.concatenate([[(0, 0), (length, 0)], np.column_stack([x, wave])[::-1]]), []


def scene(seed: int, bad: str = "", wide: int = 3264):
    """Return shot, sheets (number, pose) and woods of a random scene."""
    rng = np.random.default_rng([seed, BAD.index(bad) + 1 if bad else 0])
    thick = float(rng.choice([3.2, 9.5, 19.0, 25.4, 38.0, 44.5]))
    kinds = ["offcut", "corner", "window", "sink", "curved", "live"]
    several = int(rng.choice([1, 1, 2, 3]))
    woods, x = [], -310.0 if several > 1 else -300.0
    color = WOODS[str(rng.choice(list(WOODS)))]
    for _ in range(several):
        length = float(
            rng.uniform(540, 600) if several == 1 else 560 / several - rng.uniform(15, 40) - 0.5 * thick
        )
        width = float(rng.uniform(120, 200) if several == 1 else rng.uniform(90, 170))
        outer, holes = shape(rng, str(rng.choice(kinds)), length, width)
        outer = np.asarray(outer, float)
        marks = []
        if rng.random() < 0.5 and not holes:
            ink = (0.02, 0.05, 0.40) if rng.random() < 0.5 else (0.02, 0.30, 0.06)
            marks = [(length * 0.3, width * 0.45, float(rng.uniform(9, 16)), ink)]
        woods.append(
            pr.Wood(
                outer=outer.tolist(), holes=[np.asarray(h).tolist() for h in holes],
                at=(x, -width / 2 + float(rng.uniform(-15, 15)), float(rng.uniform(-4, 4) if several == 1 else rng.uniform(-8, 8))),
                thickness=thick, color=tuple(np.array(color) * rng.uniform(0.85, 1.15)),
                grain_deg=float(rng.uniform(-30, 30) if rng.random() < 0.3 else rng.uniform(-3, 3)),
                figure=float(rng.uniform(0.12, 0.35)), marks=marks,
            )
        )  # fmt: skip
        x += length + 25 + 0.7 * thick
    ground, kind = GROUNDS[str(rng.choice(list(GROUNDS)))]
    spots = [(-320, 150), (10, 155), (-315, -310), (15, -305)]
    count = int(rng.choice([2, 3, 4]))
    chosen = [0, 3] if count == 2 else [0, 1, 3] if count == 3 else [0, 1, 2, 3]
    sheets = [
        (
            i + 1,
            (
                spots[i][0] + float(rng.uniform(-12, 12)),
                spots[i][1] + float(rng.uniform(-6, 6)),
                float(rng.uniform(-4, 4)),
            ),
        )
        for i in chosen
    ]
    tilt, turn = np.radians(rng.uniform(12, 28)), rng.uniform(0, 2 * np.pi)
    far = rng.uniform(880, 1020)
    light_turn = rng.uniform(0, 2 * np.pi)
    shot = pr.Shot(
        size=(wide, wide * 3 // 4), focal=wide * float(rng.uniform(0.72, 0.84)),
        center_off=tuple(float(v) for v in rng.normal(0, 0.003 * wide, 2)),
        k1=float(rng.uniform(-0.06, 0.08)), k2=float(rng.uniform(-0.03, 0.03)),
        eye=(far * np.sin(tilt) * np.cos(turn), far * np.sin(tilt) * np.sin(turn), far * np.cos(tilt)),
        look=(float(rng.uniform(-15, 15)), float(rng.uniform(-15, 15))), roll_deg=float(rng.uniform(-6, 6)),
        blur=float(rng.uniform(0.5, 1.2)), noise=float(rng.uniform(0.5, 2.0)),
        light=(0.35 * np.cos(light_turn), 0.35 * np.sin(light_turn)), shadow=float(rng.uniform(0.2, 0.6)),
        penumbra=float(rng.uniform(2, 12)), ground=ground, ground_kind=kind,
        exposure=float(rng.uniform(0.65, 0.95)), tint=(float(rng.uniform(0.9, 1.08)), 1.0, float(rng.uniform(0.85, 1.05))),
    )  # fmt: skip
    if bad == "blurred":
        shot = replace(shot, blur=float(rng.uniform(5, 9)) * wide / 3264)
    elif bad == "few markers":
        at = rng.uniform(-60, 60)
        sheets = [(1, (float(at) - 140, 440.0, 0.0))] if rng.random() < 0.5 else []
        shot = replace(shot, eye=(0.0, -60.0, 820.0), look=(0.0, 0.0))
    elif bad == "cut off":
        move = float(rng.choice([-1, 1])) * 560
        shot = replace(shot, eye=(shot.eye[0] + move, *shot.eye[1:]), look=(move, 0.0))
    elif bad == "like wood":
        shot = replace(shot, ground=tuple(0.95 * np.array(color)), ground_kind="concrete")
    return shot, sheets, woods


def true_shape(wood: pr.Wood) -> shapely.Polygon:
    return shapely.Polygon(wood.world(wood.outer), [wood.world(h) for h in wood.holes])


def around(ring: shapely.LinearRing, step: float = 1.0) -> np.ndarray:
    n = max(16, int(ring.length / step))
    return shapely.get_coordinates(ring.interpolate(np.linspace(0, ring.length, n, endpoint=False)))


def _lying(shape: shapely.Polygon) -> float:
    box = shapely.get_coordinates(shapely.oriented_envelope(shape))[:3]
    side = max(np.diff(box, axis=0), key=lambda v: np.hypot(*v))
    return float(np.arctan2(side[1], side[0]))


def laid_on(traced: shapely.Polygon, truth: shapely.Polygon):
    """Return the rigid motion that lays an outline on another, and the mean distance left."""
    points, ring = around(traced.exterior, 2.0), truth.exterior
    start = np.array(traced.centroid.coords[0])
    best = (np.inf, 0.0, start)
    for first in (_lying(truth) - _lying(traced) + turn for turn in (0.0, np.pi)):
        angle, to = first, np.array(truth.centroid.coords[0])
        for step in range(80):
            c, s = np.cos(angle), np.sin(angle)
            q = (points - start) @ np.array([[c, s], [-s, c]]) + to
            near = shapely.get_coordinates(ring.interpolate(ring.project(shapely.points(q))))
            off = float(np.hypot(*(q - near).T).mean())
            if step == 6 and off > 4 * best[0]:
                break
            u, v = q - q.mean(axis=0), near - near.mean(axis=0)
            d = np.arctan2((u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum(), (u * v).sum())
            c, s = np.cos(d), np.sin(d)
            to = (to - q.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + near.mean(axis=0)
            angle += d
            if abs(d) < 1e-8 and step > 10:
                break
        if off < best[0]:
            best = (off, angle, to)
    off, angle, to = best
    c, s = np.cos(angle), np.sin(angle)
    return (
        off,
        np.degrees(angle),
        lambda g: shapely.transform(g, lambda p: (p - start) @ np.array([[c, s], [-s, c]]) + to),
    )


def compare(piece, woods) -> dict:
    """Return how far a traced piece is from the true one that it is most like."""
    fits = []
    for k, wood in enumerate(woods):
        truth = true_shape(wood)
        if abs(truth.area / piece.traced.area - 1) < 0.2:
            fits.append((*laid_on(piece.traced, truth), k, truth))
    if not fits:
        return {"matched": None}
    _, turned, move, k, truth = min(fits, key=lambda f: f[0])
    wood = woods[k]
    off = shapely.distance(truth.boundary, shapely.points(around(move(piece.traced).exterior)))
    x, y, deg = piece.place
    own = shapely.transform(
        piece.written,
        lambda p: p @ np.array([[np.cos(np.radians(deg)), np.sin(np.radians(deg))], [-np.sin(np.radians(deg)), np.cos(np.radians(deg))]]) + (x, y),
    )  # fmt: skip
    written = move(own)
    rings = np.concatenate([around(r) for r in (written.exterior, *written.interiors)])
    outside = np.where(
        shapely.contains_xy(truth, *rings.T), 0.0, shapely.distance(truth.boundary, shapely.points(rings))
    )
    holes = [
        float(np.percentile(shapely.distance(truth.boundary, shapely.points(around(h))), 95))
        for h in move(piece.traced).interiors
    ]
    true_grain = wood.at[2] + wood.grain_deg
    grain = (piece.grain.angle_deg + deg + turned - true_grain + 90) % 180 - 90
    return {
        "matched": k, "p95": float(np.percentile(off, 95)), "most": float(off.max()), "outside": float(outside.max()),
        "outside_p95": float(np.percentile(outside, 95)),
        "area_lost": 1 - written.intersection(truth).area / truth.area, "told": piece.error_mm, "camera": piece.camera_mm,
        "edge": piece.edge_mm, "grain_seen": piece.grain.seen, "grain_off": float(grain),
        "holes": len(holes), "true_holes": len(wood.holes), "hole_p95": max(holes, default=0.0),
        "marks": len(piece.defects), "true_marks": len(wood.marks), "corners": len(piece.written.exterior.coords) - 1,
        "thickness": wood.thickness,
    }  # fmt: skip


def picture_of(seed: int, bad: str, keep: Path, pages: dict) -> tuple[Path, list]:
    shot, sheets, woods = scene(seed, bad)
    path = keep / f"{bad.replace(' ', '-') or 'good'}-{seed}.jpg"
    if not path.exists():
        for number, _ in sheets:
            if number not in pages:
                pages[number] = pr.sheet_picture(marker_sheets(number, 1, "a4"), 1)
        pr.save(path, pr.render(shot, [(pages[n], pose) for n, pose in sheets], woods, seed), shot.quality)
    return path, woods


def read(path: Path, woods: list, limit: float = LIMIT_MM) -> tuple[list, str]:
    request = PhotoRequest(
        pictures=(path,),
        thickness_mm=woods[0].thickness,
        species="ash",
        name="P",
        lines_mm=(240.0, 160.0),
        limit_mm=limit,
    )
    try:
        pieces, _, _ = read_photos(request)
    except InputError as error:
        return [], " | ".join(sorted({f"{f.code}: {f.message}" for f in error.findings}))
    return pieces, ""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--bad", type=int, default=5, help="bad pictures of each sort")
    parser.add_argument("--keep", type=Path, default=Path("/tmp/photos"))
    parser.add_argument("--render", action="store_true", help="render only")
    args = parser.parse_args()
    args.keep.mkdir(parents=True, exist_ok=True)
    pages: dict = {}
    rows, refused, missed, extra = [], [], 0, 0
    bad = []
    for sort in BAD:
        for seed in range(args.seed, args.seed + args.bad):
            path, woods = picture_of(seed, sort, args.keep, pages)
            if args.render:
                continue
            pieces, why = read(path, woods)
            bad.append((sort, seed, why))
            print(f"{sort} {seed}: {'refused ' + why[:120] if why else 'READ'}", flush=True)
            for piece in pieces:
                print("     ", compare(piece, woods), flush=True)
    try:
        for seed in range(args.seed, args.seed + args.count):
            path, woods = picture_of(seed, "", args.keep, pages)
            if args.render:
                continue
            pieces, why = read(path, woods)
            if why:
                refused.append((seed, why))
                print(f"{seed:4d} refused {why[:150]}", flush=True)
                continue
            got = [compare(p, woods) for p in pieces]
            extra += sum(r["matched"] is None for r in got)
            missed += len(woods) - len({r["matched"] for r in got} - {None})
            for r in got:
                if r["matched"] is not None:
                    rows.append({"seed": seed, **r})
                    print(
                        f"{seed:4d} "
                        + " ".join(
                            f"{k} {v:.3f}" if isinstance(v, float) else f"{k} {v}" for k, v in r.items()
                        ),
                        flush=True,
                    )
                else:
                    print(f"{seed:4d} not a piece", flush=True)
    except KeyboardInterrupt:
        print("stopped; what was read so far:")
    if args.render:
        return
    summary(rows, refused, missed, extra, bad)
    (args.keep / "rows.json").write_text(json.dumps(rows, indent=1, default=str))


def summary(rows: list, refused: list, missed: int, extra: int, bad: list) -> None:
    def line(name: str, values: list) -> None:
        v = np.array(values, float)
        print(
            f"{name:44s} median {np.median(v):6.3f}  95 % {np.percentile(v, 95):6.3f}  worst {v.max():6.3f}"
        )

    print(
        f"\npieces read {len(rows)}, pictures refused {len(refused)}, pieces missed {missed}, things that are none {extra}"
    )
    line("error at 95 % of the outline, mm", [r["p95"] for r in rows])
    line("largest error of the outline, mm", [r["most"] for r in rows])
    line("error told, mm", [r["told"] for r in rows])
    line("written outline outside the wood, largest, mm", [r["outside"] for r in rows])
    line("area lost, %", [100 * r["area_lost"] for r in rows])
    line("corners written", [r["corners"] for r in rows])
    print(
        f"error at 95 % under 0.5 mm: {sum(r['p95'] < 0.5 for r in rows)} of {len(rows)}; within the error told: {sum(r['p95'] <= r['told'] for r in rows)}"
    )
    seen = [r for r in rows if r["grain_seen"]]
    line(f"grain off where seen ({len(seen)} of {len(rows)}), degrees", [abs(r["grain_off"]) for r in seen])
    holes = [r for r in rows if r["true_holes"]]
    print(f"holes: {sum(r['holes'] for r in rows)} found of {sum(r['true_holes'] for r in rows)}")
    if holes:
        line("error at 95 % of holes, mm", [r["hole_p95"] for r in holes])
    print(f"marks: {sum(r['marks'] for r in rows)} found of {sum(r['true_marks'] for r in rows)}")
    print(f"bad pictures refused: {sum(bool(w) for _, _, w in bad)} of {len(bad)}")


if __name__ == "__main__":
    main()
