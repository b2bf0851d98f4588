"""Planted necks of strips on edge that only the right boards, ripped and turned the right way, serve, through the commands.

    python scripts/study_necks.py --cases 20 --seed 1 [--keep DIR]

Each case is a rack made by cutting up a known answer: a neck with a pocket from its front and a hole on its center line
is given the strips of one or two boards of unlike thickness; the boards are exactly as wide as the strips and the saw's
cuts ask, 0.05 mm wider or longer, or long enough that a rest comes back. In two of three cases a strip holds a knot that
the pocket takes away, if the strip lies in one of the four ways that it can and in its place; the knot reaches so deep
into the board as it lies across in the pocket, and so far across as the pocket is deep. Beside them stand cheaper boards
that cannot do: 0.3 mm too narrow or too short for a strip, too thin for the planer, too damp beside the others, with a knot that
stays whichever way its strip is turned, with a nail, of other wood, its grain across. Found means that the copy is placed, that `nestyield
verify` and the second checker (`tests/second`, no code of the project) have no finding, and that plain numbers and shapely, from
plan.json and what was planted alone, find: the planted boards, every strip inside its board and the kerf off the next, the
strips as wide as the blank is thick, their thickness less the planing as wide as the blank, margins kept, no seam in
the hole's clearance, and no knot in the finished neck as the turned board shows it. Then all of it is
taken, what comes back is compared with what was planted, and undone, byte for byte.
"""

from __future__ import annotations

import argparse
import csv
import json
import math
import shutil
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
import shapely
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Point, Polygon, box
from study_resaw import nestyield

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
from second import check

MARGIN, PLANING, KERF, PLAY, CLEAR = 5.0, 0.8, 3.0, 0.05, 3.0
#: Places are whole micrometers, millimeters.
TOL = 0.02
WOOD = "hard maple"


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A board of the rack; knots as x, y, diameter, face, depth, kind."""

    name: str
    thick: float
    long: float
    wide: float
    value: float
    wood: str = WOOD
    moisture: float = 8.0
    grain: float = 0.0
    knots: tuple[tuple[float, float, float, str, float | None, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A planted neck: its outline, pocket and its depth, hole, thickness, the boards, how many strips of each planted one."""

    outline: Polygon
    pocket: Polygon
    deep: float
    hole: tuple[float, float, float]
    thick: float
    strips: dict[str, int]
    boards: tuple[Board, ...]


def plant(rng: np.random.Generator) -> Planted:
    """Return a random case."""
    thick = float(rng.integers(18, 30))
    ripped = thick + 2 * PLANING
    long = float(rng.integers(520, 760))
    kinds = int(rng.integers(1, 3))
    # alike about the middle: a b a, or a a a, or a b b a
    some = [float(rng.integers(16, 34)) for _ in range(kinds)]
    counts = [int(rng.integers(3, 5))] if kinds == 1 else [2, int(rng.integers(1, 3))]
    order = [0] * counts[0] if kinds == 1 else [0, *[1] * counts[1], 0]
    across = [some[k] for k in order]
    wide = round(sum(across) - 2 * MARGIN - PLAY, 3)
    seams = np.cumsum(across)[:-1] - MARGIN - PLAY / 2  # in the neck, from its lower edge
    # a neck that is wide at one end: the outline touches both edges there
    tip = round(0.8 * wide, 3)
    low = (wide - tip) / 2
    outline = Polygon(
        [
            (0, low),
            (long - 150, low * 0.5),
            (long - 120, 0),
            (long, 0),
            (long, wide),
            (long - 120, wide),
            (long - 150, wide - low * 0.5),
            (0, wide - low),
        ]
    )
    # the hole between two seams, as near to one as the rule allows and the play
    near = float(seams[int(rng.integers(0, len(seams)))])
    radius = 2.0
    hole = (long / 2, round(near + radius + CLEAR + PLAY, 3), radius)
    # the pocket takes all of the width of a strip that is not at an edge, so that a knot from either face is gone
    inner = int(rng.integers(1, len(across) - 1))
    y0, y1 = float(seams[inner - 1]) - 1.0, float(seams[inner]) + 1.0
    deep = float(rng.integers(8, int(thick) - 6))
    pocket = box(round(long - 90, 3), round(y0, 3), round(long - 40, 3), round(y1, 3))
    knotty = rng.random() < 2 / 3
    boards: list[Board] = []
    strips: dict[str, int] = {}
    for k in range(kinds):
        n = order.count(k)
        end = 0.0 if rng.random() < 0.5 else float(rng.integers(150, 300))
        more = 0.0 if knotty or rng.random() < 0.5 else float(rng.integers(12, int(ripped - KERF) - 2))
        knots: tuple[tuple[float, float, float, str, float | None, str], ...] = ()
        board_thick = some[k] + 2 * PLANING
        if knotty and order[inner] == k:
            knots = (_knot(rng, long, board_thick, ripped, n, y1 - y0, deep),)
            end = 0.0
        name = f"planted {k + 1}"
        wood_wide = n * ripped + (n - 1) * KERF + PLAY + more
        boards.append(
            Board(
                name=name,
                thick=board_thick,
                long=round(long + 2 * MARGIN + PLAY + end, 3),
                wide=round(wood_wide, 3),
                value=60.0,
                knots=knots,
            )
        )
        strips[name] = n
    boards += _others(rng, boards, strips, long, ripped)
    return Planted(
        outline=outline,
        pocket=pocket,
        deep=deep,
        hole=hole,
        thick=thick,
        strips=strips,
        boards=tuple(boards[i] for i in rng.permutation(len(boards))),
    )


def _knot(
    rng: np.random.Generator, long: float, thick: float, ripped: float, n: int, room: float, deep: float
) -> tuple[float, float, float, str, float | None, str]:
    """Return a knot near an edge of a strip, which comes up into the pocket; from a face, less deep than the pocket is wide."""
    across = min(8.0, deep - 1.5, room - 2.0)  # from the edge that comes up, planed off first
    strip = int(rng.integers(0, n))
    start = strip * (ripped + KERF)
    far = bool(rng.random() < 0.5)
    # the part lies within the play: the pocket is at one end of the neck, which may be either end of the board
    at = MARGIN + PLAY / 2 + long - 65.0
    x = at if rng.random() < 0.5 else long + 2 * MARGIN + PLAY - at
    y = start + (ripped - PLANING - across / 2 - 0.3 if far else PLANING + across / 2 + 0.3)
    face = "top" if rng.random() < 0.5 else "bottom"
    reach = PLANING + 2.0 + min(5.0, room / 2)
    return (round(x, 3), round(y, 3), round(across, 3), face, round(reach, 3), "knot")


def _others(
    rng: np.random.Generator, planted: list[Board], strips: dict[str, int], long: float, ripped: float
) -> list[Board]:
    """Return cheaper boards that cannot do in place of the last planted one."""
    last = planted[-1]
    n = strips[last.name]
    size = {"thick": last.thick, "long": round(long + 2 * MARGIN + PLAY, 3), "value": 5.0}
    wide = round(n * ripped + (n - 1) * KERF + PLAY, 3)
    stays = tuple((long / 3, (k + 0.5) * ripped + k * KERF, 10.0, "through", None, "knot") for k in range(n))
    nail = ((long / 2, wide / 2, 4.0, "top", 10.0, "nail hole"),)
    # each gives no strip at all, or none that go beside the planted ones: whatever else does would be an answer, too
    found = [
        Board(name="narrow", wide=round(ripped - 0.3, 3), **size),
        Board(name="short", wide=wide, **size | {"long": round(long + 2 * MARGIN - 0.3, 3)}),
        Board(name="nailed", wide=wide, knots=nail, **size),
        Board(name="walnut", wide=wide, wood="black walnut", **size),
        Board(name="across", wide=wide, grain=90.0, **size),
    ]
    if len(planted) > 1:
        found.append(Board(name="damp", wide=wide, moisture=12.0, **size))
    elif rng.random() < 0.5:
        found.append(Board(name="knotty", wide=wide, knots=stays, **size))
    else:
        found.append(Board(name="thin", wide=wide, **size | {"thick": 7.0}))
    return found


def write(case: Planted, folder: Path) -> None:
    """Write a case as a shop."""
    folder.mkdir(parents=True)
    lines = ["[shop]", 'name = "necks"', 'units = "mm"', 'rack = "rack.csv"', 'defects = "defects.csv"']
    lines += ["[cutter]", "diameter = 6", "[allowance]", f"blank_margin = {MARGIN}", f"planing = {PLANING}"]
    lines += ["thickness_tolerance = 0", "[leftover]", "shortest = 100", "narrowest = 8"]
    lines += ["[glueup]", f"hole_clearance = {CLEAR}", "[machines]", f"saw_kerf = {KERF}"]
    lines += ["[bed.big]", "travel_x = 3000", "travel_y = 3000", "[search]", "effort = 1"]
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    for layer, ring in (("EDGE", case.outline), ("POCKET", case.pocket)):
        points = list(ring.exterior.coords)[:-1]
        doc.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
    x, y, r = case.hole
    doc.modelspace().add_circle((x, y), r, dxfattribs={"layer": "HOLE"})
    doc.saveas(folder / "neck.dxf")
    lines += ["[part.neck]", 'drawing = "neck.dxf"', f"thickness = {case.thick}", 'strips = "only"']
    lines += [f'species = "{WOOD}"', "[part.neck.layers]", 'EDGE = "outline"']
    lines += [f'POCKET = {{ role = "pocket", face = "front", depth = {case.deep} }}']
    lines += ['HOLE = "hole"', "[[order]]", 'name = "one"', 'part = "neck"']
    (folder / "shop.toml").write_text("\n".join(lines) + "\n")
    rack = [["piece", "species", "thickness", "length", "width", "grain", "moisture", "value"]]
    flaws = [["piece", "kind", "x", "y", "diameter", "face", "depth"]]
    for b in case.boards:
        rack.append([b.name, b.wood, b.thick, b.long, b.wide, b.grain, b.moisture, b.value])
        flaws += [[b.name, kind, x, y, d, face, "" if z is None else z] for x, y, d, face, z, kind in b.knots]
    for name, rows in (("rack", rack), ("defects", flaws)):
        with (folder / f"{name}.csv").open("w", newline="") as out:
            csv.writer(out).writerows(rows)


def _laid(shape: shapely.Geometry, at: dict[str, float]) -> shapely.Geometry:
    if at["mirrored"]:
        shape = scale(shape, -1, 1, origin=(0, 0))
    shape = rotate(shape, at["angle_deg"], origin=(0, 0))
    return translate(shape, at["x_um"] / 1000, at["y_um"] / 1000)


def _turn(about: str, quarters: int) -> np.ndarray:
    """Return the rotation by so many quarters about an axis."""
    c, s = round(math.cos(quarters * math.pi / 2)), round(math.sin(quarters * math.pi / 2))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[about]
    m = np.eye(3)
    m[i, i], m[j, j], m[i, j], m[j, i] = c, c, -s, s
    return m


def wrong(case: Planted, folder: Path) -> str:
    """Return what plain numbers find wrong with a plan, from its numbers and the planted case alone."""
    plan = json.loads((folder / "plan" / "plan.json").read_text())
    if len(plan["layouts"]) != 1:
        return f"{len(plan['layouts'])} blanks"
    (layout,) = plan["layouts"]
    blank, (at,) = layout["blank"], layout["placements"]
    boards = {b.name: b for b in case.boards}
    names = [m["piece"] for m in blank["members"]]
    if {n: names.count(n) for n in names} != case.strips:
        return f"other strips: {names}"
    ripped = case.thick + 2 * PLANING
    if abs(blank["thickness_mm"] - ripped) > 1e-6:
        return f"{blank['thickness_mm']} mm thick"
    rim = _laid(case.outline, at)
    ends = [0.0]
    cuts: dict[str, list[shapely.Geometry]] = {}
    if at["top_off_mm"] not in (None, PLANING):
        return f"{at['top_off_mm']} mm off the top"
    for member, seam in zip(blank["members"], [*blank["seams"], None]):
        board = boards[member["piece"]]
        cut = Polygon(member["cut"]["outer"]["points_mm"])
        x0, y0, x1, y1 = cut.bounds
        if not box(0, 0, board.long, board.wide).buffer(1e-6).covers(cut):
            return f"a strip is not in {board.name}"
        if any(cut.distance(other) < KERF - 1e-6 for other in cuts.get(board.name, [])):
            return f"strips of {board.name} are less than the kerf apart"
        cuts.setdefault(board.name, []).append(cut)
        if abs(y1 - y0 - ripped) > 1e-6:
            return f"a strip of {board.name} is {y1 - y0} mm wide"
        ends.append(ends[-1] + board.thick - 2 * PLANING)
        if seam is not None and abs(seam["line_mm"][0][1] - ends[-1]) > 1e-6:
            return f"a seam at {seam['line_mm'][0][1]}, not {ends[-1]}"
        for x, y, d, face, z, _ in board.knots:
            low, high = (-z, 0.0) if face == "top" else (-board.thick, z - board.thick)
            low, high = max(low, PLANING - board.thick), min(high, -PLANING)
            if not cut.intersects(Point(x, y).buffer(d / 2)) or high <= low:
                continue
            # the board as a solid about the middle of the strip: a quarter about x, then as its member lies
            middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2, -board.thick / 2])
            turn = _turn("x", 1)
            turn = _turn("y", 2) @ turn if member["mirrored"] else turn
            turn = _turn("z", 2) @ turn if member["angle_deg"] == 180.0 else turn
            turned = []
            for part in np.linspace(0, 2 * np.pi, 240):  # around the knot, on both of its ends
                for height in (low, high):
                    p = np.array(
                        [x + d / 2 * np.cos(part), np.clip(y + d / 2 * np.sin(part), y0, y1), height]
                    )
                    turned.append(turn @ (p - middle))
            corners = np.array(turned) + np.array([(x1 - x0) / 2, (ends[-1] + ends[-2]) / 2, -ripped / 2])
            (a, b, c), (e, f, g) = corners.min(axis=0), corners.max(axis=0)
            # heights below the top of the blank; the neck is between the planed faces
            top, bottom = max(-g, PLANING), min(-c, ripped - PLANING)
            if bottom - top < 1e-3:
                continue
            stays = box(a, b, e, f).intersection(rim)
            below = bottom - PLANING if at["front_up"] else ripped - PLANING - top
            if below <= case.deep + TOL:
                stays = stays.difference(_laid(case.pocket, at).buffer(TOL))
            if stays.area > TOL:
                return f"a knot of {board.name} stays in the neck"
    whole = box(0, 0, cuts[names[0]][0].bounds[2] - cuts[names[0]][0].bounds[0], ends[-1])
    if not whole.covers(rim.buffer(MARGIN - TOL, join_style="mitre")):
        return "the margin is not kept"
    x, y, r = case.hole
    hole = _laid(Point(x, y), at)
    if any(abs(hole.y - s) < r + CLEAR - TOL for s in ends[1:-1]):
        return "a seam runs near the hole"
    return ""


def booked(case: Planted, folder: Path) -> str:
    """Take the plan, look at what is taken and what goes back, and undo it."""
    files = [folder / "rack.csv", folder / "defects.csv"]
    before = [f.read_bytes() for f in files]
    if nestyield("take", str(folder / "plan"), "--shop", str(folder)).returncode:
        return "take"
    with files[0].open() as text:
        rows = {row["piece"]: row for row in csv.DictReader(text)}
    taken = {name for name, row in rows.items() if row["status"] == "taken"}
    if taken != set(case.strips):
        return f"taken: {sorted(taken)}"
    ripped = case.thick + 2 * PLANING
    for b in case.boards:
        rests = [row for row in rows.values() if row.get("parent") == b.name]
        if any(abs(float(r["thickness"]) - b.thick) > 1e-6 for r in rests):
            return f"rests of {b.name} in another thickness"
        if b.name not in taken:
            continue
        n = case.strips[b.name]
        area = sum(float(r["length"]) * float(r["width"]) for r in rests)
        used = n * ripped * (case.outline.bounds[2] + 2 * MARGIN)
        if area > b.long * b.wide - used + 1.0:
            return f"more comes back of {b.name} than is left"
        left = b.long - case.outline.bounds[2] - 2 * MARGIN - 50.0 - KERF - 1.0
        aside = b.wide - n * (ripped + KERF)
        if (left > 100.0 or aside > 9.0) and not rests:
            return f"nothing comes back of {b.name}"
    if nestyield("undo", str(folder)).returncode or [f.read_bytes() for f in files] != before:
        return "undo"
    return ""


def run(seed: int, keep: Path | None) -> str:
    """Return what went wrong with one case; nothing when all is well."""
    case = plant(np.random.default_rng(seed))
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "shop"
        write(case, folder)
        planned = nestyield("plan", str(folder), "--out", str(folder / "plan"), "--workers", "1")
        why = f"plan: exit {planned.returncode} {planned.stderr[-300:]}" if planned.returncode == 2 else ""
        if not why:
            checked = nestyield("verify", str(folder / "plan"), "--shop", str(folder))
            why = f"verify: exit {checked.returncode}" if checked.returncode else wrong(case, folder)
            again = check.findings(folder / "plan", folder).found
            why = why or (f"second checker: {again[:2]}" if again else "")
        why = why or booked(case, folder)
        if keep is not None:
            shutil.copytree(folder, keep / f"{seed}", dirs_exist_ok=True)
    knots = sum(len(b.knots) for b in case.boards if b.name in case.strips)
    return f"{why} ({case.strips}, {knots} knots)" if why else ""


def main() -> None:
    """Run the study and print its table."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--cases", type=int, default=20)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--keep", type=Path)
    args = ask.parse_args()
    bad = 0
    for seed in range(args.seed, args.seed + args.cases):
        why = run(seed, args.keep)
        bad += bool(why)
        print(f"{seed}: {why or 'found'}", flush=True)
    print(f"found {args.cases - bad} of {args.cases}")


if __name__ == "__main__":
    main()
