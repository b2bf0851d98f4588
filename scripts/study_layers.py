"""Planted layers that only the right boards, in the right order, serve, through the commands.

    python scripts/study_layers.py --cases 20 --seed 1 [--keep DIR]

Each case is a rack made by cutting up a known answer: a part with a pocket from its front and one from its back, of two
or three layers, with a cap of another wood or without, each layer laid on a board of its own outline, turned at random;
0.05 mm of play around the part and none in thickness, or some that is planed off the glued faces. Each board has a knot
where its layer is cut away: through the layer, or as deep as the pocket goes into it; in any other layer it would stay.
Beside it stand cheaper boards that cannot do: a knot in wood that stays, a little too short, 0.1 mm too thin, too damp.
Found means that the copy is placed, that `nestyield verify` and the second checker (`tests/second`, no code of the
project) have no finding, and that shapely, from plan.json and what was planted alone, finds the planted boards, margins
kept in every layer, the planing allowance on every glued face, and no knot in the part at its depth. Then all of it is
taken, and undone, byte for byte.
"""

from __future__ import annotations

import argparse
import csv
import json
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

MARGIN, PLAY, PLANING = 6.0, 0.05, 1.0
#: Places are whole micrometers, millimeters.
TOL = 0.02
CAP, CORE = "hard maple", "black walnut"


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A board of the rack: outline, grain, thickness, knots as x, y, diameter, face, depth."""

    name: str
    wood: str
    outline: Polygon
    grain: float
    thick: float
    value: float
    moisture: float = 8.0
    knots: tuple[tuple[float, float, float, str, float | None], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A planted case: the part as drawn, its pockets and their depth, thickness of the layers from the top, the rack."""

    outline: Polygon
    front: tuple[Polygon, float]
    back: tuple[Polygon, float]
    layers: tuple[float, ...]
    cap: bool
    boards: tuple[Board, ...]

    @property
    def thick(self) -> float:
        return sum(self.layers)


def plant(rng: np.random.Generator) -> Planted:
    """Return a random case."""
    length, width = float(rng.integers(320, 560)), float(rng.integers(120, 200))
    a, b = rng.uniform(20, 40, 2)
    outline = Polygon([(0, 0), (length - a, 0), (length, a), (length, width), (b, width), (0, width - b)])
    layers = tuple(float(rng.integers(9, 20)) for _ in range(int(rng.integers(2, 4))))
    thick, cap = sum(layers), bool(rng.random() < 0.5)
    # the pocket from the front ends in the second layer, that from the back in the last
    x = float(rng.integers(60, 100))
    front = (box(x, 30, x + 60, 80), layers[0] + float(rng.integers(3, int(layers[1]) - 3)))
    x = float(rng.integers(190, 230))
    back = (box(x, 40, x + 60, 90), float(rng.integers(4, int(layers[-1]) - 3)))
    boards: list[Board] = []
    top, spared = 0.0, 0.0
    for k, one in enumerate(layers):
        spare = float(rng.choice([0.0, 0.0, 1.5, 3.0]))  # planed off the glued faces
        last = k == len(layers) - 1
        spared += spare
        board = one + 2 * PLANING + spare
        first = PLANING if k == 0 else PLANING + spare if last else PLANING + spare / 2
        pockets = [(front[0], 0.0, front[1]), (back[0], thick - back[1], thick)]
        knots = []
        for region, low, high in pockets:
            low, high = max(low - top, 0.0), min(high - top, one)
            if high - low < 1.0:
                continue
            spot = region.centroid
            through = low <= 0.0 and high >= one
            face = "top" if low <= 0.0 else "bottom"
            deep = first + high if face == "top" else board - first - low
            knots.append((spot.x, spot.y, 20.0, face, None if through else round(deep - 0.2, 3)))
        wood = (CAP if k == 0 else CORE) if cap else CORE
        boards.append(_board(rng, f"planted {k + 1}", wood, outline, board, 60.0, tuple(knots)))
        top += one
    boards += _others(rng, outline, layers, spared)
    order = rng.permutation(len(boards))
    return Planted(
        outline=outline,
        front=front,
        back=back,
        layers=layers,
        cap=cap,
        boards=tuple(boards[i] for i in order),
    )


def _board(
    rng: np.random.Generator,
    name: str,
    wood: str,
    outline: Polygon,
    thick: float,
    value: float,
    knots: tuple[tuple[float, float, float, str, float | None], ...],
    less: float = 0.0,
    close: bool = False,
) -> Board:
    """Return a board cut close around the part, turned on the rack; longer at one end, or ``less`` than it needs."""
    x0, y0, x1, y1 = outline.bounds
    around = MARGIN + PLAY
    more = 0.0 if less or close or rng.random() < 0.5 else float(rng.integers(150, 300))
    shape = box(x0 - around, y0 - around, x1 + around - less + more, y1 + around)
    if not more and not less:  # a corner off, as near as the part allows
        corner = outline.buffer(around, join_style="mitre", mitre_limit=20)
        shape = shape.intersection(corner)
    angle = float(rng.choice([0.0, 0.0, 90.0, round(float(rng.uniform(0, 360)), 2)]))
    turned = rotate(shape, angle, origin=(0, 0))
    x, y = -turned.bounds[0], -turned.bounds[1]
    spots = []
    for p, q, d, face, deep in knots:
        at = translate(rotate(Point(p, q), angle, origin=(0, 0)), x, y)
        spots.append((round(at.x, 3), round(at.y, 3), d, face, deep))
    return Board(
        name=name,
        wood=wood,
        outline=translate(turned, x, y),
        grain=angle % 180.0,
        thick=round(thick, 3),
        value=value,
        moisture=8.0,
        knots=tuple(spots),
    )


def _others(
    rng: np.random.Generator, outline: Polygon, layers: tuple[float, ...], spare: float
) -> list[Board]:
    """Return cheaper boards for the last layer that cannot do."""
    thick = layers[-1] + 2 * PLANING
    x0, _, x1, y1 = outline.bounds
    solid = (((x0 + x1) / 2 + 60, y1 - 25, 24.0, "through", None),)
    made = []
    for name, knots, less, high in (
        ("knotty", (*solid, (60.0, 25.0, 24.0, "through", None)), 0.0, thick),
        ("short", (), 2 * PLAY + 0.3, thick),
        ("thin", (), 0.0, thick - spare - 0.1),
        ("damp", (), 0.0, thick),
    ):
        made.append(_board(rng, name, CORE, outline, high, 5.0, knots, less, close=name == "knotty"))
    made[-1] = Board(**{f: getattr(made[-1], f) for f in Board.__slots__} | {"moisture": 12.0})
    # what the others have to spare does not make up for a thin one; in another layer it might
    return [m for m in made if m.name != "thin" or layers[-1] == min(layers)]


def write(case: Planted, folder: Path) -> None:
    """Write a case as a shop."""
    folder.mkdir(parents=True)
    lines = ["[shop]", 'name = "layers"', 'units = "mm"', 'rack = "rack.csv"', 'defects = "defects.csv"']
    lines += ["[cutter]", "diameter = 6", "[allowance]", f"blank_margin = {MARGIN}", f"planing = {PLANING}"]
    lines += ["thickness_tolerance = 0", "most_planed_away = 6", "[leftover]", "shortest = 100"]
    lines += ["narrowest = 40", "[glueup]", f"most_layers = {len(case.layers)}", "most_pieces = 1"]
    lines += ["[machines]", "planer_thinnest = 5", "[bed.big]", "travel_x = 5000", "travel_y = 5000"]
    lines += ["[search]", "effort = 1"]
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    for layer, ring in (("EDGE", case.outline), ("FRONT", case.front[0]), ("BACK", case.back[0])):
        points = list(ring.exterior.coords)[:-1]
        doc.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
    doc.saveas(folder / "body.dxf")
    lines += ["[part.body]", 'drawing = "body.dxf"', f"thickness = {case.thick}", "grain_tolerance = 2"]
    lines += [f'species = "{CORE}"']
    lines += [f'cap = "{CAP}"', f"cap_thickness = {case.layers[0]}"] if case.cap else []
    lines += ["[part.body.layers]", 'EDGE = "outline"']
    lines += [f'FRONT = {{ role = "pocket", face = "front", depth = {case.front[1]} }}']
    lines += [f'BACK = {{ role = "pocket", face = "back", depth = {case.back[1]} }}']
    lines += ["[[order]]", 'name = "one"', 'part = "body"']
    (folder / "shop.toml").write_text("\n".join(lines) + "\n")
    rack = [["piece", "species", "thickness", "outline", "grain", "moisture", "value"]]
    flaws = [["piece", "kind", "x", "y", "diameter", "face", "depth"]]
    for b in case.boards:
        rack.append([b.name, b.wood, b.thick, b.outline.wkt, b.grain, b.moisture, b.value])
        flaws += [[b.name, "knot", x, y, d, face, "" if z is None else z] for x, y, d, face, z in b.knots]
    for name, rows in (("rack", rack), ("defects", flaws)):
        with (folder / f"{name}.csv").open("w", newline="") as out:
            csv.writer(out).writerows(rows)


def _laid(shape: shapely.Geometry, at: dict[str, float]) -> shapely.Geometry:
    if at["mirrored"]:
        shape = scale(shape, -1, 1, origin=(0, 0))
    shape = rotate(shape, at["angle_deg"], origin=(0, 0))
    return translate(shape, at["x_um"] / 1000, at["y_um"] / 1000)


def wrong(case: Planted, folder: Path) -> str:
    """Return what shapely finds wrong with a plan, from its numbers and the planted case alone."""
    plan = json.loads((folder / "plan" / "plan.json").read_text())
    if len(plan["layouts"]) != 1:
        return f"{len(plan['layouts'])} blanks"
    (layout,) = plan["layouts"]
    blank, (at,) = layout["blank"], layout["placements"]
    boards = {b.name: b for b in case.boards}
    names = [m["piece"] for m in blank["members"]]
    if set(names) != {f"planted {k + 1}" for k in range(len(case.layers))}:
        return f"other boards: {names}"
    if not at["front_up"]:
        return "the part lies back up"
    rim = _laid(case.outline, at)
    off = PLANING if at["top_off_mm"] is None else at["top_off_mm"]
    ends = [0.0]
    for k, (member, layer) in enumerate(zip(blank["members"], blank["stack"], strict=True)):
        board, last = boards[member["piece"]], k == len(case.layers) - 1
        if abs(layer["top_mm"] - ends[-1]) > 1e-6:
            return "a gap between layers"
        ends.append(layer["bottom_mm"])
        lost = (layer["off_top_mm"], board.thick - layer["off_top_mm"] - ends[-1] + ends[-2])
        if lost[0] < (k > 0) * PLANING - 1e-6 or lost[1] < (not last) * PLANING - 1e-6:
            return f"{lost} mm off the faces of {board.name}"
        if not _laid(board.outline, member).covers(rim.buffer(MARGIN - TOL, join_style="mitre")):
            return f"margin on {board.name}"
        for x, y, d, face, z in board.knots:
            deep = board.thick if z is None else z
            low, high = (0.0, deep) if face == "top" else (board.thick - deep, board.thick)
            low, high = (v - layer["off_top_mm"] + layer["top_mm"] - off for v in (low, high))
            low = max(low, layer["top_mm"] - off, 0.0)
            high = min(high, layer["bottom_mm"] - off, case.thick)
            if high - low < 1e-3:
                continue
            spot = _laid(Point(x, y).buffer(d / 2), member).intersection(rim)
            stays = spot
            if high <= case.front[1] + 1e-6:
                stays = stays.difference(_laid(case.front[0], at).buffer(TOL))
            if low >= case.thick - case.back[1] - 1e-6:
                stays = stays.difference(_laid(case.back[0], at).buffer(TOL))
            if stays.area > TOL:
                return f"a knot of {board.name} stays in the part"
    if abs(ends[-1] - case.thick - 2 * PLANING) > 1e-6:
        return f"{ends[-1]} mm thick"
    if case.cap and abs(ends[1] - off - case.layers[0]) > 1e-6:
        return f"a cap of {ends[1] - off} mm"
    return ""


def booked(case: Planted, folder: Path) -> str:
    """Take the plan, look at what is taken and what goes back, as much as lies beyond the blank, and undo it."""
    files = [folder / "rack.csv", folder / "defects.csv"]
    before = [f.read_bytes() for f in files]
    if nestyield("take", str(folder / "plan"), "--shop", str(folder)).returncode:
        return "take"
    with files[0].open() as text:
        rows = {row["piece"]: row for row in csv.DictReader(text)}
    taken = {name for name, row in rows.items() if row["status"] == "taken"}
    if taken != {f"planted {k + 1}" for k in range(len(case.layers))}:
        return f"taken: {sorted(taken)}"
    for b in case.boards:
        rests = [row for row in rows.values() if row.get("parent") == b.name]
        if any(abs(float(r["thickness"]) - b.thick) > 1e-6 for r in rests):
            return f"rests of {b.name} in another thickness"
        x0, _, x1, _ = rotate(b.outline, -b.grain, origin=(0, 0)).bounds
        long = x1 - x0 > case.outline.bounds[2] + 160.0
        if b.name in taken and bool(rests) != long:
            return f"{len(rests)} rests of {b.name}"
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
    return f"{why} ({len(case.layers)} layers, cap {case.cap})" if why else ""


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
